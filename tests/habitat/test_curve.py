import dask.array
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from habitat.curve import CategoryCurve, SuitabilityCurve
from tests.evidence import published

quick = settings(max_examples=40, deadline=None)  # machines differ in speed, not in arithmetic
CURVES = {
    "points": SuitabilityCurve((0, 0.5, 1, 3, 5, 10), (0, 0.3, 1, 1, 0.4, 0)),
    "trapezoid": SuitabilityCurve.trapezoid(0.5, 1, 3, 6),
}
value = st.floats(-100, 100, width=32)
index = st.floats(0, 1)


@st.composite
def curves(draw):
    values = sorted(draw(st.lists(value, min_size=2, max_size=8, unique=True)))
    return SuitabilityCurve(values, draw(st.lists(index, min_size=len(values), max_size=len(values))))


@published("curve_values.csv")
def test_a_curve_gives_the_closed_form(row):
    assert CURVES[row.curve](row.depth) == approx(row.index, abs=1e-9)


@pytest.mark.parametrize(
    ("corners", "depths", "expected"),
    [
        ((1, 1, 3, 6), (0.99, 1, 3, 4.5), (0, 1, 1, 0.5)),
        ((0.5, 1, 3, 3), (0.75, 3, 3.01), (0.5, 1, 0)),
        ((2, 2, 2, 2), (1.99, 2, 2.01), (0, 1, 0)),
        ((0, 2, 2, 4), (1, 2, 3), (0.5, 1, 0.5)),
    ],
)
def test_a_trapezoid_with_upright_sides_holds_its_plateau_to_the_edge(corners, depths, expected):
    assert [SuitabilityCurve.trapezoid(*corners)(depth) for depth in depths] == approx(expected)


def test_the_higher_index_holds_on_a_step():
    assert SuitabilityCurve((0, 1, 1, 2), (0.2, 0.2, 0.9, 0.9))(1.0) == 0.9
    down = SuitabilityCurve((0, 1, 1, 2), (0.9, 0.9, 0.2, 0.2))
    assert (down(1.0), down(np.nextafter(1.0, 2))) == (0.9, 0.2)


def test_no_data_has_no_index():
    for curve in CURVES.values():
        assert np.isnan(curve(float("nan")))
        assert np.isnan(curve(np.array([np.nan, 2.0], np.float32))).tolist() == [True, False]


@quick
@given(curves(), value)
def test_an_index_stays_within_0_and_1(curve, here):
    assert 0 <= curve(here) <= 1


@quick
@given(curves(), value)
def test_a_curve_is_the_interpolation_of_numpy(curve, here):
    assert curve(here) == approx(np.interp(here, curve.values, curve.indices), abs=1e-9)


@quick
@given(curves())
def test_an_index_of_0_at_a_point_is_exactly_0(curve):
    for here, there in zip(curve.values, curve.indices, strict=True):
        assert (curve(here) == 0) == (there == 0)


@quick
@given(curves(), st.lists(value, min_size=6, max_size=6))
def test_number_array_grid_and_dask_agree_to_the_bit(curve, values):
    array = np.array(values, np.float32).reshape(2, 3)
    expected = np.array([[np.float32(curve(float(here))) for here in row] for row in array])
    grid = xr.DataArray(array, dims=("y", "x"))
    assert curve(array).dtype == np.float32
    np.testing.assert_array_equal(curve(array), expected)
    np.testing.assert_array_equal(curve(grid).to_numpy(), expected)
    np.testing.assert_array_equal(curve(dask.array.from_array(array, chunks=(1, 2))).compute(), expected)
    lazy = curve(grid.chunk(x=1))
    assert lazy.chunks is not None
    assert lazy.dtype == np.float32
    np.testing.assert_array_equal(lazy.to_numpy(), expected)


def test_categories_have_an_index_each_and_anything_else_none():
    curve = CategoryCurve(("unknown", "land", "intertidal", "water"), (None, 0, 0.6, 1))
    np.testing.assert_array_equal(curve(np.array([0, 1, 2, 3, 4, 255], np.uint8)), [np.nan, 0, 0.6, 1, np.nan, np.nan])


@pytest.mark.parametrize(
    ("values", "indices", "sentence"),
    [
        ((0, 2, 1), (0, 1, 0), "the values of a curve must rise from point to point, got [0.0, 2.0, 1.0]."),
        ((0,), (1,), "a curve needs at least two points, each with a value and an index."),
        ((0, 1), (1,), "a curve needs at least two points, each with a value and an index."),
        ((0, 1), (0, 1.2), "the indices of a curve must lie between 0 and 1, got [0.0, 1.2]."),
        ((0, 1), (0, np.nan), "the indices of a curve must lie between 0 and 1, got [0.0, nan]."),
        ((0, np.inf), (0, 1), "the values of a curve must be finite numbers."),
    ],
)
def test_a_curve_that_makes_no_sense_cannot_be_built(values, indices, sentence):
    with pytest.raises(ValueError) as error:
        SuitabilityCurve(values, indices)
    assert str(error.value) == sentence


def test_categories_that_make_no_sense_cannot_be_built():
    with pytest.raises(ValueError, match=r"^every category needs an index\.$"):
        CategoryCurve(("land", "water"), (1,))
    with pytest.raises(ValueError, match=r"^the indices of categories must lie between 0 and 1, got \[2\.0\]\.$"):
        CategoryCurve(("land",), (2,))
