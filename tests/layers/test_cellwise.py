import dask.array
import numpy as np
import pytest
import xarray as xr

from layers.cellwise import cellwise, refuse_outside


def _half(values):
    assert values.dtype == np.float64, "formulas work in double precision"
    return values / 2


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_an_array_comes_back_in_its_own_precision(kind):
    assert cellwise(_half, np.ones(3, kind)).dtype == kind
    assert cellwise(_half, xr.DataArray(np.ones(3, kind), dims="x")).dtype == kind
    assert cellwise(_half, dask.array.ones(3, dtype=kind)).compute().dtype == kind


def test_a_plain_number_beside_an_array_does_not_change_its_precision():
    cells = np.ones((2, 3), np.float32)
    grid = xr.DataArray(cells, dims=("y", "x"))
    for values in (cells, grid, dask.array.from_array(cells), grid.chunk(x=1)):
        for number in (2, 2.0, np.float64(2.0)):
            both = cellwise(lambda a, b: a + b, values, number)
            assert both.dtype == np.float32
            assert np.asarray(both).dtype == np.float32
            assert (np.asarray(both) == 3).all()


def test_codes_come_back_in_double_precision_and_numbers_as_numbers():
    assert cellwise(_half, np.array([3], np.uint8)).dtype == np.float64
    assert type(cellwise(_half, 3)) is float


def test_codes_can_be_asked_for():
    codes = cellwise(lambda values: values > 1, np.array([1.0, 2.0]), kind=np.uint8)
    assert codes.dtype == np.uint8
    assert type(cellwise(lambda values: values > 1, 2.0, kind=np.uint8)) is int


def test_a_grid_comes_back_without_the_name_and_attributes_of_what_it_was():
    grid = xr.DataArray([1.0], dims="x", coords={"x": [5.0]}, name="depth", attrs={"units": "m"})
    half = cellwise(_half, grid)
    assert (half.name, half.attrs) == (None, {})
    assert half["x"].item() == 5.0


def test_grids_that_do_not_match_are_refused():
    grid = xr.DataArray([1.0, 2.0], dims="x", coords={"x": [5.0, 6.0]})
    with pytest.raises(ValueError, match="exact"):
        cellwise(lambda a, b: a + b, grid, grid.assign_coords(x=[5.0, 6.1]))


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        ({"above": 0}, "depth: found 0 m. It must be above 0 m. Look."),
        ({"least": 1}, "depth: found 0 m. It must be at least 1 m. Look."),
        ({"least": 1, "most": 2}, "depth: found 0 m. It must be at least 1 m and at most 2 m. Look."),
        ({"most": -1}, "depth: found 0 m. It must be at most -1 m. Look."),
    ],
)
def test_a_value_out_of_its_limits_is_named(limits, sentence):
    with pytest.raises(ValueError) as told:
        refuse_outside(np.array([np.nan, 0.0]), "depth", "m", advice="Look.", **limits)
    assert str(told.value) == sentence


def test_an_infinite_value_is_refused_and_no_data_passes():
    refuse_outside(np.nan, "share", "1", least=0, most=1)
    with pytest.raises(ValueError, match=r"^share: found inf\. It must be finite\.$"):
        refuse_outside(np.inf, "share", "1")


def test_a_refusal_waits_until_dask_is_computed():
    def formula(values):
        refuse_outside(values, "depth", "m", above=0)
        return values

    lazy = cellwise(formula, xr.DataArray([1.0, -1.0], dims="x").chunk(x=1))
    with pytest.raises(ValueError, match="depth: found -1 m"):
        lazy.compute()
