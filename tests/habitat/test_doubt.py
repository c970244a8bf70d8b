"""What is in doubt, how it is drawn, and what is said to be exact."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pytest import approx

from habitat.curve import CategoryCurve
from habitat.doubt import CUT, Doubt, doubts_of
from habitat.draws import drawn, profile_of_draw
from habitat.profile import read_profile, shipped_profiles
from layers.fault import ProfileError
from layers.quantity import LAYERS
from tests.doubting import doubtful_profile, everything_doubtful
from tests.scoring import small_profile


def _doubt(kind):
    return Doubt(key=kind, kind=kind, name="it", label="it", spread=1.0, units="1", source="made up")


def test_normal_deviates_have_the_spread_of_a_normal_cut_at_three():
    # closed form: variance 1 - 2 c phi(c) / (2 Phi(c) - 1) of a normal cut at c = 3
    deviates = _doubt("threshold").deviates((np.arange(200_000) + 0.5) / 200_000)
    density = np.exp(-(CUT**2) / 2) / np.sqrt(2 * np.pi)
    assert deviates.mean() == approx(0, abs=1e-9)
    assert deviates.var() == approx(1 - 2 * CUT * density / 0.9973002, abs=1e-5)
    assert np.abs(deviates).max() <= CUT


def test_an_amount_lies_half_the_time_below_what_was_taken_and_never_beyond_an_end():
    # closed form of a triangle from -1 to 1: quantiles 0, 1/8 and 1/2 are -1, -1/2 and 0; variance 1/6
    deviates = _doubt("amount").deviates
    assert deviates(np.array([0, 0.125, 0.5, 0.875, 1])).tolist() == approx([-1, -0.5, 0, 0.5, 1])
    assert deviates((np.arange(100_000) + 0.5) / 100_000).var() == approx(1 / 6, abs=1e-5)


def test_a_weight_varies_by_the_share_that_is_stated():
    # mean and deviation of a lognormal of median 3 and share 0.3; the cut at three takes a little off
    profile = doubtful_profile()
    draws = drawn(doubts_of(profile), 4000)
    parts = [profile_of_draw(profile, draws, k).factors for k in range(0, 4000, 8)]
    depth = np.array([part.weight for factors in parts for part in factors if part.name == "water_depth"])
    assert np.median(depth) == approx(3, rel=0.02)
    assert depth.std() / depth.mean() == approx(0.3, rel=0.05)
    assert (depth > 0).all()


def test_weights_of_pressures_never_pass_one():
    profile = doubtful_profile(3.0)
    draws = drawn(doubts_of(profile), 50)
    assert max(max(part.weight for part in profile_of_draw(profile, draws, k).pressures) for k in range(50)) == 1


def test_one_expert_is_asked_in_each_draw_each_as_often():
    profile = doubtful_profile()
    experts = pd.DataFrame({"salinity": [1.0, 2.0, 4.0], "nets": [0.1, 0.5, 0.9]})
    doubts = doubts_of(profile, experts=experts)
    draws = drawn(doubts, 300, seed=8)
    pairs = []
    for k in range(300):
        one = profile_of_draw(profile, draws, k)
        salinity = next(part.weight for part in one.factors if part.name == "salinity")
        pairs.append((salinity, next(part.weight for part in one.pressures if part.name == "nets")))
    assert {pair: pairs.count(pair) for pair in pairs} == {(1.0, 0.1): 100, (2.0, 0.5): 100, (4.0, 0.9): 100}
    assert "weight salinity" not in doubts.keys and "weight water_depth" in doubts.keys


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"food": [1, 2]}, "experts, column food: the profile has no such part. Name a factor or a pressure:"),
        ({"nets": [0.5, 1.5]}, "experts, column nets: a weight is out of bounds or missing. Give from 0 to 1."),
        ({"salinity": [1, -1]}, "experts, column salinity: a weight is out of bounds or missing. Give 0 or more."),
        ({"salinity": []}, "experts: the table is empty. Give a row for each expert, a column for each weight."),
    ],
)
def test_a_table_of_experts_that_will_not_do_is_refused(columns, said):
    with pytest.raises(ProfileError) as error:
        doubts_of(doubtful_profile(), experts=pd.DataFrame(columns))
    assert str(error.value.faults[0]).startswith(said)


def test_what_has_no_stated_doubt_is_told_as_exact():
    profile = small_profile()
    doubts = doubts_of(profile)
    assert doubts.items == ()
    for part in (*profile.factors, *profile.pressures):
        assert f"the thresholds of {part.label}" in doubts.exact
        assert f"the weight of {part.label}" in doubts.exact
        assert f"the layer of {LAYERS[part.layer].label}" in doubts.exact


def test_what_has_a_stated_doubt_is_not_told_as_exact():
    _, ends, _, doubts = everything_doubtful()
    assert {"layer salinity", "amount loads"} == {key for key in doubts.keys if key in ends}
    said = " ".join(doubts.exact)
    assert "thresholds" not in said and "weight" not in said
    assert LAYERS["salinity"].label not in said and LAYERS["net_distance"].label in said


def test_categories_have_no_thresholds_to_doubt():
    ground = CategoryCurve(LAYERS["surface"].categories, (None, 0, 0.6, 1))
    profile = small_profile()
    factors = (*profile.factors, replace(profile.factors[2], name="ground", layer="surface", curve=ground))
    doubts = doubts_of(replace(profile, factors=factors))
    assert "the weight of ground" in doubts.exact and "the thresholds of ground" not in doubts.exact


@pytest.mark.parametrize("name", shipped_profiles())
def test_every_part_of_a_shipped_profile_says_how_sure_it_is(name):
    profile = read_profile(name)
    keys = doubts_of(profile).keys
    for part in (*profile.factors, *profile.pressures):
        assert f"threshold {part.name}" in keys and f"weight {part.name}" in keys and part.doubt.source


@pytest.mark.parametrize("points", ["latin hypercube", "sobol"])
def test_a_seed_gives_its_own_draws_evenly_spread(points):
    doubts = doubts_of(doubtful_profile())
    first, again, other = (drawn(doubts, 64, seed=seed, points=points).numbers for seed in (1, 1, 2))
    assert first.tobytes() == again.tobytes() != other.tobytes()
    # one draw in each of 64 slices of each doubt: what both designs promise
    np.testing.assert_array_equal(
        np.sort(np.floor(first * 64), axis=0), np.tile(np.arange(64)[:, None], first.shape[1])
    )
