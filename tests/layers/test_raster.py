"""Rasters onto the grid, and each thing that can be wrong with one."""

import numpy as np
import pytest
import rasterio
import xarray as xr
from affine import Affine
from pyproj import Transformer
from shapely.geometry import Point

from layers.grid import Grid
from layers.quantity import BED_ELEVATION, SALINITY, SEAGRASS_COVER, WATER_TEMPERATURE
from layers.raster import read_raster
from tests.files import (
    CRS,
    GRID,
    WEST_OF_GREENWICH,
    entry_for,
    sentences,
    site_in,
    write_raster,
    write_shapes,
    write_text,
)

BED = np.array([[-1.0, -2, -3, -4], [-1, -2, -3, -4], [2, 0, -3, -5]], np.float32)
METRES = {"units": "m", "positive": "up"}


def degrees(x, y, crs=CRS):
    return Transformer.from_crs(crs, 4326, always_xy=True).transform(x, y)


def faults_of(path, keys, quantity=BED_ELEVATION, grid=GRID):
    faults = []
    layer = read_raster(entry_for(path, **keys), site_in(path.parent, grid), quantity, faults)
    assert layer is None
    return [str(fault) for fault in faults]


def cut(path, share):
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    return path


def changed(values, index, value):
    values = values.copy()
    values[index] = value
    return values


def in_degrees(folder, mend=lambda x, y: (x, y), crs="EPSG:4326", grid=GRID):
    """A raster in degrees about the middle of the grid, its coordinates spoilt by `mend`."""
    west, south, east, north = grid.bounds
    x, y = mend(*degrees((west + east) / 2, (south + north) / 2, grid.crs))
    side = 0.01
    return write_raster(
        folder / "bed.tif", np.tile(BED, (4, 3)), west=x - 6 * side, north=y + 6 * side, cell=side, crs=crs
    )


CASES = {
    "no such file": (lambda d: d / "bed.tif", METRES, BED_ELEVATION),
    "empty file": (lambda d: write_text(d / "bed.tif", ""), METRES, BED_ELEVATION),
    "a folder": (lambda d: d, METRES, BED_ELEVATION),
    "cut short": (
        lambda d: cut(
            write_raster(d / "bed.tif", np.random.default_rng(0).normal(size=(300, 300)).astype(np.float32)), 0.5
        ),
        METRES,
        BED_ELEVATION,
    ),
    "cut in the header": (lambda d: cut(write_raster(d / "bed.tif", BED), 0.05), METRES, BED_ELEVATION),
    "not a raster": (lambda d: write_text(d / "bed.tif", "hello"), METRES, BED_ELEVATION),
    "a vector file": (lambda d: write_shapes(d / "bed.gpkg", [Point(500_010, 7_770_010)]), METRES, BED_ELEVATION),
    "no such band": (lambda d: write_raster(d / "bed.tif", BED), METRES | {"band": 2}, BED_ELEVATION),
    "complex numbers": (lambda d: write_raster(d / "bed.tif", BED.astype(np.complex64)), METRES, BED_ELEVATION),
    "no crs": (lambda d: write_raster(d / "bed.tif", BED, crs=None), METRES, BED_ELEVATION),
    "unknown declared crs": (
        lambda d: write_raster(d / "bed.tif", BED, crs=None),
        METRES | {"crs": "EPSG:99999999"},
        BED_ELEVATION,
    ),
    "two crs": (lambda d: write_raster(d / "bed.tif", BED), METRES | {"crs": "EPSG:32756"}, BED_ELEVATION),
    "no georeference": (lambda d: write_raster(d / "bed.tif", BED, transform=Affine.identity()), METRES, BED_ELEVATION),
    "degrees under a metric code": (lambda d: in_degrees(d, crs=CRS), METRES, BED_ELEVATION),
    "metres under a code in degrees": (
        lambda d: write_raster(d / "bed.tif", BED, crs="EPSG:4326"),
        METRES,
        BED_ELEVATION,
    ),
    "swapped degrees": (lambda d: in_degrees(d, lambda x, y: (y, x)), METRES, BED_ELEVATION),
    "south without sign": (lambda d: in_degrees(d, lambda x, y: (x, -y)), METRES, BED_ELEVATION),
    "swapped metres": (
        lambda d: write_raster(d / "bed.tif", BED, west=7_770_000, north=500_150),
        METRES,
        BED_ELEVATION,
    ),
    "northern northing": (
        lambda d: write_raster(d / "bed.tif", BED, north=7_770_150 - 10_000_000),
        METRES,
        BED_ELEVATION,
    ),
    "kilometres": (
        lambda d: write_raster(d / "bed.tif", BED, west=500, north=7770.15, cell=0.05),
        METRES,
        BED_ELEVATION,
    ),
    "elsewhere": (lambda d: write_raster(d / "bed.tif", BED, west=600_000), METRES, BED_ELEVATION),
    "no unit": (lambda d: write_raster(d / "bed.tif", BED), {"positive": "up"}, BED_ELEVATION),
    "unknown unit": (lambda d: write_raster(d / "bed.tif", BED), METRES | {"units": "smoots"}, BED_ELEVATION),
    "another dimension": (lambda d: write_raster(d / "bed.tif", BED), METRES | {"units": "kg"}, BED_ELEVATION),
    "conductivity": (lambda d: write_raster(d / "s.tif", BED + 30), {"units": "mS/cm"}, SALINITY),
    "no sign": (lambda d: write_raster(d / "bed.tif", BED), {"units": "m"}, BED_ELEVATION),
    "depths said to be elevations": (
        lambda d: write_raster(d / "bed.tif", -np.minimum(BED, -1)),
        METRES,
        BED_ELEVATION,
    ),
    "elevations said to be depths": (
        lambda d: write_raster(d / "bed.tif", np.minimum(BED, -1)),
        METRES | {"positive": "down"},
        BED_ELEVATION,
    ),
    "no such rule": (lambda d: write_raster(d / "bed.tif", BED), METRES | {"rule": "cubic"}, BED_ELEVATION),
    "nothing but no data": (
        lambda d: write_raster(d / "bed.tif", np.full((3, 4), -9999.0), nodata=-9999),
        METRES,
        BED_ELEVATION,
    ),
    "mark -9999": (lambda d: write_raster(d / "bed.tif", changed(BED, (0, 0), -9999)), METRES, BED_ELEVATION),
    "mark -32768": (
        lambda d: write_raster(d / "bed.tif", changed(BED, (0, slice(3)), -32768).astype(np.int16)),
        METRES,
        BED_ELEVATION,
    ),
    "mark 1e12": (lambda d: write_raster(d / "bed.tif", changed(BED, (0, 0), 1e12)), METRES, BED_ELEVATION),
    "mark -3.4e38": (
        lambda d: write_raster(d / "bed.tif", changed(BED, (0, 0), np.finfo(np.float32).min)),
        METRES,
        BED_ELEVATION,
    ),
    "mark 255 of a share": (
        lambda d: write_raster(d / "c.tif", changed(np.full((3, 4), 50), (0, 0), 255).astype(np.uint8)),
        {"units": "percent"},
        SEAGRASS_COVER,
    ),
    "mostly zero": (lambda d: write_raster(d / "bed.tif", np.where(BED < -3, BED, 0)), METRES, BED_ELEVATION),
    "infinite": (lambda d: write_raster(d / "bed.tif", changed(BED, (1, 2), np.inf)), METRES, BED_ELEVATION),
    "centimetres": (lambda d: write_raster(d / "bed.tif", BED * 100), METRES, BED_ELEVATION),
    "feet": (lambda d: write_raster(d / "bed.tif", BED * 100 / 0.8), METRES, BED_ELEVATION),
    "kelvin": (lambda d: write_raster(d / "t.tif", BED + 300), {"units": "degree_Celsius"}, WATER_TEMPERATURE),
    "percent said to be shares": (lambda d: write_raster(d / "c.tif", 50 + BED), {"units": "1"}, SEAGRASS_COVER),
    "one value out of range": (
        lambda d: write_raster(d / "s.tif", changed(BED + 35, (2, 1), 77)),
        {"units": "PSU"},
        SALINITY,
    ),
}
SENTENCES = sentences("raster")


def test_every_sentence_has_its_file():
    assert list(SENTENCES) == list(CASES)


@pytest.mark.parametrize("case", CASES)
def test_what_is_wrong_is_said(case, tmp_path):
    write, keys, quantity = CASES[case]
    folder = tmp_path / "site"
    folder.mkdir()
    assert faults_of(write(folder), keys, quantity) == SENTENCES[case]


def test_all_faults_are_said_in_one_round(tmp_path):
    path = write_raster(tmp_path / "bed.tif", changed(BED, (0, 0), -9999) * 1000)
    found = faults_of(path, {"units": "fathoms deep", "rule": "cubic"})
    assert [fault.split(":")[0] for fault in found] == ["files.data.positive", "files.data.units", "files.data.rule"]


def read(path, keys=METRES, quantity=BED_ELEVATION, grid=GRID, **options):
    faults, remarks = [], []
    layer = read_raster(
        entry_for(path, **keys), site_in(path.parent, grid), quantity, faults, remarks=remarks, **options
    )
    assert faults == []
    return layer, remarks


def test_a_raster_on_the_grid_comes_through_unchanged(tmp_path):
    layer, remarks = read(write_raster(tmp_path / "bed.tif", BED))
    np.testing.assert_array_equal(layer.values, BED)
    assert layer.dtype == np.float32
    assert layer.dims == ("y", "x")
    assert Grid.of(layer) == GRID
    assert layer.attrs["units"] == "m"
    assert layer.attrs["files"] == "bed.tif"
    assert layer.attrs["licence"] == "CC0-1.0"
    assert layer.attrs["method"] == "area mean of raster cells of 50 m (EPSG:32745)"
    assert remarks == []


def test_the_named_band_is_read(tmp_path):
    layer, _ = read(write_raster(tmp_path / "bed.tif", np.stack([BED, BED - 1])), METRES | {"band": 2})
    np.testing.assert_array_equal(layer.values, BED - 1)


def test_depths_become_elevations_and_feet_metres(tmp_path):
    layer, _ = read(write_raster(tmp_path / "bed.tif", -BED), {"units": "ft", "positive": "down"})
    # the international foot is 0.3048 m exactly (international yard and pound agreement, 1959)
    np.testing.assert_allclose(layer.values, BED * 0.3048, rtol=1e-6)


def test_no_data_of_the_file_and_of_the_site_file_are_nan(tmp_path):
    values = changed(changed(BED, (0, 0), -9999), (2, 3), 1e12)
    path = write_raster(tmp_path / "bed.tif", values, nodata=-9999)
    layer, _ = read(path, METRES | {"nodata": 1e12})
    expected = changed(changed(BED, (0, 0), np.nan), (2, 3), np.nan)
    np.testing.assert_array_equal(layer.values, expected)


def test_a_suggested_value_for_no_data_is_the_one_that_works(tmp_path):
    for mark in (1e12, np.finfo(np.float32).min, 1e20, -32768):
        path = write_raster(tmp_path / "bed.tif", changed(BED, (0, 0), mark))
        (fault,) = faults_of(path, METRES)
        suggested = float(fault.split("`nodata = ")[1].split("`")[0])
        layer, _ = read(path, METRES | {"nodata": suggested})
        assert np.isnan(layer.values[0, 0])
        assert np.isnan(layer.values).sum() == 1


def test_zeros_and_dry_beds_are_taken_when_the_site_file_says_they_are_real(tmp_path):
    zeros = write_raster(tmp_path / "zeros.tif", np.where(BED < -3, BED, 0))
    dry = write_raster(tmp_path / "dry.tif", np.abs(BED))
    for path in (zeros, dry):
        layer, _ = read(path, METRES | {"plausible": (-200, 500)})
        assert np.isfinite(layer.values).all()


def test_packed_numbers_are_unpacked_and_remarked(tmp_path):
    path = write_raster(tmp_path / "bed.tif", (BED * 10).astype(np.int16))
    with rasterio.open(path, "r+") as raster:
        raster.scales, raster.offsets = (0.1,), (-1.0,)
    layer, remarks = read(path)
    np.testing.assert_allclose(layer.values, BED - 1, rtol=1e-6)
    assert remarks == ["bed.tif, band 1: the file stores packed numbers; value = 0.1 x number - 1."]


def test_a_declared_crs_serves_a_file_that_has_none(tmp_path):
    layer, _ = read(write_raster(tmp_path / "bed.tif", BED, crs=None), METRES | {"crs": CRS})
    np.testing.assert_array_equal(layer.values, BED)


def test_longitudes_from_0_to_360_are_read_as_they_are_meant(tmp_path):
    grid = WEST_OF_GREENWICH
    x, y = degrees(500_100, 3_000_075, grid.crs)
    values = np.tile(BED, (4, 3))
    for west in (x - 0.065, x - 0.065 + 360):
        path = write_raster(
            tmp_path / f"{west:.0f}.tif", values, west=west, north=y + 0.065, cell=0.01, crs="EPSG:4326"
        )
        layer, _ = read(path, grid=grid, default_rule="nearest")
        np.testing.assert_array_equal(layer.values, values[6, 6])


def test_a_raster_of_the_whole_world_is_cut_to_the_site(tmp_path):
    values = np.full((180, 360), 20, np.float32)
    path = write_raster(tmp_path / "t.tif", values, west=-180, north=90, cell=1, crs="EPSG:4326")
    layer, _ = read(path, {"units": "degree_Celsius"}, WATER_TEMPERATURE, default_rule="nearest")
    np.testing.assert_array_equal(layer.values, 20)
    assert "degree (EPSG:4326)" in layer.attrs["method"]


def test_a_variable_of_a_netcdf_file_is_named_as_layer(tmp_path):
    placed = {"grid_mapping": "spatial_ref"}
    dataset = xr.Dataset(
        {"salt": (("y", "x"), BED + 33, placed), "heat": (("y", "x"), BED + 22, placed)}, coords=GRID.coordinates
    )
    dataset.to_netcdf(tmp_path / "model.nc", engine="h5netcdf")
    path, keys = tmp_path / "model.nc", {"units": "PSU"}
    assert faults_of(path, keys, SALINITY) == [
        "files.data.layer: model.nc holds 2 variables (salt, heat), and none is named. Name one of them as `layer`."
    ]
    layer, _ = read(path, keys | {"layer": "salt"}, SALINITY, default_rule="nearest")
    np.testing.assert_array_equal(layer.values, BED + 33)


def test_coarse_and_fine_rasters_are_said_to_be_so(tmp_path):
    coarse = write_raster(tmp_path / "coarse.tif", np.array([[-3.0, -4]], np.float32), cell=150)
    fine = write_raster(tmp_path / "fine.tif", np.repeat(np.repeat(BED, 5, 0), 5, 1), cell=10)
    assert read(coarse)[0].attrs["method"] == (
        "area mean of raster cells of 150 m (EPSG:32745), which are coarser than the grid's 50 m, so neighbouring "
        "cells repeat a value"
    )
    assert read(fine, METRES | {"rule": "nearest"})[0].attrs["method"] == (
        "nearest of raster cells of 10 m (EPSG:32745), which are finer than the grid's 50 m, so most raster cells are "
        "passed over"
    )
