"""Many draws at once are the plain loop over them, and do not depend on threads or blocks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from habitat.assessment import assess
from habitat.combine import RULES
from habitat.curve import CategoryCurve
from habitat.doubt import doubts_of
from habitat.doubt_ends import error_ends
from habitat.draws import drawn, layers_of_draw, profile_of_draw
from habitat.draws_cells import score_draws
from habitat.profile import Factor
from layers.quantity import SURFACE
from tests.doubting import doubtful_ends, doubtful_layers, doubtful_profile, everything_doubtful

ENDS = (0.05, 0.5, 0.95)
NUMBER = 20


def _loop(layers, ends, profile, draws):
    """Scores of every draw the plain way: (K, S, N) suitability and threat, and classes."""
    runs = [
        assess(layers_of_draw(layers, ends, profile, draws, k), profile_of_draw(profile, draws, k))
        for k in range(len(draws))
    ]
    return {
        name: np.stack([run[name].to_numpy().reshape(2, -1) for run in runs])
        for name in ("suitability", "threat", "suitability_class", "threat_class", "concern")
    }


@pytest.fixture(scope="module", params=list(RULES))
def pair(request):
    layers, ends, profile, doubts = everything_doubtful(rule=request.param)
    draws = drawn(doubts, NUMBER, seed=3)
    return score_draws(layers, ends, profile, draws, quantiles=ENDS), _loop(layers, ends, profile, draws)


def test_the_mean_and_spread_of_each_cell_are_those_of_the_plain_loop(pair):
    found, loop = pair
    scores = loop["suitability"][:, :, found.cells].astype(float)
    np.testing.assert_allclose(found.mean, scores.mean(axis=0), atol=1e-5)
    np.testing.assert_allclose(found.deviation, scores.std(axis=0), atol=1e-5)
    assert np.isfinite(scores).any() and np.isnan(scores).any() and (found.deviation > 0.01).any()


def test_chances_are_the_shares_of_the_draws_of_the_plain_loop(pair):
    found, loop = pair
    codes = loop["suitability_class"][:, :, found.cells]
    known = codes[0] > 0
    for code in (1, 2, 3):
        # a score a rounding away from a break may fall on its other side in one draw
        off = np.abs(found.chances[code - 1] - (codes == code).mean(axis=0))[known]
        assert off.max() <= 1 / NUMBER + 1e-6 and (off > 1e-6).mean() < 0.01
    assert np.isnan(found.chances[:, ~known]).all()


def test_quantiles_are_within_a_bin_of_those_of_the_plain_loop(pair):
    found, loop = pair
    scores = loop["suitability"][:, :, found.cells]
    wanted = np.quantile(scores, ENDS, axis=0, method="inverted_cdf")
    np.testing.assert_allclose(found.quantiles, wanted, atol=1 / 256 + 1e-6)


def test_sums_over_the_cells_are_those_of_the_plain_loop(pair):
    found, loop = pair
    worth, threat = loop["suitability"].astype(float), loop["threat"].astype(float)
    np.testing.assert_allclose(found.units, np.nansum(worth, axis=2), rtol=1e-5)
    np.testing.assert_allclose(found.spared, np.nansum(worth * (1 - threat), axis=2), rtol=1e-5)
    for first, name, classes in ((0, "suitability_class", 3), (3, "threat_class", 3), (6, "concern", 9)):
        wanted = np.stack([(loop[name] == code).sum(axis=2) for code in range(1, classes + 1)], axis=2)
        off = np.abs(found.counts[:, :, first : first + classes] - wanted)
        assert off.max() <= 1 and (off > 0).mean() < 0.01


def test_categories_and_layers_that_are_absent_are_scored_as_in_the_plain_loop():
    codes = SURFACE.categories
    ground = Factor(
        name="ground", layer="surface", weight=1, curve=CategoryCurve(codes, (None, 0, 0.6, 1)), source="made up"
    )
    profile = doubtful_profile(may_lack=2, threat_may_lack=1)
    layers = doubtful_layers(profile).drop_vars(["seagrass_cover", "net_distance"])
    profile = replace(profile, factors=(*profile.factors, ground))
    ends = error_ends(layers, profile.layers_needed)
    draws = drawn(doubts_of(profile, ends), 7, seed=2)
    found, loop = score_draws(layers, ends, profile, draws, quantiles=ENDS), _loop(layers, ends, profile, draws)
    np.testing.assert_allclose(found.mean, loop["suitability"][:, :, found.cells].astype(float).mean(axis=0), atol=1e-5)
    left = loop["suitability"].astype(float) * (1 - loop["threat"].astype(float))
    np.testing.assert_allclose(found.spared, np.nansum(left, axis=2), rtol=1e-5)
    assert (found.spared > 0).all()


@pytest.mark.parametrize(("workers", "block"), [(1, 1024), (2, 1024), (3, 1024), (2, 7), (1, 1), (3, 100)])
def test_threads_and_blocks_change_not_a_bit(workers, block, monkeypatch):
    layers, ends, profile, doubts = everything_doubtful()
    draws = drawn(doubts, 9, seed=1)
    whole = score_draws(layers, ends, profile, draws, quantiles=ENDS, workers=1)
    monkeypatch.setattr("habitat.draws_cells.STRIP", 50)
    parts = score_draws(layers, ends, profile, draws, quantiles=ENDS, workers=workers, block=block)
    for name in ("counts", "units", "spared", "mean", "deviation", "chances", "quantiles"):
        assert getattr(whole, name).tobytes() == getattr(parts, name).tobytes(), name


def test_without_doubt_nothing_spreads():
    profile = doubtful_profile()
    certain = replace(
        profile,
        factors=tuple(replace(part, doubt=None) for part in profile.factors),
        pressures=tuple(replace(part, doubt=None) for part in profile.pressures),
    )
    layers = doubtful_layers(certain)
    found = score_draws(layers, {}, certain, drawn(doubts_of(certain), 5), quantiles=ENDS)
    plain = assess(layers, certain)["suitability"].to_numpy().reshape(2, -1)[:, found.cells]
    assert np.nanmax(found.deviation) == 0
    np.testing.assert_array_equal(found.mean, plain)
    for quantile in found.quantiles:
        np.testing.assert_array_equal(quantile, plain)
    assert (found.units == found.units[0]).all()


def test_more_doubt_is_never_a_narrower_total():
    spreads = []
    for scale in (0.25, 0.5, 1.0):
        profile = doubtful_profile(scale)
        layers = doubtful_layers(profile, error=scale)
        ends = doubtful_ends(layers, profile)
        found = score_draws(layers, ends, profile, drawn(doubts_of(profile, ends), 200, seed=5))
        low, high = np.quantile(found.spared[:, 0], (0.05, 0.95))
        spreads.append(high - low)
    assert spreads == sorted(spreads)


def test_no_data_stays_no_data_in_every_draw(pair):
    found, loop = pair
    unknown = np.isnan(loop["suitability"][0][:, found.cells])
    np.testing.assert_array_equal(np.isnan(found.mean), unknown)
    assert np.isnan(found.quantiles[:, unknown]).all()


def test_chances_add_up_to_one(pair):
    found, _ = pair
    known = np.isfinite(found.mean)
    assert found.chances.sum(axis=0)[known] == approx(1, abs=1e-6)


def test_some_cells_alone_are_these_cells_of_the_whole():
    layers, ends, profile, doubts = everything_doubtful()
    draws = drawn(doubts, 6, seed=2)
    whole = score_draws(layers, ends, profile, draws, quantiles=ENDS)
    some = score_draws(layers, ends, profile, draws, quantiles=ENDS, cells=whole.cells[10:40])
    np.testing.assert_array_equal(some.mean, whole.mean[:, 10:40])
    counted = np.zeros((2, 2, 30), bool)
    counted[0, 1, :3] = True
    few = score_draws(layers, ends, profile, draws, cells=whole.cells[10:40], counted=counted)
    assert (few.spared == 0).all() and (few.units[:, 0] == 0).all() and few.mean is None
    np.testing.assert_array_equal(few.counts, some.counts)
