"""The range of a loss: by hand, against the plain loop, and on a small site whose channel is dredged."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from pytest import approx
from scipy.stats import norm

from habitat.appraisal import appraise
from habitat.appraisal_range import range_of_loss, sentences
from habitat.appraisal_tables import unit_changes
from habitat.assessment import assess
from habitat.doubt import doubts_of
from habitat.doubt_ends import error_ends
from habitat.draws import drawn, layers_of_draw, profile_of_draw
from habitat.profile import PartDoubt
from habitat.proposal import proposal_of_features
from habitat.site_map import map_site
from layers import quantity as q
from tests.doubting import doubtful_ends, doubtful_layers, doubtful_profile
from tests.proposals import CHANNEL, DREDGED, frame
from tests.scoring import MADE_UP, TRAFFIC, factor, layers_of, pressure, small_grid, small_profile
from tests.sites import write_small_site

SHARE = 0.2  # standard deviation of the pressure's weight, as a share of it


def _appraisal(before, after, profile):
    sides = [SimpleNamespace(layers=one, profile=profile, assessment=assess(one, profile)) for one in (before, after)]
    return SimpleNamespace(before=sides[0], together=SimpleNamespace(site_map=sides[1], name="jetty"))


@pytest.fixture(scope="module")
def passed_by():
    """Three cells of a hectare of cover 0.5; boats come to the first and always were in the second."""
    profile = small_profile(
        factors=(factor("seagrass_cover", 1, [(0, 0), (1, 1)]),),
        essential=(),
        may_lack=0,
        pressures=(
            replace(
                pressure("vessels", "vessel_density", 0.5, TRAFFIC), doubt=PartDoubt(weight_share=SHARE, source=MADE_UP)
            ),
        ),
    )
    before, after = (
        layers_of(small_grid(1, 3), seagrass_cover=[[0.5] * 3], vessel_density=[traffic])
        for traffic in ([0, 10, 0], [10, 10, 0])
    )
    found = range_of_loss(_appraisal(before, after, profile), draws=2000, limit=0.275, before_ends={}, after_ends={})
    return found, profile


def test_a_loss_by_hand_is_half_the_weight_and_as_doubtful_as_it(passed_by):
    # cover 0.5 times the weight at full exposure; a lognormal of median 0.5 cut at three deviations (closed form)
    found, _ = passed_by
    row = found.losses.set_index("measure").loc["spared"]
    sigma = np.sqrt(np.log(1 + SHARE**2))
    inside = norm.cdf(3) - norm.cdf(-3)
    ends = [0.25 * np.exp(sigma * norm.ppf(norm.cdf(-3) + share * inside)) for share in (0.05, 0.5, 0.95)]
    assert row[["low", "median", "high"]].to_list() == approx(ends, abs=2e-4)
    assert row.taken == approx(0.25)
    beyond = (norm.cdf(3) - norm.cdf(np.log(0.275 / 0.25) / sigma)) / inside
    assert row.chance == approx(beyond, abs=2e-3)
    assert found.drawn_hectares == 1, "boats that were there before and after cancel"


def test_what_is_lost_without_threat_is_nothing_and_surely_so(passed_by):
    found, _ = passed_by
    row = found.losses.set_index("measure").loc["units"]
    assert (row.taken, row.low, row.high, row.chance) == (0, 0, 0, 0)


def test_the_only_doubt_explains_it_all_and_knowing_it_settles_it(passed_by):
    found, _ = passed_by
    (row,) = found.settling.query("measure == 'spared'").itertuples()
    # six harmonics do not see the very tails
    assert row.key == "weight vessels" and row.share == approx(1, abs=0.05)
    assert row.certainty == approx(max(1 - 0.313, 0.313), abs=0.01)
    assert row.certainty_if_known > 0.95


def test_the_words_say_range_chance_and_what_settles_it(passed_by):
    found, _ = passed_by
    said = " ".join(sentences(found))
    assert "Over the year jetty takes 0.2 of the habitat units that threat leaves; nine draws in ten lie" in said
    assert "The chance that it takes more than 0.3 is 31 %." in said
    assert "knowing the weight of vessels exactly would make that" in said
    assert "taken as exact: the thresholds of seagrass cover; the weight of seagrass cover" in said


def test_what_changes_nothing_takes_nothing_in_any_draw():
    profile = doubtful_profile()
    layers = doubtful_layers(profile)
    ends = doubtful_ends(layers, profile)
    same = _appraisal(layers, layers.copy(deep=True), profile)
    found = range_of_loss(same, draws=30, limit=1, before_ends=ends, after_ends=ends)
    assert found.drawn_hectares == 0
    assert (found.losses[["taken", "low", "median", "high", "chance"]] == 0).all(axis=None)
    assert sentences(found)[0] == "In the wet season jetty takes nothing in any likely draw."


def test_without_a_limit_nothing_is_said_of_one(passed_by):
    _, profile = passed_by
    sides = [layers_of(small_grid(1, 1), seagrass_cover=[[0.5]], vessel_density=[[traffic]]) for traffic in (0.0, 10.0)]
    found = range_of_loss(_appraisal(*sides, profile), draws=50, before_ends={}, after_ends={})
    assert found.losses["chance"].isna().all() and found.settling["certainty"].isna().all()
    said = " ".join(sentences(found))
    assert "Knowing the weight of vessels better would settle it most." in said and "limit" not in said


def test_the_loss_of_every_draw_is_that_of_the_plain_loop():
    profile = doubtful_profile()
    before = doubtful_layers(profile)
    after = before.copy()
    surface = before["surface"].copy()
    surface[2:4, 3:6] = q.LAND
    surface[8:10, 8:12] = q.WATER
    after["surface"] = surface
    after["dredging_distance"] = (before["dredging_distance"] * np.float32(0.6)).assign_attrs(
        before["dredging_distance"].attrs
    )
    ends = [doubtful_ends(before, profile), error_ends(after, profile.layers_needed)]
    found = range_of_loss(_appraisal(before, after, profile), draws=15, seed=4, before_ends=ends[0], after_ends=ends[1])
    draws = drawn(doubts_of(profile, {**ends[1], **ends[0]}), 15, seed=4)
    for k in range(15):
        one = profile_of_draw(profile, draws, k)
        sides = [
            assess(layers_of_draw(layers, end, profile, draws, k), one)
            for layers, end in zip((before, after), ends, strict=True)
        ]
        table = unit_changes(*sides).set_index("season")
        ours = found.by_draw[found.by_draw["draw"] == k].set_index("season")
        for season in table.index:
            assert ours.loc[season, "units"] == approx(-table.loc[season, "units_change"], rel=1e-5, abs=1e-4)
            assert ours.loc[season, "spared"] == approx(-table.loc[season, "spared_change"], rel=1e-5, abs=1e-4)


@pytest.fixture(scope="module")
def channel(tmp_path_factory):
    before = map_site(write_small_site(tmp_path_factory.mktemp("small") / "site"), "marine_seagrass_grazer")
    return appraise(before, [proposal_of_features("channel", frame((DREDGED, CHANNEL)), before.inputs)])


def test_a_dredged_channel_has_a_loss_with_a_range_about_what_was_taken(channel):
    found = range_of_loss(channel, draws=60, seed=1, limit=2.0)
    plain = unit_changes(channel.before.assessment, channel.together.assessment)
    spared = found.losses[found.losses["measure"] == "spared"]
    assert spared["taken"].to_numpy() == approx(-plain["spared_change"].to_numpy(), rel=1e-6)
    assert (spared["low"] < spared["high"]).all() and (spared["high"] > spared["taken"]).all()
    assert {"threshold dredging", "amount dredge losses"} <= set(found.settling["key"])
    again = range_of_loss(channel, draws=60, seed=1, limit=2.0, workers=1)
    for name in ("losses", "settling", "by_draw"):
        assert getattr(found, name).equals(getattr(again, name)), name
    other = range_of_loss(channel, draws=60, seed=2, limit=2.0)
    assert not other.by_draw.equals(found.by_draw)
