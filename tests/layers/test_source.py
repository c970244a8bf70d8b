"""A data file as the site file names it: is it there, and what kind of file is it?"""

import numpy as np
import pytest
from shapely.geometry import Point

from layers.source import absence, kind, shown_path
from tests.files import entry_for, site_in, write_raster, write_shapes, write_text


def test_a_file_that_is_there_has_no_fault(tmp_path):
    assert absence(entry_for(write_text(tmp_path / "a.csv", "x")), site_in(tmp_path)) is None


def test_a_missing_file_is_named_as_the_site_file_names_it_with_its_like(tmp_path):
    (tmp_path / "data").mkdir()
    write_text(tmp_path / "data" / "stations.csv", "x")
    fault = absence(entry_for(tmp_path / "data" / "station.csv"), site_in(tmp_path))
    assert str(fault) == (
        'files.data.file: there is no file "data/station.csv". Correct the name or add the file. '
        "Files of that kind there: stations.csv."
    )


def test_paths_are_shown_from_the_sites_folder(tmp_path):
    site = site_in(tmp_path / "site")
    assert shown_path(entry_for(tmp_path / "site" / "data" / "a.csv"), site) == "data/a.csv"


@pytest.mark.parametrize(
    "write, expected",
    [
        (lambda folder: write_raster(folder / "a.tif", np.ones((3, 4), np.float32)), "raster"),
        (lambda folder: write_shapes(folder / "a.gpkg", [Point(500_000, 7_770_000)]), "vector"),
        (lambda folder: write_text(folder / "a.csv", "x,y\n1,2\n"), "table"),
        (lambda folder: write_text(folder / "a.gpkg", "hello"), None),
    ],
)
def test_the_kind_is_told_from_the_content(write, expected, tmp_path):
    assert kind(write(tmp_path)) == expected
