import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.load import export_load, runoff_coefficient, runoff_load, simple_method_load
from tests.evidence import published

INCH, ACRE, POUND = 25.4, 0.40468564224, 0.45359237  # mm, ha, kg
positive = st.floats(0, 1e4)


@published("simple_method.csv")
def test_the_simple_method_gives_the_loads_of_its_formula_within_its_rounded_factor(row):
    share = row.impervious / 100
    assert runoff_coefficient(share) == approx(row.coefficient, abs=1e-12)
    found = simple_method_load(row.rain * INCH, share, row.concentration, row.area * ACRE) / POUND
    assert found == approx(row.load, rel=0.003)
    assert found / row.load == approx(0.226613 / 0.226, rel=2e-4)  # exact units over the handbook's factor


def test_the_simple_method_in_metric_units_gives_the_closed_form():
    # 0.01 x 1000 mm x 0.9 x (0.05 + 0.9 x 0.3) x 0.3 mg/L x 100 ha
    assert simple_method_load(1000.0, 0.3, 0.3, 100.0) == approx(86.40, abs=1e-9)


def test_a_litre_is_a_litre():
    # 1 mm on 1 ha is 10 000 L, which at 1 mg/L hold 10 g
    assert runoff_load(1.0, 1.0, 1.0) == approx(0.010)


@given(positive, st.floats(0, 1), positive, positive)
def test_a_paved_catchment_never_exports_less(rain, share, concentration, area):
    bare = simple_method_load(rain, 0.0, concentration, area)
    assert bare <= simple_method_load(rain, share, concentration, area) * (1 + 1e-12)


@given(positive, positive, positive)
def test_two_halves_of_a_catchment_export_what_the_whole_does(runoff, concentration, area):
    assert 2 * runoff_load(runoff, concentration, area / 2) == approx(runoff_load(runoff, concentration, area))


def test_float_array_and_grid_agree_and_no_data_stays():
    area = np.array([[1.0, 2.0], [np.nan, 4.0]])
    grid = xr.DataArray(area, dims=("y", "x"))
    for formula, given_ in (
        (lambda a: runoff_load(300.0, 2.0, a), area),
        (lambda a: export_load(2.46, a), area),
        (lambda a: simple_method_load(900.0, 0.4, 2.0, a), area),
        (lambda share: runoff_coefficient(share), area / 4),
    ):
        array = formula(given_)
        labelled = formula(grid.copy(data=given_))
        np.testing.assert_array_equal(labelled.to_numpy(), array)
        assert labelled.attrs["units"] in ("kg/year", "1")
        assert np.isnan(array[1, 0])
        assert isinstance(formula(0.5), float)
        assert array[0, 0] == approx(formula(float(given_[0, 0])))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: runoff_load(-1.0, 1.0, 1.0), "runoff: found -1 mm/year. It must be at least 0"),
        (lambda: runoff_load(1.0, -1.0, 1.0), "concentration: found -1 mg/L."),
        (lambda: runoff_load(1.0, 1.0, -1.0), "area: found -1 ha."),
        (lambda: runoff_coefficient(25.0), "impervious_share: found 25. .*Divide a percentage by 100."),
        (lambda: simple_method_load(-5.0, 0.2, 1.0, 1.0), "rain: found -5 mm/year."),
        (lambda: simple_method_load(5.0, 20.0, 1.0, 1.0), "impervious_share: found 20."),
        (lambda: export_load(-2.0, 1.0), "coefficient: found -2 kg/ha/year."),
        (lambda: export_load(2.0, -1.0), "area: found -1 ha."),
    ],
)
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
