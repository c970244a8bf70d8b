from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from habitat.assessment import assess
from habitat.combine import RULES
from habitat.explanation import explain, pulls, shares
from layers.quantity import LAND, WATER
from tests.scoring import layers_of, random_layers, small_grid, small_profile

NAN = float("nan")


@pytest.fixture
def lagoon():
    profile = small_profile()
    layers = layers_of(
        small_grid(1, 2),
        surface=[[WATER, LAND]],
        water_depth=[[0.5, 3]],
        seagrass_cover=[[NAN, 1]],
        salinity=[[[0, 0]], [[40, 0]]],
        dredging_distance=[[1050, 0]],
        net_distance=[[9000, 0]],
        vessel_density=[[5, 9]],
    )
    return layers, assess(layers, profile), profile


def test_a_cell_is_taken_apart_by_hand(lagoon):
    said = explain(*lagoon, x=500_020, y=7_000_090, season="dry")
    assert (said.place, said.season) == ((500_050, 7_000_050), "dry")
    score = (0.5**3 * 0.2) ** (1 / 4)
    assert said.suitability == approx(score, abs=1e-6)
    assert said.threat == approx(1 - 0.6 * 0.8, abs=1e-6)
    assert said.concern == "fair habitat under moderate threat: easing the pressure is likely to help"
    assert said.limiting_factor == "salinity"

    depth, seagrass, salinity = said.factors
    assert (depth.name, depth.label, depth.value, depth.units) == ("water_depth", "water depth", 0.5, "m")
    assert (depth.index, depth.weight, depth.files) == (0.5, 3, ("water_depth.tif",))
    assert depth.source == "survey of water_depth"
    assert depth.pull == approx(0.2 ** (1 / 4) - score)
    assert salinity.pull == approx(0.5 ** (3 / 4) - score)
    assert np.isnan([seagrass.value, seagrass.index, seagrass.pull]).all()

    dredging, nets, vessels = said.pressures
    assert (dredging.value, dredging.exposure, dredging.units) == (1050, 0.5, "m")
    assert (dredging.share, nets.share, vessels.share) == approx((2 / 3, 0, 1 / 3))


def test_each_season_has_its_own_explanation(lagoon):
    wet, dry = (explain(*lagoon, x=500_050, y=7_000_050, season=season) for season in ("wet", "dry"))
    assert (wet.factors[2].value, dry.factors[2].value) == (0, 40)
    assert wet.suitability > dry.suitability
    assert wet.threat == dry.threat


def test_land_explains_as_no_data(lagoon):
    said = explain(*lagoon, x=500_150, y=7_000_050, season="wet")
    assert np.isnan([said.suitability, said.threat]).all()
    assert (said.concern, said.limiting_factor) == ("no data", None)
    assert np.isnan([part.index for part in said.factors] + [part.pull for part in said.factors]).all()
    assert np.isnan([part.exposure for part in said.pressures] + [part.share for part in said.pressures]).all()


def test_an_absent_layer_has_no_value_and_no_file(lagoon):
    layers, _, profile = lagoon
    layers = layers.drop_vars("seagrass_cover")
    part = explain(layers, assess(layers, profile), profile, x=500_050, y=7_000_050, season="wet").factors[1]
    assert np.isnan([part.value, part.index, part.pull]).all()
    assert (part.files, part.source) == ((), "")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.one_of(st.floats(0, 1), st.just(NAN)), min_size=3, max_size=3),
    st.sampled_from(list(RULES)),
    st.integers(0, 2),
)
def test_no_factor_pulls_a_score_up_and_an_ideal_one_does_not_pull(indices, rule, may_lack):
    for index, pull in zip(indices, pulls(indices, small_profile(rule=rule, may_lack=may_lack)), strict=True):
        assert np.isnan(pull) or pull >= -1e-12
        assert index != 1 or np.isnan(pull) or pull == 0


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_shares_add_up_to_the_whole_or_nothing_presses(exposures):
    parts = shares(exposures, small_profile())
    assert sum(parts) == approx(1) or exposures == [0, 0, 0] or max(exposures) < 1e-300


def test_an_explanation_gives_the_numbers_of_the_map():
    profile = small_profile()
    layers = random_layers(small_grid(12, 15), profile)
    done = assess(layers, profile)
    for y, x in np.argwhere(done["concern"].to_numpy() > 0)[:20]:
        said = explain(layers, done, profile, x=float(done["x"][x]), y=float(done["y"][y]))
        assert said.season is None
        assert said.suitability == float(done["suitability"][y, x])
        assert [part.index for part in said.factors if part.index == part.index] == [
            float(done[f"index_{part.name}"][y, x]) for part in said.factors if part.index == part.index
        ]


@pytest.mark.parametrize(
    ("x", "y", "season", "sentence"),
    [
        (0, 0, "wet", "the point (0, 0) lies outside the site."),
        (500_050, 7_000_050, None, "season None is not one of: wet, dry."),
        (500_050, 7_000_050, "spring", "season 'spring' is not one of: wet, dry."),
    ],
)
def test_a_place_or_season_that_is_not_there_is_refused(lagoon, x, y, season, sentence):
    with pytest.raises(ValueError) as error:
        explain(*lagoon, x=x, y=y, season=season)
    assert str(error.value) == sentence


def test_an_assessment_of_another_profile_is_refused(lagoon):
    layers, done, profile = lagoon
    fewer = replace(profile, factors=profile.factors[:2])
    with pytest.raises(ValueError, match=r"^the assessment was not made with this profile\.$"):
        explain(layers, done, fewer, x=500_050, y=7_000_050, season="wet")
