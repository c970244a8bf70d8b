"""Measures of agreement against published tables, scikit-learn and closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score, roc_auc_score

from habitat.evidence_measures import SkillTable, area_under_curve, boyce_index, skill_table
from tests.evidence import published

NUMBERS = st.lists(st.sampled_from([0.0, 0.1, 0.25, 0.25, 0.5, 0.7, 1.0]), min_size=1, max_size=12)


@published("skill_tables.csv")
def test_skill_is_as_printed(row):
    table = SkillTable(
        hits=row.hits, misses=row.misses, false_alarms=row.false_alarms, correct_rejections=row.correct_rejections
    )
    names = ("sensitivity", "specificity", "accuracy", "precision", "prevalence", "true_skill", "kappa")
    printed = {name: getattr(row, name) for name in names if getattr(row, name) != ""}
    assert len(printed) >= 3
    assert {name: getattr(table, name) for name in printed} == pytest.approx(printed, abs=row.tolerance)


def test_the_trap_of_prevalence_is_undone_at_another_prevalence():
    # closed form: kappa of sensitivity and specificity 0.8 at even prevalence is 0.6
    rare = SkillTable(hits=16, misses=4, false_alarms=36, correct_rejections=144)
    assert rare.at_prevalence(0.5).kappa == pytest.approx(0.6)
    assert rare.at_prevalence(0.1).kappa == pytest.approx(rare.kappa)


def test_area_under_curve_of_small_cases():
    # closed forms, by counting pairs
    assert area_under_curve([0.35, 0.8], [0.1, 0.4]) == 0.75
    assert area_under_curve([0.5, 0.9], [0.2, 0.5, 0.5]) == pytest.approx(0.833333, abs=1e-6)
    assert np.isnan(area_under_curve([], [0.5]))


@settings(max_examples=60)
@given(NUMBERS, NUMBERS, st.integers(0, 99))
def test_area_and_kappa_are_those_of_scikit_learn(seen, others, seed):
    random = np.random.default_rng(seed)
    weights = random.integers(1, 6, len(seen) + len(others)).astype(float)
    truth, scores = np.repeat([1, 0], [len(seen), len(others)]), np.concatenate([seen, others])
    ours = area_under_curve(seen, others, weights[: len(seen)], weights[len(seen) :])
    assert ours == pytest.approx(roc_auc_score(truth, scores, sample_weight=weights))
    table = skill_table(seen, others, 0.3, weights[: len(seen)], weights[len(seen) :])
    above = scores >= 0.3
    if len(np.unique(above)) == 2:
        assert table.kappa == pytest.approx(cohen_kappa_score(truth, above, sample_weight=weights))


def test_a_whole_weight_is_the_same_as_so_many_sightings():
    seen, others = np.array([0.2, 0.6, 0.6, 0.9]), np.linspace(0, 1, 40)
    doubled = boyce_index(np.repeat(seen, [1, 2, 1, 3]), others)
    weighed = boyce_index(seen, others, np.array([1, 2, 1, 3]))
    assert weighed.value == pytest.approx(doubled.value)


def test_boyce_rises_and_falls_as_the_sightings_do():
    # closed forms: density rising in proportion to the score, falling in proportion to what is left
    fit = (np.arange(1000) + 0.5) / 1000
    steps = (np.arange(200) + 0.5) / 200
    assert boyce_index(np.sqrt(steps), fit).value == pytest.approx(0.9993, abs=0.01)
    assert boyce_index(1 - np.sqrt(steps), fit).value == pytest.approx(-0.9993, abs=0.01)


def test_boyce_of_fixed_classes_by_hand():
    # 400, 300, 200, 100 cells hold 5, 15, 30, 50 sightings: P/E 0.125, 0.5, 1.5, 5 in windows within one class
    scores = np.array([0.05, 0.35, 0.65, 0.95])
    found = boyce_index(np.repeat(scores, [5, 15, 30, 50]), np.repeat(scores, [400, 300, 200, 100]))
    assert sorted(set(np.round(found.ratios, 6))) == [0.125, 0.5, 1.5, 5.0]
    assert found.value == pytest.approx(1, abs=0.1)


@pytest.mark.parametrize(
    ("seen", "available", "reason"),
    [
        (np.linspace(0, 1, 500), np.linspace(0, 1, 500), "equally frequent at every score"),
        ([0.4], np.full(30, 0.4), "the same score"),
        ([], np.linspace(0, 1, 30), "nothing was seen"),
    ],
)
def test_boyce_that_is_undefined_says_so_and_is_not_zero(seen, available, reason):
    found = boyce_index(seen, available)
    assert np.isnan(found.value) and reason in found.undefined


def test_scores_without_a_number_and_weights_below_nothing_are_refused():
    with pytest.raises(ValueError, match="Leave places without a score out"):
        area_under_curve([np.nan], [0.1])
    with pytest.raises(ValueError, match="0 or more"):
        boyce_index([0.1], [0.1, 0.2], [-1.0])
