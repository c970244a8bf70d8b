"""What stands on a sheet: every text is read from the figure, the picture from the pixels of its file."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from matplotlib.image import imread
from shapely import box, union_all

from habitat.colours import scale_of
from habitat.report.picture import Size, map_picture
from habitat.report.print_map import CAUTION, INVENTED, NO_SIGHTINGS, Imprint, map_figure, write_png
from layers.fault import RecordError
from layers.quantity import LAND
from tests.grids import toy_assessment, toy_grid, toy_layers

IMPRINT = Imprint(
    site="Toy coast",
    author="A. Warden",
    invented=True,
    profile="Toy grazer",
    vertical_datum="mean sea level",
    sources="Survey of nowhere (CC BY 4.0; Nobody & Daughters)",
    data_dates="2019 to 2021-03",
    printed="2026-03-05",
)


@pytest.fixture(scope="module")
def site():
    layers = toy_layers(toy_grid())
    return layers, toy_assessment(layers)


def sheet(site, name="suitability", imprint=IMPRINT, **options):
    layers, assessment = site
    layer = (assessment if name in assessment else layers)[name]
    layer = layer.isel(season=0) if "season" in layer.dims else layer
    return map_figure(layer, title="habitat suitability", imprint=imprint, surface=layers["surface"], **options)


def words(figure):
    """Everything written on a sheet, as one line."""
    return " ".join(" ".join(text.get_text() for axes in figure.axes for text in axes.texts).split())


@pytest.mark.parametrize(
    "said",
    [
        "Habitat suitability, wet season",
        "Toy coast. Profile: Toy grazer.",
        "WGS 84 / UTM zone 45S (EPSG:32745)",
        "cells of 50 m",
        "Vertical datum: mean sea level",
        "Data of: 2019 to 2021-03",
        "Printed: 2026-03-05",
        "Author: A. Warden",
        "Survey of nowhere (CC BY 4.0; Nobody & Daughters)",
        "no data (neither good nor safe)",
        "land",
        "near a class limit, read either class",
        CAUTION,
        NO_SIGHTINGS,
        INVENTED,
    ],
)
def test_a_sheet_says(site, said):
    assert said in words(sheet(site))


def test_a_real_site_has_no_banner(site):
    assert INVENTED not in words(sheet(site, imprint=replace(IMPRINT, invented=False)))


def test_what_a_site_does_not_state_is_said_to_be_missing(site):
    said = words(sheet(site, imprint=replace(IMPRINT, vertical_datum="", data_dates="")))
    assert "Vertical datum: not stated in the site file." in said
    assert "Data of: no date stated." in said


def test_the_legend_of_a_score_has_the_limits_and_names_of_its_classes(site):
    said = words(sheet(site, breaks=(0.35, 0.65)))
    for part in ("0.35", "0.65", "poor habitat", "fair habitat", "good habitat", "class limits of the profile"):
        assert part in said


def test_the_legend_of_a_layer_has_its_unit(site):
    assert "Unit: m." in words(sheet(site, "water_depth"))
    assert "Values beyond its ends are drawn as the ends." in words(sheet(site, "water_depth"))
    assert "A value of 2000 m means that far or farther." in words(sheet(site, "dredging_distance"))


def test_the_legend_of_concern_is_a_square(site):
    said = words(sheet(site, "concern"))
    for part in (
        "good habitat",
        "poor habitat",
        "low threat",
        "high threat",
        "Suitability upwards, threat to the right",
    ):
        assert part in said


def test_the_legend_of_classes_names_each(site):
    said = words(sheet(site, "limiting_factor"))
    assert all(name in said for name in ("water depth", "salinity", "seagrass cover"))


def test_dots_are_explained_only_where_a_cell_is_dotted(site):
    lacking = site[1]["missing_factors"].isel(season=0)
    assert "scored without all its factors" in words(sheet(site, lacking=lacking))
    assert "scored without all" not in words(sheet(site, lacking=lacking * 0))
    only_land = (site[0]["surface"] == LAND).astype(np.uint8)
    assert "scored without all" not in words(sheet(site, lacking=only_land))


def test_zones_are_outlined_and_named(site):
    west, south, east, north = toy_grid().bounds
    zones = gpd.GeoDataFrame({"name": ["Northern bay"]}, geometry=[box(west, south, east - 900, north - 900)])
    assert "Northern bay" in words(sheet(site, zones=zones))


def test_an_edge_that_two_zones_share_is_drawn_once(site):
    west, south, east, north = toy_grid().bounds
    middle = (west + east) / 2
    halves = [box(west + 500, south + 500, middle, north - 500), box(middle, south + 500, east - 500, north - 500)]
    figure = sheet(site, zones=gpd.GeoDataFrame({"name": ["West", "East"]}, geometry=halves))
    (lines,) = (one for one in figure.axes[1].collections if one.get_linewidth()[0] < 2)
    drawn = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines.get_segments())
    assert drawn == pytest.approx(union_all([half.boundary for half in halves]).length)


def test_long_lists_of_sources_point_to_the_readme(site):
    long = replace(
        IMPRINT, sources="; ".join(f"Survey number {number} of the coast (CC BY 4.0)" for number in range(40))
    )
    assert "(all in README.txt)" in words(sheet(site, imprint=long))


def test_no_text_leaves_the_sheet_or_runs_over_another(site):
    lacking = site[1]["missing_factors"].isel(season=0)
    figure = sheet(site, "concern", lacking=lacking)
    figure.draw_without_rendering()
    boxes = [text.get_window_extent() for axes in figure.axes for text in axes.texts if text.get_text()]
    width, height = figure.canvas.get_width_height()
    for one in boxes:
        assert one.x0 >= 0 and one.y0 >= 0 and one.x1 <= width and one.y1 <= height
    overlapping = [(a, b) for i, a in enumerate(boxes) for b in boxes[:i] if a.overlaps(b)]
    assert overlapping == []


@pytest.mark.parametrize("shape", [(20, 200), (200, 20)])
def test_long_and_tall_sites_fit(shape):
    layers = toy_layers(toy_grid(*shape))
    figure = map_figure(layers["water_depth"], title="depth", imprint=IMPRINT, surface=layers["surface"])
    axes = figure.axes[1]
    assert axes.get_position().width > 0 and axes.get_position().x1 < figure.axes[2].get_position().x0


def test_the_map_in_the_file_is_the_picture_of_the_layer_pixel_by_pixel(site, tmp_path):
    layers, assessment = site
    figure = sheet(site)
    write_png(figure, tmp_path / "map.png")
    pixels = (imread(tmp_path / "map.png")[..., :3] * 255).round().astype(np.uint8)
    assert pixels.shape == (1240, 1754, 3)
    place = figure.axes[1].get_position()
    top, left = round((1 - place.y1) * 1240), round(place.x0 * 1754)
    size = Size(height=round(place.height * 1240), width=round(place.width * 1754))
    layer = assessment["suitability"].isel(season=0)
    picture = map_picture(layer.values, scale_of("suitability"), size, surface=layers["surface"].values)
    drawn = pixels[top : top + size.height, left : left + size.width]
    inside = (slice(3, -3), slice(3, -3))  # the frame lies over the outermost pixels
    assert np.array_equal(drawn[inside], picture[inside])


def test_the_same_sheet_gives_the_same_bytes(site, tmp_path):
    for name in ("one.png", "two.png"):
        write_png(sheet(site), tmp_path / name)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()


def test_an_existing_sheet_is_not_overwritten(site, tmp_path):
    (tmp_path / "map.png").write_text("mine")
    with pytest.raises(RecordError, match=r"map\.png: exists already\."):
        write_png(sheet(site), tmp_path / "map.png")
    assert (tmp_path / "map.png").read_text() == "mine"
