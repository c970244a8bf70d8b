import numpy as np
import pytest

from layers.river_samples import RiverSamples, daily_flows, samples_below_detection


def _samples(**changed):
    given = {"flow": [1.0, 2.0, 3.0], "lowest": [0.5, 0.0, 0.2], "highest": [0.5, 0.1, 0.3]}
    return RiverSamples(**(given | changed))


def test_a_sample_below_detection_stays_an_interval():
    found = samples_below_detection([1, 2, 3], [0.5, 0.1, 0.3], [False, True, False])
    np.testing.assert_array_equal(found.is_censored, [False, True, False])
    np.testing.assert_array_equal(found.lowest, [0.5, 0.0, 0.3])
    np.testing.assert_array_equal(found.highest, [0.5, 0.1, 0.3])


def test_samples_do_not_change_with_the_array_they_came_from():
    flow = np.array([1.0, 2.0, 3.0])
    found = _samples(flow=flow)
    flow[0] = 99.0
    assert found.flow[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        found.flow[0] = 5.0


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"flow": [1.0, 2.0]}, "flow, lowest, highest differ in length."),
        ({"year": [2000.0]}, "flow, lowest, highest, year differ in length."),
        ({"flow": [1.0], "lowest": [1.0], "highest": [1.0]}, "found 1, at least 3 are needed."),
        ({"flow": [1.0, np.nan, 3.0]}, "flow is missing at index 1."),
        ({"lowest": [0.5, np.nan, 0.2]}, "lowest is missing at index 1."),
        ({"year": [2000.0, 2001.0, np.nan]}, "year is missing at index 2."),
        ({"flow": [-1.0, 2.0, 3.0]}, "flow is below 0 at index 0. Leave out days when the tide turned the river."),
        ({"lowest": [0.5, -0.1, 0.2]}, "lowest is below 0 at index 1. Below detection, write 0 and the limit."),
        ({"lowest": [0.5, 0.0, 0.4]}, "lowest is above highest at index 2."),
        ({"lowest": [0.5, 0.0, 0.0], "highest": [0.5, 0.1, 0.0]}, "highest is 0 at index 2. Nothing found means"),
    ],
)
def test_samples_that_cannot_be_are_refused(changed, words):
    with pytest.raises(ValueError) as refused:
        _samples(**changed)
    assert words in str(refused.value)


def test_all_that_is_wrong_with_samples_is_told_at_once():
    with pytest.raises(ValueError, match=r"flow is below 0 .* lowest is above highest"):
        _samples(flow=[-1.0, 2.0, 3.0], lowest=[0.5, 0.0, 0.4])


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([], "there is no day"),
        ([1.0, np.nan, 2.0], "1 of 3 days are missing, the first at index 1. A missing day is not a dry day"),
        ([1.0, -0.5], "daily_flow: found -0.5 m3/s. It must be at least 0"),
    ],
)
def test_daily_flows_that_cannot_be_are_refused(values, words):
    with pytest.raises(ValueError, match=words):
        daily_flows(values)
