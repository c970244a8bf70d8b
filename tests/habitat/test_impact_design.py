"""The before-after/control-impact test against scipy's two-sample t test."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx
from scipy.stats import ttest_ind

from habitat.impact_design import MONITORING, impact_test
from tests.evidence import rows

SURVEYS = st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=2, max_size=12)


def test_the_worked_case_gives_its_contrast_t_and_p():
    table = rows("impact_design.csv")
    before, after = ([row.difference for row in table if row.period == name] for name in ("before", "after"))
    control = [7.0, 9.0, 4.0, 11.0, 6.0, 8.0]
    found = impact_test(np.add(before, control), control, np.add(after, control), control)
    assert (found.mean_before, found.mean_after, found.contrast) == approx((2.5, -0.5, -3.0), abs=1e-9)
    assert found.statistic == approx(4.954337, abs=5e-7)
    assert found.degrees_of_freedom == 10
    assert found.p_value == approx(0.000574830, abs=5e-10)
    oracle = ttest_ind(before, after)
    assert (found.statistic, found.p_value) == approx((oracle.statistic, oracle.pvalue), rel=1e-9)
    assert str(found) == (
        "Against the control the place fell by 3 (standard error 0.61, t = 4.954, 10 degrees of freedom, p = 0.00057)."
    )


@given(SURVEYS, SURVEYS)
def test_the_test_is_scipys_with_pooled_variance(before, after):
    (before_impact, before_control), (after_impact, after_control) = (np.array(part).T for part in (before, after))
    first, last = before_impact - before_control, after_impact - after_control
    assume(np.ptp(first) > 1e-3 and np.ptp(last) > 1e-3)
    found = impact_test(before_impact, before_control, after_impact, after_control)
    oracle = ttest_ind(first, last)
    assert found.statistic == approx(oracle.statistic, rel=1e-6, abs=1e-9)
    assert found.p_value == approx(oracle.pvalue, rel=1e-5, abs=1e-12)


def test_what_moves_both_places_alike_is_no_impact():
    before, after = np.array([5.0, 6.0, 4.0]), np.array([5.5, 6.5, 4.2])
    still = impact_test(before, before - 2 + [0.1, 0, -0.1], after, after - 2 + [0.1, 0, -0.1])
    storm = impact_test(before, before - 2 + [0.1, 0, -0.1], after - 40, after - 42 + [0.1, 0, -0.1])
    assert still.contrast == approx(0, abs=1e-9) == approx(storm.contrast, abs=1e-9)
    assert storm.p_value == approx(1)


@pytest.mark.parametrize(
    "given, said",
    [
        (([1, 2], [1], [1, 2], [1, 2]), "before: found 2 surveys of the impact and 1 of the control."),
        (([1, 2], [1, 1], [1], [2]), "after: found 1 surveys. At least 2 are needed"),
        (([1, np.nan], [1, 1], [1, 2], [2, 2]), "before: a survey holds no number."),
        (([0.3, 0.4], [0.1, 0.2], [0.5, 0.6], [0.1, 0.2]), "differences: they are the same"),
        (([1, 2], [0, 1], [4, 5], [1, 2]), "differences: they are the same on every day of each period"),
    ],
)
def test_surveys_that_cannot_be_tested_are_refused(given, said):
    with pytest.raises(ValueError) as refusal:
        impact_test(*given)
    assert str(refusal.value).startswith(said)


def test_a_planner_is_told_to_ask_for_surveys_from_before():
    for asked in ("before works begin", "out of their reach", "work stops", "who is told"):
        assert asked in MONITORING
