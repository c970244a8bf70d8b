"""The chain from maps to loads at the outlets: worked examples and sums by hand, through routing and tables."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from layers.catchment import catchment_of_drainage, lost_to_the_edge
from layers.catchment_load import Wanted, catchment_load, curve_numbers_of
from layers.cover_table import cover_table
from layers.drainage import drainage
from layers.grid import Grid
from layers.published_table import PublishedTable
from layers.seasonal_runoff import share_of_year
from tests.evidence import published

INCH, ACRE = 25.4, 4046.8564224  # mm, m2
SEASONS = {"wet": (11, 12, 1, 2, 3, 4), "dry": (5, 6, 7, 8, 9, 10)}
NITROGEN = Wanted(substance="nitrogen", method="export coefficient")
PHOSPHORUS = Wanted(substance="phosphorus", method="export coefficient")
BY_RUNOFF = Wanted(substance="phosphorus", method="event-mean concentration", name="phosphorus by runoff")
SEDIMENT = Wanted(substance="sediment", method="soil loss")


def slope_to_one_outlet(rows, columns, cell=100.0):
    """A plane that falls to the lagoon along its western edge, all of it counted to one outlet."""
    west, south = 500_000, 7_770_000
    grid = Grid.from_bounds("EPSG:32745", west, south, west + (columns + 1) * cell, south + rows * cell, cell)
    water = np.zeros(grid.shape, bool)
    water[:, 0] = True
    terrain = np.tile(0.5 * np.arange(columns + 1.0), (rows, 1))
    return catchment_of_drainage(drainage(terrain, grid, water, least_area=1e6))


def on_land(values, rows, columns):
    """Values of the cells of `slope_to_one_outlet`, no data in the lagoon."""
    return np.column_stack([np.full(rows, np.nan), np.reshape(values, (rows, columns))])


def covers(**columns):
    count = max(len(values) for values in columns.values())
    return cover_table(pd.DataFrame({"code": range(1, count + 1), "label": "a cover"} | columns))


def record(**storms):
    rain = pd.Series(0.0, pd.date_range("2021-01-01", periods=365))
    for day, depth in storms.items():
        rain[pd.Timestamp(day.strip("_").replace("_", "-"))] = depth
    return rain


def of_one_cover(name, numbers):
    row = {"cover": name, "impervious": None, **numbers, "source": "the test", "seen": "computed"}
    return PublishedTable(name="mine.csv", citation="made up for this test", rows=(row,))


def test_a_catchment_of_three_covers_gives_the_sums_by_hand():
    # 120 ha row crops, 300 ha forest, 80 ha town on cells of 1 ha, times the medians that ship (from memory):
    # arithmetic, not evidence for them
    codes = on_land(np.repeat([1.0, 2.0, 3.0], [120, 300, 80]), 20, 25)
    table = covers(export_cover=["row crops", "forest", "urban"])
    found = catchment_load(slope_to_one_outlet(20, 25), codes, table, [NITROGEN, PHOSPHORUS], seasons=SEASONS)
    outlet = found.outlets.iloc[0]
    assert len(found.outlets) == 1 and outlet["area_ha"] == 500 and outlet["known_share"] == 1
    assert outlet["phosphorus_median_kg_per_year"] == approx(418.6, abs=0.05)
    assert outlet["nitrogen_median_kg_per_year"] == approx(2258.0, abs=0.05)
    assert outlet["nitrogen_low_kg_per_year"] == approx(120 * 2.1 + 300 * 1.38 + 80 * 1.48, rel=1e-6)
    assert outlet["nitrogen_high_kg_per_year"] == approx(120 * 79.6 + 300 * 6.26 + 80 * 38.47, rel=1e-6)
    # without rain the year's rate holds in every season
    assert outlet["nitrogen_dry_median_kg_per_year"] == approx(2258.0, abs=0.05)
    assert found.sources == ("Reckhow et al. 1980 (from memory)",)
    assert np.nansum(found.per_hectare["nitrogen"]) == approx(2258.0, abs=0.05)
    assert not any("runoff" in column for column in found.outlets)


@published("tr55_examples.csv")
def test_the_examples_of_the_handbook_run_off_through_the_chain(row):
    side = np.sqrt(25 * ACRE)  # ten cells of 25 acres
    catchment = slope_to_one_outlet(1, 10, side)
    storm = record(_2021_01_05=6 * INCH)

    def inches(codes, table, numbers):
        soil = np.ones(codes.shape)
        found = catchment_load(
            catchment, codes, table, [], seasons={}, rain=storm, soil_group=soil, curve_numbers=numbers
        )
        return found.outlets["runoff_m3_per_year"][0] / (250 * ACRE) * 1000 / INCH

    # the one number the handbook weighs out and rounds
    whole = of_one_cover("whole", dict.fromkeys("ABCD", row.used))
    named = cover_table(
        pd.DataFrame({"code": [1], "label": "whole", "curve_number_cover": "whole"}), curve_numbers=whole
    )
    ones = on_land(np.ones(10), 1, 10)
    assert inches(ones, named, whole) == approx(row.runoff, abs=0.011)
    # each piece of ground by itself: never less than its mean curve number gives, here by up to 2 %
    counts = np.round(np.array([row.acres_1, row.acres_2, row.acres_3]) / 25).astype(int)
    if row.example == "2-1":
        pieces, soils = ["pasture, good"] * 2, "BC"
        counts = counts[:2]
    else:
        pieces, soils = ["residential, 1/2 acre", "residential, 1/2 acre", "open space, good"], "BCC"
    codes = on_land(np.repeat(np.arange(1.0, len(pieces) + 1), counts), 1, 10)
    soil = on_land(np.repeat(["ABCD".index(one) + 1.0 for one in soils], counts), 1, 10)
    found = catchment_load(
        catchment, codes, covers(curve_number_cover=pieces), [], seasons={}, rain=storm, soil_group=soil
    )
    piecewise = found.outlets["runoff_m3_per_year"][0] / (250 * ACRE) * 1000 / INCH
    assert row.runoff_unrounded <= piecewise + 5e-4 < 1.02 * row.runoff_unrounded


def test_the_simple_methods_load_comes_out_of_its_runoff():
    # 0.01 x 288 mm x 0.3 mg/L x 100 ha = 86.40 kg, the closed form for 1000 mm on ground that is 30 % paved
    paved = of_one_cover("all runs off", dict.fromkeys("ABCD", 100.0))
    row = {"cover": "town", "substance": "phosphorus", "low": None, "median": 0.3, "high": None}
    told = {"units": "mg/L", "source": "the test", "seen": "computed"}
    table = PublishedTable(name="mine.csv", citation="made up for this test", rows=({**row, **told},))
    named = cover_table(
        pd.DataFrame(
            {"code": [1], "label": "town", "curve_number_cover": ["all runs off"], "concentration_cover": ["town"]}
        ),
        curve_numbers=paved,
        concentrations=table,
    )
    found = catchment_load(
        slope_to_one_outlet(10, 10),
        on_land(np.ones(100), 10, 10),
        named,
        [BY_RUNOFF],
        seasons=SEASONS,
        rain=record(_2021_01_05=200.0, _2021_07_05=88.0),
        soil_group=np.ones((10, 11)),
        curve_numbers=paved,
        concentrations=table,
    )
    outlet = found.outlets.iloc[0]
    assert outlet["phosphorus_by_runoff_median_kg_per_year"] == approx(86.40, abs=1e-4)
    assert outlet["runoff_m3_per_year"] == approx(288_000, rel=1e-6)
    # 60 kg in the 181.25 days of the wet season are a rate of 120.9 kg/year
    assert outlet["phosphorus_by_runoff_wet_median_kg_per_year"] == approx(60 / (181.25 / 365.25), rel=1e-6)
    # no low and high was published: not known, and not the median
    assert np.isnan(outlet["phosphorus_by_runoff_low_kg_per_year"])
    assert np.isnan(outlet["phosphorus_by_runoff_wet_high_kg_per_year"])


def example(seed=1, rows=12, columns=15, wanted=(NITROGEN, BY_RUNOFF, SEDIMENT)):
    """A rough catchment with several outlets, its maps, and the loads of it."""
    random = np.random.default_rng(seed)
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_000 + 50 * columns, 7_770_000 + 50 * rows, 50)
    terrain = random.random(grid.shape) * 4 + np.arange(columns)
    water = np.zeros(grid.shape, bool)
    water[:, :2] = True
    drained = drainage(terrain, grid, water, least_area=1.0)
    codes, soil = random.integers(1, 4, grid.shape) * 1.0, random.integers(1, 5, grid.shape) * 1.0
    table = covers(
        curve_number_cover=["pasture, fair", "open space, poor", "nothing"],
        export_cover=["pasture", "urban", "nothing"],
        concentration_cover=["urban", "urban", "nothing"],
        impervious_share=[0, 0.4, 0],
    )
    rain = record() + random.gamma(0.3, 20, 365)
    loss = random.random(grid.shape) * 8
    found = catchment_load(
        catchment_of_drainage(drained),
        codes,
        table,
        wanted,
        seasons=SEASONS,
        rain=rain,
        soil_group=soil,
        soil_loss=loss,
        delivery_ratio=0.1,
    )
    return drained, codes, loss, found


@settings(max_examples=15)
@given(st.integers(0, 1000))
def test_all_that_the_land_yields_reaches_an_outlet_or_the_edge(seed):
    drained, _, _, found = example(seed)
    land = np.isfinite(drained.filled)
    for name, column in (("nitrogen", "nitrogen"), ("phosphorus by runoff", "phosphorus_by_runoff")):
        grid = found.per_hectare[name]
        at_outlets = found.outlets[f"{column}_median_kg_per_year"].sum()
        assert at_outlets + lost_to_the_edge(drained, grid) == approx(grid[land].sum() * 0.25, rel=1e-5)


def test_seasons_weighed_by_their_length_add_up_to_the_year():
    *_, found = example()
    for column in ("runoff_{}m3", "nitrogen_{}median_kg", "nitrogen_{}high_kg", "sediment_{}median_kg"):
        year = found.outlets[column.format("") + "_per_year"]
        parts = [
            share_of_year(months) * found.outlets[column.format(f"{season}_") + "_per_year"]
            for season, months in SEASONS.items()
        ]
        np.testing.assert_allclose(sum(parts), year, rtol=1e-4)
        assert (year > 0).all()
    assert len(found.outlets) > 3


def test_an_export_load_is_shared_out_by_the_runoff_of_the_whole_catchment():
    *_, found = example()
    table = found.outlets
    whole = table["runoff_wet_m3_per_year"].sum() / table["runoff_m3_per_year"].sum()
    assert found.season_factor["wet"] == approx(whole)
    np.testing.assert_allclose(
        table["nitrogen_wet_low_kg_per_year"], whole * table["nitrogen_low_kg_per_year"], rtol=1e-5
    )


def test_sediment_is_soil_loss_times_the_delivery_ratio_without_a_range():
    drained, _, loss, found = example()
    first = drained.outlet_of == 0
    # tonnes per hectare on cells of a quarter of a hectare
    assert found.outlets["sediment_median_kg_per_year"][0] == approx(loss[first].sum() * 0.25 * 0.1 * 1000, rel=1e-6)
    assert found.outlets["sediment_low_kg_per_year"].isna().all()


def test_what_yields_nothing_gives_0_and_what_is_not_known_does_not():
    codes = on_land([1.0, 2.0], 1, 2)
    catchment = slope_to_one_outlet(1, 2)
    lake = covers(export_cover=["pasture", "nothing"])
    silent = covers(export_cover=["pasture", None])
    load = "nitrogen_median_kg_per_year"
    assert catchment_load(catchment, codes, lake, [NITROGEN], seasons={}).outlets[load][0] == approx(5.19, rel=1e-6)
    assert np.isnan(catchment_load(catchment, codes, silent, [NITROGEN], seasons={}).outlets[load][0])
    # a hole in the map is like the rest of the ground, and told
    gap = catchment_load(catchment, on_land([1.0, np.nan], 1, 2), silent, [NITROGEN], seasons={}).outlets
    assert gap[load][0] == approx(2 * 5.19, rel=1e-6) and gap["known_share"][0] == 0.5


def test_soil_without_a_factor_of_cover_is_not_known_and_a_hole_in_the_map_is():
    codes, loss = on_land([1.0, 2.0], 1, 2), on_land([4.0, np.nan], 1, 2)
    catchment, given_ = slope_to_one_outlet(1, 2), {"seasons": {}, "soil_loss": loss, "delivery_ratio": 0.5}
    for factor, expected in ((None, np.nan), (0.2, 2 * 0.5 * 4000)):  # one hectare of two is like the other
        found = catchment_load(catchment, codes, covers(cover_factor=[0.1, factor]), [SEDIMENT], **given_)
        np.testing.assert_array_equal(found.outlets["sediment_median_kg_per_year"], [expected])


def test_paving_raises_the_curve_number_of_the_ground_between():
    table = covers(curve_number_cover=["open space, good", "nothing"], impervious_share=[0.38, 0])
    found = curve_numbers_of(np.array([[1.0, 2.0, np.nan]]), np.full((1, 3), 2.0), table)
    np.testing.assert_allclose(found, [[75.06, np.nan, np.nan]], rtol=1e-6)  # 61 + 0.38 (98 - 61)


@pytest.mark.parametrize(
    ("wanted", "changed", "words"),
    [
        ([Wanted(substance="nitrogen", method="guess")], {}, 'method: found "guess" for nitrogen. Use one of: export'),
        ([BY_RUNOFF], {}, "rain: it is missing. phosphorus by event-mean concentration needs a daily record."),
        ([], {"rain": record()}, "soil_group: it is missing."),
        ([SEDIMENT], {"delivery_ratio": 0.1}, "needs it and a delivery ratio. Give both."),
        (
            [SEDIMENT],
            {"soil_loss": np.ones((1, 3)), "delivery_ratio": 12.0},
            "delivery_ratio: found 12. .*Divide a perc",
        ),
        ([NITROGEN, NITROGEN], {}, '"nitrogen" is asked for twice. Give one of them a name of its own.'),
        ([Wanted(substance="gold", method="export coefficient")], {}, 'no rows for cover "pasture", substance "gold".'),
        (
            [NITROGEN],
            {"land_cover": on_land([1.0, 8.0], 1, 2)},
            "the map holds code 8, which the table of covers lacks.",
        ),
        ([NITROGEN], {"land_cover": np.ones((3, 3))}, r"values: found \(3, 3\) cells."),
        (
            [NITROGEN],
            {"export_coefficients": of_one_cover("pasture", {"substance": "nitrogen", "units": "lb/acre/year"})},
            'mine.csv: the unit of "pasture" is "lb/acre/year". It must be kg/ha/year.',
        ),
    ],
)
def test_what_cannot_be_worked_out_is_refused(wanted, changed, words):
    given_ = {"land_cover": on_land([1.0, 1.0], 1, 2), "seasons": {}} | changed
    with pytest.raises(ValueError, match=words):
        catchment_load(
            slope_to_one_outlet(1, 2), given_.pop("land_cover"), covers(export_cover=["pasture"]), wanted, **given_
        )
