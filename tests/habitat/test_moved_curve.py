"""A moved curve is still a curve, and many moved at once are each of them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.moved_curve import moved_curve, moved_fades, moved_lines
from habitat.pressure import Fade

POINTS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 10)), min_size=2, max_size=7)


@given(st.lists(st.floats(0, 100), min_size=2, max_size=6), st.floats(-200, 200))
def test_the_points_of_a_moved_curve_keep_their_order_and_nothing_stays_nothing(values, shift):
    curve = SuitabilityCurve(tuple(sorted(values)), tuple(np.linspace(0, 1, len(values))))
    moved = moved_curve(curve, shift, lowest=0.0)
    assert list(moved.values) == sorted(moved.values)
    for before, after in zip(curve.values, moved.values, strict=True):
        if before == 0:
            assert after == 0


@given(st.floats(0, 500), st.floats(1, 3000), st.floats(-5000, 5000))
def test_a_moved_fade_is_a_fade(full, run, shift):
    moved = moved_curve(Fade(full, full + run), shift)
    assert 0 <= moved.full < moved.reach


@given(POINTS, st.lists(st.floats(-60, 60), min_size=1, max_size=4), st.sampled_from([None, 0.0]))
def test_lines_of_many_moved_curves_are_those_of_each(points, shifts, lowest):
    values, indices = zip(*sorted((value / 2, index / 10) for value, index in points), strict=True)
    curve = SuitabilityCurve(values, indices)
    lines = moved_lines(curve, np.array(shifts), lowest)
    for shift, line in zip(shifts, lines, strict=True):
        wanted = moved_curve(curve, shift, lowest).segments
        np.testing.assert_array_equal(line[0], wanted.starts)
        np.testing.assert_array_equal(line, np.array([wanted.starts, wanted.anchors, wanted.heights, wanted.slopes]))


@given(st.floats(0, 500), st.floats(1, 3000), st.floats(-5000, 5000))
def test_many_moved_fades_are_each_of_them(full, run, shift):
    fade = Fade(full, full + run, "gaussian")
    one = moved_curve(fade, shift)
    assert moved_fades(fade, np.array([shift])).tolist() == [[one.full, one.reach, one.end]]


def test_categories_do_not_move():
    table = CategoryCurve(("land", "water"), (None, 1))
    lines = moved_lines(table, np.array([0.0, 5.0]))
    np.testing.assert_array_equal(lines[0], lines[1])
    np.testing.assert_array_equal(lines[0][0], table.segments.starts)
