import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from rasterio.features import rasterize

from habitat.report.tables import class_polygons
from habitat.result import CONCERN, CONCERN_CLASSES
from tests.grids import toy_grid


def test_a_class_is_one_multipolygon_with_the_holes_of_the_others():
    codes = np.array([[1, 1, 1, 0], [1, 9, 1, 0], [1, 1, 1, 9]], np.uint8)
    polygons = class_polygons(toy_grid(3, 4, 100).label(codes, CONCERN), CONCERN_CLASSES)
    assert polygons["class"].tolist() == ["poor habitat under low threat", "good habitat under high threat"]
    assert polygons["hectares"].tolist() == [8, 2]
    assert [len(geometry.geoms) for geometry in polygons.geometry] == [1, 2]
    assert len(polygons.geometry[0].geoms[0].interiors) == 1


def test_a_site_without_a_class_has_no_polygons():
    codes = np.zeros((3, 4), np.uint8)
    assert len(class_polygons(toy_grid(3, 4).label(codes, CONCERN), CONCERN_CLASSES)) == 0


@given(arrays(np.uint8, (6, 7), elements=st.integers(0, 9)))
@settings(max_examples=50)
def test_polygons_burnt_back_by_rasterio_give_the_cells_again(codes):
    grid = toy_grid(6, 7, 100)
    polygons = class_polygons(grid.label(codes, CONCERN), CONCERN_CLASSES)
    assert shapely.is_valid(polygons.geometry.to_numpy()).all()
    if not len(polygons):
        assert not codes.any()
        return
    pairs = zip(polygons.geometry, polygons["code"], strict=True)
    back = rasterize(pairs, out_shape=grid.shape, transform=grid.transform, dtype="uint8")
    assert np.array_equal(back, codes)
    assert polygons.geometry.area.to_numpy() / 10_000 == pytest.approx(polygons["hectares"].to_numpy())
