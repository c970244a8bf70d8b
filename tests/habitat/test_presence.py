"""No shape, however it is moved about, finds an animal: the rule of fixed cells held as laws."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.presence import (
    CLASSES,
    MUCH,
    NOT_ABSENCE,
    SOME,
    TOO_FEW,
    presence_near,
    presence_table,
    touched_cells,
)
from layers import quantity as q
from layers.grid import Grid

CRS = "EPSG:32745"
CELL = 10_000
# 4 by 3 fixed cells of 10 km, all water but the last column, which holds 5 km2 of it
FIRST_COLUMN, FIRST_ROW, COLUMNS, ROWS = 50, 776, 4, 3
WEST, SOUTH = FIRST_COLUMN * CELL, FIRST_ROW * CELL
FRAMES = [(FIRST_COLUMN + column, FIRST_ROW + row) for column in range(COLUMNS) for row in range(ROWS)]
NARROW = [frame for frame in FRAMES if frame[0] == FIRST_COLUMN + 3]

FEWER = settings(max_examples=40)  # each example makes hundreds of records
SHARE = st.floats(0.001, 0.999)
COUNTS = st.lists(st.sampled_from([0, 1, 9, 10, 49, 50, 60]), min_size=len(FRAMES), max_size=len(FRAMES))


def water(cell=500.0, west=WEST, south=SOUTH):
    grid = Grid.from_bounds(CRS, west, south, WEST + COLUMNS * CELL, SOUTH + ROWS * CELL, cell)
    codes = np.full(grid.shape, q.WATER, np.uint8)
    codes[:, grid.x > WEST + 3 * CELL + 500] = q.LAND
    return grid.label(codes, q.SURFACE)


def sightings(counts, seed=0, **columns):
    """So many sightings at random places of each fixed cell."""
    random = np.random.default_rng(seed)
    frames = np.repeat(np.array(FRAMES), counts, axis=0)
    x, y = (CELL * (frames + 0.001 + 0.998 * random.random(frames.shape))).T
    return gpd.GeoDataFrame(columns, geometry=gpd.points_from_xy(x, y), crs=CRS)


def rectangle(frame, west, east, south, north):
    """A shape within a fixed cell; sides as shares of the cell's."""
    (west, east), (south, north) = sorted((west, east)), sorted((south, north))
    column, row = frame
    return shapely.box(CELL * (column + west), CELL * (row + south), CELL * (column + east), CELL * (row + north))


RECTANGLES = st.builds(rectangle, st.sampled_from(FRAMES), SHARE, SHARE, SHARE, SHARE)
POINTS = st.builds(
    lambda x, y: shapely.Point(WEST + x * COLUMNS * CELL, SOUTH + y * ROWS * CELL), st.floats(0, 1), st.floats(0, 1)
)
LINES = st.builds(lambda a, b: shapely.LineString([a, b]), POINTS, POINTS)
SURFACE = water()


@FEWER
@given(COUNTS, st.sampled_from(FRAMES), st.lists(st.tuples(SHARE, SHARE, SHARE, SHARE), min_size=2, max_size=8))
def test_moving_or_resizing_a_shape_within_its_fixed_cell_never_changes_the_answer(counts, frame, sides):
    table = presence_table([sightings(counts)], SURFACE)
    answers = {presence_near(rectangle(frame, *side), table) for side in sides}
    assert len(answers) == 1


@FEWER
@given(COUNTS, st.integers(0, 1000))
def test_moving_the_animals_within_their_fixed_cells_never_changes_any_answer(counts, seed):
    assert presence_table([sightings(counts)], SURFACE) == presence_table([sightings(counts, seed)], SURFACE)


@FEWER
@given(COUNTS, st.one_of(RECTANGLES, POINTS, LINES), st.one_of(RECTANGLES, POINTS, LINES))
def test_two_questions_differ_by_whole_cells_and_by_nothing_else(counts, one, other):
    table = presence_table([sightings(counts)], SURFACE)
    first, second, both = (
        presence_near(shape, table) for shape in (one, other, shapely.GeometryCollection([one, other]))
    )
    assert both.here == max(first.here, second.here, key=CLASSES.index)
    if touched_cells(one, CELL) == touched_cells(other, CELL):
        assert first == second


@FEWER
@given(st.lists(st.integers(0, 9), min_size=len(FRAMES), max_size=len(FRAMES)), st.one_of(RECTANGLES, LINES))
def test_small_counts_are_told_as_if_there_were_none(counts, shape):
    table = presence_table([sightings(counts)], SURFACE)
    nobody = presence_table([sightings([0] * len(FRAMES))], SURFACE)
    assert table == nobody
    assert presence_near(shape, table) == presence_near(shape, nobody)
    assert presence_near(shape, table).here == TOO_FEW


@FEWER
@given(COUNTS)
def test_a_table_of_classes_is_what_counting_by_hand_gives(counts):
    table = presence_table([sightings(counts)], SURFACE)
    expected = {
        frame: MUCH if count >= 50 else SOME
        for frame, count in zip(FRAMES, counts, strict=True)
        if count >= 10 and frame not in NARROW
    }
    assert table.classes == expected


def test_a_cell_whose_water_is_narrow_is_never_told():
    crowded = [60 if frame in NARROW else 0 for frame in FRAMES]
    assert presence_table([sightings(crowded)], SURFACE).classes == {}
    assert set(presence_table([sightings(crowded)], SURFACE, least_water=400).classes) == set(NARROW)


def test_what_lies_next_door_is_told_by_whole_cells_too():
    crowded = [60 if frame == FRAMES[0] else 0 for frame in FRAMES]
    table = presence_table([sightings(crowded)], SURFACE)
    answers = [presence_near(rectangle(frame, 0.1, 0.2, 0.1, 0.2), table) for frame in FRAMES]
    near = {frame for frame in FRAMES if max(abs(frame[0] - FRAMES[0][0]), abs(frame[1] - FRAMES[0][1])) == 1}
    assert {frame for frame, answer in zip(FRAMES, answers, strict=True) if answer.here == MUCH} == {FRAMES[0]}
    assert {frame for frame, answer in zip(FRAMES, answers, strict=True) if answer.around == MUCH} == near


def test_the_cells_stand_still_when_the_grid_of_the_site_is_moved_or_made_finer():
    counts = [20] * len(FRAMES)
    whole, finer, cut = (
        presence_table([sightings(counts)], surface)
        for surface in (SURFACE, water(cell=250.0), water(west=WEST + 1_500, south=SOUTH + 2_500))
    )
    assert whole == finer == cut


def test_records_of_nobody_and_records_without_a_sure_place_are_not_counted():
    only_first = [12 if frame == FRAMES[0] else 0 for frame in FRAMES]
    for columns in (
        {"occurrenceStatus": ["present"] * 9 + ["absent"] * 3},
        {"occurrenceStatus": ["detected"] * 9 + ["notDetected"] * 3},
        {"occurrence": ["present"] * 9 + ["absent"] * 3},  # as a shapefile cuts it
        {"individualCount": [1] * 9 + [0] * 3},
        {"coordinateUncertaintyInMeters": [100] * 9 + [5_900] * 3},
    ):
        assert presence_table([sightings(only_first, **columns)], SURFACE).classes == {}
    unsure = {"individualCount": [None] * 12, "coordinateUncertaintyInMeters": [float("nan")] * 12}
    assert presence_table([sightings(only_first, **unsure)], SURFACE).classes == {FRAMES[0]: SOME}


def test_files_are_counted_together():
    half = [6 if frame == FRAMES[0] else 0 for frame in FRAMES]
    assert presence_table([sightings(half), sightings(half, 1)], SURFACE).classes == {FRAMES[0]: SOME}


def test_the_words_name_no_place_no_day_and_no_number_of_animals():
    table = presence_table([sightings([37] * len(FRAMES))], SURFACE)
    said = str(presence_near(rectangle(FRAMES[4], 0.2, 0.3, 0.4, 0.5), table))
    assert said == (
        "Sightings in the fixed squares of 10 km that the proposal touches: some on record. In the squares next to "
        f"those: some on record. The squares do not move with the proposal. {NOT_ABSENCE}"
    )
    assert "37" not in said + repr(table)
    assert NOT_ABSENCE.startswith("No sightings is not absence")


@pytest.mark.parametrize(
    "rule, said",
    [
        ({"cell": 1_000}, "cell: found 1000 m. Below 5000 m a cell begins to say where an animal is."),
        ({"minimum": 1}, "minimum: found 1. A single record must never show; give 2 or more."),
        ({"many": 10}, "many: found 10. It must be more than the minimum, 10."),
    ],
)
def test_a_rule_that_would_give_animals_away_is_refused(rule, said):
    with pytest.raises(ValueError) as refusal:
        presence_table([sightings([0] * len(FRAMES))], SURFACE, **rule)
    assert str(refusal.value) == said


def test_an_empty_shape_is_refused():
    with pytest.raises(ValueError, match="shape: it is empty"):
        presence_near(shapely.Polygon(), presence_table([], SURFACE))
