"""Where maps stand on a plate and what close-ups show; by hand."""

import itertools

import numpy as np
import pytest

from habitat.report.appraisal_places import GAP, NAME, arranged, close_up_window
from layers.grid import Grid

ROOM = {"width": 1080, "height": 956}


@pytest.mark.parametrize("whole", [(220, 220), (588, 156), (90, 300)])
@pytest.mark.parametrize("close", [0, 1, 2, 3, 5])
def test_maps_stay_in_their_room_and_clear_of_each_other_and_of_names(whole, close):
    boxes = arranged([whole] * 3 + [(60, 60)] * close, 3, **ROOM)
    assert len({box.size for box in boxes[:3]}) == 1, "maps that are compared have one scale"
    for box in boxes:
        assert box.left + box.size.width <= ROOM["width"]
        assert box.top >= NAME
        assert box.top + box.size.height <= ROOM["height"]
    for one, other in itertools.combinations(boxes, 2):
        beside = (
            one.left + one.size.width + GAP <= other.left + 1 or other.left + other.size.width + GAP <= one.left + 1
        )
        above = one.top + one.size.height + NAME <= other.top or other.top + other.size.height + NAME <= one.top
        assert beside or above


def test_a_tall_site_is_drawn_as_high_as_the_room():
    boxes = arranged([(588, 156)] * 3 + [(60, 60)], 3, **ROOM)
    assert [box.top for box in boxes[:3]] == [NAME] * 3
    assert boxes[0].size.height == ROOM["height"] - GAP - NAME


# a grid of 200 x 100 cells of 10 m whose upper left corner is at (0, 2000)
GRID = Grid.from_bounds("EPSG:32756", 0, 0, 1000, 2000, 10)


def test_a_close_up_holds_what_is_drawn_with_a_margin_and_what_it_changes():
    still = np.zeros(GRID.shape, bool)
    rows, columns = close_up_window(GRID, (400, 900, 500, 1000), still)
    assert (rows, columns) == (slice(85, 125), slice(25, 65)), "the smallest close-up is 40 cells across"
    changed = still.copy()
    changed[140, 50] = True  # 35 cells below the centre at row 105, column 45
    rows, columns = close_up_window(GRID, (400, 900, 500, 1000), changed)
    assert rows.start < 95 < 140 < rows.stop
    assert rows.stop - rows.start == columns.stop - columns.start == 77, "twice 35 and a tenth"


def test_a_close_up_does_not_grow_to_the_whole_site_and_stays_in_it():
    rows, columns = close_up_window(GRID, (0, 1900, 100, 2000), np.ones(GRID.shape, bool))
    assert (rows, columns) == (slice(0, 100), slice(0, 100)), "half of the longer side, pushed into the site"
    rows, columns = close_up_window(GRID, (0, 0, 1000, 2000), np.zeros(GRID.shape, bool))
    assert (rows, columns) == (slice(0, 200), slice(0, 100))
