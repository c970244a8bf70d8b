"""Layers at the ends of what is in doubt, made again by the recipes: what is linear in an amount shows its range."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from habitat.doubt_ends import amount_ends, error_ends, measured_ends, site_ends
from habitat.profile import read_profile
from layers.derivation import Derivation, Settings
from layers.inputs import read_inputs
from layers.recipe import RECIPES, derive, layers_of
from tests.doubting import doubtful_layers, doubtful_profile
from tests.files import write_raster
from tests.layers.test_recipes_loads import made_of
from tests.scoring import layers_of as layers_by_hand
from tests.scoring import small_grid
from tests.sites import CELL, EAST, NORTH, SOUTH, TABLES, WEST, site_text, write_small_site

WANTED = ("dredge_solids", "forage", "nitrogen_concentration", "water_depth", "salinity")


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    inputs = read_inputs(write_small_site(tmp_path_factory.mktemp("site") / "site"))
    return derive(inputs, Settings(wanted=WANTED, amounts=read_profile("marine_seagrass_grazer").amounts))


def test_errors_of_layers_go_one_standard_error_down_and_up():
    profile = doubtful_profile()
    layers = doubtful_layers(profile)
    (end,) = error_ends(layers, profile.layers_needed).values()
    spread = layers["salinity_error"].fillna(0)
    np.testing.assert_allclose(end.low["salinity"], layers["salinity"] - spread, rtol=1e-6)
    np.testing.assert_allclose(end.high["salinity"], layers["salinity"] + spread, rtol=1e-6)


def test_a_bed_that_may_be_higher_makes_the_water_shallower():
    layers = layers_by_hand(
        small_grid(1, 2), water_depth=[[2.0, np.nan]], bed_elevation=[[-2.0, np.nan]], bed_elevation_error=[[0.3, 0.3]]
    )
    end = error_ends(layers, ("water_depth",))["layer water_depth"]
    assert end.high["water_depth"].to_numpy()[0] == approx([1.7, np.nan], nan_ok=True)
    assert end.low["water_depth"].to_numpy()[0] == approx([2.3, np.nan], nan_ok=True)


def test_the_fines_of_a_dredge_are_as_its_loss(site):
    # van Rijn 2025: 1 to 3 % for a cutter suction dredge; the mean of the ends is taken, and fines are linear in it
    end = amount_ends(site, WANTED)["amount dredge losses"]
    taken = site.layer("dredge_solids").to_numpy()
    seen = taken > 1e-6
    assert seen.any()
    for side, share in ((end.low, 0.01), (end.high, 0.03)):
        np.testing.assert_allclose(side["dredge_solids"].to_numpy()[seen], taken[seen] * share / 0.02, rtol=1e-4)
    less, more = (side["forage"].to_numpy() for side in (end.low, end.high))
    assert np.nanmax(more - less) <= 0, "more fines never leave more forage"


def test_ends_leave_the_site_as_it_was_and_do_not_depend_on_threads(site):
    before = {name: layer.copy(deep=True) for name, layer in site.made.items()}
    first = site_ends(layers_of(site), site, WANTED, workers=1)
    second = site_ends(layers_of(site), site, WANTED, workers=3)
    assert list(first) == list(second)
    for key, end in first.items():
        for one, other in ((end.low, second[key].low), (end.high, second[key].high)):
            assert list(one) == list(other)
            for name in one:
                assert one[name].to_numpy().tobytes() == other[name].to_numpy().tobytes()
    for name, layer in before.items():
        assert site.made[name].identical(layer)


def test_solids_in_doubt_reach_the_forage_through_the_light(tmp_path):
    path = write_small_site(tmp_path / "site")
    rows, columns = round((NORTH - SOUTH) / CELL), round((EAST - WEST) / CELL)
    write_raster(
        path.parent / "solids.tif", np.full((rows, columns), 20, np.float32), west=WEST, north=NORTH, cell=CELL
    )
    raster = 'feeds = "suspended_solids"\nfile = "solids.tif"\nunits = "mg/L"\nerror = 4\n'
    path.write_text(site_text(TABLES | {"suspended_solids": raster}), encoding="utf-8")
    amounts = read_profile("marine_seagrass_grazer").amounts
    made = derive(read_inputs(path), Settings(wanted=("forage", "attenuation", "salinity"), amounts=amounts))
    found = measured_ends(made, ("forage", "attenuation", "salinity"))
    assert "layer salinity" not in found
    end = found["layer suspended_solids"]
    assert set(end.layers) == {"forage", "attenuation"}
    # 0.094 m2/g for each mg/L of solids: Gallegos 2001, as the profile has it
    for side, sign in ((end.low, -1), (end.high, 1)):
        change = side["attenuation"].to_numpy() - made.layer("attenuation").to_numpy()
        assert change[np.isfinite(change)] == approx(sign * 4 * 0.094, abs=1e-5)
    assert np.nanmin(end.low["forage"].to_numpy() - end.high["forage"].to_numpy()) >= 0


def test_loads_of_the_land_go_to_the_ends_of_the_published_coefficients(tmp_path):
    # 120 ha of row crops, 300 of forest, 80 of town: arithmetic with the ranges of Reckhow, Beaulac & Simpson 1980,
    # EPA 440/5-80-011 (from memory): nitrogen 2.1 to 79.6, 1.38 to 6.26 and 1.48 to 38.47 kg/ha/year
    path = made_of(tmp_path).site.path
    made = Derivation(read_inputs(path), Settings(wanted=("nitrogen_concentration",)), RECIPES)
    taken = made.layer("nitrogen_concentration").to_numpy().astype(float) - 0.1  # of the sea
    end = amount_ends(made, ("nitrogen_concentration",))["amount land loads"]
    for side, year in ((end.low, 120 * 2.1 + 300 * 1.38 + 80 * 1.48), (end.high, 120 * 79.6 + 300 * 6.26 + 80 * 38.47)):
        added = side["nitrogen_concentration"].to_numpy().astype(float) - 0.1
        # all three covers drain to one short shore: what is added in all is nearly as the loads
        ratio = np.nansum(added) / np.nansum(taken)
        assert ratio == approx(year / 2258.0, rel=0.1)
