import numpy as np
import pytest
import xarray as xr

from habitat.concern import class_of, concern, concern_text
from habitat.result import CONCERN_CLASSES, CONCERN_READINGS

BREAKS = (0.35, 0.65)


def test_the_class_of_nan_is_no_data():
    assert class_of(float("nan"), BREAKS) == 0
    scores = xr.DataArray(np.array([np.nan, 1.0, 0.0], np.float32), dims="x")
    assert class_of(scores, BREAKS).values.tolist() == [0, 3, 1]
    assert class_of(scores.chunk(x=1), BREAKS).values.tolist() == [0, 3, 1]


def test_a_score_on_a_break_is_in_the_class_above():
    stored = np.array([0.35, 0.65], np.float32)  # float32 holds 0.65 a hair below it
    assert class_of(stored, BREAKS).tolist() == [2, 3]
    assert class_of(np.nextafter(stored, np.float32(0)), BREAKS).tolist() == [1, 2]
    assert class_of(stored, BREAKS).dtype == np.uint8


def test_concern_reads_the_two_classes_together_three_by_three():
    table = [[concern(suitability, threat) for threat in range(4)] for suitability in range(4)]
    assert table == [[0, 0, 0, 0], [0, 1, 2, 3], [0, 4, 5, 6], [0, 7, 8, 9]]


def test_no_data_in_either_is_no_concern_class():
    suitability = xr.DataArray(np.array([[0, 3], [3, 0]], np.uint8), dims=("y", "x"))
    threat = xr.DataArray(np.array([[3, 3], [0, 0]], np.uint8), dims=("y", "x"))
    assert concern(suitability, threat).values.tolist() == [[0, 9], [0, 0]]


@pytest.mark.parametrize("code", range(1, 10))
def test_the_words_of_a_concern_name_its_two_classes(code):
    habitat = ("poor", "fair", "good")[(code - 1) // 3]
    threat = ("low", "moderate", "high")[(code - 1) % 3]
    assert CONCERN_CLASSES[code] == f"{habitat} habitat under {threat} threat"
    assert concern_text(code) == f"{CONCERN_CLASSES[code]}: {CONCERN_READINGS[code]}"


def test_no_data_has_its_own_word():
    assert concern_text(0) == "no data"
    assert len(set(CONCERN_READINGS)) == len(CONCERN_READINGS) == 10
