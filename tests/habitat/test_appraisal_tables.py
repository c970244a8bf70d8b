"""What changes, in numbers, on grids small enough to count by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from pytest import approx

from habitat.appraisal_tables import causes, class_changes, crossings, unit_changes
from habitat.assessment import assess
from layers import quantity as q
from layers.grid import Grid
from tests.scoring import TRAFFIC, factor, layers_of, pressure, small_grid, small_profile

# one factor whose index is the cover itself, one pressure that takes a tenth of its exposure of 0 to 1
PLAIN = small_profile(
    factors=(factor("seagrass_cover", 1, [(0, 0), (1, 1)]),),
    essential=(),
    may_lack=0,
    pressures=(pressure("vessels", "vessel_density", 0.5, TRAFFIC),),
)


def _layers(cover, traffic, grid: Grid | None = None) -> xr.Dataset:
    cover = np.asarray(cover, float)
    return layers_of(grid or small_grid(*cover.shape[-2:]), seagrass_cover=cover, vessel_density=traffic)


@pytest.fixture(scope="module")
def before():
    # cells of 1 ha: good, fair, poor, unknown
    return _layers([[0.8, 0.5, 0.2, np.nan]], [[0, 0, 0, 0]])


@pytest.fixture(scope="module")
def after():
    # the good cell is cleared, the fair one is passed by ten kilometres of boats per km2 and day
    return _layers([[0.0, 0.5, 0.2, np.nan]], [[0, 10, 0, 0]])


def test_hectares_and_units_of_classes_by_hand(before, after):
    table = class_changes(assess(before, PLAIN), assess(after, PLAIN)).set_index(["kind", "class"])
    good, poor = (table.loc[("suitability", name)] for name in ("good habitat", "poor habitat"))
    assert (good.hectares_before, good.hectares_after, good.hectares_change) == (1, 0, -1)
    assert (good.units_before, good.units_change) == (approx(0.8), approx(-0.8))
    assert (poor.hectares_before, poor.hectares_after) == (1, 2)
    # a weight of 0.5 at full exposure
    assert table.loc[("threat", "moderate threat")].hectares_change == 1
    assert table.loc[("suitability", "no data")].hectares_change == 0
    assert list(table["hectares_after"] - table["hectares_before"]) == list(table["hectares_change"])


def test_units_with_and_without_threat_by_hand(before, after):
    (row,) = unit_changes(assess(before, PLAIN), assess(after, PLAIN)).itertuples()
    assert (row.units_before, row.units_after, row.units_change) == (approx(1.5), approx(0.7), approx(-0.8))
    assert (row.spared_before, row.spared_after) == (approx(1.5), approx(0.5 * 0.5 + 0.2))
    assert row.unknown_hectares == 1, "the cell nobody mapped counts for nothing, and is told"


def test_a_place_that_becomes_known_is_no_gain(before):
    found = _layers([[0.8, 0.5, 0.2, 0.9]], [[0, 0, 0, 0]])
    (row,) = unit_changes(assess(before, PLAIN), assess(found, PLAIN)).itertuples()
    assert row.units_change == 0


def test_water_that_becomes_land_is_lost_and_not_merely_unknown(before):
    land = _layers([[0.8, 0.5, 0.2, np.nan]], [[0, 0, 0, 0]])
    land["surface"] = land["surface"].copy(data=[[q.LAND, q.WATER, q.WATER, q.WATER]])
    (row,) = unit_changes(assess(before, PLAIN), assess(land, PLAIN)).itertuples()
    assert (row.units_before, row.units_change) == (approx(1.5), approx(-0.8))
    assert row.unknown_hectares == 1
    (back,) = unit_changes(assess(land, PLAIN), assess(before, PLAIN)).itertuples()
    assert back.units_change == approx(0.8)


def test_crossings_by_hand(before, after):
    moved = crossings(assess(before, PLAIN), assess(after, PLAIN), "suitability")
    assert moved.values.tolist() == [["", "good habitat", "poor habitat", 1.0]]
    (pressed,) = crossings(assess(before, PLAIN), assess(after, PLAIN), "threat").itertuples()
    assert (pressed.class_before, pressed.class_after, pressed.hectares) == ("low threat", "moderate threat", 1.0)


def test_causes_are_ranked_and_each_is_its_own(before, after):
    site = SimpleNamespace(profile=PLAIN, layers=before, assessment=assess(before, PLAIN))
    outcome = SimpleNamespace(changed_layers=("seagrass_cover", "vessel_density"), layers=after)
    table = causes(site, outcome)
    assert table["part"].tolist() == ["seagrass_cover", "vessels"]
    assert table["spared_change"].tolist() == [approx(-0.8), approx(-0.25)]
    outcome = SimpleNamespace(changed_layers=("vessel_density",), layers=after)
    assert causes(site, outcome)["part"].tolist() == ["vessels"], "a layer that did not change is asked of nothing"


def test_seasons_on_one_side_only_are_told_season_by_season(before):
    wet = _layers([[0.8, 0.5, 0.2, np.nan]], [[[0, 10, 0, 0]], [[0, 0, 0, 0]]])
    table = unit_changes(assess(before, PLAIN), assess(wet, PLAIN)).set_index("season")
    assert table.loc["wet", "spared_change"] == approx(-0.25)
    assert table.loc["dry", "spared_change"] == 0
    assert set(class_changes(assess(before, PLAIN), assess(wet, PLAIN))["season"]) == {"wet", "dry"}
    (moved,) = crossings(assess(before, PLAIN), assess(wet, PLAIN), "threat").itertuples()
    assert (moved.season, moved.hectares) == ("wet", 1.0)
