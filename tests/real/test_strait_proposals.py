"""Two invented proposals in a real strait: a cut through a bank, and a marina with its way in, by the real command.

What is expected comes from the drawings and the bed's raster, by geopandas, shapely and exactextract, and from books.
"""

from __future__ import annotations

import math
import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from exactextract.exact_extract import exact_extract
from exactextract.raster import RasterioRasterSource
from pypdf import PdfReader
from shapely import box

from habitat.appraisal import Appraisal, appraise
from habitat.proposal import read_proposal
from habitat.site_map import map_site
from tests.real.strait import HERE, MIXING, shallows, write_strait

DATA = os.environ.get("SHALLOWS_REAL_DATA", "")
pytestmark = pytest.mark.skipif(not DATA, reason="SHALLOWS_REAL_DATA names no folder: REAL DATA NOT TESTED")
FILES = [HERE / "proposals" / f"invented_{name}.geojson" for name in ("channel", "marina")]
CELL = 200  # m: coarse, so that the plumes take seconds; the channel is narrower than that


@pytest.fixture(scope="module")
def drawn() -> gpd.GeoDataFrame:
    """What is drawn, in metres, with the file it is from."""
    return pd.concat([gpd.read_file(file).assign(file=file.name) for file in FILES], ignore_index=True).to_crs(32756)


@pytest.fixture(scope="module")
def dug(drawn) -> gpd.GeoDataFrame:
    return drawn[drawn["kind"] == "dredged area"]


@pytest.fixture(scope="module")
def strait(tmp_path_factory) -> Path:
    return write_strait(tmp_path_factory.mktemp("strait"), DATA, more=MIXING)


@pytest.fixture(scope="module")
def folder(strait) -> Path:
    out = strait / "appraisal"
    ran = shallows("appraise", strait, *FILES, "--cell", CELL, "--out", out, "--date", "2026-01-31")
    assert ran.returncode == 0, ran.stderr
    return out


@pytest.fixture(scope="module")
def appraisal(strait) -> Appraisal:
    found = map_site(strait, cell=CELL)
    return appraise(found, [read_proposal(file, found.inputs) for file in FILES])


def _table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "tables" / f"{name}.csv")


def test_areas_and_lengths_in_the_report_are_those_of_the_drawing(folder, drawn):
    said = _table(folder, "features")
    for means, shapes, size in (("area", "Polygon", drawn.area / 1e4), ("length", "LineString", drawn.length)):
        rows = said[said["means"] == means]
        expected = size[drawn.geom_type == shapes]
        assert len(rows) == len(expected) > 1
        assert sorted(rows["value"].astype(float)) == pytest.approx(sorted(expected), abs=0.006)
    assert said.loc[said["means"] == "anything a reader should know", "value"].str.startswith("Invented").all()


def test_the_bed_is_lowered_where_and_as_far_as_raster_and_drawing_say(strait, appraisal, dug):
    grid = appraisal.before.inputs.site.grid
    x, y = np.meshgrid(grid.x, grid.y)
    half = CELL / 2
    squares = gpd.GeoSeries(box(x - half, y - half, x + half, y + half).ravel(), crs=32756)
    with rasterio.open(strait / "gbr100_elevation_msl.tif") as source:
        squares = gpd.GeoDataFrame(geometry=squares.to_crs(source.crs))
        raster = RasterioRasterSource(source)
        means = exact_extract(raster, squares, ["mean"], output="pandas")["mean"]
    bed = means.to_numpy(dtype=float).reshape(grid.shape)
    expected = bed.copy()
    west, _, _, north = grid.bounds
    for area, depth in zip(dug.geometry, dug["depth_m"], strict=True):
        left, bottom, right, top = area.bounds
        for row in range(int((north - top) // CELL), int((north - bottom) // CELL) + 1):
            for column in range(int((left - west) // CELL), int((right - west) // CELL) + 1):
                corner = west + column * CELL, north - (row + 1) * CELL
                share = box(*corner, corner[0] + CELL, corner[1] + CELL).intersection(area).area / CELL**2
                kept = expected[row, column]
                expected[row, column] = (1 - share) * kept + share * min(kept, -depth)
    before, after = (made.derivation.bed.to_numpy() for made in (appraisal.before, appraisal.together.site_map))
    lowered = before - after
    assert ((lowered > 1e-3) == (bed - expected > 1e-3)).all()
    assert (lowered > 1e-3).sum() > 30
    known = np.isfinite(lowered)
    assert (~known).sum() <= 2, "corners that the raster does not reach"
    np.testing.assert_allclose(lowered[known], (bed - expected)[known], rtol=0, atol=1e-4)


def test_the_volume_taken_out_of_the_map_is_that_of_the_fine_raster(strait, appraisal, dug):
    with rasterio.open(strait / "gbr100_elevation_msl.tif") as source:
        elevation, crs = source.read(1), source.crs
        fine = rasterio.Affine.scale(1 / 20)
        inside = [
            rasterio.features.rasterize([area], [20 * side for side in source.shape], transform=source.transform * fine)
            for area in dug.to_crs(crs).geometry
        ]
    fine_bed = np.kron(elevation, np.ones((20, 20), np.float32))
    expected = sum(
        float(np.clip(fine_bed[mask == 1] + depth, 0, None).mean()) * area
        for mask, depth, area in zip(inside, dug["depth_m"], dug.area, strict=True)
    )
    lowered = appraisal.before.derivation.bed - appraisal.together.site_map.derivation.bed
    # a cell that is partly deep already is dug from its mean on the map, which digs a little less
    assert float(lowered.sum()) * CELL**2 == pytest.approx(expected, rel=0.02)
    # and the drawings state the volume that they dig
    assert dug["volume_m3"].sum() == pytest.approx(expected, rel=0.01)


def test_what_the_dredges_lose_is_what_settles_out_of_the_plumes(appraisal, dug):
    # fines lost while they dig [kg/s]: m3/hour x dry mass x share of fines x 0.02, van Rijn 2025 (layers/dredge_losses)
    lost = (dug["rate_m3_h"] / 3600 * dug["dry_kg_m3"] * dug["fines"] * 0.02).sum()
    plume = appraisal.together.site_map.derivation.layer("dredge_plume").to_numpy()
    # Stokes' law for 20 um of quartz in sea water of 20 degrees; any textbook, constants from memory
    speed = (2650 - 1025) * 9.81 * (20e-6) ** 2 / (18 * 1.07e-3)
    settled = float(np.nansum(plume)) * 1e-3 * speed * CELL**2
    assert settled == pytest.approx(lost, rel=0.15)


def test_what_cannot_be_told_is_not_told(folder):
    lacking = " ".join(page.extract_text() for page in PdfReader(folder / "report.pdf").pages[:1])
    lacking = " ".join(lacking.split())
    for said in (
        "what threat leaves of them cannot be told",
        "The site has no data on seagrass cover",
        "does not meet the standing conditions",
        "the site has no map of the seagrass",
        "NTU are not mg/L",
    ):
        assert said in lacking, said
    spared = _table(folder, "habitat_units_spared")
    assert spared[["spared_before", "spared_after", "spared_change"]].isna().all(axis=None)
    threat = _table(folder, "classes").query("kind == 'threat'").set_index("class")
    assert threat.loc["no data", "hectares_before"] == threat["hectares_before"].sum()


def test_hectares_are_whole_cells_of_water_before_and_after(folder, appraisal):
    classes = _table(folder, "classes").query("kind == 'suitability'")
    water = (appraisal.before.layers["surface"] > 1).sum().item() * CELL**2 / 1e4  # codes of 2 and more are not land
    assert classes["hectares_before"].sum() == pytest.approx(water)
    assert classes["hectares_after"].sum() == pytest.approx(water), "no land is dug and no water filled"
    units = _table(folder, "habitat_units").iloc[0]
    # all that can change lies where something is dug, a factor cannot move by more than its whole range
    assert abs(units["units_change"]) < 60 * CELL**2 / 1e4
    assert math.isclose(units["units_after"] - units["units_before"], units["units_change"], abs_tol=0.011)


def test_the_reader_is_told_that_the_channel_is_narrower_than_a_cell(folder):
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(folder / "report.pdf").pages).split())
    assert "dredged area 1 (Bank cut): it is about 1" in text
    assert "a cell 200 m" in text
