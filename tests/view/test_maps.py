"""Maps, looked at as elements."""

import holoviews as hv
import numpy as np
import pytest

from habitat.colours import class_colours, scale_of
from habitat.view import maps
from layers import quantity as q
from tests.scoring import layers_of, small_grid
from tests.view.places import grid_of, small_picture

hv.extension("bokeh")


def options(element, group="style"):
    return hv.Store.lookup_options("bokeh", element, group).kwargs


def test_a_score_is_drawn_cell_for_cell_with_north_up():
    grid = small_grid(2, 3)
    layer = layers_of(grid, water_depth=[[1, 2, 3], [4, 5, np.nan]])["water_depth"]
    picture = maps.score_map(layer)
    # the north-west cell of the grid
    assert picture[grid.x[0], grid.y[0]] == 1
    assert picture[grid.x[2], grid.y[0]] == 3
    assert picture[grid.x[0], grid.y[1]] == 4
    assert np.isnan(picture[grid.x[2], grid.y[1]])
    assert picture.bounds.lbrt() == grid.bounds


def test_a_map_takes_label_and_unit_from_the_grid():
    layer = layers_of(small_grid(2, 2), water_depth=[[1, 2], [3, 4]])["water_depth"]
    (value,) = maps.score_map(layer).vdims
    assert (value.label, value.unit) == ("water depth below the mean water level", "m")


@pytest.mark.parametrize("name", ["suitability", "threat", "index_salinity", "exposure_nets"])
def test_scores_are_drawn_between_0_and_1_whatever_they_hold(name):
    picture = small_picture().layer(name)
    element = maps.score_map(picture)
    assert options(element, "plot")["clim"] == (0, 1)
    assert tuple(options(element)["cmap"]) == scale_of(name).colours


def test_suitability_and_threat_never_share_a_colour():
    picture = small_picture()
    shades = [set(options(maps.score_map(picture.layer(name)))["cmap"]) for name in ("suitability", "threat")]
    assert not shades[0] & shades[1]


def test_no_data_is_drawn_as_nothing_over_the_hatch():
    picture = small_picture()
    element = maps.score_map(picture.layer("suitability"))
    drawn = element.dimension_values(2, flat=False)
    assert np.isnan(drawn).sum() == int(picture.layer("suitability").isnull().sum()) > 0
    figure = hv.render(maps.ground(grid_of(picture)) * element)
    glyphs = [renderer.glyph for renderer in figure.renderers]
    assert [glyph.hatch_pattern for glyph in glyphs if hasattr(glyph, "hatch_pattern")] == ["/"]


def test_a_class_map_has_a_colour_for_each_code_and_none_for_no_data():
    concern = small_picture().layer("concern")
    element = maps.layer_map(concern)
    drawn = element.dimension_values(2)
    assert set(drawn[~np.isnan(drawn)]) == set(np.unique(concern)) - {0}
    assert np.isnan(drawn).sum() == int((concern == 0).sum())
    assert options(element)["cmap"] == [class_colours("concern")[code] for code in range(1, 10)]
    assert options(element, "plot")["clim"] == (0.5, 9.5)


def test_the_surface_is_drawn_by_its_codes():
    grid = small_grid(1, 4)
    surface = layers_of(grid, surface=[[q.UNKNOWN, q.LAND, q.INTERTIDAL, q.WATER]])["surface"]
    element = maps.layer_map(surface)
    assert np.isnan(element[grid.x[0], grid.y[0]])
    assert [element[grid.x[column], grid.y[0]] for column in (1, 2, 3)] == [1, 2, 3]
    assert len(options(element)["cmap"]) == 3


def test_a_map_of_nothing_is_blank_not_an_error():
    layer = small_picture().layer("suitability")
    element = maps.score_map(layer, (0.0, 10.0), (0.0, 10.0))
    assert np.isnan(element.dimension_values(2)).all()


def test_land_is_cut_to_the_site_and_keeps_its_lakes():
    import geopandas as gpd
    from shapely.geometry import box

    grid = small_grid(10, 10)
    west, south, _, north = grid.bounds
    land = box(west - 5000, south - 5000, west + 500, north + 5000).difference(
        box(west + 100, south + 200, west + 300, south + 500)
    )
    (drawn,) = maps.land(gpd.GeoSeries([land], crs=grid.crs), grid).split(datatype="dictionary")
    assert (min(drawn["easting"]), max(drawn["easting"])) == (west, west + 500)
    assert (min(drawn["northing"]), max(drawn["northing"])) == (south, north)
    assert len(drawn["holes"][0]) == 1


def test_a_site_without_land_polygons_draws_none():
    assert len(maps.land(None, small_grid(2, 2)).split()) == 0


def test_a_map_is_true_to_shape_has_a_scale_bar_and_buttons_a_keyboard_reaches():
    from bokeh.models import ResetTool, ScaleBar, ZoomInTool, ZoomOutTool

    picture = small_picture(rows=10, columns=20)
    grid = grid_of(picture)
    overlay = maps.ground(grid) * maps.score_map(picture.layer("threat")) * maps.mark((500_150.0, 7_000_150.0))
    figure = hv.render(maps.framed(overlay, grid))
    assert figure.aspect_ratio == 2
    assert (figure.x_range.start, figure.x_range.end) == (grid.bounds[0], grid.bounds[2])
    (bar,) = figure.select(ScaleBar)
    assert bar.range is figure.x_range and bar.unit == "m"
    shown = {type(tool) for tool in figure.toolbar.tools if tool.visible}
    assert shown == {ZoomInTool, ZoomOutTool, ResetTool}
    assert figure.toolbar.logo is None


def test_a_tall_or_a_flat_site_gets_room_beside_it():
    west, south, east, north = maps.view_bounds(small_grid(400, 100))
    assert (east - west) / (north - south) == pytest.approx(maps.TALLEST)
    west, south, east, north = maps.view_bounds(small_grid(100, 400))
    assert (east - west) / (north - south) == pytest.approx(maps.FLATTEST)
    grid = small_grid(100, 120)
    assert maps.view_bounds(grid) == grid.bounds


def test_cells_scored_without_a_part_are_dotted_and_others_are_not():
    grid = small_grid(2, 3)
    missing = layers_of(grid, surface=[[0, 1, 1], [2, 0, 1]])["surface"]
    score = layers_of(grid, water_depth=[[0.5, 0.5, np.nan], [0.2, 0.1, 0.9]])["water_depth"]
    dots = maps.lacking(missing, score)
    expected = {(grid.x[1], grid.y[0]), (grid.x[0], grid.y[1]), (grid.x[2], grid.y[1])}
    assert set(zip(dots.dimension_values(0), dots.dimension_values(1), strict=True)) == expected
