"""Two records or profiles side by side, and the commands on records with their exit codes."""

import argparse
import shutil

import numpy as np
import pandas as pd
import pytest
import rasterio
import xarray as xr

from habitat.cli_record import DIFFERENT_CODE, SAME_CODE, WITHIN_CODE, add_commands
from habitat.compare import compare
from habitat.compare_maps import changed_hectares, hectares_of_classes, map_comparisons
from habitat.compare_parameters import parameter_changes
from habitat.compare_text import comparison_text
from habitat.profile import read_profile
from habitat.profile_text import profile_text
from habitat.record import write_record
from habitat.record_cells import cell_difference, difference_map
from habitat.site_map import map_site
from layers.fault import FaultyFileError, RecordError
from tests.records import edited, members, sealed, write_brief_site


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return write_brief_site(tmp_path_factory.mktemp("site") / "small").parent


@pytest.fixture(scope="module")
def maps(site):
    """The site with the profile beside it, and with forage weighed less."""
    profile = read_profile(site / "profile.toml")
    return map_site(site), map_site(site, profile.with_weight("forage", 1.0))


@pytest.fixture(scope="module")
def records(maps, tmp_path_factory):
    folder = tmp_path_factory.mktemp("records")
    for name, found in zip(("first", "second"), maps, strict=True):
        write_record(folder / f"{name}.zip", found, date="2026-03-05")
    return folder / "first.zip", folder / "second.zip"


def classes(*rows: str) -> xr.DataArray:
    values = np.array([[int(code) for code in row] for row in rows], np.uint8)
    coordinates = {"y": np.arange(len(values))[::-1] * 10.0, "x": np.arange(values.shape[1]) * 10.0}
    return xr.DataArray(values, dims=("y", "x"), coords=coordinates, name="suitability_class")


def test_maps_of_classes_by_hand():
    # nine cells of 2 ha: of the seven with a class on both, 1 -> 2 once and 2 -> 1 once (places), 3 -> 2 once (amounts)
    first, second = classes("112", "223", "330"), classes("121", "222", "300")
    (found,) = map_comparisons({"suitability_class": first}, {"suitability_class": second}, cell_hectares=2)
    assert found.disagreement.quantity == pytest.approx(1 / 7)
    assert found.disagreement.allocation == pytest.approx(2 / 7)
    assert found.changes.loc["poor habitat", "fair habitat"] == 2
    assert found.changes.loc["good habitat", "no data"] == 2
    assert not found.is_same
    (same,) = map_comparisons({"suitability_class": first}, {"suitability_class": first}, cell_hectares=2)
    assert same.is_same
    tables = [hectares_of_classes({"suitability_class": one}, cell_hectares=2) for one in (first, second)]
    assert tables[0]["hectares"].tolist() == [4, 6, 6]
    changed = changed_hectares(*tables)
    assert changed[["class", "first", "second", "change"]].to_numpy().tolist() == [
        ["fair habitat", 6.0, 8.0, 2.0],
        ["good habitat", 6.0, 2.0, -4.0],
    ]


def test_a_class_that_one_map_has_not_has_no_change():
    one = hectares_of_classes({"suitability_class": classes("1")}, cell_hectares=1)
    changed = changed_hectares(one, one.iloc[1:])
    assert changed["class"].tolist() == ["poor habitat"]
    assert pd.isna(changed["change"][0])


def test_maps_of_two_grids_are_refused():
    first = classes("12")
    moved = first.assign_coords(x=first["x"] + 5)
    with pytest.raises(ValueError, match="not of one grid"):
        map_comparisons({"suitability_class": first}, {"suitability_class": moved}, cell_hectares=1)


def test_the_worst_cell_is_the_one_without_data_on_one_side():
    nan = np.nan
    first = classes("00", "00").astype("float32").copy(data=np.array([[1, nan], [3, 4]], "f4"))
    second = first.copy(data=np.array([[9, nan], [nan, 4.5]], "f4"))
    first.attrs = second.attrs = {"long_name": "a score", "units": "1"}
    found = cell_difference(first, second)
    assert (found.count, found.of, found.one_sided, found.largest) == (3, 4, 1, 8.0)
    assert (found.row, found.column, found.easting, found.northing) == (2, 1, 0.0, 0.0)
    assert not found.is_rounding
    assert cell_difference(first, second, tolerance=10).count == 1
    assert cell_difference(first, first) is None
    assert cell_difference(first, first * np.float32(1 + 1e-6)).is_rounding
    np.testing.assert_array_equal(difference_map(first, second), np.array([[8, nan], [nan, 0.5]], "f4"))
    with pytest.raises(ValueError, match="shape"):
        cell_difference(first, second[:1])


def test_parameters_are_told_by_path():
    before = {"a": {"list": [1, 2], "flag": True, "points": [[0, 0], [1, 1]]}, "gone": "x", "tables": [{"k": 1}]}
    after = {"a": {"list": [1, 3], "flag": 1, "points": [[0, 0], [1, 2]]}, "tables": [{"k": 1.0}, {"k": 2}], "new": {}}
    assert [str(one) for one in parameter_changes("site", before, after)] == [
        "site a.list: [1, 2] -> [1, 3]",
        "site a.flag: true -> 1",
        "site a.points[1]: [1, 1] -> [1, 2]",
        'site gone: "x" -> absent',
        "site tables[1].k: absent -> 2",
        "site new: absent -> {}",
    ]


def test_two_records_differ_in_what_was_changed_and_in_what_came_of_it(records, maps):
    found = compare(*records)
    assert [str(one) for one in found.parameters] == ["profile factors.forage.weight: 4 -> 1"]
    assert found.inputs == found.software == found.remarks == ()
    assert not found.is_same
    codes = [one.assessment["suitability_class"].sel(season="wet").to_numpy() for one in maps]
    (wet,) = (one for one in found.maps if (one.name, one.season) == ("suitability_class", "wet"))
    both = (codes[0] > 0) & (codes[1] > 0)
    assert wet.disagreement.total == pytest.approx(np.mean(codes[0][both] != codes[1][both]))
    assert wet.disagreement.total > 0
    row = found.hectares.query("map == 'suitability_class' and season == 'wet'").iloc[0]
    code = ["poor habitat", "fair habitat", "good habitat"].index(row["class"]) + 1
    assert [row["first"], row["second"]] == [np.count_nonzero(one == code) * 0.25 for one in codes]
    said = comparison_text(found)
    assert "Numbers and words\n  profile factors.forage.weight: 4 -> 1" in said
    assert "suitability class, wet: The two maps differ on" in said


def test_a_record_and_itself_or_its_folder_do_not_differ(records, tmp_path):
    shutil.copy(records[0], tmp_path / "record.zip")
    found = compare(records[0], tmp_path)
    assert found.is_same
    assert comparison_text(found) == "first.zip and record.zip: nothing differs."


def test_files_and_versions_are_told(records, tmp_path):
    content = members(records[0])
    text = content["record.toml"].decode()
    tide = text.index('file = "tide.csv"\nbytes')
    text = text[:tide] + text[tide:].replace('sha256 = "', 'sha256 = "0000', 1).replace("0000", "0000", 1)
    start = text.index('sha256 = "0000', tide) + len('sha256 = "')
    text = text[: start + 64] + text[start + 68 :]  # still 64 digits
    text = text.replace('shallows = "', 'shallows = "9.', 1)
    other = compare(records[0], sealed(tmp_path / "r.zip", {**content, "record.toml": text.encode()}))
    assert [one.partition(":")[0] for one in other.inputs] == ["tide.csv"]
    assert [one.name for one in other.software] == ["shallows"]
    assert all(one.is_same for one in other.maps)
    assert not other.is_same


def test_other_grids_are_compared_by_hectares_alone(site, records, tmp_path):
    write_record(tmp_path / "coarse.zip", map_site(site, cell=250), date="2026-03-05")
    found = compare(records[0], tmp_path / "coarse.zip")
    assert found.maps is None
    assert "The grids differ" in comparison_text(found)
    assert len(found.hectares)


def test_profiles_are_compared_as_text(tmp_path):
    path = tmp_path / "mine.toml"
    text = profile_text(read_profile("marine_seagrass_grazer"))
    assert "[0.05, 0.3]" in text
    path.write_text(text.replace("[0.05, 0.3]", "[0.05, 0.25]", 1), encoding="utf-8")
    found = compare("marine_seagrass_grazer", path)
    assert [str(one) for one in found.parameters] == ["profile factors.forage.points[1]: [0.05, 0.3] -> [0.05, 0.25]"]
    assert compare(path, path).is_same


def test_a_profile_and_a_record_are_refused(records):
    with pytest.raises(RecordError, match="a profile cannot be compared with a record"):
        compare(records[0], "marine_seagrass_grazer")


def run(*words: object) -> int:
    """What the command line does: the code of the command, or 2 for what a person can mend."""
    parser = argparse.ArgumentParser()
    add_commands(parser.add_subparsers(required=True))
    chosen = parser.parse_args([str(word) for word in words])
    try:
        return chosen.run(chosen)
    except FaultyFileError as fault:
        print(fault)
        return 2


def test_record_tells_what_is_in_it(records, capsys):
    assert run("record", records[0]) == SAME_CODE
    said = capsys.readouterr().out
    assert "first.zip: Small site, a map with Marine seagrass grazer" in said
    assert "seen.csv: sensitive; from written for a test (CC0-1.0)" in said
    assert "30 x 40 cells of 50 m" in said


def test_reproduce_answers_by_its_exit_code(records, site, tmp_path, capsys):
    assert run("reproduce", records[0]) == SAME_CODE
    folder = shutil.copytree(site, tmp_path / "site")
    tide = folder / "tide.csv"
    tide.write_text(tide.read_text().replace("M2,0.5,", "M2,0.6,"))
    assert run("reproduce", records[0], "--inputs", folder, "--differences", tmp_path / "maps") == DIFFERENT_CODE
    assert "First cause: tide.csv has other bytes" in capsys.readouterr().out
    with rasterio.open(tmp_path / "maps" / "suitability_difference.tif") as file:
        assert np.nanmax(np.abs(file.read())) > 0
    assert run("reproduce", records[0], "--tolerance", "1", "--differences", tmp_path / "maps") == 2
    assert "exists already" in capsys.readouterr().out
    (tmp_path / "cut.zip").write_bytes(records[0].read_bytes()[:5000])
    assert run("reproduce", tmp_path / "cut.zip") == 2
    with pytest.raises(SystemExit):
        run("reproduce", records[0], "--tolerance", "2")


def test_reproduce_says_within_tolerance_where_a_part_alone_differs(records, tmp_path):
    # a digest of a layer that the record does not keep: nothing but the digest differs
    def slip(text: str) -> str:
        place = text.index('name = "salinity"\ntype')
        start = text.index('sha256 = "', place) + len('sha256 = "')
        end = text.index('raster = "', place)
        stop = text.index("\n", end)
        return text[:start] + "0" * 64 + text[start + 64 : end] + 'raster = ""' + text[stop:]

    assert run("reproduce", edited(records[0], tmp_path / "r.zip", "record.toml", slip)) == WITHIN_CODE


def test_compare_answers_by_its_exit_code(records, tmp_path, capsys):
    assert run("compare", records[0], records[0], "--differences", tmp_path / "none") == DIFFERENT_CODE - 1
    assert not (tmp_path / "none").exists()
    assert run("compare", *records, "--differences", tmp_path / "maps") == DIFFERENT_CODE
    assert "profile factors.forage.weight" in capsys.readouterr().out
    # threat is the same in both, so there is nothing to draw
    assert [path.name for path in (tmp_path / "maps").iterdir()] == ["suitability_difference.tif"]
    assert run("compare", "marine_seagrass_grazer", "estuarine_grazer") == DIFFERENT_CODE
    assert run("compare", records[0], "estuarine_grazer") == 2
