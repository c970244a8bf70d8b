"""What the page of review stands on: records opened with care, checks that judge as the command does, chains."""

from __future__ import annotations

import csv
import shutil
from dataclasses import replace

import holoviews as hv
import numpy as np
import pytest
from pyproj import Transformer

from habitat.record import write_record
from habitat.record_file import open_record
from habitat.reproduce import SAME, TOLERANCE, WITHIN, HeldAgainst
from habitat.reproduce_text import reproduction_text
from habitat.site_map import map_site
from habitat.view import review_desk
from habitat.view.desk import Work
from habitat.view.review_cell import chain_of_cell, nearest_rows
from habitat.view.review_checks import BUSY, DIFFERS, MADE, WAITING, checks_of, checks_words
from habitat.view.review_desk import (
    Review,
    ReviewDesk,
    copy_shown_files,
    made_again,
    opened_from_site,
    opened_upload,
    site_records,
)
from habitat.view.review_maps import apart_words, marked, side_map
from habitat.view.review_pairs import Pairs
from habitat.view.review_words import answer, cell_words, changes
from habitat.view.session import Picture
from layers.fault import RecordError
from layers.quantity import LAYERS
from tests.habitat.test_reproduce import nudged
from tests.records import edited, members, sealed, write_brief_site, written
from tests.sites import CRS, SIGHTINGS, degrees

hv.extension("bokeh")
WRONG = "M2,0.5,", "M2,0.6,"


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """A site with its record in it, and one digit altered since."""
    folder = write_brief_site(tmp_path_factory.mktemp("site") / "small").parent
    (folder / "published").mkdir()
    write_record(folder / "published" / "record.zip", map_site(folder), date="2026-03-01")
    tide = folder / "tide.csv"
    text = tide.read_text()
    assert WRONG[0] in text
    tide.write_text(text.replace(*WRONG))
    return folder


@pytest.fixture(scope="module")
def desk(site):
    return ReviewDesk(map_site(site))


@pytest.fixture(scope="module")
def opened(site):
    return opened_from_site(site / "published" / "record.zip", Review())


@pytest.fixture(scope="module")
def same(desk, opened):
    return made_again(desk, opened)


@pytest.fixture(scope="module")
def altered(desk, opened):
    return made_again(desk, opened, with_site_files=True)


def picture(review, season="wet"):
    found = review.made.found
    return Picture(layers=found.layers, profile=found.profile, assessment=found.assessment, season=season)


def states(review, work=None):
    return {one.name: one.state for one in checks_of(review, work)}


def upload(path, name="record.zip"):
    return opened_upload({name: path.read_bytes()}, Review())


def test_a_record_of_the_sites_folder_is_offered_and_one_that_is_uploaded_is_gone_with_its_visitor(site, desk):
    assert list(site_records(desk.site_map)) == ["published/record.zip"]
    review = upload(site / "published" / "record.zip", "..\\..\\evil/../record.zip")
    path = review.record.archive.path
    assert path.name == "record.zip" and site not in path.parents
    assert not review.lies_with_site
    del review
    assert not path.parent.exists()


@pytest.mark.parametrize("kind", ["no zip", "leads out", "changed", "input leads out", "too large"])
def test_a_hostile_record_is_refused_and_leaves_nothing_behind(site, tmp_path, monkeypatch, kind):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "room"))
    (tmp_path / "room").mkdir()
    path, target = site / "published" / "record.zip", tmp_path / "r.zip"
    content = members(path)
    if kind == "no zip":
        target.write_bytes(b"PK\x03\x04 not at all")
        said = "no whole zip file"
    elif kind == "leads out":
        written(target, {**content, "../../evil.txt": b"x"})
        said = "member"
    elif kind == "changed":
        written(target, {**content, "inputs/tide.csv": b"name,amplitude,phase\nM2,9,10\n"})
        said = "tide.csv"
    elif kind == "input leads out":
        edited(path, target, "record.toml", lambda text: text.replace('file = "tide.csv"', 'file = "../tide.csv"', 1))
        said = r"the input '\.\./tide\.csv' lies outside its folder"
    else:
        monkeypatch.setattr(review_desk, "MOST_CELLS", 1_199)
        shutil.copy(path, target)
        said = "its grid has 1,200 cells; this page makes 1,199 at most"
    with pytest.raises(RecordError, match=said):
        upload(target)
    assert list((tmp_path / "room").iterdir()) == []


def test_a_stranger_gets_no_file_of_the_site_that_is_sensitive(desk, site, tmp_path):
    copy_shown_files(desk.site_map, tmp_path / "room")
    held = [path for path in (tmp_path / "room").rglob("*") if path.is_file()]
    assert {"site.toml", "profile.toml", "bed.tif", "stations.csv"} <= {path.name for path in held}
    assert "seen.csv" not in {path.name for path in held}
    for x, y in SIGHTINGS:
        for number in degrees(x, y):
            assert not [path.name for path in held if f"{number:.4f}".encode() in path.read_bytes()]


def test_a_record_that_calls_the_sightings_of_the_site_its_own_is_not_told_a_line_of_them(desk, site, tmp_path):
    content = members(site / "published" / "record.zip")
    table = content["record.toml"].decode()
    at = table.index('file = "seen.csv"')
    assert 'withheld = "sensitive"' in table[at:]
    table = table[:at] + table[at:].replace('withheld = "sensitive"', 'withheld = ""', 1)
    review = upload(
        sealed(tmp_path / "r.zip", {**content, "record.toml": table.encode(), "inputs/seen.csv": b"a\nb\n"})
    )
    try:
        said = made_again(desk, review, with_site_files=True).said
    except ValueError as refusal:
        said = str(refusal)
    secret = (site / "seen.csv").read_text().splitlines()[1]
    assert secret[:20] not in said
    assert not any(f"{number:.3f}" in said for place in SIGHTINGS for number in degrees(*place))


def test_checks_wait_turn_with_the_steps_and_end_as_the_command_judges(opened, same, altered):
    before = states(opened)
    assert before["seal"] == before["versions"] == SAME
    assert {before[name] for name in ("inputs", "parameters", "salinity", "suitability")} == {WAITING}
    reading = states(opened, Work(doing="it", step="2 of 10: reading bed.tif"))
    assert (reading["inputs"], reading["water_depth"]) == (BUSY, WAITING)
    making = states(opened, Work(doing="it", step=f"4 of 9: making {LAYERS['salinity'].label}"))
    assert (making["inputs"], making["surface"], making["salinity"], making["suitability"]) == (
        *(MADE, MADE, BUSY),
        WAITING,
    )
    scoring = states(opened, Work(doing="it", step="scoring 1,200 cells for Marine seagrass grazer"))
    assert (scoring["salinity"], scoring["suitability"]) == (MADE, BUSY)
    # made once more: what came of it the last time is not shown as if it were new
    assert set(states(altered, Work(doing="it", step="2 of 10: reading bed.tif")).values()) == {SAME, BUSY, WAITING}
    table = opened.record.table
    assert set(states(same).values()) == {SAME}
    assert len(states(same)) == 4 + len(table.steps) + len(table.results)
    differing = {name for name, state in states(altered).items() if state == DIFFERS}
    # the depth hangs on the tide by its last digits alone
    near = {change.name for change in altered.made.changes if change.cells.is_rounding}
    assert near == {name for name, state in states(altered).items() if state == WITHIN}
    assert differing == {"inputs", *(change.name for change in altered.made.changes)} - near
    # told in words and shapes
    page = checks_words(altered, Work())
    assert page.count("≠") == page.count("<b>differs</b>") == len(differing)
    assert "tide.csv has other bytes than in the record (line 2:" in page


def test_each_layer_turns_as_soon_as_it_is_made_and_ends_as_it_turned(desk, opened):
    told = []
    end = states(made_again(desk, opened, told.append, with_site_files=True))
    held = [at for at, step in enumerate(told) if isinstance(step, HeldAgainst)]
    names = [told[at].name for at in held]
    assert len(names) == len(set(names)) and {"surface", "water_depth", "salinity"} <= set(names)
    assert end["salinity"] == SAME and end["surface"] == DIFFERS, "the tide says what falls dry"
    assert max(held) < next(at for at, step in enumerate(told) if step.label.startswith("scoring"))
    for at in held:
        now = states(opened, Work(doing="it", step=str(told[at]), told=tuple(told[: at + 1])))
        assert now[told[at].name] == end[told[at].name]
        assert (now["suitability"], now["inputs"]) == (WAITING, MADE)


def test_last_digits_are_told_as_the_same_within_tolerance(desk, site, tmp_path):
    path, _ = nudged(site / "published" / "record.zip", tmp_path / "near.zip", "suitability", TOLERANCE / 3)
    review = made_again(desk, upload(path))
    assert review.made.verdict == WITHIN
    assert states(review)["suitability"] == WITHIN
    assert "≈" in checks_words(review, Work()) and "the same within tolerance" in answer(review)
    far = made_again(desk, review, tolerance=0.0)
    assert states(far)["suitability"] == DIFFERS
    with pytest.raises(ValueError, match="from 0 to 1"):
        made_again(desk, review, tolerance=2.0)


def test_the_answer_opens_with_the_first_cause_and_holds_the_words_of_the_command(same, altered):
    page = answer(altered)
    assert page.index("The map made again is not the same") < page.index("First cause") < page.index("tide.csv")
    from markupsafe import escape

    assert escape(reproduction_text(altered.made)) in page
    assert "The map made again is the same" in answer(same) and "First cause" not in answer(same)
    assert changes(same) == ""
    differing = [one for one in altered.comparisons if not one.is_same]
    assert differing
    for one in differing:
        assert str(escape(one.sentences[0])) in changes(altered)


def test_the_maps_hold_what_two_plain_maps_hold_and_count_the_cells_that_differ(desk, altered, opened):
    pairs = Pairs(altered.made)
    assert pairs.first == altered.made.cause.first.name
    assert next(iter(next(iter(pairs.choices().values())).values())) == pairs.first
    key = "feeding_time"
    now = desk.site_map.layers[key].to_numpy()
    told = next(one for one in opened.record.table.steps if one.name == key)
    then = opened.record.cells(told).to_numpy()
    pair = pairs.pair(key, "wet")
    apart = ~((then == now) | (np.isnan(then) & np.isnan(now)))
    assert pair.difference.count == np.count_nonzero(apart) > 0
    np.testing.assert_array_equal(pair.apart, apart)
    np.testing.assert_allclose(pair.change.to_numpy(), now.astype(float) - then, atol=1e-6)
    assert -pair.scale.low == pair.scale.high >= pair.difference.largest
    assert f"{pair.difference.count:,} of {pair.difference.of:,} cells differ" in apart_words(
        pairs, picture(altered), key
    )
    rings = list(marked(pairs, picture(altered), key))
    drawn = rings[0].dframe()
    assert len(drawn) == (0 if pair.difference.count > 400 else pair.difference.count)
    assert rings[-1].dframe().to_numpy().tolist() == [[pair.difference.easting, pair.difference.northing]]
    for side in ("recorded", "rebuilt", "change"):
        assert side_map(pairs, side, picture(altered), key).dimension_values(2, flat=False).shape == (30, 40)
    classes = pairs.pair("suitability_class", "wet")
    moved = classes.change.to_numpy()
    assert np.array_equal(moved != 0, classes.apart & (classes.rebuilt.to_numpy() != 0))


def test_another_profile_on_purpose_is_told_as_tables_of_classes_and_kinds_of_disagreement(desk, opened):
    review = made_again(desk, opened, profile="estuarine_grazer")
    page = changes(review)
    assert "What the other profile changes" in page
    wet = next(one for one in review.comparisons if one.name == "suitability_class" and one.season == "wet")
    assert "in the amounts of the classes" in page and "in their places" in page
    assert not wet.is_same
    assert "with another profile on purpose" in answer(review)
    # what only one of the two profiles asks for has no pair
    pairs = Pairs(review.made)
    missing = [change.name for change in review.made.changes if change.cells is None]
    assert missing and not set(missing) & {key for held in pairs.choices().values() for key in held.values()}


def test_a_cell_is_followed_from_its_score_to_its_files_and_their_rows(desk, site, altered):
    pairs, cell = Pairs(altered.made), (12, 25)
    grid = altered.made.found.inputs.site.grid
    place = (float(grid.x[cell[1]]), float(grid.y[cell[0]]))
    links = {one.name: one for one in chain_of_cell(pairs, "suitability", "wet", place)}
    now = desk.site_map.assessment["suitability"].sel(season="wet").to_numpy()[cell]
    assert links["suitability"].now == f"{float(now):.7g}"
    assert next(iter(links)) == "suitability" and {"index_salinity", "salinity", "surface"} <= set(links)
    (stations,) = (one for one in links["salinity"].sources if one.file == "stations.csv")
    assert stations.is_recorded is True
    tides = [one for link in links.values() for one in link.sources if one.file == "tide.csv"]
    assert tides and all(one.is_recorded is False for one in tides)
    # the line, from the file itself with the csv of the standard library and the projection of PROJ
    to_grid = Transformer.from_crs(4326, CRS, always_xy=True)
    with (site / "stations.csv").open(newline="") as file:
        rows = [
            (np.hypot(x - place[0], y - place[1]), line, row["station"])
            for line, row in enumerate(csv.DictReader(file), start=2)
            for x, y in [to_grid.transform(float(row["longitude"]), float(row["latitude"]))]
        ]
    nearest = min(rows)
    assert (stations.rows[0].number, stations.rows[0].noun) == (nearest[1], "line")
    assert stations.rows[0].distance == pytest.approx(nearest[0], abs=0.01)
    assert stations.total == len(rows)
    assert len({row.distance for row in stations.rows}) == 3, "a row of each place"
    page = cell_words(pairs, picture(altered), "suitability", place)
    assert f"line {nearest[1]}" in page and "OTHER BYTES than recorded" in page
    assert f"Row {cell[0] + 1}, column {cell[1] + 1}" in page
    assert chain_of_cell(pairs, "suitability", "wet", (0.0, 0.0)) == []


def test_no_row_of_sightings_is_ever_told_nor_of_anything_the_site_calls_sensitive(desk):
    found = desk.site_map
    (seen,) = found.inputs.having("sighting")
    assert len(found.inputs.features[seen.name]) == len(SIGHTINGS)
    assert nearest_rows(found, seen, (21, 18)) == ((), 0)
    assert nearest_rows(found, replace(seen, sensitive=False), (21, 18)) == ((), 0)
    (nets,) = found.inputs.having("net")
    assert nearest_rows(found, nets, (21, 18))[1] == 1
    assert nearest_rows(found, replace(nets, sensitive=True), (21, 18)) == ((), 0)


def test_comments_that_lie_beside_a_record_are_opened_with_it_and_faulty_ones_are_told(site):
    from habitat.review_comments import comment, save_comments

    record = open_record(site / "published" / "record.zip")
    one = comment(record, "layer", "salinity", "Seen.", author="R. Viewer", date="2026-03-05")
    path = save_comments(record, [one], date="2026-03-05")
    broken = path.with_name("record.comments-broken.toml")
    broken.write_text("format = ", encoding="utf-8")
    try:
        review = opened_from_site(record.archive.path, Review())
    finally:
        path.unlink()
        broken.unlink()
    assert review.found_comments == (one,)
    assert len(review.remarks) == 1 and "is not TOML" in review.remarks[0]
