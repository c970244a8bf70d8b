"""From solids, chlorophyll and the tide to the plants that the light can keep: the small site beside plain sums."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pytest import approx

from layers.amount import Amount
from layers.derivation import Derivation, Settings
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from tests.sites import LAND_COLUMNS, TABLES, bed, site_text, write_small_site

NUMBERS = {
    "light.water": (0.3, "1/m"),
    "light.per_chlorophyll": (0.02, "m2/mg"),
    "light.per_solids": (0.1, "m2/g"),
    "light.chlorophyll_per_nitrogen": (20.0, "ug/mg"),
    "light.secchi_product": (1.45, "1"),
    "light.requirement": (0.24, "1"),
}
CELLS = [(15, 12), (15, 20), (15, 25), (3, 33)]
SOLIDS, GREEN = 5.0, 1.0  # mg/L and ug/L that the small site's sea holds
OPEN = np.s_[..., LAND_COLUMNS:]


def made_of(folder, *names, without=(), tables=None, edit=lambda text: text):
    """The derivation of the small site with these of its tables, and numbers of light but those `without`."""
    path = write_small_site(folder / "site")
    text = site_text({name: TABLES[name] for name in ("coast", "bed", *names)} | (tables or {}))
    path.write_text(edit(text), encoding="utf-8")
    amounts = {
        key: Amount(value=value, units=units, source="a test", file="profile.toml")
        for key, (value, units) in NUMBERS.items()
        if key not in without
    }
    return Derivation(read_inputs(path), Settings(wanted=(), amounts=amounts), RECIPES)


def light_by_hand(row, column, fading):
    """Mean share of the light at the bed over a year of hours: the tide and the law of Beer and Lambert in a loop."""
    elevation, hours, total = float(bed()[row, column]), 8766, 0.0
    for hour in range(hours):
        # speeds of M2 and S2: Schureman 1958, US Coast and Geodetic Survey Special Publication 98 (from memory)
        level = 0.5 * math.cos(math.radians(28.9841042 * hour - 10)) + 0.2 * math.cos(math.radians(30.0 * hour - 40))
        total += math.exp(-fading * max(level - elevation, 0.0))
    return total / hours


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return made_of(tmp_path_factory.mktemp("light"), "tide", "seagrass")


def test_attenuation_of_the_sea_is_a_sum(made):
    # 0.3 of the water, 0.02 for each ug/L of chlorophyll and 0.1 for each mg/L of solids
    np.testing.assert_allclose(made.layer("attenuation").to_numpy()[OPEN], 0.3 + 0.02 * GREEN + 0.1 * SOLIDS, rtol=1e-6)
    assert np.isnan(made.layer("attenuation").to_numpy()[:, :LAND_COLUMNS]).all()


@pytest.mark.parametrize("cell", CELLS)
def test_light_at_the_bed_is_that_of_a_plain_loop_over_the_tide(made, cell):
    found = float(made.layer("bed_light").to_numpy()[cell])
    assert found == approx(light_by_hand(*cell, 0.82), rel=1e-3)
    at_mean_depth = math.exp(-0.82 * -float(bed()[cell]))
    assert found > at_mean_depth, "the mean of the light is more than the light at the mean depth"


def test_the_depth_limit_is_where_the_light_is_what_plants_need(made):
    np.testing.assert_allclose(made.layer("depth_limit").to_numpy()[OPEN], math.log(1 / 0.24) / 0.82, rtol=1e-6)


def test_forage_is_cover_times_light_over_the_need(made):
    light, forage = made.layer("bed_light").to_numpy(), made.layer("forage").to_numpy()
    cover = np.zeros(light.shape)
    cover[10:20, 20:28] = 0.6  # as the small site's meadow lies
    expected = cover * np.minimum(1.0, light / 0.24)
    np.testing.assert_allclose(forage[OPEN], expected[OPEN], rtol=1e-5, atol=1e-7)
    # columns 20 to 27 lie 3 to 4.75 m deep: at 0.82 /m the light falls to 24 % at 1.74 m, so all of it is short
    assert (forage[10:20, 20:28] < 0.6).all() and (forage[10:20, 20:28] > 0).all()
    assert "less; it does on 20 ha where seagrass was mapped" in made.layer("forage").attrs["method"]


def test_dredging_dims_the_dry_season_only(tmp_path):
    made = made_of(tmp_path, "tide", "seagrass", "works")
    wet, dry = (made.layer("attenuation").sel(season=season).to_numpy() for season in ("wet", "dry"))
    np.testing.assert_allclose(wet[OPEN], 0.82, rtol=1e-6)
    solids = made.layer("dredge_solids").sel(season="dry").to_numpy()
    np.testing.assert_allclose(dry[OPEN], 0.82 + 0.1 * solids[OPEN], rtol=1e-5)
    cell = (20, 30)
    assert dry[cell] > 0.824
    assert float(made.layer("bed_light").sel(season="dry").to_numpy()[cell]) == approx(
        light_by_hand(*cell, float(dry[cell])), rel=1e-3
    )


def test_nitrogen_feeds_chlorophyll_and_so_takes_light(tmp_path):
    made = made_of(tmp_path, "tide", "outlets")
    nitrogen = made.layer("nitrogen_concentration").to_numpy()
    np.testing.assert_allclose(
        made.layer("chlorophyll").to_numpy()[OPEN], GREEN + 20 * (nitrogen[OPEN] - 0.1), rtol=1e-4
    )
    expected = 0.3 + 0.02 * made.layer("chlorophyll").to_numpy() + 0.1 * SOLIDS
    np.testing.assert_allclose(made.layer("attenuation").to_numpy()[OPEN], expected[OPEN], rtol=1e-6)
    beside, away = (9, 10), (29, 30)
    assert made.layer("attenuation").to_numpy()[beside] > made.layer("attenuation").to_numpy()[away]


def test_what_is_measured_goes_before_what_is_computed(tmp_path):
    made = made_of(tmp_path, "tide", "outlets", "chlorophyll", "suspended_solids")
    green = made.layer("chlorophyll")
    assert list(green["season"].values) == ["wet", "dry"]
    assert float(green.sel(season="dry").to_numpy()[23, 12]) == approx(1.0, abs=0.05), "station A of the small site"
    assert float(made.layer("suspended_solids").sel(season="wet").to_numpy()[23, 12]) == approx(5.0, abs=0.05)
    assert "stations.csv" in made.layer("attenuation").attrs["files"]


def test_secchi_depth_serves_where_solids_are_not_known(tmp_path):
    def silent(text):
        start = text.index("[background]")
        return text[:start] + text[text.index("\n[files.") :]

    made = made_of(tmp_path, "tide", "secchi_depth", edit=silent)
    secchi = made.layer("secchi_depth").to_numpy()
    np.testing.assert_allclose(made.layer("attenuation").to_numpy()[OPEN], 1.45 / secchi[OPEN], rtol=1e-5)
    assert "1.45 over the Secchi depth" in made.layer("attenuation").attrs["method"]


def test_without_a_tide_the_light_is_that_at_the_depth_below_the_datum(tmp_path):
    made = made_of(tmp_path, "seagrass")
    depth = np.maximum(-bed().astype(float), 0)
    np.testing.assert_allclose(made.layer("bed_light").to_numpy()[OPEN], np.exp(-0.82 * depth)[OPEN], rtol=1e-4)


def test_without_a_need_of_light_forage_is_the_cover_and_says_so(tmp_path):
    made = made_of(tmp_path, "tide", "seagrass", without=("light.requirement",))
    assert made.layer("depth_limit") is None
    np.testing.assert_array_equal(made.layer("forage").to_numpy(), made.layer("seagrass_cover").to_numpy())
    assert made.layer("forage").attrs["method"].endswith("nothing is known of the light, so none of it is taken off")
    assert made.layer("forage").attrs["long_name"] == "seagrass cover that the light can keep"


@pytest.mark.parametrize("number", ["light.water", "light.per_chlorophyll", "light.per_solids"])
def test_without_a_coefficient_there_is_no_light(tmp_path, number):
    made = made_of(tmp_path, "tide", "seagrass", without=(number,))
    assert made.layer("attenuation") is None and made.layer("bed_light") is None
