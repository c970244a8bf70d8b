"""A map made again from its record: the same, nearly the same, or not, with the first cause found and named."""

import shutil
import tomllib

import numpy as np
import pytest
import rasterio

from habitat.appraisal import appraise
from habitat.appraisal_account import account_of
from habitat.approved import with_approved
from habitat.compare_maps import write_difference_maps
from habitat.conditions import read_conditions
from habitat.proposal import proposal_of_features, read_proposal
from habitat.record import write_record
from habitat.record_cells import cells_digest
from habitat.record_file import open_record
from habitat.reproduce import DIFFERENT, SAME, TOLERANCE, WITHIN, reproduce
from habitat.reproduce_text import difference_pairs, reproduction_text
from habitat.site_map import map_site
from layers.fault import LayerError, RecordError
from layers.geotiff import write_geotiff
from tests.proposals import CHANNEL, DREDGED, MEADOW, PLANTED, frame, write
from tests.records import edited, members, sealed, write_brief_site


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return write_brief_site(tmp_path_factory.mktemp("site") / "small").parent


@pytest.fixture(scope="module")
def found(site):
    return map_site(site)


@pytest.fixture(scope="module")
def path(found, tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.zip"
    write_record(path, found, date="2026-03-05")
    return path


@pytest.fixture
def folder(site, tmp_path):
    """A copy of the site, to be changed."""
    return shutil.copytree(site, tmp_path / "site")


def change(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def nudged(path, target, name, by, *, software=None):
    """The record with one score changed by `by` in one cell, sealed again, and another version of a library."""
    record, content = open_record(path), members(path)
    told = next(one for one in record.table.results if one.name == name)
    cells = record.cells(told)
    place = tuple(np.argwhere(np.isfinite(cells.to_numpy()) & (cells.to_numpy() > 0.1) & (cells.to_numpy() < 0.9))[0])
    cells.to_numpy()[place] += np.float32(by)
    write_geotiff(cells, target.with_suffix(".tif"))
    text = content["record.toml"].decode().replace(told.sha256, cells_digest(cells))
    for library, version in (software or {}).items():
        text = text.replace(f'{library} = "{record.table.software[library]}"', f'{library} = "{version}"')
    held = {**content, told.raster: target.with_suffix(".tif").read_bytes(), "record.toml": text.encode()}
    return sealed(target, held), place


def test_the_same_files_give_the_same_map_and_sightings_are_not_missed(path):
    made = reproduce(path)
    assert (made.verdict, made.cause, made.changes) == (SAME, None, ())
    assert made.inputs == made.parameters == made.software == made.machine == ()
    assert [one.file for one in made.left_out] == ["seen.csv"]
    said = reproduction_text(made)
    assert "the map made again is the same: every cell of" in said
    assert "Left out, since they are withheld and no layer is made from them: seen.csv." in said


def test_one_digit_of_a_tide_is_traced_to_its_file_its_layer_and_its_cells(path, found, folder, tmp_path):
    change(folder / "tide.csv", "M2,0.5,", "M2,0.6,")
    made = reproduce(path, folder)
    assert made.verdict == DIFFERENT
    assert made.cause.kind == "input"
    assert made.cause.said == (
        'tide.csv has other bytes than in the record (line 2: "M2,0.5,10.0" in the record, "M2,0.6,10.0" now)'
    )
    # the cells, counted from two plain maps
    name = made.cause.first.name
    one, other = found.layers[name].to_numpy(), map_site(folder).layers[name].to_numpy()
    apart = ~((one == other) | (np.isnan(one) & np.isnan(other)))
    cells = made.cause.first.cells
    assert cells.count == np.count_nonzero(apart) > 0
    assert (cells.recorded, cells.found) == pytest.approx(
        (one[..., cells.row - 1, cells.column - 1].ravel()[0], other[..., cells.row - 1, cells.column - 1].ravel()[0]),
        nan_ok=True,
    )
    assert cells.easting == 500_000 + 50 * (cells.column - 0.5)
    assert cells.northing == 7_771_500 - 50 * (cells.row - 0.5)
    assert {step.name for step in made.record.table.steps if step.name == name and "tide" in step.feeds}
    said = reproduction_text(made)
    assert f"First layer that differs: {name}: {cells.count:,} of" in said
    assert "suitability class, wet:" in said
    (drawn, *_) = write_difference_maps(tmp_path / "differences", difference_pairs(made))
    with rasterio.open(drawn) as file:
        both = np.isfinite(one) & np.isfinite(other)
        assert np.array_equal(np.isfinite(file.read(1)), both)
        np.testing.assert_allclose(file.read(1)[both], (other.astype(float) - one)[both], atol=1e-6)


def test_other_bytes_that_change_no_cell_are_told_and_are_the_same_map(path, folder):
    change(folder / "tide.csv", "M2,0.5,10.0", "M2,0.50,10.0")
    made = reproduce(path, folder)
    assert made.verdict == SAME
    assert "What differs from the record and changes no cell\n  tide.csv has other bytes" in reproduction_text(made)


@pytest.mark.parametrize(
    ("file", "old", "new", "said", "first"),
    [
        (
            "site.toml",
            "{ value = 5, ",
            "{ value = 6, ",
            "site mixing.dispersion.value: 5 -> 6",
            "nitrogen_concentration",
        ),
        ("site.toml", "stations = 3000", "stations = 900", "site reach.stations: 3000 -> 900", "salinity"),
        ("profile.toml", "weight = 4", "weight = 3", "profile factors.forage.weight: 4 -> 3", "suitability"),
        (
            "profile.toml",
            "[0.05, 0.3]",
            "[0.05, 0.35]",
            "profile factors.forage.points[1]: [0.05, 0.3] -> [0.05, 0.35]",
            "index_forage",
        ),
    ],
)
def test_one_parameter_is_found_and_named_by_its_path(path, folder, file, old, new, said, first):
    change(folder / file, old, new)
    made = reproduce(path, folder)
    assert made.verdict == DIFFERENT
    assert (made.cause.kind, made.cause.said) == ("parameter", said)
    assert first in {made.cause.first.name, *(one.name for one in made.changes)}
    if first not in ("index_forage",):
        assert made.cause.first.name == first


def test_a_title_or_the_name_of_a_file_changes_no_cell_and_is_told(path, folder):
    (folder / "tide.csv").rename(folder / "tides.csv")
    change(folder / "site.toml", 'file = "tide.csv"', 'file = "tides.csv"')
    change(folder / "site.toml", "Small site", "Another site")
    made = reproduce(path, folder)
    assert made.verdict == SAME
    assert [str(one) for one in made.parameters] == [
        'site title: "Small site" -> "Another site"',
        'site files.tide.file: "tide.csv" -> "tides.csv"',
    ]


def test_another_cell_is_another_grid_and_no_cell_is_compared(path, folder):
    change(folder / "site.toml", "cell = 50", "cell = 250")
    made = reproduce(path, folder)
    assert made.verdict == DIFFERENT
    assert made.cause.said == "site grid.cell: 50 -> 250"
    assert made.cause.first.cells is None
    assert "30 x 40" in str(made.cause.first)
    assert "6 x 8" in str(made.cause.first)
    assert "ha ->" in reproduction_text(made)


def test_a_cell_size_given_by_hand_is_kept(site, tmp_path):
    write_record(tmp_path / "coarse.zip", map_site(site, cell=100), date="2026-03-05")
    made = reproduce(tmp_path / "coarse.zip", site)
    assert made.verdict == SAME
    assert made.found.inputs.site.grid.cell == 100


def test_another_profile_on_purpose_is_told_parameter_by_parameter(path):
    made = reproduce(path, profile="estuarine_grazer")
    assert (made.verdict, made.is_other_profile) == (DIFFERENT, True)
    assert any(one.path == "factors.forage.weight" for one in made.parameters)
    assert made.cause.kind == "parameter"
    assert "What it changes" in reproduction_text(made)


def test_another_version_is_named_and_last_digits_are_within_tolerance(path, tmp_path):
    near, place = nudged(path, tmp_path / "near.zip", "suitability", TOLERANCE / 3, software={"numpy": "0.0.1"})
    made = reproduce(near)
    assert made.verdict == WITHIN
    assert made.cause.kind == "version"
    assert made.cause.said == f"numpy: 0.0.1 -> {np.__version__}"
    assert made.cause.first.cells.count == 1
    assert (made.cause.first.cells.row - 1, made.cause.first.cells.column - 1) == place[-2:]
    assert reproduce(near, tolerance=TOLERANCE / 10).verdict == DIFFERENT


def test_a_version_alone_is_told_and_is_the_same_map(path, tmp_path):
    now = tomllib.loads(members(path)["record.toml"].decode())["software"]["scipy"]
    made = reproduce(
        edited(path, tmp_path / "r.zip", "record.toml", lambda text: text.replace(f'"{now}"', '"0.19"', 1))
    )
    assert made.verdict == SAME
    assert [str(one) for one in made.software] == [f"scipy: 0.19 -> {now}"]
    assert f"changes no cell\n  scipy: 0.19 -> {now}" in reproduction_text(made)


def test_a_score_off_by_more_than_the_tolerance_with_nothing_else_is_laid_to_the_code(path, tmp_path):
    far, _ = nudged(path, tmp_path / "far.zip", "suitability", 3 * TOLERANCE)
    made = reproduce(far)
    assert made.verdict == DIFFERENT
    assert made.cause.kind == "function"
    assert made.cause.said.startswith("habitat.assessment.assess gives something else from the same files")


def test_a_file_that_was_too_large_is_asked_for_and_taken_from_a_folder(found, site, tmp_path):
    path = tmp_path / "slim.zip"
    write_record(path, found, date="2026-03-05", largest_input=5_000, most_cell_bytes=0)
    with pytest.raises(RecordError) as refusal:
        reproduce(path)
    assert "bed.tif: it is not in the record (larger than 5,000 bytes), and layers were made from it." in str(
        refusal.value
    )
    assert "written for a test (CC0-1.0)" in str(refusal.value)
    assert reproduce(path, site).verdict == SAME


def test_cells_that_only_a_digest_tells_of_are_judged_by_the_scores(found, site, folder, tmp_path):
    write_record(tmp_path / "slim.zip", found, date="2026-03-05", most_cell_bytes=0)
    change(folder / "tide.csv", "M2,0.5,", "M2,0.6,")
    made = reproduce(tmp_path / "slim.zip", folder)
    assert made.verdict == DIFFERENT
    assert made.cause.kind == "input"
    assert "keeps its digest alone" in str(made.cause.first)


def test_threads_do_not_matter(path):
    assert reproduce(path, workers=1).verdict == SAME  # the record was made with one for each core


def test_inputs_that_are_not_those_told_of_or_point_elsewhere_are_refused(path, tmp_path):
    content = members(path)
    with pytest.raises(RecordError, match=r"tide\.csv: it is not the file that record\.toml tells of"):
        reproduce(sealed(tmp_path / "r.zip", {**content, "inputs/tide.csv": b"name,amplitude,phase\nM2,1,10\n"}))
    pointer = b"<VRTDataset><SourceFilename>/etc/passwd</SourceFilename></VRTDataset>"
    with pytest.raises(RecordError, match=r"bed\.tif: it points to other files"):
        reproduce(sealed(tmp_path / "r.zip", {**content, "inputs/bed.tif": pointer}))
    without = {name: held for name, held in content.items() if name != "inputs/tide.csv"}
    with pytest.raises(RecordError, match=r"tide\.csv: it is not in the record, and layers were made from it"):
        reproduce(sealed(tmp_path / "r.zip", without))


@pytest.mark.parametrize("file", ["/etc/passwd", "../../outside.tif", "/vsicurl/http://127.0.0.1:9/bed.tif"])
def test_a_site_file_that_leads_out_of_its_folder_is_refused(path, tmp_path, file):
    led = edited(path, tmp_path / "r.zip", "site.toml", lambda text: text.replace('"bed.tif"', f'"{file}"'))
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(LayerError, match="lies outside the folder of the site"):
        reproduce(led)
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("file", ["../secret.csv", "/etc/passwd", "c:/secret.csv", "..\\secret.csv"])
def test_a_record_whose_inputs_lead_out_of_their_folder_is_refused(path, folder, tmp_path, file):
    led = edited(path, tmp_path / "r.zip", "record.toml", lambda text: text.replace('"tide.csv"', repr(file)))
    with pytest.raises(RecordError, match="lies outside its folder"):
        reproduce(led, folder)


def test_of_a_long_line_the_part_that_differs_is_told(path, folder, tmp_path):
    long, changed = (f"M2,0.5{'0' * 200}{digit}{'0' * 200},10.0" for digit in "12")
    led = edited(path, tmp_path / "r.zip", "inputs/tide.csv", lambda text: text.replace("M2,0.5,10.0", long))
    change(folder / "tide.csv", "M2,0.5,10.0", changed)
    where = reproduce(led, folder).inputs[0].where
    assert "0010" in where and "0020" in where and len(where) < 250


def test_no_line_of_a_file_is_told_that_the_site_at_hand_holds_to_be_sensitive(path, folder):
    tide, site = folder / "tide.csv", folder / "site.toml"
    tide.write_text(tide.read_text("utf-8").replace("1", "2", 1), "utf-8")
    assert "line " in reproduce(path, folder).inputs[0].where
    text = site.read_text("utf-8")
    site.write_text(text.replace('file = "tide.csv"\n', 'file = "tide.csv"\nsensitive = true\n'), "utf-8")
    assert site.read_text("utf-8") != text
    assert "line " not in reproduce(path, folder).inputs[0].where


def test_a_folder_that_is_not_there_and_a_broken_site_file_are_said(path, folder):
    with pytest.raises(RecordError, match="there is no such folder"):
        reproduce(path, folder / "nowhere")
    (folder / "site.toml").write_text("format = ")
    with pytest.raises(LayerError, match=r"site\.toml: 1 problem"):
        reproduce(path, folder)


def test_an_appraisal_is_made_again_with_its_proposal_in_place(found, tmp_path):
    proposal = read_proposal(write(tmp_path / "channel.gpkg", (DREDGED, CHANNEL)), found.inputs)
    account = account_of(appraise(found, [proposal]), read_conditions())
    write_record(tmp_path / "record.zip", found, date="2026-03-05", account=account)
    record = open_record(tmp_path / "record.zip")
    assert [(one.name, one.features) for one in record.table.appraisal.proposals] == [("channel.gpkg", 1)]
    assert record.archive.read("proposals/1_channel.gpkg") == (tmp_path / "channel.gpkg").read_bytes()
    kept = tomllib.loads(record.archive.read("conditions.toml").decode())
    assert kept["title"] == account.conditions_title == record.table.appraisal.conditions
    after = account.appraisal.together
    changed = set(after.changed_layers) & set(after.layers.data_vars)
    assert {one.name for one in record.table.appraisal.steps} == changed
    made = reproduce(record)
    assert made.verdict == SAME
    after = after.assessment["suitability"]
    assert np.array_equal(made.after.assessment["suitability"], after, equal_nan=True)
    assert not np.array_equal(made.found.assessment["suitability"], after, equal_nan=True)


def test_what_is_approved_is_in_place_before_and_a_drawn_proposal_is_kept_as_a_file(found, tmp_path):
    approved = read_proposal(write(tmp_path / "old.gpkg", (DREDGED, CHANNEL)), found.inputs)
    before = with_approved(found, [approved])
    drawn = proposal_of_features("drawn", frame((PLANTED, MEADOW)), before.inputs)
    account = account_of(appraise(before, [drawn]), read_conditions())
    with pytest.raises(ValueError, match="not named as approved"):
        write_record(tmp_path / "record.zip", before, date="2026-03-05", account=account)
    write_record(tmp_path / "record.zip", before, date="2026-03-05", account=account, approved=[approved])
    record = open_record(tmp_path / "record.zip")
    assert [one.file for one in record.table.inputs] == [entry.path.name for entry in found.inputs.site.files]
    assert {"approved/1_old.gpkg", "proposals/1_drawn.gpkg"} < set(record.archive.digests)
    made = reproduce(record)
    assert made.verdict == SAME, reproduction_text(made)
    assert np.array_equal(made.found.assessment["suitability"], before.assessment["suitability"], equal_nan=True)
