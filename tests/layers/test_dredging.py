from functools import partial
from importlib.resources import files

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.dredging import (
    DREDGING_SOURCE,
    RELEASED_MASS,
    Measure,
    dredging_source,
    loss_fraction,
    loss_fractions,
    lowered_source,
    released_mass,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published

SHARES = st.floats(0, 1)
CURTAIN = Measure(name="silt curtain", factor=0.4, source="made up for this test")
SLOWER = Measure(name="half the rate", factor=0.5, source="made up for this test")


def test_source_of_a_dredge_is_the_product_by_hand():
    # 500 m3/h * 800 kg/m3 / 3600 s/h * 0.30 * 0.02: closed form
    assert dredging_source(500.0, 800.0, 0.30, 0.02) == approx(0.66667, abs=5e-6)


@published("dredging_spill.csv")
def test_shipped_loss_fractions_are_the_published_spill_percentages(row):
    published_loss = loss_fraction(row.equipment)
    assert (100 * published_loss.low, 100 * published_loss.high) == approx((row.low, row.high))
    assert published_loss.share_of == "load"
    assert published_loss.source == "van Rijn 2025"
    assert published_loss.seen == "seen"


def test_shipped_loss_fractions_from_memory_say_so_and_claim_no_range():
    # Hayes & Wu 2001, from memory: 0.5 % of the fines for hydraulic, 1 % for mechanical dredging
    from_memory = {name: loss for name, loss in loss_fractions().items() if loss.seen == "from memory"}
    assert {name: loss.characteristic for name, loss in from_memory.items()} == {
        "hydraulic dredge": 0.005,
        "mechanical dredge": 0.01,
    }
    assert all(loss.low is None and loss.high is None and loss.share_of == "fines" for loss in from_memory.values())


def test_every_loss_fraction_is_a_share_with_its_citation_on_top_of_the_table():
    text = files("layers").joinpath("tables", "loss_fraction.csv").read_text(encoding="utf-8")
    citations = "".join(line for line in text.splitlines() if line.startswith("#"))
    assert loss_fractions()
    for loss in loss_fractions().values():
        assert f"{loss.source}:" in citations
        assert loss.seen in ("seen", "from memory")
        assert loss.share_of in ("load", "fines")
        values = [value for value in (loss.low, loss.characteristic, loss.high) if value is not None]
        assert values == sorted(values)
        assert all(0 < value < 1 for value in values)


def test_equipment_that_is_not_in_the_table_is_refused_with_what_is():
    with pytest.raises(
        ValueError, match=r'equipment: "spoon" is not in the table .* holds: cutter suction dredge, .* Choose'
    ):
        loss_fraction("spoon")


@given(st.floats(0, 1e4), st.floats(50, 2000), SHARES, SHARES, SHARES)
def test_more_loss_is_never_a_smaller_source_and_never_more_than_the_fines(production, density, fines, one, other):
    low, high = sorted((one, other))
    source = partial(dredging_source, production, density, fines)
    assert 0 <= source(low) <= source(high) <= production * density * fines / 3600 * (1 + 1e-12)


@given(st.floats(0, 100), SHARES, SHARES)
def test_measures_only_lower_the_source_and_their_order_does_not_matter(source, one, other):
    first = Measure(name="first", factor=one, source="made up")
    second = Measure(name="second", factor=other, source="made up")
    both = lowered_source(source, first, second)
    assert 0 <= both <= lowered_source(source, first) <= lowered_source(source) == source
    assert both == approx(lowered_source(source, second, first), rel=1e-12)


def test_a_curtain_and_slower_work_lower_the_source_by_their_stated_factors():
    assert lowered_source(2.0, CURTAIN, SLOWER) == approx(0.4)


def test_slower_work_releases_the_same_mass_over_a_longer_time():
    volume = 10_000.0
    quick = dredging_source(500.0, 800.0, 0.30, 0.02)
    slow = dredging_source(250.0, 800.0, 0.30, 0.02)
    assert slow == approx(lowered_source(quick, SLOWER))
    assert released_mass(slow, volume / 250.0) == approx(released_mass(quick, volume / 500.0))
    # all fines lost: 10 000 m3 * 800 kg/m3 * 0.30 * 0.02
    assert released_mass(quick, volume / 500.0) == approx(48_000)


def test_a_grid_says_which_measures_were_taken():
    grid = xr.DataArray([1.0], dims="x")
    lowered = lowered_source(grid, CURTAIN)
    assert lowered.attrs["measures"] == "silt curtain: factor 0.4 (made up for this test)"
    assert "measures" not in lowered_source(grid).attrs


def test_float_array_grid_and_dask_agree():
    production = [[0.0, 100.0, 500.0], [np.nan, 2000.0, 50.0]]
    share = [[0.1, 0.5, np.nan], [0.0, 1.0, 0.2]]
    assert_kinds_agree(lambda p, f: dredging_source(p, 800.0, f, 0.02), DREDGING_SOURCE, production, share)
    assert_kinds_agree(lambda s: lowered_source(s, CURTAIN, SLOWER), DREDGING_SOURCE, production)
    assert_kinds_agree(released_mass, RELEASED_MASS, share, production)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ((-1.0, 800.0, 0.3, 0.02), "production: found -1 m3/h. It must be at least 0 m3/h."),
        ((500.0, 0.8, 0.3, 0.02), "dry density: found 0.8 kg/m3. It must be at least 50 kg/m3 and at most 3000 kg/m3."),
        ((500.0, 800.0, 30.0, 0.02), "fines fraction: found 30. It must be at least 0 and at most 1. It is a share"),
        (
            (500.0, 800.0, 0.3, 2.0),
            "loss fraction: found 2. It must be at least 0 and at most 1. It is a share of 1: 2 %",
        ),
    ],
)
def test_a_dredge_that_cannot_be_is_refused(given, sentence):
    with pytest.raises(ValueError) as told:
        dredging_source(*given)
    assert str(told.value).startswith(sentence)


@pytest.mark.parametrize("factor", [-0.1, 40.0])
def test_a_measure_that_does_not_lower_is_refused(factor):
    with pytest.raises(ValueError, match=r'factor of "curtain": found .* It must be at least 0 and at most 1'):
        Measure(name="curtain", factor=factor, source="made up")


def test_a_measure_without_a_number_or_a_source_is_refused():
    with pytest.raises(ValueError, match='factor of "curtain": no number was given'):
        Measure(name="curtain", factor=float("nan"), source="made up")
    with pytest.raises(ValueError, match='source of "curtain": nothing was given'):
        Measure(name="curtain", factor=0.5, source=" ")


def test_a_negative_source_or_time_is_refused():
    with pytest.raises(ValueError, match="source: found -1 kg/s"):
        lowered_source(-1.0, CURTAIN)
    with pytest.raises(ValueError, match="source: found -1 kg/s"):
        released_mass(-1.0, 1.0)
    with pytest.raises(ValueError, match="hours: found -1 h"):
        released_mass(1.0, -1.0)
