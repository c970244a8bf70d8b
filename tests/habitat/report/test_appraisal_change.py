"""Classes of change, worked out by hand, and their colours as seen by colour-blind eyes and in grey."""

import numpy as np
import pytest
import xarray as xr
from colorspacious import cspace_convert

from habitat.colours import rgb
from habitat.report.appraisal_change import COLOURS, NAMES, SAME, change_codes, is_better
from layers.quantity import LAND, WATER


def _cells(*values):
    return xr.DataArray(np.array([values]), dims=("y", "x"))


def test_each_step_of_change_has_its_class():
    before = _cells(0.5, 0.5, 0.5, 0.5, 0.9, 0.5, 0.0, np.nan)
    after = _cells(0.505, 0.47, 0.4, 0.25, 0.3, 0.6, 0.6, 0.5)
    water = _cells(*[WATER] * 8)
    codes = change_codes(before, after, water, water, more_is_better=True)
    assert codes.tolist() == [[5, 4, 3, 2, 1, 7, 9, 0]]
    turned = change_codes(before, after, water, water, more_is_better=False)
    assert turned.tolist() == [[5, 6, 7, 8, 9, 3, 1, 0]]


def test_water_that_becomes_land_is_told_and_not_left_out():
    scores = _cells(0.5, np.nan, np.nan)
    codes = change_codes(
        scores, _cells(np.nan, 0.5, np.nan), _cells(WATER, LAND, LAND), _cells(LAND, WATER, LAND), more_is_better=True
    )
    assert [NAMES[code] for code in codes[0, :2]] == ["becomes land", "becomes water (dotted)"]
    assert codes[0, 2] == 0
    assert is_better(codes).tolist() == [[False, True, False]]


@pytest.mark.parametrize("kind", ["protanomaly", "deuteranomaly", "tritanomaly"])
def test_worse_and_better_are_told_apart_by_colour_blind_eyes(kind):
    sight = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
    for worse, better in zip((1, 2, 3, 4), (9, 8, 7, 6), strict=True):
        seen = [cspace_convert(rgb(COLOURS[code]) / 255, sight, "CAM02-UCS") for code in (worse, better)]
        assert np.linalg.norm(seen[0] - seen[1]) > 10, (worse, better)  # 1 is just noticeable; 10 is expert judgement


def test_a_greater_change_is_darker_in_grey():
    light = {code: cspace_convert(rgb(colour) / 255, "sRGB1", "CIELab")[0] for code, colour in COLOURS.items()}
    assert light[1] < light[2] < light[3] < light[4] < light[SAME]
    assert light[9] < light[8] < light[7] < light[6] < light[SAME]
