"""The page for reviewers in a real browser: a record dropped, made again, marked on the map, commented and refused."""

from __future__ import annotations

import re
import tomllib
import zipfile

import pytest

from habitat.record import write_record
from habitat.record_file import open_record
from habitat.reproduce import reproduce
from habitat.site_map import map_site
from habitat.view.difference import PEN
from habitat.view.review_cell import chain_of_cell
from habitat.view.review_pairs import Pairs
from tests.pages import (
    NAMELESS,
    NARROW,
    WIDE,
    at,
    browser,
    in_browser,
    pixel,
    rgb,
    serving,
    share_of,
    visiting,
)
from tests.records import members, write_brief_site, written

__all__ = ["browser", "serving", "visiting"]
pytestmark = in_browser
ALERT = ".alert[role=alert]"
RING = ((9.5, 0), (-9.5, 0), (0, 9.5), (0, -9.5))  # pixels from the middle of the mark of the worst cell
DIFFERENCE = 2  # of the maps, from left to right


@pytest.fixture(scope="module", name="site")
def altered_site(tmp_path_factory):
    """A site with its record in a folder of it, and one digit of its tide altered since."""
    folder = write_brief_site(tmp_path_factory.mktemp("review") / "site").parent
    (folder / "published").mkdir()
    write_record(folder / "published" / "record.zip", map_site(folder), date="2026-03-01", author="A. Mapper")
    tide = folder / "tide.csv"
    text = tide.read_text()
    assert "M2,0.5," in text
    tide.write_text(text.replace("M2,0.5,", "M2,0.6,"))
    return folder


@pytest.fixture(scope="module")
def made(site):
    return reproduce(site / "published" / "record.zip", site)


def test_a_record_is_dropped_turns_to_the_same_and_with_one_altered_digit_names_its_file_and_marks_its_cells(
    visit, site, made
):
    page = visit("review")
    page.locator("input[type=file]").first.set_input_files(site / "published" / "record.zip")
    page.get_by_role("heading", name="The map made again is the same", exact=True).wait_for()
    comes_to_rest(page)
    checks = page.locator("li[data-check]")
    table = made.record.table
    assert checks.count() == 4 + len(table.steps) + len(table.results)
    assert set(checks.locator("b").all_inner_texts()) == {"the same"}
    assert page.get_by_role("heading", name="What the difference changes").count() == 0

    page.get_by_label("Files", exact=True).select_option("those of this site, where it has them")
    page.get_by_role("button", name="Make the map again").click()
    page.get_by_role("heading", name="The map made again is not the same", exact=False).wait_for()
    comes_to_rest(page)
    page.locator(".cause").get_by_text(made.cause.said, exact=False).first.wait_for()
    assert made.cause.said.startswith("tide.csv has other bytes than in the record (line 2:")
    differing = {one.get_attribute("data-check") for one in page.locator("li.differs[data-check]").all()}
    assert "inputs" in differing and made.cause.first.name in differing
    assert "seal" not in differing and "parameters" not in differing

    # the worst cell is ringed on the map of the difference, and the cell that is clicked is followed to the file
    grid, worst = made.found.inputs.site.grid, made.cause.first.cells
    board = page.locator(".bk-Figure").nth(DIFFERENCE)
    board.scroll_into_view_if_needed()
    page.get_by_text(f"row {worst.row}, column {worst.column} (easting", exact=False).last.wait_for()
    east, north = share_of(grid, worst.easting, worst.northing)
    box = board.bounding_box()
    ring = [(east + dx / box["width"], north + dy / box["height"]) for dx, dy in RING]
    assert sum(is_pen(page, board, where) for where in ring) >= 2
    page.mouse.click(*at(board, (east, north)))
    page.get_by_text(f"Row {worst.row}, column {worst.column} (", exact=False).first.wait_for()
    pairs = Pairs(made)
    links = chain_of_cell(pairs, pairs.first, worst.season or "wet", (worst.easting, worst.northing))
    link = page.locator(f'li[data-layer="{worst.layer}"]')
    assert links[0].recorded in link.inner_text() and links[0].now in link.inner_text()
    assert "OTHER BYTES than recorded" in link.inner_text()
    # a layer of stations is followed to lines of their file
    page.get_by_label("Layer or score").select_option("Practical salinity")
    salinity = page.locator('li[data-layer="salinity"]')
    salinity.wait_for()
    assert re.search(r"stations.csv, bytes as recorded.*\n?.*within the site: line \d+", salinity.inner_text())


def is_pen(page, board, where):
    return sum(abs(a - b) for a, b in zip(pixel(page, board, *where), rgb(PEN), strict=True)) < 120


def comes_to_rest(page):
    page.locator(".doing").wait_for(state="detached")
    page.locator("li.busy").first.wait_for(state="detached")
    page.wait_for_timeout(300)


def test_a_comment_is_kept_saved_beside_the_record_and_found_in_the_files_taken_home(visit, site, made):
    page = visit("review", NARROW)
    page.get_by_label("Or one in the folder of this site").select_option("published/record.zip")
    page.get_by_role("heading", name="The map made again is the same", exact=True).wait_for()
    page.get_by_label("Profile", exact=True).select_option("estuarine_grazer")
    page.get_by_role("button", name="Make the map again").click()
    page.get_by_role("heading", name="What the other profile changes").wait_for()
    page.wait_for_function("Bokeh.documents[0].is_idle")
    page.get_by_role("button", name="Keep this comment").click()
    page.locator(ALERT).get_by_text("it says nothing", exact=False).wait_for()
    page.get_by_label("It is about").select_option("Practical salinity")
    page.get_by_label("Comment", exact=True).fill("Which station was this?")
    page.get_by_label("Your name").fill("R. Viewer")
    page.get_by_label("Date", exact=True).fill("2026-03-05")
    page.get_by_label("Date", exact=True).press("Tab")
    page.wait_for_timeout(300)
    page.get_by_role("button", name="Keep this comment").click()
    page.get_by_text("Kept. It is not saved yet.").wait_for()
    assert page.locator(ALERT).count() == 0
    page.get_by_role("button", name="Save them beside the record").click()
    page.get_by_text("Saved as record.comments-2026-03-05.toml", exact=False).wait_for()
    (comment,) = tomllib.loads((site / "published" / "record.comments-2026-03-05.toml").read_text())["comments"]
    assert comment == {
        "about": "layer",
        "name": "salinity",
        "author": "R. Viewer",
        "date": "2026-03-05",
        "text": "Which station was this?",
    }
    with page.expect_download() as home:
        page.get_by_text("Take the comments home (TOML)").click()
    assert tomllib.loads(home.value.path().read_text())["comments"] == [comment]
    with page.expect_download() as report:
        page.get_by_text("Report of the review", exact=False).click()
    with zipfile.ZipFile(report.value.path()) as archive:
        assert archive.read("review/review.pdf").startswith(b"%PDF")
        assert "Which station was this?" in archive.read("review/review.html").decode()
    for viewport in (WIDE, NARROW):
        page.set_viewport_size(viewport)
        page.wait_for_timeout(700)
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    page.wait_for_function(f"({NAMELESS})().nameless.length === 0")


def test_a_hostile_record_is_refused_in_one_alert_and_leaves_the_page_alive(visit, site, tmp_path):
    page, path = visit("review"), site / "published" / "record.zip"
    page.get_by_label("Or one in the folder of this site").select_option("published/record.zip")
    page.get_by_role("heading", name="The map made again is the same", exact=True).wait_for()
    content, field = members(path), page.locator("input[type=file]").first
    out = written(tmp_path / "out.zip", {**content, "../../evil.txt": b"x"})
    changed = written(tmp_path / "changed.zip", {**content, "record.toml": b"format = 2\n"})
    broken = tmp_path / "broken.zip"
    broken.write_bytes(path.read_bytes()[:5_000])
    for hostile in (out, changed, broken):
        field.set_input_files(hostile)
        page.locator(ALERT).get_by_text(hostile.name, exact=False).first.wait_for()
        assert page.locator(ALERT).count() == 1
    assert page.get_by_role("heading", name="The map made again is the same", exact=True).is_visible()
    page.get_by_role("button", name="Make the map again").click()
    page.locator(ALERT).wait_for(state="detached")
    comes_to_rest(page)
    assert page.get_by_role("heading", name="The map made again is the same", exact=True).is_visible()
    assert not list(tmp_path.parent.rglob("evil.txt"))
    assert open_record(path).root
