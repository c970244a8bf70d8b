"""Edges of geometries, counted by hand and measured by shapely."""

import numpy as np
import pytest
import shapely

from layers.edges import edges_of


def test_each_kind_of_geometry_gives_its_edges():
    shapes = shapely.from_wkt(
        [
            "POINT (1 2)",
            "LINESTRING (0 0, 3 0, 3 4)",
            "POLYGON ((0 0, 9 0, 9 9, 0 0), (5 2, 6 2, 6 3, 5 2))",
            "MULTIPOINT (1 1, 2 2)",
            "GEOMETRYCOLLECTION (POINT (7 7), MULTILINESTRING ((0 0, 1 1), (5 5, 6 6)))",
            "LINESTRING EMPTY",
        ]
    )
    edges, owner = edges_of([*shapes, None])
    assert owner.tolist() == [0, 1, 1, 2, 2, 2, 2, 2, 2, 3, 3, 4, 4, 4]
    assert edges[0].tolist() == [1, 2, 1, 2]
    assert edges[1:3].tolist() == [[0, 0, 3, 0], [3, 0, 3, 4]]
    assert sorted(edges[9:11, 0]) == [1, 2]


@pytest.mark.parametrize("wkt", ["POLYGON ((0 0, 9 0, 9 9, 0 0), (5 2, 6 2, 6 3, 5 2))", "LINESTRING (0 0, 3 0, 3 4)"])
def test_lengths_of_the_edges_add_up_to_what_shapely_gives(wkt):
    shape = shapely.from_wkt(wkt)
    edges, _ = edges_of([shape])
    assert np.hypot(*(edges[:, 2:] - edges[:, :2]).T).sum() == pytest.approx(shape.length)


def test_nothing_gives_no_edges():
    edges, owner = edges_of([None])
    assert edges.shape == (0, 4)
    assert owner.shape == (0,)
