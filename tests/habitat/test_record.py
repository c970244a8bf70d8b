"""The record of the small site, looked at as others would: with sha256sum, zipfile, rasterio and tomllib."""

import hashlib
import shutil
import struct
import subprocess
import tomllib
import zipfile

import numpy as np
import pytest
import rasterio

from habitat.assessment import assess
from habitat.record import write_record
from habitat.record_cells import cells_digest
from habitat.record_contents import companions, in_order
from habitat.record_file import open_record
from habitat.site_map import map_site
from layers.fault import RecordError
from tests.records import members, write_brief_site
from tests.sites import SIGHTINGS, degrees

DATE = "2026-03-05"


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return map_site(write_brief_site(tmp_path_factory.mktemp("site") / "small"))


@pytest.fixture(scope="module")
def path(found, tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.zip"
    write_record(path, found, date=DATE, author="The testers", reason="a test")
    return path


@pytest.fixture(scope="module")
def content(path):
    return members(path)


@pytest.fixture(scope="module")
def table(content):
    return tomllib.loads(content["record.toml"].decode("utf-8"))


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_sha256sum_itself_checks_the_list_and_gives_the_digest_of_the_record(path, tmp_path):
    with zipfile.ZipFile(path) as archive:
        archive.extractall(tmp_path)
    ran = subprocess.run(
        ["sha256sum", "-c", "--strict", "members.sha256"], cwd=tmp_path, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout
    listed = {line.rpartition(": ")[0] for line in ran.stdout.splitlines()}
    assert listed == set(members(path)) - {"members.sha256", "made.toml"}
    root = subprocess.run(["sha256sum", "members.sha256"], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert root.stdout.split()[0] == open_record(path).root
    (tmp_path / "profile.toml").write_text("other")
    again = subprocess.run(["sha256sum", "-c", "members.sha256"], cwd=tmp_path, capture_output=True, text=True)
    assert again.returncode == 1
    assert "profile.toml: FAILED" in again.stdout


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_sha256sum_checks_a_folder_of_results_by_the_list_in_the_record(found, tmp_path):
    folder = tmp_path / "results"
    (folder / "tables").mkdir(parents=True)
    (folder / "tables" / "layers.csv").write_text("layer\n")
    (folder / "map.png").write_text("bears a date")
    write_record(tmp_path / "record.zip", found, date=DATE, files=folder)
    (tmp_path / "files.sha256").write_bytes(members(tmp_path / "record.zip")["files.sha256"])
    ran = subprocess.run(["sha256sum", "-c", "../files.sha256"], cwd=folder, capture_output=True, text=True)
    assert (ran.returncode, ran.stdout) == (0, "tables/layers.csv: OK\n")


def test_the_same_run_is_the_same_file_and_who_and_when_touch_only_the_shell(found, path, tmp_path):
    same = write_record(tmp_path / "same.zip", found, date=DATE, author="The testers", reason="a test")
    assert (tmp_path / "same.zip").read_bytes() == path.read_bytes()
    other = write_record(tmp_path / "other.zip", found, date="2031-01-01", author="Somebody", reason="another")
    assert same == other == open_record(path).root
    assert (tmp_path / "other.zip").read_bytes() != path.read_bytes()
    assert open_record(tmp_path / "other.zip").made == {
        "author": "Somebody",
        "date": "2031-01-01",
        "reason": "another",
    }


def test_one_more_run_from_the_files_with_other_threads_has_the_same_digest(found, path, tmp_path):
    again = map_site(found.inputs.site.path, workers=1)
    assert write_record(tmp_path / "again.zip", again, date=DATE) == open_record(path).root


def test_the_digest_of_cells_is_that_of_type_shape_and_little_endian_bytes():
    # worked with struct and hashlib of the standard library
    values = np.array([[0.5, np.nan], [-0.0, 3.0]], np.float32)
    packed = struct.pack("<f", 0.5) + bytes.fromhex("0000c07f") + struct.pack("<ff", 0.0, 3.0)
    assert cells_digest(values) == hashlib.sha256(b"float32 2,2\n" + packed).hexdigest()
    assert cells_digest(values.astype(">f4")) == cells_digest(np.asfortranarray(values)) == cells_digest(values)
    assert len({cells_digest(one) for one in (values, values[:1], values.reshape(1, 4), values.astype("f8"))}) == 4


def test_one_thread_two_threads_and_blocks_have_the_same_digests(found, table):
    told = {one["name"]: one["sha256"] for one in table["results"]}
    for workers in (1, 2):
        scores = assess(found.layers, found.profile, workers=workers)
        assert {name: cells_digest(layer) for name, layer in scores.data_vars.items()} == told
    blocks = assess(found.layers.chunk({"y": 7, "x": 11}), found.profile)
    assert blocks["suitability"].chunks
    assert {name: cells_digest(layer) for name, layer in blocks.data_vars.items()} == told


def test_inputs_are_in_it_with_size_and_digest_but_for_sightings(found, content, table):
    folder = found.inputs.site.path.parent
    for one in table["inputs"]:
        for part in one["parts"]:
            held = (folder / part["file"]).read_bytes()
            assert (part["bytes"], part["sha256"]) == (len(held), hashlib.sha256(held).hexdigest())
            assert content.get(f"inputs/{part['file']}") == (None if one["withheld"] else held)
    assert [one["name"] for one in table["inputs"] if one["withheld"]] == ["seen"]
    assert len(table["inputs"]) == len(found.inputs.site.files)


def test_no_place_of_an_animal_is_in_any_member(content):
    for x, y in SIGHTINGS:
        for number in (x, y, *degrees(x, y)):
            texts = {f"{number:.{digits}f}".encode() for digits in (5, 6)} | {repr(float(number)).encode()}
            patterns = {struct.pack(form, number) for form in ("<d", ">d")} | texts
            held = [name for name, text in content.items() if any(pattern in text for pattern in patterns)]
            assert held == []
    assert not any("seen.csv" in name for name in content)


def test_sightings_declared_open_and_files_declared_sensitive_stay_out(tmp_path):
    site = write_brief_site(tmp_path / "small")
    text = site.read_text().replace('feeds = "sighting"', 'feeds = "sighting"\nsensitive = false')
    text = text.replace('feeds = "net"', 'feeds = "net"\nsensitive = true')
    site.write_text(text)
    write_record(tmp_path / "record.zip", map_site(site), date=DATE, largest_input=5_000, most_cell_bytes=0)
    content = members(tmp_path / "record.zip")
    told = {one["name"]: one for one in tomllib.loads(content["record.toml"].decode())["inputs"]}
    assert {name for name, one in told.items() if one["withheld"] == "sensitive"} == {"seen", "nets"}
    assert told["coast"]["withheld"] == "larger than 5,000 bytes"
    assert not {"inputs/seen.csv", "inputs/nets.gpkg", "inputs/coast.gpkg"} & set(content)
    assert "inputs/tide.csv" in content
    readme = content["README.txt"].decode()
    assert told["coast"]["sha256"] in readme
    assert "Get it from: written for a test; licence: CC0-1.0" in " ".join(readme.split())
    # no cells of layers and parts, but always the classes and scores
    assert {name for name in content if name.endswith(".tif") and name.startswith("layers/")} == set()
    assert {"results/suitability_class.tif", "results/threat.tif"} < set(content)
    assert not any(name.startswith("results/index_") for name in content)


def test_every_layer_is_told_after_those_it_is_made_from(found, table):
    names = [step["name"] for step in table["steps"]]
    assert names == in_order(found.derivation)
    assert set(names) == set(found.layers.data_vars)
    for place, step in enumerate(table["steps"]):
        assert set(step["parents"]) <= set(names[:place])
        assert step["function"].startswith("layers.")
        assert step["sha256"] == cells_digest(found.layers[step["name"]])
    (mixed,) = (step for step in table["steps"] if step["name"] == "nitrogen_concentration")
    assert any(number.startswith("mixing.dispersion = 5 m2/s") for number in mixed["numbers"])
    assert "outlets.geojson" in mixed["files"]


def test_class_maps_are_plain_geotiff(content, found):
    with rasterio.io.MemoryFile(content["results/suitability_class.tif"]) as memory, memory.open() as file:
        assert file.descriptions == ("wet", "dry")
        assert np.array_equal(file.read(), found.assessment["suitability_class"])
        assert file.crs.to_epsg() == 32745
    assert b"good habitat" in content["results/suitability_class.tif.aux.xml"]


def test_versions_are_those_the_libraries_tell_of_themselves(table):
    import numba
    import pyproj
    import shapely
    import xarray

    said = table["software"]
    assert said["numpy"] == np.__version__
    assert said["numba"] == numba.__version__
    assert said["xarray"] == xarray.__version__
    assert said["GDAL"] == rasterio.__gdal_version__
    assert said["PROJ"] == pyproj.proj_version_str
    assert said["GEOS"] == shapely.geos_version_string.split("-")[0]
    assert {"family", "processor", "system"} == set(table["machine"])


def test_the_cells_come_back_as_they_were(path, found):
    record = open_record(path)
    for told in (*record.table.steps, *record.table.results):
        source = found.layers if told.name in found.layers else found.assessment
        cells = record.cells(told)
        np.testing.assert_array_equal(cells.to_numpy(), source[told.name].to_numpy())
        np.testing.assert_array_equal(cells["x"], found.assessment["x"])


def test_an_input_changed_since_the_map_was_made_is_refused(tmp_path):
    found = map_site(write_brief_site(tmp_path / "small"))
    (tmp_path / "small" / "tide.csv").write_text("name,amplitude,phase\nM2,0.6,10\n")
    with pytest.raises(RecordError) as refusal:
        write_record(tmp_path / "record.zip", found, date=DATE)
    assert str(refusal.value) == (
        "record: 1 problem\n  tide.csv: it was changed or moved since it was read, so the record would not be of this "
        "map. Make the map again."
    )
    assert not (tmp_path / "record.zip").exists()


def test_a_shapefile_comes_with_its_parts(tmp_path):
    for suffix in (".shp", ".shx", ".dbf", ".prj", ".txt"):
        (tmp_path / f"nets{suffix}").write_text(suffix)
    (tmp_path / "nets.shp.aux.xml").write_text("x")
    names = [path.name for path in companions(tmp_path / "nets.shp")]
    assert names == ["nets.shp", "nets.shx", "nets.dbf", "nets.prj", "nets.shp.aux.xml"]
