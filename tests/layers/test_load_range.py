import numpy as np
import pytest
from pytest import approx

from layers.load_range import export_load_range, runoff_load_range
from layers.published_table import PublishedTable, shipped_table

CATCHMENT = {"row crops": 120.0, "forest": 300.0, "urban": 80.0}


@pytest.mark.parametrize(("substance", "load"), [("phosphorus", 418.6), ("nitrogen", 2258.0)])
def test_a_catchment_of_three_covers_gives_the_sum_by_hand(substance, load):
    # 120 ha, 300 ha and 80 ha times the medians that ship (from memory): arithmetic, not evidence for them
    assert export_load_range(CATCHMENT, substance).median == approx(load, abs=0.05)


def test_the_range_holds_the_middle_and_says_what_is_from_memory():
    found = export_load_range(CATCHMENT, "nitrogen")
    assert found.low < found.median < found.high
    assert found.low == approx(120 * 2.1 + 300 * 1.38 + 80 * 1.48)
    assert found.high == approx(120 * 79.6 + 300 * 6.26 + 80 * 38.47)
    assert found.sources == ("Reckhow et al. 1980 (from memory)",)


def test_a_bound_that_was_not_published_is_not_known_and_not_the_median():
    found = runoff_load_range({"urban": 50.0}, 200.0, "phosphorus")
    assert (found.low, found.high) == (None, None)
    assert found.median == approx(0.01 * 200 * 0.26 * 50)
    assert str(found) == "low not known, median 26 kg/year, high not known"


def test_one_cover_without_a_bound_leaves_the_sum_without_one():
    rows = tuple(
        {"cover": cover, "substance": "silt", "low": low, "median": 2.0, "high": 3.0, "source": "N", "seen": "seen"}
        for cover, low in (("sand", 1.0), ("mud", None))
    )
    table = PublishedTable(name="mine.csv", citation="a table made up for this test", rows=rows)
    found = export_load_range({"sand": 10.0, "mud": 10.0}, "silt", table)
    assert (found.low, found.median, found.high) == (None, 40.0, 60.0)


def test_a_catchment_twice_as_large_has_twice_the_load():
    once, twice = (export_load_range({k: n * v for k, v in CATCHMENT.items()}, "nitrogen") for n in (1, 2))
    assert twice.high == approx(2 * once.high)


@pytest.mark.parametrize(
    ("covers", "substance", "words"),
    [
        ({}, "nitrogen", "there is no land cover"),
        ({"forest": np.nan}, "nitrogen", 'the area of "forest" is missing. Give it in hectares.'),
        ({"forest": -3.0}, "nitrogen", "area: found -3 ha."),
        ({"heath": 3.0}, "nitrogen", 'no rows for cover "heath", substance "nitrogen". The table holds: forest, nitro'),
        ({"forest": 3.0}, "gold", 'substance "gold"'),
    ],
)
def test_what_cannot_be_is_refused(covers, substance, words):
    with pytest.raises(ValueError, match=words):
        export_load_range(covers, substance)


def test_every_row_of_concentrations_says_its_unit():
    assert {row["units"] for row in shipped_table("event_mean_concentration").rows} == {"mg/L"}
