import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.attenuation import (
    ATTENUATION,
    COEFFICIENTS,
    SECCHI_PRODUCTS,
    AttenuationCoefficients,
    attenuation_from_secchi,
    attenuation_from_water_quality,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published

CHESAPEAKE = COEFFICIENTS["chesapeake"]


@published("attenuation.csv")
def test_attenuation_is_worked_out_from_the_coefficients_by_hand(row):
    if row.secchi_depth:
        found = attenuation_from_secchi(row.secchi_depth, SECCHI_PRODUCTS[row.water])
    else:
        found = attenuation_from_water_quality(row.suspended_solids, row.chlorophyll, COEFFICIENTS[row.water])
    assert found == approx(row.attenuation, abs=1e-9)


@pytest.mark.parametrize("published_set", [*SECCHI_PRODUCTS.values(), *COEFFICIENTS.values()])
def test_every_set_names_its_region_and_how_far_its_source_was_seen(published_set):
    assert published_set.region
    assert published_set.source.endswith("from memory")


@given(st.floats(0.05, 80), st.floats(0.05, 80))
def test_a_disc_seen_deeper_means_clearer_water(one, other):
    shallow, deep = sorted((one, other))
    for secchi_product in SECCHI_PRODUCTS.values():
        assert attenuation_from_secchi(deep, secchi_product) <= attenuation_from_secchi(shallow, secchi_product)


@given(st.floats(0, 500), st.floats(0, 200), st.floats(0, 100))
def test_more_solids_or_chlorophyll_never_clear_the_water(solids, chlorophyll, more):
    here = attenuation_from_water_quality(solids, chlorophyll, CHESAPEAKE)
    assert here >= attenuation_from_water_quality(0.0, 0.0, CHESAPEAKE) == CHESAPEAKE.water
    assert attenuation_from_water_quality(solids + more, chlorophyll, CHESAPEAKE) >= here
    assert attenuation_from_water_quality(solids, chlorophyll + more, CHESAPEAKE) >= here


def test_a_set_of_ones_own_takes_the_place_of_the_shipped_ones():
    own = AttenuationCoefficients(
        water=1.0, per_chlorophyll=0.5, per_solids=0.25, region="a lagoon", source="made up for this test"
    )
    assert attenuation_from_water_quality(4.0, 2.0, own) == 3.0


def test_float_array_grid_and_dask_agree():
    depth = [[0.2, 1.0, 3.5], [np.nan, 12.0, 40.0]]
    assert_kinds_agree(lambda d: attenuation_from_secchi(d, SECCHI_PRODUCTS["clear sea"]), ATTENUATION, depth)
    chlorophyll = [[0.0, 2.0, np.nan], [9.0, 30.0, 1.0]]
    assert_kinds_agree(lambda s, c: attenuation_from_water_quality(s, c, CHESAPEAKE), ATTENUATION, depth, chlorophyll)


def test_a_grid_carries_the_source_and_the_region_of_its_coefficients():
    import xarray as xr

    grid = attenuation_from_secchi(xr.DataArray([2.0], dims="x"), SECCHI_PRODUCTS["turbid coast"])
    assert grid.attrs["source"] == SECCHI_PRODUCTS["turbid coast"].source
    assert grid.attrs["region"] == SECCHI_PRODUCTS["turbid coast"].region


@pytest.mark.parametrize("depth", [0.0, -1.0, 120.0])
def test_a_secchi_depth_that_cannot_be_is_refused(depth):
    with pytest.raises(
        ValueError, match=r"Secchi depth: found .* m\. It must be above 0 m and at most 80 m\. Values in cm"
    ):
        attenuation_from_secchi(depth, SECCHI_PRODUCTS["clear sea"])


def test_negative_concentrations_are_refused():
    with pytest.raises(ValueError, match=r"suspended solids: found -1 mg/L\. It must be at least 0 mg/L"):
        attenuation_from_water_quality(-1.0, 1.0, CHESAPEAKE)
    with pytest.raises(ValueError, match=r"chlorophyll: found -1 ug/L\. It must be at least 0 ug/L"):
        attenuation_from_water_quality(1.0, -1.0, CHESAPEAKE)
