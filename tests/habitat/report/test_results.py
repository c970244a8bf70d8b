"""The folder of results of the small site, looked at as its readers would: GDAL, GeoPandas, xarray, bytes."""

import hashlib
import itertools
import struct

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import xarray as xr
from pyproj import Transformer
from rio_cogeo.cogeo import cog_validate

from habitat.record_file import open_record
from habitat.report import results
from habitat.report.results import refuse_existing, write_results
from habitat.result import CONCERN_CLASSES
from habitat.site_map import map_site
from layers.fault import RecordError
from layers.grid import Grid
from tests.conventions import complaints
from tests.sites import CRS, SIGHTINGS, write_small_site

DATE = "2026-03-05"


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return map_site(write_small_site(tmp_path_factory.mktemp("site") / "small"))


@pytest.fixture(scope="module")
def folder(found, tmp_path_factory):
    folder = tmp_path_factory.mktemp("out") / "results"
    write_results(folder, found, date=DATE)
    return folder


def test_everything_is_there(folder):
    top = {path.name for path in folder.iterdir()}
    assert top == {
        "README.txt",
        "maps",
        "profile.toml",
        "rasters",
        "record.zip",
        "results.nc",
        "site.toml",
        "tables",
        "zones.gpkg",
    }
    assert {path.name for path in (folder / "maps").iterdir()} == {
        f"{name}_{season}.png"
        for name in ("suitability", "threat", "concern", "limiting_factor")
        for season in ("wet", "dry")
    }


def test_every_raster_is_a_valid_cloud_optimised_geotiff(folder):
    rasters = sorted(folder.rglob("*.tif"))
    assert len(rasters) > 30
    faulty = {path.name: cog_validate(path, strict=True, quiet=True)[1:] for path in rasters}
    assert {name: found for name, found in faulty.items() if found != ([], [])} == {}


def test_every_layer_and_score_has_its_raster_in_each_season(folder, found):
    for name, layer in [*found.layers.data_vars.items(), *found.assessment.data_vars.items()]:
        for season in layer["season"].values if "season" in layer.dims else [""]:
            part = layer.sel(season=season) if season else layer
            (path,) = folder.glob(f"rasters/**/{name}{'_' if season else ''}{season}.tif")
            with rasterio.open(path) as file:
                assert file.count == 1
                assert file.tags()["invented"] == "yes: not a real place"
                assert file.tags().get("season", "") == season
                if layer.dtype == np.uint8:
                    assert np.array_equal(file.read(1), part)
                else:
                    assert file.read(1) == pytest.approx(part.values, rel=2**-13, nan_ok=True)


def test_licence_and_credit_go_into_every_raster(folder):
    for path in folder.glob("rasters/layers/*.tif"):
        with rasterio.open(path) as file:
            assert (file.tags()["licence"], file.tags()["credit"]) == ("CC0-1.0", "nobody"), path.name


def test_numbers_have_a_style_and_classes_a_colour_table(folder):
    for path in folder.rglob("*.tif"):
        with rasterio.open(path) as file:
            if file.dtypes[0] == "float32":
                assert path.with_suffix(".sld").is_file()
                assert path.with_suffix(".qml").is_file()
            else:
                assert file.colormap(1)[1] != (0, 0, 0, 255)


def test_the_netcdf_holds_every_value_unrounded(folder, found):
    with xr.open_dataset(folder / "results.nc") as file:
        for name, layer in [*found.layers.data_vars.items(), *found.assessment.data_vars.items()]:
            assert np.array_equal(file[name].values, layer.values, equal_nan=layer.dtype.kind == "f"), name
        assert file.attrs["comment"].startswith("INVENTED SITE - not a real place. Screening-level evidence")


def test_zones_carry_their_hectares(folder):
    zones = gpd.read_file(folder / "zones.gpkg", layer="zones").set_index("name")
    # by hand: the inner zone is 750 m x 1500 m of water, the outer one as large
    columns = [f"{name}_habitat_wet_ha" for name in ("poor", "fair", "good")]
    assert zones.loc["Inner", columns].sum() == pytest.approx(112.5)
    assert zones.loc["Outer", columns].sum() == pytest.approx(112.5)


def test_polygons_of_concern_cover_the_cells_of_their_class(folder, found):
    polygons = gpd.read_file(folder / "zones.gpkg", layer="concern_dry")
    concern = found.assessment["concern"].sel(season="dry")
    grid = Grid.of(concern)
    assert polygons.geometry.is_valid.all()
    for row in polygons.itertuples():
        hectares = (concern.values == row.code).sum() * grid.cell_hectares
        assert (row.hectares, row.geometry.area / 10_000) == (pytest.approx(hectares), pytest.approx(hectares))
    assert dict(zip(polygons["code"], polygons["class"], strict=True)) == {
        code: CONCERN_CLASSES[code] for code in np.unique(concern.values[concern.values > 0])
    }


def test_the_tables_agree_with_the_cells(folder, found):
    table = pd.read_csv(folder / "tables" / "hectares_by_class.csv", keep_default_na=False)
    cells = (found.assessment["suitability_class"].sel(season="wet") == 3).sum().item()
    row = table.query("season == 'wet' and kind == 'suitability' and `class` == 'good habitat'")
    assert float(row["hectares"].item()) == pytest.approx(cells * 0.25)
    pressures = pd.read_csv(folder / "tables" / "pressures.csv")
    assert set(pressures["pressure"]) == {pressure.name for pressure in found.profile.pressures}
    layers = pd.read_csv(folder / "tables" / "layers.csv")
    assert set(layers["layer"]) == set(found.layers.data_vars) - {"surface"}


def test_site_and_profile_are_kept_word_for_word(folder, found):
    site = found.inputs.site.path
    assert (folder / "site.toml").read_bytes() == site.read_bytes()
    assert (folder / "profile.toml").read_bytes() == (site.parent / "profile.toml").read_bytes()


def test_the_record_holds_the_digest_of_every_raster_and_table_and_of_every_input(folder, found):
    record = open_record(folder)
    listed = dict(reversed(line.split("  ", 1)) for line in record.archive.read("files.sha256").decode().splitlines())
    kinds = (".tif", ".csv", ".nc", ".gpkg")
    held = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.suffix in kinds}
    assert listed == {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in held.items()}
    for entry in record.table.inputs:
        content = (found.inputs.site.path.parent / entry.file).read_bytes()
        assert hashlib.sha256(content).hexdigest() == entry.sha256


def test_a_folder_of_an_earlier_version_is_results_too(folder, tmp_path):
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "record.json").write_text('{"format": 1}')
    refuse_existing(tmp_path / "old", replace=True)


def test_the_readme_names_every_input_with_licence_and_credit(folder, found):
    text = (folder / "README.txt").read_text(encoding="utf-8")
    assert all(entry.path.name in text for entry in found.inputs.site.files)
    assert text.count("Licence: CC0-1.0. Credit: nobody.") == len(found.inputs.site.files)
    assert "Screening-level evidence; local law and licensed practice decide." in text
    assert "INVENTED SITE - not a real place." in text
    assert "Its records are withheld." in text


def test_no_byte_tells_where_an_animal_was_seen(folder, found):
    to_degrees = Transformer.from_crs(CRS, 4326, always_xy=True)
    secrets = set()
    for x, y in SIGHTINGS:
        for number in (x, y, *to_degrees.transform(x, y)):
            secrets |= {struct.pack(form, number) for form in ("<d", ">d", "<f", ">f")}
            secrets |= {f"{number:.{digits}f}".encode() for digits in (1, 3, 4, 5, 6)} | {repr(number).encode()}
    seen = found.inputs.features["seen"]
    secrets |= {struct.pack("<d", value) for point in seen.geometry for value in (point.x, point.y)}
    for path, secret in itertools.product((p for p in folder.rglob("*") if p.is_file()), secrets):
        assert secret not in path.read_bytes(), path.name
    # the search finds what is there: the source file gives itself away
    source = (found.inputs.site.path.parent / "seen.csv").read_bytes()
    assert any(secret in source for secret in secrets)


def test_no_file_names_a_folder_of_this_machine(folder, found):
    here = str(found.inputs.site.path.parent).encode()
    for path in folder.rglob("*"):
        if path.is_file():
            assert here not in path.read_bytes(), path.name
            assert str(folder).encode() not in path.read_bytes(), path.name


def test_steps_are_told_before_they_start(found, tmp_path, monkeypatch):
    monkeypatch.setattr(results, "_PARTS", results._PARTS[-1:])
    told = []
    write_results(tmp_path / "out", found, date=DATE, on_step=told.append)
    assert [str(step) for step in told] == ["1 of 1: writing the record"]


@pytest.mark.parametrize("end", [OSError("disk full"), KeyboardInterrupt()])
def test_a_failure_or_a_stop_half_way_leaves_nothing(found, tmp_path, monkeypatch, end):
    def fails(folder, found, date):
        raise end

    monkeypatch.setattr(results, "_PARTS", (("rasters", results._write_rasters), ("maps", fails)))
    with pytest.raises(type(end)):
        write_results(tmp_path / "out", found, date=DATE)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_folder_is_refused(tmp_path):
    (tmp_path / "mine").mkdir()
    with pytest.raises(RecordError) as refusal:
        refuse_existing(tmp_path / "mine")
    assert str(refusal.value) == (
        "mine: 1 problem\n  mine: exists already. Choose another name, or replace it with --replace."
    )


def test_only_results_are_ever_replaced(tmp_path, found, monkeypatch):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "thesis.txt").write_text("years of work")
    with pytest.raises(RecordError) as refusal:
        write_results(tmp_path / "mine", found, date=DATE, replace=True)
    assert str(refusal.value) == (
        "mine: 1 problem\n  mine: exists and is not a folder of results: it has no record.zip. "
        "Choose another name; only results are replaced."
    )
    assert (tmp_path / "mine" / "thesis.txt").read_text() == "years of work"
    monkeypatch.setattr(results, "_PARTS", results._PARTS[-1:])
    write_results(tmp_path / "old", found, date=DATE)
    (tmp_path / "old" / "stale.txt").write_text("from an earlier run")
    write_results(tmp_path / "old", found, date=DATE, replace=True)
    assert not (tmp_path / "old" / "stale.txt").exists()


def test_a_place_in_no_folder_is_refused(tmp_path):
    with pytest.raises(RecordError) as refusal:
        refuse_existing(tmp_path / "nowhere" / "out")
    assert str(refusal.value) == ("out: 1 problem\n  out: there is no folder nowhere to make it in. Make that first.")


def test_the_netcdf_passes_the_checker_of_the_cf_conventions(folder, tmp_path):
    assert complaints(folder / "results.nc", "cf:1.11", tmp_path) == []
