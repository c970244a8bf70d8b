"""Values that cannot be what they are said to be."""

import numpy as np
import pytest

from layers.plausibility import doubtful_sign, doubtful_zeros, implausible_values
from layers.quantity import BED_ELEVATION, SALINITY, SEAGRASS_COVER, WATER_TEMPERATURE
from tests.files import entry_for


def same(values):
    return values


def sentences_of(values, quantity, convert=same, **keys):
    faults = implausible_values(
        "file", np.asarray(values), convert, quantity, entry_for(None, **keys), lambda index: f"number {index}"
    )
    return [str(fault) for fault in faults]


def test_values_within_the_range_and_missing_ones_have_no_fault():
    assert sentences_of([-200, 0, 500, np.nan], BED_ELEVATION) == []
    assert sentences_of([[np.nan]], BED_ELEVATION) == []
    assert sentences_of([], BED_ELEVATION) == []


def test_a_mark_within_the_range_is_a_value():
    # 255 m of hill is an elevation, 255 % of cover is not a share
    assert sentences_of([255.0], BED_ELEVATION) == []
    assert len(sentences_of([255.0], SEAGRASS_COVER)) == 1


def test_marks_are_judged_as_written_and_ranges_as_converted():
    (mark,) = sentences_of([-9999.0, 30.0], BED_ELEVATION, lambda values: values * 0.3048)
    assert mark.startswith("file: 1 cell holds -9999, which looks like a mark for no data")
    assert sentences_of([1_600.0], BED_ELEVATION, lambda values: values * 0.3048) == []


def test_marks_infinite_values_and_plain_excess_are_each_said():
    found = sentences_of([-9999.0, np.inf, 900.0, 1.0], BED_ELEVATION)
    assert [sentence.split(",")[0] for sentence in found] == [
        "file: 1 cell holds an infinite value",
        "file: 1 cell holds -9999",
        "file: 1 cell is outside the plausible range of bed elevation",
    ]


@pytest.mark.parametrize(
    "values, quantity, cause",
    [
        ([280.0, 300.0], WATER_TEMPERATURE, "in kelvin"),
        ([70.0, 90.0], WATER_TEMPERATURE, "in degrees Fahrenheit"),
        ([0.0, 45.0, 100.0], SEAGRASS_COVER, "in percent"),
        ([-2_500.0, 100.0], BED_ELEVATION, "in centimetres or millimetres"),
        ([-600.0, 100.0], BED_ELEVATION, "in feet or centimetres or millimetres"),
    ],
)
def test_the_units_that_would_explain_the_values_are_named(values, quantity, cause):
    (sentence,) = sentences_of(values, quantity)
    assert f" All values would be plausible if they were {cause}. " in sentence


def test_no_cause_is_made_up():
    (sentence,) = sentences_of([20.0, 900.0], WATER_TEMPERATURE)
    assert "would be plausible" not in sentence


def test_the_site_file_may_widen_the_range():
    assert sentences_of([900.0], BED_ELEVATION, plausible=(-200, 1_000)) == []


def test_zeros_are_doubted_only_where_they_are_most_cells_and_nothing_is_declared():
    most, half = np.array([0, 0, 0, -5.0, np.nan]), np.array([0, -5.0, np.nan])
    entry = entry_for(None)
    assert doubtful_zeros("f", most, BED_ELEVATION, entry, False) is not None
    assert doubtful_zeros("f", most, BED_ELEVATION, entry, True) is None
    assert doubtful_zeros("f", half, BED_ELEVATION, entry, False) is None
    assert doubtful_zeros("f", most, SEAGRASS_COVER, entry, False) is None
    assert doubtful_zeros("f", most, SALINITY, entry_for(None, plausible=(-10, 10)), False) is None


def test_a_bed_is_doubted_only_where_nearly_all_of_it_is_dry(tmp_path):
    mixed = np.array([-3.0, 1, 2, 3])
    entry = entry_for(tmp_path / "bed.tif", positive="up")
    assert doubtful_sign(entry, mixed) is None
    assert doubtful_sign(entry, np.full(10, np.nan)) is None
    assert doubtful_sign(entry, np.array([0.0, 1, 2])) is not None
    assert doubtful_sign(entry, np.r_[-1.0, np.ones(99)]) is None
    almost = doubtful_sign(entry, np.r_[-1.0, np.ones(199)])
    assert "almost none are below 0" in almost.found
