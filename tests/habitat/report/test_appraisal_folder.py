"""The folder of an appraisal of the small site, looked at as its readers would: pypdf, an HTML parser, bytes."""

import html.parser
import itertools
import shutil
import struct
import subprocess
import sys
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader
from shapely import box

from habitat.appraisal import appraise
from habitat.appraisal_account import account_of, sentences
from habitat.appraisal_range import range_of_loss
from habitat.conditions import read_conditions
from habitat.least_change import Limits, least_change
from habitat.proposal import read_proposal
from habitat.record_file import open_record
from habitat.report import appraisal_folder, appraisal_maps, appraisal_numbers
from habitat.report.appraisal_asked import Asked, variant_in_short
from habitat.report.appraisal_folder import write_appraisal
from habitat.report.appraisal_format import report_pdf
from habitat.report.appraisal_numbers import report_tables
from habitat.report.appraisal_report import report_document
from habitat.report.appraisal_table import write_report_tables
from habitat.result import SUITABILITY_CLASSES
from habitat.site_map import map_site
from habitat.site_zones import site_zones
from habitat.variant import Variation, varied
from layers.fault import RecordError
from tests.proposals import CHANNEL, DREDGED, OUTFALL, PIPE, write
from tests.sites import SIGHTINGS, degrees, write_small_site

DATE = "2026-03-05"
NOTE = "# Notes of the planner\n\n## Site visit\n\nThe <ramp> is *older* than drawn.\n- Ask #1 again\n"


@pytest.fixture(scope="module")
def account(tmp_path_factory):
    place = tmp_path_factory.mktemp("appraisal")
    found = map_site(write_small_site(place / "small"))
    proposals = [
        read_proposal(write(place / "channel.gpkg", (DREDGED, CHANNEL)), found.inputs),
        read_proposal(write(place / "pipe.geojson", (OUTFALL, PIPE)), found.inputs),
    ]
    return account_of(appraise(found, proposals), read_conditions(), recovery=10.0)


@pytest.fixture(scope="module")
def folder(account, tmp_path_factory):
    folder = tmp_path_factory.mktemp("out") / "appraisal"
    write_appraisal(folder, account, date=DATE, author="The testers", note_text=NOTE)
    return folder


@pytest.fixture(scope="module")
def printed(folder):
    return "".join(page.extract_text() for page in PdfReader(folder / "report.pdf").pages)


class _Page(html.parser.HTMLParser):
    """The text of the body, and whatever the page would fetch."""

    def __init__(self):
        super().__init__()
        self.text, self.fetched, self.inside = [], [], False
        self.code, self.is_code = [], False

    def handle_starttag(self, tag, attrs):
        self.inside = self.inside or tag == "body"
        self.is_code = tag == "pre"
        pointed = [value for name, value in attrs if name in ("src", "href")]
        self.fetched += [value for value in pointed if not value.startswith(("data:", "#"))]
        self.fetched += [tag] if tag in ("link", "script", "iframe") else []

    def handle_data(self, data):
        if self.inside:
            self.text.append(data)
        if self.is_code:
            self.code.append(data)

    def handle_endtag(self, tag):
        self.is_code = self.is_code and tag != "pre"


@pytest.fixture(scope="module")
def page(folder):
    read = _Page()
    read.feed((folder / "report.html").read_text(encoding="utf-8"))
    return read


def _letters(text):
    """Text without what a line break adds or hides."""
    return "".join(text.replace("\u200b", "").split())


def test_everything_is_there(folder):
    top = {path.name for path in folder.iterdir()}
    assert top == {
        *("README.txt", "maps", "notes.md", "profile.toml", "proposals", "record.zip", "report.html", "report.pdf"),
        *("site.toml", "tables", "conditions.toml"),
    }
    names = itertools.product(("suitability", "threat"), ("wet", "dry"), ("", "_before", "_after", "_difference"))
    assert {path.name for path in (folder / "maps").iterdir()} == {f"{a}_{b}{c}.png" for a, b, c in names}
    kept = {path.relative_to(folder / "proposals").as_posix() for path in (folder / "proposals").rglob("*")}
    assert kept == {"channel.gpkg", "pipe.gpkg", "as_given", "as_given/channel.gpkg", "as_given/pipe.geojson"}


def test_page_and_print_hold_every_piece_of_text_of_the_document(account, page, printed):
    document = report_document(account, report_tables(account), date=DATE, author="The testers", notes=NOTE)
    on_page, on_paper = _letters("".join(page.text)), _letters(printed)
    texts = [_letters(text) for text in document.texts()]
    assert len(texts) > 200
    assert [text for text in texts if text not in on_page] == []
    # a piece that runs over a page is cut by foot and head; its halves are not
    for text in texts:
        if text not in on_paper:
            ends = [text[:at] in on_paper and text[at:] in on_paper for at in range(1, len(text))]
            assert any(ends), text


def test_the_summary_comes_first_and_on_one_page(account, folder):
    first, second = (_letters(page.extract_text()) for page in PdfReader(folder / "report.pdf").pages[:2])
    # the last sentence counts the conditions: the summary opens with them
    assert [said for said in sentences(account)[:-1] if _letters(said) not in first] == []
    broken = [finding for finding in account.conditions if finding.met is False]
    assert _letters(f"does not meet the standing conditions (Starter conditions): {len(broken)} of the") in first
    for chapter in ("not met", "How sure this is", "What would make it acceptable", "Who decides"):
        assert _letters(chapter) in first
    assert "Standingconditions" in second, "the contents come next"


def _without_feet(pdf):
    """Letters of the whole print, head and foot of the sheets taken out, so that what runs over a page is whole."""
    pages = PdfReader(pdf).pages
    letters = []
    for number, page in enumerate(pages, start=1):
        foot = _letters(f"page {number} of {len(pages)}")
        for line in map(_letters, page.extract_text().splitlines()):
            is_foot = foot in line or line.startswith("Screening-levelevidence;local")
            if not (is_foot or "INVENTEDSITE" in line or line == DATE):
                letters.append(line)
    return "".join(letters)


def _rows_looked_at(tables, folder, on_paper):
    """How many rows of each CSV file were found in print, cell by cell in one piece."""
    looked_at = {}
    for name, shown in tables.items():
        numbers = pd.read_csv(folder / f"{name}.csv", dtype=str, keep_default_na=False)
        rows = numbers[shown.printed][list(shown.words)]
        looked_at[name] = len(rows)
        empty = ["-" if column in shown.numeric else "" for column in shown.words]
        for row in rows.itertuples(index=False):
            cells = [_letters(cell or blank) for cell, blank in zip(row, empty, strict=True)]
            if name == "conditions":
                # rows of many lines run over pages, and what no map can tell is a list, not a table
                is_told = "no map can tell" in row.found
                assert all(cell in on_paper for cell in ([_letters(row.needed)] if is_told else cells)), row
            else:
                assert "".join(cells) in on_paper, (name, row)
    return looked_at


def test_the_numbers_in_print_are_those_of_all_tables(account, folder):
    tables = report_tables(account)
    assert {path.stem for path in (folder / "tables").iterdir()} == set(tables)
    looked_at = _rows_looked_at(tables, folder / "tables", _without_feet(folder / "report.pdf"))
    assert [name for name, rows in looked_at.items() if not rows] == ["ways_to_fresh_water", "load_ranges"]


def test_tables_that_the_small_site_cannot_fill_are_printed_as_they_are_written(account, folder, tmp_path, monkeypatch):
    ways = pd.DataFrame(
        [("wet", 3, 12.34, 456.7, np.nan, "closed"), ("dry", 4, 7.0, 100.0, 250.0, "longer")],
        columns=["season", "patch", "hectares", "metres_before", "metres_after", "state"],
    )
    loads = pd.DataFrame(
        [("before", "nitrogen", 1.0, 23.0, 456.0), ("after", "sediment", np.nan, 7890.0, np.nan)],
        columns=["when", "load", "low", "median", "high"],
    )
    monkeypatch.setattr(appraisal_numbers, "load_ranges", lambda _: loads)
    # no zones, as the account has it of a site without them
    account = replace(account, ways=ways, classes_by_zone=pd.DataFrame(), zone_years=account.zone_years.iloc[:0])
    tables = report_tables(account)
    write_report_tables(tmp_path / "tables", tables)
    (tmp_path / "report.pdf").write_bytes(report_pdf(report_document(account, tables, date=DATE), folder))
    looked_at = _rows_looked_at(tables, tmp_path / "tables", _without_feet(tmp_path / "report.pdf"))
    assert (looked_at["ways_to_fresh_water"], looked_at["load_ranges"]) == (2, 2)
    assert (looked_at["classes_by_zone"], looked_at["net_annual_units_by_zone"]) == (0, 0)
    assert "Thesitehasnozones." in _without_feet(tmp_path / "report.pdf")
    written = (tmp_path / "tables" / "ways_to_fresh_water.csv").read_text(encoding="utf-8").splitlines()
    assert written[1:] == ["wet,3,12.34,457,,closed", "dry,4,7.00,100,250,longer"]


def test_what_was_asked_for_is_told_and_held_to_its_tables(account, folder, tmp_path):
    appraisal = account.appraisal
    inputs = appraisal.before.inputs
    # the channel is left out, then half as large; in that order they are given, the other way round they stand
    smaller, moved = (
        account_of(appraise(appraisal.before, [varied(appraisal.proposals[0], variation, inputs)]), read_conditions())
        for variation in (Variation(share=0.5), Variation(east=50.0))
    )
    asked = Asked(
        variants=(smaller, moved),
        sought=least_change(
            appraisal.before,
            appraisal.proposals[0],
            Limits(at_most_loss=0.0),
            read_conditions(),
            quantity="size",
            most=3,
        ),
        loss_range=range_of_loss(appraisal, draws=40, seed=1, limit=1.0),
    )
    tables = report_tables(account, asked)
    write_report_tables(tmp_path / "tables", tables)
    document = report_document(account, tables, date=DATE, asked=asked)
    (tmp_path / "report.pdf").write_bytes(report_pdf(document, folder))
    on_paper = _without_feet(tmp_path / "report.pdf")
    looked_at = _rows_looked_at(tables, tmp_path / "tables", on_paper)
    assert looked_at["variants"] == 3 * 2, "what was given and two variants, in two seasons"
    assert looked_at["loss_range"] == 2 * 2, "two measures in two seasons"
    assert looked_at["loss_settling"] > 0
    variants = pd.read_csv(tmp_path / "tables" / "variants.csv")
    assert list(dict.fromkeys(variants["steps"])) == ["as given", "avoid", "minimise"]
    spared = asked.loss_range.losses.query("measure == 'spared'")
    for row in spared.itertuples():
        assert _letters(f"in the {row.season} season between {row.low:,.1f} and {row.high:,.1f}; ") in on_paper
    assert _letters("Of the 2 variants that were tried") in on_paper
    assert looked_at["least_change"] == 3
    assert on_paper.count(_letters(asked.sought.sentence)) == 2, "in the summary and in its chapter"
    assert "notaskedfor" not in on_paper
    # the account of what was sought is that of a variant, and its report opens with that
    (opening,) = variant_in_short(asked.sought.account, asked)
    assert asked.sought.tried["variant"].iloc[0] == "as it was given"
    assert "not of what was handed in" in opening
    assert f"takes {asked.sought.tried['loss'].iloc[0]:,.1f} habitat units" in opening
    assert variant_in_short(account, Asked()) == []


def test_the_command_in_the_report_makes_the_same_tables_when_pasted(folder, page, printed):
    (command,) = page.code
    assert _letters(command) in _letters(printed)
    shell = shutil.which("bash")
    if shell is None:
        pytest.skip("no bash to paste into")
    ours = f'shallows() {{ "{sys.executable}" -m habitat.cli "$@"; }}\n{command}\n'
    ran = subprocess.run([shell, "-c", ours], cwd=folder, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    again = folder.parent / "again"
    written = [path.relative_to(folder) for path in sorted(folder.rglob("*")) if path.is_file()]
    # the notes are not given to the command, so the reports differ by them, and so does the record of the files
    alike = [path for path in written if path.stem not in ("notes", "report", "record")]
    assert {path.parts[0] for path in alike} >= {"tables", "maps", "proposals", "conditions.toml", "profile.toml"}
    for path in alike:
        assert (folder / path).read_bytes() == (again / path).read_bytes(), path


def test_the_tables_are_the_account_rounded(account, folder):
    units = pd.read_csv(folder / "tables" / "habitat_units.csv")
    assert units["units_change"].to_numpy() == pytest.approx(account.units["units_change"], abs=0.005)
    together = units["spared_change"].iloc[0]
    shares = pd.read_csv(folder / "tables" / "proposals_alone.csv").query(f"season == '{units['season'].iloc[0]}'")
    assert set(shares["proposal"]) == {"channel.gpkg", "pipe.geojson", "all together"}
    assert shares["share_percent"].to_numpy() == pytest.approx(100 * shares["spared_change"] / together, abs=0.2)


def test_hectares_of_classes_and_zones_are_those_of_cells_laid_over_polygons_by_geopandas(account, folder):
    before, after = account.appraisal.before, account.appraisal.together.site_map
    grid, zones = before.inputs.site.grid, site_zones(before)
    x, y = (places.ravel() for places in np.meshgrid(grid.x, grid.y))
    half = grid.cell / 2
    for season in account.units["season"]:
        codes = [made.assessment["suitability_class"].sel(season=season).to_numpy().ravel() for made in (before, after)]
        cells = gpd.GeoDataFrame(
            {"before": codes[0], "after": codes[1]}, geometry=box(x - half, y - half, x + half, y + half), crs=grid.crs
        )
        laid = gpd.overlay(cells, zones[["name", "geometry"]], keep_geom_type=False).assign(
            hectares=lambda frame: frame.area / 1e4
        )
        for table, parts in (("classes", cells.assign(hectares=cells.area / 1e4, name="")), ("classes_by_zone", laid)):
            said = pd.read_csv(folder / "tables" / f"{table}.csv", keep_default_na=False)
            said = said[(said["kind"] == "suitability") & (said["season"] == season)]
            assert len(said)
            for row in said[said["class"] != "no data"].to_dict("records"):
                code = SUITABILITY_CLASSES.index(row["class"])
                own = parts[parts["name"] == (row["zone"] if table == "classes_by_zone" else "")]
                for when in ("before", "after"):
                    expected = own.loc[own[when] == code, "hectares"].sum()
                    assert float(row[f"hectares_{when}"]) == pytest.approx(expected, abs=0.0051), (row, when)


def test_head_and_foot_of_every_sheet_say_site_date_page_and_that_it_is_a_screening(folder):
    pages = PdfReader(folder / "report.pdf").pages
    for number, sheet in enumerate(pages, start=1):
        text = _letters(sheet.extract_text())
        for said in ("Small site", DATE, f"page {number} of {len(pages)}", "Screening-level", "INVENTED SITE"):
            assert _letters(said) in text, (number, said)
        assert [round(float(side)) for side in sheet.mediabox[2:]] == [595, 842]  # A4 in points, ISO 216


def test_the_page_fetches_nothing_and_the_notes_are_text_in_it(folder, page):
    assert page.fetched == []
    assert "The <ramp> is *older* than drawn." in "".join(page.text)


def test_proposals_are_stored_so_that_they_read_as_what_they_were(account, folder):
    inputs = account.appraisal.before.inputs
    for proposal in account.appraisal.proposals:
        stored = read_proposal(folder / "proposals" / f"{proposal.name.partition('.')[0]}.gpkg", inputs)
        assert [(one.kind, dict(one.attributes)) for one in stored.features] == [
            (one.kind, dict(one.attributes)) for one in proposal.features
        ]
        for one, other in zip(stored.features, proposal.features, strict=True):
            assert one.shape.equals_exact(other.shape, 1e-6)


def test_no_place_of_an_animal_is_in_any_byte(folder):
    whole = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    whole[folder / "printed text"] = "".join(
        sheet.extract_text() for sheet in PdfReader(folder / "report.pdf").pages
    ).encode()
    metres = [number for place in SIGHTINGS for number in place]
    angles = [number for place in SIGHTINGS for number in degrees(*place)]
    spelt = {f"{number:.1f}".encode() for number in metres} | {f"{number:.4f}".encode() for number in angles}
    spelt |= {f"{int(number)}".encode() for number in metres}
    spelt |= {struct.pack(order, number) for number in (*metres, *angles) for order in ("<d", ">d")}
    assert [(path.name, one) for path, held in whole.items() for one in spelt if one in held] == []


@pytest.fixture()
def maps_taken_over(folder, monkeypatch):
    """The maps that are there: they take longest, and that they come out alike is shown with the command."""
    monkeypatch.setattr(
        appraisal_maps, "write_appraisal_maps", lambda at, *_, **__: shutil.copytree(folder / "maps", at)
    )


def test_the_same_account_gives_the_same_bytes(account, folder, tmp_path, maps_taken_over):
    write_appraisal(tmp_path / "again", account, date=DATE, author="The testers", note_text=NOTE)
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            assert path.read_bytes() == (tmp_path / "again" / path.relative_to(folder)).read_bytes(), path.name


def test_notes_survive_a_rerun_and_come_into_the_report(account, tmp_path, maps_taken_over):
    place = tmp_path / "kept"
    write_appraisal(place, account, date=DATE)
    assert (place / "notes.md").read_text(encoding="utf-8").startswith("# Notes of the planner")
    assert "None were written." in (place / "report.html").read_text(encoding="utf-8")
    (place / "notes.md").write_text("Water was clear.\r\nSeagrass to the ramp.\r\n", encoding="utf-8", newline="")
    before = (place / "notes.md").read_bytes()
    write_appraisal(place, account, date=DATE, replace=True)
    assert (place / "notes.md").read_bytes() == before
    assert "Water was clear. Seagrass to the ramp." in (place / "report.html").read_text(encoding="utf-8")


def test_nothing_is_left_of_a_report_that_could_not_be_finished(account, tmp_path, monkeypatch):
    def breaks(folder, job):
        raise KeyboardInterrupt

    steps = []
    monkeypatch.setattr(appraisal_folder, "_PARTS", (*appraisal_folder._PARTS[:2], ("what breaks", breaks)))
    with pytest.raises(KeyboardInterrupt):
        write_appraisal(tmp_path / "half", account, date=DATE, on_step=steps.append)
    assert [str(step) for step in steps][-1] == "3 of 3: writing what breaks"
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_something_else_and_a_date_that_is_none_are_refused(account, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear all")
    with pytest.raises(RecordError, match="not a folder of results"):
        write_appraisal(tmp_path / "mine", account, date=DATE, replace=True)
    with pytest.raises(RecordError, match='"tomorrow" is not a date'):
        write_appraisal(tmp_path / "new", account, date="tomorrow")
    assert [path.name for path in tmp_path.rglob("*")] == ["mine", "letter.txt"]


def test_the_record_seals_what_was_appraised_and_what_came_of_it(account, folder):
    record = open_record(folder)
    told = record.table.appraisal
    assert [one.sha256 for one in told.proposals] == [one.digest for one in account.appraisal.proposals]
    assert (told.period, told.construction, told.recovery) == (50.0, 1.0, 10.0)
    for after, whole in ((False, account.appraisal.before), (True, account.appraisal.together)):
        np.testing.assert_array_equal(record.result("suitability", after=after), whole.assessment["suitability"])
    assert (record.made["date"], record.made["author"]) == (DATE, "The testers")
    assert record.archive.read("conditions.toml") == (folder / "conditions.toml").read_bytes()
    tables = {f"tables/{path.name}" for path in (folder / "tables").iterdir()}
    assert tables < {line.split("  ", 1)[1] for line in record.archive.read("files.sha256").decode().splitlines()}
