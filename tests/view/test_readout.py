"""Every value under the pointer."""

import numpy as np
import pytest

from habitat.result import CONCERN_CLASSES
from habitat.view.readout import readout, values_at
from habitat.view.words import measure
from tests.view.places import grid_of, small_picture


@pytest.mark.parametrize("season", ["wet", "dry"])
def test_every_layer_is_read_at_its_cell_in_its_season(season):
    picture = small_picture(season)
    grid = grid_of(picture)
    row, column = (int(part) for part in np.argwhere(picture.layer("suitability").notnull().to_numpy())[0])
    said = dict(values_at(picture, (grid.x[column] + 30, grid.y[row] - 30)))
    assert {"place", "suitability", "threat", "read together", "surface"} <= set(said)
    assert said["suitability"] == measure(float(picture.layer("suitability")[row, column]))
    assert said["read together"] == CONCERN_CLASSES[int(picture.layer("concern")[row, column])]
    assert said["salinity"] == measure(float(picture.layers["salinity"].sel(season=season)[row, column]))
    assert said["water depth"] == measure(float(picture.layers["water_depth"][row, column]), "m")
    assert len(said) == 4 + len(picture.layers.data_vars)


def test_a_cell_without_data_says_so():
    picture = small_picture()
    grid = grid_of(picture)
    row, column = (int(part) for part in np.argwhere(picture.layers["water_depth"].isnull().to_numpy())[0])
    assert dict(values_at(picture, (grid.x[column], grid.y[row])))["water depth"] == "no data"


@pytest.mark.parametrize("place", [None, (0.0, 0.0)])
def test_outside_the_site_the_strip_says_what_to_do(place):
    assert values_at(small_picture(), place) == []
    assert "Point at a map" in readout(small_picture(), place)
