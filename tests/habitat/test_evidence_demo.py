"""The invented site's sightings were drawn where seagrass is dense, along tracks: what is told must find that."""

import datetime
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pytest

from habitat.evidence import evidence
from habitat.evidence_comparison import SEARCHED
from habitat.result import SUITABILITY
from layers import quantity as q
from layers.alignment import cover_fraction
from layers.demo import write_demo
from layers.demo.survey import HALF_WIDTH, HOURS, TRACKS
from layers.sighting_effort import read_tracks, searched_share, site_effort
from layers.sightings import checked_sightings, read_sightings
from layers.site import parse_site

AS_OF = datetime.date(2022, 1, 1)
OPTIONS = {"breaks": {"dense seagrass": 0.3}, "side": 2000.0, "seed": 20, "draws": 300}


@pytest.fixture(scope="module")
def lagoon(tmp_path_factory):
    """The site on 200 m cells, with its sightings, tracks, land and seagrass only."""
    path = write_demo(tmp_path_factory.mktemp("demo") / "lagoon", cell=200)
    site, faults = parse_site(path, []), []
    (seen,), (flown,) = site.feeding("sighting"), site.feeding("survey_track")
    records, tracks = read_sightings(seen, site, faults), read_tracks(flown, site, faults)
    assert not faults
    land, grass = (
        cover_fraction(gpd.read_file(path.parent / name).to_crs(site.grid.crs).geometry, site.grid)
        for name in ("land.gpkg", "seagrass.zip")
    )
    surface = site.grid.label(np.where(land > 0.5, q.LAND, q.WATER).astype(np.uint8), q.SURFACE)
    cover = site.grid.label(np.where(land > 0.5, np.nan, grass).astype(np.float32), SUITABILITY)
    sightings = checked_sightings([records], surface, as_of=AS_OF)
    inputs = SimpleNamespace(site=site, having=site.feeding, features={flown.name: tracks})
    return sightings, cover, tracks, site_effort(inputs, site.grid, ("wet", "dry", None)), site


def test_all_its_records_are_fit_for_use_and_the_tracks_of_both_seasons_were_flown(lagoon):
    sightings, cover, tracks, effort, _ = lagoon
    assert len(sightings.seen) == 38 and len(sightings.none_seen) == 5
    # six surveys of so many lines, half of them in each season
    assert float(effort[None].sum()) == pytest.approx(6 * len(TRACKS) * HOURS, rel=0.02)
    assert float(effort["wet"].sum()) == pytest.approx(float(effort["dry"].sum()), rel=0.05)
    assert tracks["half_width"].eq(HALF_WIDTH).all()
    share = searched_share(tracks, cover_grid(cover))
    assert 0.2 < float((share > 0).mean()) < 0.8


def test_seagrass_tells_where_its_animals_are_seen_and_chance_does_not(lagoon):
    sightings, cover, _, effort, _ = lagoon
    by_grass = evidence(cover, sightings, effort={None: effort[None]}, **OPTIONS)[0]
    assert by_grass.comparison.against == SEARCHED and by_grass.verdict == "better than chance"
    assert by_grass.comparison.sightings >= 30 and by_grass.breaks[0].true_skill.low > 0
    random = np.random.default_rng(1).random(cover.shape)
    lot = cover.copy(data=np.where(np.isnan(cover), np.nan, random).astype(np.float32))
    by_lot = evidence(lot, sightings, effort={None: effort[None]}, **OPTIONS)[0]
    assert by_lot.area.low < 0.5 < by_lot.area.high


def cover_grid(cover):
    from layers.grid import Grid

    return Grid.of(cover)
