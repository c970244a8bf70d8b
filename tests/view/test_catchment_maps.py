"""Maps of the land, looked at as elements."""

from types import SimpleNamespace

import holoviews as hv
import pandas as pd
import pytest

from habitat.view import catchment_maps as land_maps
from habitat.view import maps
from tests.view.shoreland import EAST, EXPORT, MIDDLE, NORTH, OUTLETS, SHORE, SOUTH, WEST

hv.extension("bokeh")


def options(element, group="style"):
    return hv.Store.lookup_options("bokeh", element, group).kwargs


def test_each_cover_is_drawn_in_its_own_colour_where_it_is(chain):
    picture = land_maps.cover_map(chain.land)
    colours, meanings = options(picture)["cmap"], chain.land.cover.attrs["flag_meanings"].split()
    assert colours == [chain.land.colours[code] for code in (1, 2)]
    assert meanings == ["no_data", "fields", "woods"]
    assert (picture[499_525, MIDDLE + 25], picture[499_525, MIDDLE - 25]) == (1, 2)


def test_the_yield_of_a_hectare_is_the_published_coefficient_of_its_cover(chain):
    picture = land_maps.yield_map(chain.land)
    assert picture[499_525, MIDDLE + 25] == pytest.approx(EXPORT["fields"])
    assert picture[499_525, MIDDLE - 25] == pytest.approx(EXPORT["woods"])
    assert options(picture, "plot")["clim"] == (0, 15)


def test_maps_of_the_land_and_of_the_water_are_zoomed_apart(chain):
    names = {dimension.name for dimension in land_maps.AXES}
    assert not names & {dimension.name for dimension in maps.AXES}
    drawn = (
        land_maps.cover_map(chain.land),
        land_maps.waters(chain.land),
        land_maps.divide(chain.land),
        land_maps.circles(chain.loads_in("wet"), 12.0, land_maps.AXES),
    )
    assert all({dimension.name for dimension in element.kdims} == names for element in drawn)


def test_circles_stand_at_the_outlets_with_an_area_in_proportion_to_the_load(chain):
    loads = chain.loads_in("wet")
    circles = land_maps.circles(loads, loads["tonnes"].max())
    table = circles.dframe().set_index("outlet")
    for name, place in OUTLETS.items():
        assert tuple(table.loc[name, ["easting", "northing"]]) == place
    area = table["diameter"].astype(float) ** 2
    assert (area / area.max()).to_dict() == pytest.approx(
        (loads.set_index("name")["tonnes"] / loads["tonnes"].max()).to_dict()
    )
    assert table["diameter"].max() == land_maps.LARGEST


def test_large_circles_lie_under_small_ones():
    outlets = pd.DataFrame({"name": ["a", "b", "c"], "x": [0.0, 1, 2], "y": [0.0, 1, 2], "tonnes": [1.0, 9, 4]})
    assert land_maps.circles(outlets, 9.0).dframe()["outlet"].tolist() == ["b", "c", "a"]


def test_no_two_covers_share_a_colour_while_there_are_enough():
    covers = [SimpleNamespace(export_cover=kind) for kind in ("forest", "forest", "row crops", "urban", None, None)]
    colours = land_maps.cover_colours(covers)
    assert list(colours) == [1, 2, 3, 4, 5, 6]
    assert len(set(colours.values())) == 6
    many = land_maps.cover_colours([SimpleNamespace(export_cover="forest")] * 14)
    assert len(set(many.values())) == 12


def test_the_water_of_the_site_is_drawn_and_cut_to_the_grid_of_the_land(chain):
    water = land_maps.waters(chain.land)
    assert water.range(0) == (SHORE, EAST)
    assert water.range(1) == (SOUTH, NORTH)


def test_the_ground_that_drains_has_its_border(chain):
    border = land_maps.divide(chain.land)
    assert border.range(0) == (WEST, SHORE)
    assert border.range(1) == (SOUTH, NORTH)
