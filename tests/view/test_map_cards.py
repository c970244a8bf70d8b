"""Maps of a page: what is said of a thinned picture, what a click and the pointer do."""

import numpy as np
import pytest
from shapely.geometry import Point

from habitat.assessment import assess
from habitat.view.map_cards import choose_place, land_shapes, point_at, thinning_sentence
from habitat.view.session import Session, View
from layers.quantity import LAND
from tests.scoring import small_grid
from tests.view.places import small_site_map


@pytest.fixture
def session():
    site_map = small_site_map()
    return Session(site_map, View(profile=site_map.profile, season="wet", place=(500_050, 7_000_050)), assess)


def test_a_picture_of_every_cell_needs_no_note():
    assert thinning_sentence(small_grid(500, 500), None, None) == ""


def test_a_thinned_picture_says_so_and_by_how_much():
    said = thinning_sentence(small_grid(10, 2000), None, None)
    assert said.startswith("The maps show blocks of 4 by 4 cells")
    assert "All numbers come from every cell." in said


def test_zooming_in_ends_the_thinning():
    grid = small_grid(10, 2000)
    assert thinning_sentence(grid, (500_000, 520_000), (7_000_000, 7_001_000)) == ""


def test_a_click_outside_the_site_chooses_nothing(session):
    before = session.history
    choose_place(session, 0.0, 0.0)
    choose_place(session, None, None)
    assert session.history is before


def test_a_click_in_the_site_chooses_its_place(session):
    choose_place(session, 500_349.7, 7_000_650.2)
    assert session.place == (500_350, 7_000_650)


def test_the_pointer_is_no_step_in_the_history(session):
    before = session.history
    point_at(session, 500_150.0, 7_000_150.0)
    assert session.pointed == (500_150.0, 7_000_150.0)
    point_at(session, None, None)
    assert session.pointed is None
    assert session.history is before


def test_the_land_of_the_map_is_the_land_of_the_file_that_decides(session):
    assert land_shapes(session).equals(session.site_map.inputs.features["coast"].geometry)


def test_where_no_land_polygons_decide_the_land_of_the_map_is_that_of_the_cells(session):
    # another file's land must not be drawn over water that counts
    session.site_map.inputs.site.files[0].feeds = "sea"
    is_land = session.site_map.layers["surface"].to_numpy() == LAND
    shapes = land_shapes(session)
    assert shapes.area.sum() == pytest.approx(is_land.sum() * 100.0**2)
    grid = session.site_map.inputs.site.grid
    assert all(shapes.contains(Point(grid.x[column], grid.y[row])).any() for row, column in np.argwhere(is_land))
