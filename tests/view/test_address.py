"""A view in an address, written and read back; what a stranger writes there is not trusted."""

import pytest
from panel.util import parse_query

from habitat.view.address import query_of_view, view_of_query
from habitat.view.opening import first_season
from habitat.view.overview import first_view, most_pressed_place
from habitat.view.session import View
from tests.view.places import grid_of, small_picture, small_site_map


def first():
    site_map = small_site_map()
    return site_map, View(profile=site_map.profile, season="wet", place=(500_050, 7_000_050))


def test_a_view_survives_its_address():
    site_map, start = first()
    asked = View(profile=site_map.profile, season="dry", shown="salinity", place=(500_350, 7_000_650))
    query = query_of_view(asked)
    address = "?" + "&".join(f"{key}={value}" for key, value in query.items())
    assert view_of_query(start, site_map, parse_query(address)) == asked


@pytest.mark.parametrize(
    "query",
    [
        {},
        {"season": "monsoon"},
        {"season": ["wet"]},
        {"layer": "../../etc/passwd"},
        {"layer": "sightings"},
        {"easting": "<b>", "northing": 7_000_050},
        {"easting": 1.0, "northing": 2.0},
        {"easting": float("nan"), "northing": 7_000_050},
        {"easting": 500_350},
        {"easting": True, "northing": None},
    ],
    ids=str,
)
def test_what_the_site_does_not_have_is_ignored(query):
    site_map, start = first()
    assert view_of_query(start, site_map, query) == start


def test_the_first_view_is_the_first_season_at_the_most_pressed_habitat():
    site_map = small_site_map()
    view = first_view(site_map)
    assert view.season == first_season(site_map) == "wet"
    picture, grid = small_picture(), grid_of(small_picture())
    row, column = grid.cell_at(*view.place)
    product = picture.layer("suitability") * picture.layer("threat")
    assert float(product[row, column]) == float(product.max()) > 0


def test_a_site_without_a_score_begins_in_its_middle():
    picture = small_picture()
    blank = picture.assessment.copy()
    blank["suitability"] = blank["suitability"] * float("nan")
    import dataclasses

    west, south, east, north = grid_of(picture).bounds
    place = most_pressed_place(dataclasses.replace(picture, assessment=blank))
    assert place == ((west + east) / 2, (south + north) / 2)
