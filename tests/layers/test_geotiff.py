"""GeoTIFFs as other programs see them: the validator of rio-cogeo, GDAL through rasterio, plain numpy."""

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
import rasterio
from hypothesis import given
from hypothesis import strategies as st
from rasterio.shutil import copy
from rio_cogeo.cogeo import cog_validate

from layers import quantity as q
from layers.fault import RecordError
from layers.geotiff import rounded, write_geotiff
from tests.grids import PROVENANCE, SEASONS, toy_assessment, toy_grid, toy_layers

COLOURS = {1: "#112233", 2: "#445566", 3: "#778899"}


@pytest.fixture(scope="module")
def large():
    return toy_layers(toy_grid(600, 800))


@pytest.mark.parametrize("name", ["water_depth", "salinity", "surface"])
def test_the_validator_of_rio_cogeo_finds_no_error_and_no_warning(large, tmp_path, name):
    write_geotiff(large[name], tmp_path / "layer.tif")
    assert cog_validate(tmp_path / "layer.tif", strict=True, quiet=True) == (True, [], [])


def test_a_small_layer_is_a_valid_file_too(tmp_path):
    write_geotiff(toy_layers(toy_grid(3, 4))["water_depth"], tmp_path / "layer.tif")
    assert cog_validate(tmp_path / "layer.tif", strict=True, quiet=True) == (True, [], [])


def test_values_place_unit_and_missing_cells_come_back(large, tmp_path):
    depth = large["water_depth"]
    write_geotiff(depth, tmp_path / "depth.tif")
    with rasterio.open(tmp_path / "depth.tif") as file:
        assert (file.read(1).view(np.uint32) == depth.values.view(np.uint32)).all()
        assert file.crs.to_epsg() == 32745
        assert file.xy(0, 0) == (depth["x"].item(0), depth["y"].item(0))
        assert np.isnan(file.nodata)
        assert file.units == ("m",)
        assert file.descriptions == ("water depth below the mean water level",)
        assert file.read_masks(1).astype(bool).sum() == depth.notnull().sum()


def test_the_bands_of_a_seasonal_layer_are_named_after_the_seasons(tmp_path):
    layers = toy_layers(toy_grid())
    write_geotiff(layers["salinity"], tmp_path / "salinity.tif")
    with rasterio.open(tmp_path / "salinity.tif") as file:
        assert file.descriptions == SEASONS
        assert np.array_equal(file.read(2), layers["salinity"].sel(season="dry"), equal_nan=True)


def test_source_licence_credit_and_date_travel_with_the_file(tmp_path):
    write_geotiff(toy_layers(toy_grid())["salinity"], tmp_path / "salinity.tif", tags={"invented": "yes"})
    with rasterio.open(tmp_path / "salinity.tif") as file:
        tags = file.tags()
    assert {key: tags[key] for key in PROVENANCE} == PROVENANCE
    assert tags["invented"] == "yes"
    assert tags["TIFFTAG_COPYRIGHT"] == f"{PROVENANCE['licence']}; {PROVENANCE['credit']}"
    assert tags["TIFFTAG_IMAGEDESCRIPTION"] == "practical salinity"


def test_an_overview_of_a_float_layer_is_the_mean_of_the_cells_that_have_data(large, tmp_path):
    depth = large["water_depth"]
    write_geotiff(depth, tmp_path / "depth.tif")
    with rasterio.open(tmp_path / "depth.tif", overview_level=0) as file:
        half = file.read(1)
    blocks = depth.values.reshape(300, 2, 400, 2).transpose(0, 2, 1, 3).reshape(300, 400, 4)
    some = ~np.isnan(blocks).all(axis=2)
    assert (np.isnan(half) == ~some).all()
    assert half[some] == pytest.approx(np.nanmean(blocks[some].astype(float), axis=1), rel=1e-6, abs=1e-6)


def test_an_overview_of_codes_holds_codes_that_were_there(large, tmp_path):
    write_geotiff(large["surface"], tmp_path / "surface.tif")
    with rasterio.open(tmp_path / "surface.tif", overview_level=0) as file:
        half = file.read(1)
    blocks = large["surface"].values.reshape(300, 2, 400, 2)
    assert (blocks == half[:, None, :, None]).any(axis=(1, 3)).all()


def test_gdal_reads_the_colours_and_names_of_the_classes(tmp_path):
    write_geotiff(toy_layers(toy_grid())["surface"], tmp_path / "surface.tif", colours=COLOURS)
    with rasterio.open(tmp_path / "surface.tif") as file:
        assert file.colormap(1)[2] == (0x44, 0x55, 0x66, 255)
        assert file.nodata == 0
    copy(tmp_path / "surface.tif", tmp_path / "surface.vrt", driver="VRT")
    seen = ElementTree.parse(tmp_path / "surface.vrt")
    assert [entry.text for entry in seen.iter("Category")] == ["unknown", "land", "intertidal", "water"]
    rows = [[cell.text for cell in row.iter("F")] for row in seen.iter("Row")]
    assert rows[3] == ["3", "water", str(0x77), str(0x88), str(0x99)]


def test_a_count_of_zero_is_a_value_and_not_missing(tmp_path):
    count = toy_assessment(toy_layers(toy_grid()))["missing_factors"].isel(season=0)
    write_geotiff(count, tmp_path / "count.tif")
    with rasterio.open(tmp_path / "count.tif") as file:
        assert file.nodata is None


def test_the_same_layer_gives_the_same_bytes(tmp_path):
    layer = toy_layers(toy_grid())["salinity"]
    for name in ("one.tif", "two.tif"):
        write_geotiff(layer, tmp_path / name)
    assert (tmp_path / "one.tif").read_bytes() == (tmp_path / "two.tif").read_bytes()


def test_rounding_is_stated_in_the_file(tmp_path):
    layer = toy_layers(toy_grid())["water_depth"]
    write_geotiff(layer, tmp_path / "depth.tif", mantissa_bits=12)
    with rasterio.open(tmp_path / "depth.tif") as file:
        assert file.tags()["rounding"] == "12 bits of mantissa kept, relative error at most 2^-13"
        assert np.array_equal(file.read(1), rounded(layer.values, 12), equal_nan=True)


@given(st.floats(-(2.0**99), 2.0**99, width=32, allow_subnormal=False), st.integers(2, 22))
def test_rounding_errs_by_at_most_half_the_last_bit_kept(value, bits):
    value = np.float32(value)
    near = rounded(np.array([value]), bits)[0]
    assert abs(np.float64(near) - value) <= abs(np.float64(value)) * 2.0 ** -(bits + 1)
    assert near.view(np.uint32) & np.uint32((1 << (23 - bits)) - 1) == 0


def test_rounding_keeps_zero_one_and_missing():
    values = np.array([0, 1, np.nan, np.inf], np.float32)
    assert np.array_equal(rounded(values, 12), values, equal_nan=True)


def test_an_existing_file_is_not_overwritten(tmp_path):
    (tmp_path / "layer.tif").write_text("mine")
    with pytest.raises(RecordError, match=r"layer\.tif: exists already\."):
        write_geotiff(toy_layers(toy_grid())["water_depth"], tmp_path / "layer.tif")
    assert (tmp_path / "layer.tif").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["layer.tif"]


def test_nothing_is_left_beside_the_file(tmp_path):
    write_geotiff(toy_layers(toy_grid())["surface"], tmp_path / "surface.tif")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["surface.tif", "surface.tif.aux.xml"]
    assert q.SURFACE.categories[3] in (tmp_path / "surface.tif.aux.xml").read_text()
