"""Drafts of vessels as a file of routes states them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString

from layers.draft import check_drafts
from tests.files import CRS, entry_for


def faults_of(tmp_path, drafts, column="draft", **more):
    """What is refused of routes with these drafts."""
    lines = [LineString([(0, n), (100, n)]) for n in range(len(drafts))]
    routes = gpd.GeoDataFrame({column: drafts} | more, geometry=lines, crs=CRS)
    routes.index = np.arange(1, len(routes) + 1)
    faults = []
    check_drafts(routes, entry_for(tmp_path / "ferry.gpkg", feeds="vessel_route", draft="draft"), faults)
    return [str(fault) for fault in faults]


@pytest.mark.parametrize("drafts", [[0.0, 1.5, 30.0], ["0.3", "2"], [1, 2]])
def test_drafts_from_nothing_to_those_of_the_deepest_ships_pass(tmp_path, drafts):
    assert faults_of(tmp_path, drafts) == []


@pytest.mark.parametrize(
    ("drafts", "said"),
    [
        ([1.5, 150.0], "feature 2, column draft: the draft is 150. Drafts are in metres, from 0 to 30."),
        ([-1.5], "feature 1, column draft: the draft is -1.5. Drafts are in metres, from 0 to 30."),
        ([1.5, np.inf], "feature 2, column draft: the draft is inf. Drafts are in metres, from 0 to 30."),
        (["deep"], 'feature 1, column draft: the feature holds text that is not a number: "deep". Write a number.'),
        (
            [1.0, np.nan],
            "feature 2, column draft: the feature has no value. Fill it in: write 0 for a vessel that hardly draws "
            "water.",
        ),
    ],
)
def test_drafts_that_no_vessel_has_are_refused(tmp_path, drafts, said):
    assert faults_of(tmp_path, drafts) == [f"ferry.gpkg, {said}"]


def test_a_missing_column_is_told_with_those_of_the_file(tmp_path):
    # `value` is what the reader adds for the number of trips
    found = faults_of(tmp_path, [1.5], column="keel", trips=[8.0], value=[8.0])
    assert found == ['files.data.draft: ferry.gpkg has no column "draft". Columns there: keel, trips.']
