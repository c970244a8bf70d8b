"""What looking and seeing none is worth: closed forms."""

import math

import numpy as np
import pytest

from habitat.evidence_detection import (
    absence_told,
    probability_missed,
    probability_missed_in,
    sightings_per_hour,
    visits_needed,
)
from tests.evidence import published


@published("detection.csv")
def test_visits_until_absence_is_sure(row):
    assert visits_needed(row.probability) == pytest.approx(row.visits, abs=0.005)
    assert math.ceil(visits_needed(row.probability)) == row.whole_visits
    assert probability_missed(row.whole_visits, row.probability) < 0.05
    assert probability_missed(row.whole_visits - 1, row.probability) > 0.05


def test_effort_turns_the_order_of_two_places_round():
    # worked by hand: 6 in 120 h is less than 3 in 20 h
    assert sightings_per_hour(np.array([6.0, 3.0, 0.0]), np.array([120.0, 20.0, 0.0])) == pytest.approx(
        [0.05, 0.15, np.nan], nan_ok=True
    )


def test_many_short_visits_are_one_long_one():
    # exp(-rate t) is the limit of (1 - p)^n: Poisson
    assert probability_missed_in(20, 0.15) == pytest.approx(probability_missed(20_000, 0.15 / 1000), rel=1e-3)


def test_a_place_nobody_visited_is_never_called_empty():
    assert probability_missed(0, 0.3) == 1
    assert absence_told(0, 0.3).startswith("Nobody looked: that is not absence. 9 visits")
    assert "9 visits would make it 95% sure" in absence_told(4, 0.3)
    assert "would make" not in absence_told(9, 0.3)


def test_impossible_numbers_are_refused():
    for wrong in (lambda: visits_needed(0), lambda: visits_needed(0.3, sure=1), lambda: sightings_per_hour(-1, 2)):
        with pytest.raises(ValueError):
            wrong()
