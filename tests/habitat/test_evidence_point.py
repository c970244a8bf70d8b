"""A point of a curve that sightings would put elsewhere, on a planted map."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from habitat.evidence_point import moved_point, propose_curve_point
from layers.sightings import Sightings
from tests.scoring import factor, layers_of, small_grid, small_profile

PROFILE = small_profile(
    factors=(factor("water_depth", 1, [(0, 0), (4, 1), (6, 0)]),), pressures=(), may_lack=0, essential=("water_depth",)
)
GRID = small_grid(50, 60)


def planted(seasons=False):
    """Depth at random from 0 to 6 m, and 50 sightings in 1 to 2 m of water."""
    random = np.random.default_rng(1)
    depth = 6 * random.random(GRID.shape)
    row, column = np.unravel_index(random.choice(np.flatnonzero((depth > 1) & (depth < 2)), 50), GRID.shape)
    records = gpd.GeoDataFrame(
        {"month": np.tile([2, 8], 25), "seen": True, "uncertainty": 0.0, "used": True},
        geometry=shapely.points(GRID.x[column], GRID.y[row]),
        crs=GRID.crs,
    )
    layers = layers_of(GRID, water_depth=np.stack([depth, depth]) if seasons else depth)
    return layers, Sightings(records=records, flags=pd.DataFrame())


@pytest.mark.parametrize("seasons", [None, {"wet": [1, 2, 3], "dry": [7, 8, 9]}])
def test_the_best_depth_is_found_where_the_animals_are_and_the_profile_stays(seasons):
    layers, sightings = planted(seasons is not None)
    found = propose_curve_point(
        layers, PROFILE, sightings, factor="water_depth", point=1, least=0.5, most=5.5, side=1000.0, seed=3,
        break_at=0.65, seasons=seasons, candidates=11, draws=60,
    )  # fmt: skip
    # best at 1.5: the index of 1 m is then 0.67 and of 2 m 0.89, all above the break, and least water besides
    assert found.proposed == pytest.approx(1.5, abs=0.26) and found.expert == 4 and found.gain.low > 0
    assert "water depth below the mean water level [m] at which water depth has an index of 1" in found.sentences[0]
    assert PROFILE.factors[0].curve.values == (0, 4, 6)


def test_a_point_that_is_not_there_or_passes_its_neighbour_is_refused():
    assert moved_point(PROFILE, "water_depth", 1, 2.5).factors[0].curve.values == (0, 2.5, 6)
    for name, point, value, said in (
        ("salinity", 0, 1, "no factor of that name"),
        ("water_depth", 3, 1, "points 0 to 2, not 3"),
        ("water_depth", 1, 7, "7 passes a point beside it"),
    ):
        with pytest.raises(ValueError, match=said):
            moved_point(PROFILE, name, point, value)
