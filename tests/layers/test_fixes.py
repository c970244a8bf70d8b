"""Fixes of vessels joined into tracks: by hand, against routes with trips, and its laws and refusals."""

import numpy as np
import pandas as pd
import pytest
import shapely
from geopandas import GeoSeries
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from layers.fixes import track_density, tracks_of
from layers.vessels import vessel_density
from tests.grids import toy_grid

START = pd.Timestamp("2021-03-01")
LIMITS = {"longest_gap": 1.0, "greatest_speed": 20.0}
WEST, SOUTH = 500_000, 7_770_000


def table(*rows):
    """Fixes from rows of vessel, minutes, metres east and metres north of the corner of the toy grid."""
    vessel, minutes, x, y = zip(*rows, strict=True)
    time = START + pd.to_timedelta(np.array(minutes, float), unit="min")
    return pd.DataFrame({"vessel": vessel, "time": time, "x": np.add(x, float(WEST)), "y": np.add(y, float(SOUTH))})


def random_fixes(seed, count=60):
    rng = np.random.default_rng(seed)
    # whole minutes, so that some fixes share a time
    return table(
        *zip(
            rng.choice(["a", "b", "c"], count),
            rng.integers(0, 3000, count),
            rng.uniform(0, 3000, count),
            rng.uniform(0, 3000, count),
            strict=True,
        )
    )


def test_tracks_are_joined_and_broken_by_hand():
    fixes = table(
        ("ferry", 0, 0, 0),
        ("ferry", 5, 300, 400),  # 500 m
        ("ferry", 10, 300, 1000),  # 600 m
        ("ferry", 71, 300, 2000),  # 61 minutes later: broken
        ("ferry", 80, 900, 2000),  # 600 m
        ("barge", 0, 50, 0),
        ("barge", 10, 50, 6000),  # 10 m/s
        ("barge", 20, 50, 20_000),  # 23.3 m/s: too fast
        ("lost", 3000, 10, 10),  # alone
    )
    tracks = tracks_of(fixes, **LIMITS)
    assert list(tracks.vessels) == ["barge", "ferry", "ferry"]
    assert tracks.lines.length.to_list() == approx([6000, 1100, 600])
    assert tracks.days == approx(3000 / 1440)
    assert (tracks.fixes, tracks.lone, tracks.long_gaps, tracks.too_fast, tracks.too_slow) == (9, 1, 1, 1, 0)
    assert tracks.said == (
        "9 positions of 2.083 days joined into 3 tracks; left out 1 vessel of one fix, 1 leg with too long a gap, "
        "1 leg too fast to be true"
    )


def test_a_gap_or_a_speed_of_just_the_limit_is_joined():
    fixes = table(("a", 0, 0, 0), ("a", 60, 1000, 0), ("a", 61, 2200, 0))
    assert tracks_of(fixes, **LIMITS, days=1).lines.length.to_list() == [2200.0]


def test_tracks_of_a_ferry_have_the_density_of_its_route_and_trips():
    grid = toy_grid(20, 24, cell=100)
    there = [(0, 100, 900), (6, 1200, 950), (11, 2300, 400)]
    rows = [
        ("ferry", 200 * trip + minute, x, y) if trip % 2 == 0 else ("ferry", 200 * trip + 11 - minute, x, y)
        for trip in range(14)
        for minute, x, y in there
    ]
    tracks = tracks_of(table(*rows), **LIMITS, days=7)
    route = GeoSeries([shapely.LineString([(WEST + x, SOUTH + y) for _, x, y in there])], crs=grid.crs)
    expected = vessel_density(route, [14 / 7], grid, 250)
    np.testing.assert_allclose(track_density(tracks, grid, 250), expected, rtol=1e-6)
    assert (expected > 0).any()


def test_all_the_travel_is_in_the_sum_over_a_wide_grid():
    grid = toy_grid(100, 100, cell=20)
    rng = np.random.default_rng(4)
    walk = 1000 + np.cumsum(rng.normal(0, 25, (200, 2)), axis=0).clip(-700, 700)
    fixes = table(*(("a", 10 * number, x, y) for number, (x, y) in enumerate(walk)))
    travelled = np.hypot(*np.diff(walk, axis=0).T).sum() / 1000
    density = track_density(tracks_of(fixes, **LIMITS, days=5), grid, 150)
    assert density.astype(float).sum() * 0.02**2 == approx(travelled / 5, rel=2e-3)


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20)
def test_the_order_of_the_rows_and_the_threads_change_no_bit(seed):
    fixes, grid = random_fixes(seed), toy_grid(12, 12, cell=250)
    mixed = fixes.sample(frac=1, random_state=seed % 1000)
    one, other = (tracks_of(rows, longest_gap=5, greatest_speed=20) for rows in (fixes, mixed))
    assert one.said == other.said
    density = track_density(one, grid, 400, workers=1)
    np.testing.assert_array_equal(track_density(other, grid, 400, workers=3), density)


@given(seed=st.integers(0, 10**6))
@settings(max_examples=30)
def test_every_leg_is_kept_or_counted_once(seed):
    fixes = random_fixes(seed)
    tracks = tracks_of(fixes, longest_gap=3, greatest_speed=2, least_speed=0.2)
    legs = int((shapely.get_num_points(tracks.lines.array) - 1).sum())
    left_out = tracks.long_gaps + tracks.too_fast + tracks.too_slow
    vessels = fixes["vessel"].nunique()
    assert legs + left_out == len(fixes) - tracks.repeated - vessels


def test_a_moored_vessel_leaves_no_traffic_where_a_least_speed_is_given():
    rng = np.random.default_rng(2)
    moored = [("moored", 3 * n, *(1000 + rng.normal(0, 5, 2))) for n in range(480)]  # a day, fixes right to 5 m
    moving = [("moving", 3 * n, 500 * n, 2000) for n in range(5)]
    every = tracks_of(table(*moored, *moving), **LIMITS, days=1)
    under_way = tracks_of(table(*moored, *moving), **LIMITS, days=1, least_speed=0.26)
    assert every.lines.length.sum() > 2000 + 3000  # it lay still, and wandered over three kilometres
    assert under_way.lines.length.to_list() == approx([2000])
    assert under_way.too_slow == 479


def test_a_single_wrong_fix_costs_two_legs_and_makes_up_none():
    rows = [("a", 10 * n, 1000 * n, 0) for n in range(8)]
    rows[3] = ("a", 30, 3000, 90_000)
    tracks = tracks_of(table(*rows), **LIMITS, days=1)
    assert tracks.too_fast == 2
    assert tracks.lines.length.to_list() == approx([2000, 3000])


def test_fixes_given_twice_count_once_and_two_places_at_one_time_are_not_joined():
    rows = [("a", 0, 0, 0), ("a", 10, 600, 0), ("a", 10, 600, 0), ("a", 20, 1200, 0), ("a", 20, 1250, 0)]
    tracks = tracks_of(table(*rows), **LIMITS, days=1)
    assert (tracks.repeated, tracks.too_fast) == (1, 1)
    assert tracks.lines.length.to_list() == approx([1200])


def test_times_with_an_offset_are_the_same_moments():
    fixes = table(("a", 0, 0, 0), ("a", 10, 600, 0), ("b", 2000, 0, 100), ("b", 2010, 0, 700))
    abroad = fixes.assign(time=fixes["time"].dt.tz_localize("UTC").dt.tz_convert("Asia/Tokyo"))
    assert tracks_of(abroad, **LIMITS).said == tracks_of(fixes, **LIMITS).said


TWO = table(("a", 0, 0, 0), ("a", 10, 600, 0))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: tracks_of(TWO.iloc[:0], **LIMITS),
            "fixes: the table is empty. A record without vessels is no proof that none passed.",
        ),
        (
            lambda: tracks_of(TWO.drop(columns=["x", "y"]), **LIMITS),
            "fixes: no column x, y. Needed are vessel, time, x, y.",
        ),
        (
            lambda: tracks_of(TWO.assign(time=[0, 10]), **LIMITS),
            "fixes: column time holds int64. Make it dates and times (datetime).",
        ),
        (
            lambda: tracks_of(TWO.assign(x=np.array(["1", "2"], object)), **LIMITS),
            "fixes: column x does not hold numbers. Give metres in the grid's projection.",
        ),
        (
            lambda: tracks_of(TWO.assign(x=[1.0, np.nan]), **LIMITS),
            "fixes: row 1 has no x. Fill it in, or remove the row.",
        ),
        (
            lambda: tracks_of(TWO.assign(vessel=[None, "a"]), **LIMITS),
            "fixes: row 0 has no vessel. Fill it in, or remove the row.",
        ),
        (
            lambda: tracks_of(TWO.assign(x=[92.1, 92.2], y=[-10.0, -10.1]), **LIMITS),
            "fixes: x and y look like degrees. Bring them into the grid's projection, in metres.",
        ),
        (
            lambda: tracks_of(TWO, longest_gap=0, greatest_speed=20),
            "longest gap: found 0 h. It must be greater than 0 and finite.",
        ),
        (
            lambda: tracks_of(TWO, longest_gap=1, greatest_speed=55),
            "greatest speed: found 55 m/s, 107 knots. Give metres per second, above 0 and at most 40: 30 knots are "
            "15.4 m/s.",
        ),
        (
            lambda: tracks_of(TWO, **LIMITS, least_speed=20),
            "least speed: found 20 m/s. It must be 0 or more and less than the greatest, 20 m/s.",
        ),
        (
            lambda: tracks_of(table(*(("a", n, 3000 * n, 0) for n in range(5))), **LIMITS),
            "fixes: 4 of 4 legs are faster than 20 m/s (the middle one goes 50 m/s). Check that x and y are metres, "
            "that times are whole, and the unit of the limit.",
        ),
        (
            lambda: tracks_of(table(("a", 0, 0, 0), ("a", 90, 600, 0), ("b", 0, 0, 0)), **LIMITS),
            "fixes: no two fixes can be joined. Of the legs 1 have too long a gap, 0 are too fast, and 0 too slow. Are "
            "the limits in hours and metres per second?",
        ),
        (
            lambda: tracks_of(TWO, **LIMITS),
            "days: the fixes span 0.2 hours, too few to tell what a day brings. Say how many `days` the record covers.",
        ),
        (
            lambda: tracks_of(table(("a", 0, 0, 0), ("a", 10, 9, 0), ("b", 4320, 0, 0)), **LIMITS, days=2),
            "days: found 2, and the fixes span 3 days. Give at least that many.",
        ),
        (
            lambda: track_density(
                tracks_of(TWO, **LIMITS, days=1), toy_grid(2, 2).window(slice(0, 1), slice(1, 2)), 10
            ),
            "tracks: none comes within 10 m of the grid. They lie within 500,000, 7,770,000, 500,600, 7,770,000 m, the "
            "grid within 500,050, 7,770,050, 500,100, 7,770,100 m: bring the fixes into the grid's projection.",
        ),
    ],
)
def test_refusals(call, sentence):
    with pytest.raises(ValueError) as told:
        call()
    assert str(told.value) == sentence
