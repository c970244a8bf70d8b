"""Blocks and intervals: by hand, and their coverage by simulation where the truth is known."""

from dataclasses import replace

import numpy as np
import pytest

from habitat.evidence_blocks import FEWEST_BLOCKS, block_draws, block_folds, block_numbers, drawn_estimate
from habitat.evidence_comparison import SEARCHED, Comparison
from habitat.evidence_measures import area_under_curve, boyce_index, skill_table

BLOCKS = 25


def comparison(random, sightings, *, blocks=BLOCKS, power=0.5):
    """Sightings whose density rises with the score (score = u^0.5), among places spread evenly over 0 to 1."""
    places = np.tile((np.arange(60) + 0.5) / 60, blocks)
    return Comparison(
        seen=random.random(sightings) ** power,
        seen_weights=np.ones(sightings),
        seen_blocks=random.integers(0, blocks, sightings),
        others=places,
        other_weights=random.uniform(0.5, 2, len(places)),
        other_blocks=np.repeat(np.arange(blocks), 60),
        blocks=blocks,
        side=1000.0,
        against=SEARCHED,
    )


def test_blocks_stand_still_and_hold_what_lies_in_them():
    x, y = np.array([100.0, 1900.0, 2100.0, 100.0]), np.array([100.0, 1900.0, 100.0, 2100.0])
    assert block_numbers(x, y, 2000).tolist() == [0, 0, 2, 1]
    moved = block_numbers(np.append(x, -50.0), np.append(y, 100.0), 2000)
    assert len(set(moved[:4])) == 3 and moved[4] not in moved[:4]
    with pytest.raises(ValueError, match="above 0 m"):
        block_numbers(x, y, 0)


def test_each_draw_takes_as_many_blocks_as_there_are_and_a_seed_gives_the_same_draws():
    draws = block_draws(7, seed=3, draws=50)
    assert (draws.sum(axis=1) == 7).all()
    np.testing.assert_array_equal(draws, block_draws(7, seed=3, draws=50))
    assert not np.array_equal(draws, block_draws(7, seed=4, draws=50))


def test_folds_share_out_sightings_and_blocks_evenly():
    sightings = np.array([8, 5, 4, 3, 3, 2, 2, 1, 1, 1] + [0] * 15)
    folds = block_folds(sightings, folds=5, seed=1)
    held = np.bincount(folds, sightings)
    assert held.min() >= 5 and held.max() <= 8
    assert np.ptp(np.bincount(folds)) <= 1
    np.testing.assert_array_equal(folds, block_folds(sightings, folds=5, seed=1))


def test_few_sightings_get_wider_intervals_than_plain_percentiles():
    drawn = np.random.default_rng(0).standard_normal(2000)
    plain = np.quantile(drawn, [0.025, 0.975])
    few, many = (drawn_estimate(0.0, drawn, independent=count) for count in (6, 500))
    assert few.low < plain[0] and few.high > plain[1]
    assert (many.low, many.high) == pytest.approx(tuple(plain), abs=0.05)


def test_too_few_blocks_or_draws_give_no_interval_at_all():
    drawn = np.linspace(0, 1, 100)
    assert not drawn_estimate(0.5, drawn, independent=FEWEST_BLOCKS - 1).has_interval
    assert not drawn_estimate(0.5, np.where(drawn > 0.2, np.nan, drawn), independent=20).has_interval
    assert drawn_estimate(0.5, drawn, independent=FEWEST_BLOCKS).has_interval


def test_figures_of_a_comparison_are_those_of_the_measures():
    case = comparison(np.random.default_rng(5), 30)
    weights = case.seen_weights, case.other_weights
    assert case.area(seed=1, draws=50).value == area_under_curve(case.seen, case.others, *weights)
    assert case.boyce(seed=1, draws=50)[0].value == boyce_index(case.seen, case.others, *weights).value
    at = skill_table(case.seen, case.others, 0.4, *weights)
    assert case.skill(0.4).true_skill == pytest.approx(at.true_skill)
    assert case.skill(0.4).total == pytest.approx(30 + len(case.others))


def test_a_draw_of_blocks_is_the_figure_of_those_blocks_taken_so_often():
    # the figure worked out again from the records of each drawn block
    case = comparison(np.random.default_rng(6), 20, blocks=8)
    for times in block_draws(8, seed=2, draws=5):
        weights = case.seen_weights * times[case.seen_blocks], case.other_weights * times[case.other_blocks]
        again = area_under_curve(case.seen, case.others, *weights)
        won = times @ case._won @ times
        seen = times @ case.sightings_by_block
        others = times @ np.bincount(case.other_blocks, case.other_weights)
        assert won / (seen * others) == pytest.approx(again)


@pytest.mark.parametrize("sightings", [15, 30])
def test_intervals_of_few_sightings_hold_the_truth_about_as_often_as_they_say(sightings):
    # closed forms: with density 2s on 0 to 1 against an even one, AUC = E[s] = 2/3 and TSS at 0.5 = 0.75 - 0.5
    random = np.random.default_rng(7)
    area, skill, runs = 0, 0, 200
    for run in range(runs):
        case = comparison(random, sightings)
        of_area, of_skill = case.area(seed=run, draws=200), case.true_skill(0.5, seed=run, draws=200)
        area += of_area.low <= 2 / 3 <= of_area.high
        skill += of_skill.low <= 0.25 <= of_skill.high
    # 95 % of 200 runs, give or take three standard errors of such a count
    assert 0.90 <= area / runs <= 0.995 and 0.90 <= skill / runs <= 0.995


def test_a_map_that_knows_nothing_is_seldom_called_better_than_chance():
    random = np.random.default_rng(8)
    found = [comparison(random, 30, power=1.0).area(seed=run, draws=200) for run in range(200)]
    assert np.mean([part.low > 0.5 for part in found]) <= 0.06  # 2.5 % expected, three standard errors above


def test_sightings_that_resemble_their_neighbours_need_blocks_for_an_honest_interval():
    # 30 sightings in 8 places, all of a place alike: there are 8 findings, not 30; truth as above
    random = np.random.default_rng(9)
    honest, naive, runs = 0, 0, 120
    for run in range(runs):
        case = comparison(random, 30)
        places = random.choice(BLOCKS, 8, replace=False)
        score, block = np.zeros(BLOCKS), random.choice(places, 30)
        score[places] = random.random(8) ** 0.5
        alike = replace(case, seen=score[block], seen_blocks=block)
        lone = replace(alike, seen_blocks=np.arange(30), other_blocks=np.arange(len(case.others)) % 30, blocks=30)
        for found, name in ((alike, "honest"), (lone, "naive")):
            told = found.area(seed=run, draws=200)
            honest += name == "honest" and told.low <= 2 / 3 <= told.high
            naive += name == "naive" and told.low <= 2 / 3 <= told.high
    assert honest / runs >= 0.87 and naive / runs <= 0.8


def test_no_miss_so_far_is_no_promise_that_there_will_be_none():
    # of 15 sightings 93 % lie above the break in truth; a third of such samples hold no miss at all
    random = np.random.default_rng(10)
    covered, without_miss, runs = 0, 0, 200
    for run in range(runs):
        case = comparison(random, 15)
        above = random.random(15) < 0.93
        case = replace(case, seen=np.where(above, 0.9, 0.1), seen_blocks=np.arange(15))
        told, skill = case.true_skill(0.5, seed=run, draws=100), case.skill(0.5)
        without_miss += skill.misses == 0
        covered += told.low <= 0.93 + skill.specificity - 1 <= told.high
    assert without_miss > 50 and covered / runs >= 0.9
