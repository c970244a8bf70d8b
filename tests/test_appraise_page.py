"""The page that appraises proposals, in a real browser: drawn, dragged, flipped, taken home, linked and refused."""

from __future__ import annotations

import io
import json
import re
import zipfile

import numpy as np
import pytest
from pypdf import PdfReader

from habitat.appraisal_account import sentences
from habitat.colours import scale_of
from habitat.proposal import read_proposal
from habitat.variant import Variation, varied
from habitat.view.bench import weighed
from habitat.view.desk import STOPPED
from habitat.view.difference import PEN
from tests.pages import (
    NAMELESS,
    NARROW,
    WIDE,
    at,
    browser,
    comes_to,
    found_by_the_site,
    in_browser,
    rgb,
    serving,
    share_of,
    shore_site,
    visiting,
)
from tests.proposals import BOW, CHANNEL, DREDGED, MEADOW, OUTFALL, PIPE, PLANTED, frame, write

__all__ = ["browser", "found_by_the_site", "serving", "shore_site", "visiting"]
pytestmark = in_browser
ALERT = ".alert[role=alert]"  # the field for files has silent ones of its own
DRAWING, SWIPE, BEFORE, AFTER, DIFFERENCE = range(5)  # the maps, from top to bottom


@pytest.fixture(scope="module")
def basin(site):
    """A proposal that lies in the folder of the site."""
    (site / "proposals").mkdir()
    return write(site / "proposals" / "basin.gpkg", (DREDGED, CHANNEL))


@pytest.fixture(scope="module")
def proposal(basin, found):
    return read_proposal(basin, found.inputs)


@pytest.fixture(scope="module")
def whole(found, proposal):
    """The account of the proposal as it was given."""
    return weighed(found, proposal)


@pytest.fixture
def opened(basin, visit):
    """The page with the proposal of the site's folder worked out."""
    page = visit("appraise?proposal=basin.gpkg")
    page.get_by_role("heading", name="What basin.gpkg does").wait_for()
    page.locator(".bk-Figure").nth(DIFFERENCE).wait_for()
    page.wait_for_timeout(700)
    return page


def test_what_is_drawn_by_press_and_hold_is_worked_out_when_the_mouse_is_released(visit, found):
    page = visit("appraise", NARROW)
    grid = found.inputs.site.grid
    board = page.locator(".bk-Figure").nth(DRAWING)
    page.get_by_role("button", name="Appraise the drawing").click()
    page.locator(ALERT).get_by_text("Nothing is drawn yet", exact=False).wait_for()
    page.set_viewport_size(WIDE)
    page.wait_for_timeout(700)
    board.scroll_into_view_if_needed()
    west, south, east, north = CHANNEL.bounds
    hold(page, *at(board, share_of(grid, west, south)))
    for corner in ((west, north), (east, north)):
        page.mouse.click(*at(board, share_of(grid, *corner)))
        page.wait_for_timeout(350)
    hold(page, *at(board, share_of(grid, east, south)))
    page.get_by_text("In the wet season the drawing changes", exact=False).wait_for()
    page.get_by_role("heading", name="What drawing does").wait_for()
    assert alerts(page) == []
    with page.expect_download() as download:
        page.get_by_text("Take the drawing home (GeoJSON)").click()
    (feature,) = json.loads(download.value.path().read_text())["features"]
    assert feature["properties"]["kind"] == "dredged area" and feature["properties"]["depth_m"] == 3.5
    corners = np.array(feature["geometry"]["coordinates"][0])
    expected = frame(({}, CHANNEL)).to_crs(4326).total_bounds
    # a pixel of the map is some metres
    assert [*corners.min(axis=0), *corners.max(axis=0)] == pytest.approx(list(expected), abs=2e-4)
    assert "proposal" not in page.url

    # a second shape, taken away again, leaves the first
    page.get_by_role("button", name="Keep it and draw another").click()
    page.get_by_text("Kept so far: dredged area.", exact=False).wait_for()
    page.get_by_label("What is drawn").select_option("outfall")
    page.get_by_label("Nitrogen, kg a year").fill("-5")
    page.get_by_label("Nitrogen, kg a year").press("Enter")
    page.wait_for_timeout(500)
    page.mouse.click(*at(page.locator(".bk-Figure").nth(DRAWING), share_of(grid, PIPE.x, PIPE.y)))
    page.locator(ALERT).get_by_text("n_kg_year", exact=False).wait_for()
    page.get_by_role("button", name="Undo the last shape").click()
    page.wait_for_timeout(500)
    page.get_by_role("button", name="Appraise the drawing").click()
    page.locator(ALERT).wait_for(state="detached")
    page.get_by_role("heading", name="What drawing does").wait_for()


def alerts(page):
    return page.locator(ALERT).all_inner_texts()


def hold(page, x, y):
    page.mouse.move(x, y)
    page.mouse.down()
    page.wait_for_timeout(700)
    page.mouse.up()
    page.wait_for_timeout(350)


def test_the_divided_map_shows_before_and_after_and_a_dragged_outline_makes_the_variant_that_lies_there(
    opened, found, proposal, whole
):
    page, grid = opened, found.inputs.site.grid
    swipe = page.locator(".bk-Figure").nth(SWIPE)
    row, column = grid.cell_at(501_225, 7_770_725)
    where = share_of(grid, grid.x[column], grid.y[row])
    after = whole.appraisal.together.assessment
    colours = [
        rgb(scale_of("suitability").colour(float(scores.sel(season="wet")["suitability"][row, column])))
        for scores in (found.assessment, after)
    ]
    assert np.abs(np.subtract(*colours)).max() > 12, "the two look alike here"
    flip = page.get_by_role("button", name="Flip between before and after")
    assert comes_to(page, swipe, where, colours[1]), "right of the middle the map shows what is left"
    flip.click()
    assert comes_to(page, swipe, where, colours[0]), "the first flip shows the whole site as it is"
    flip.click()
    assert comes_to(page, swipe, where, colours[1])
    handle = page.get_by_role("slider").first
    handle.focus()
    for _ in range(45):  # from the left edge to beyond the place
        page.keyboard.press("ArrowRight")
    assert comes_to(page, swipe, where, colours[0])
    for number, colour in ((BEFORE, colours[0]), (AFTER, colours[1])):
        assert comes_to(page, page.locator(".bk-Figure").nth(number), where, colour)

    # the outline dragged to the east is the variant that lies there
    swipe.scroll_into_view_if_needed()
    middle = CHANNEL.centroid
    page.mouse.move(*at(swipe, share_of(grid, middle.x, middle.y)))
    page.mouse.down()
    for far in (50, 100, 150, 200):
        page.mouse.move(*at(swipe, share_of(grid, middle.x + far, middle.y)))
        page.wait_for_timeout(60)
    page.mouse.up()
    name = page.get_by_role("button", name=re.compile(r"Show basin\.gpkg, \d+ m east"))
    name.wait_for()
    east = float(re.search(r"(\d+) m east", name.inner_text())[1])
    assert 150 <= east <= 250
    north = re.search(r"(\d+) m (north|south)", name.inner_text())
    wish = Variation(east=east, north=float(north[1]) * (1 if north[2] == "north" else -1) if north else 0.0)
    moved = weighed(found, varied(proposal, wish, found.inputs))
    for sentence in sentences(moved):
        page.get_by_text(sentence, exact=True).wait_for()
    edge = CHANNEL.bounds[2] + east
    assert comes_to(page, swipe, share_of(grid, edge, middle.y + wish.north + 30), rgb(PEN), within=60)


def test_variants_stand_in_one_table_and_the_report_holds_its_figures(opened, found, proposal, whole):
    page = opened
    page.get_by_label("Moved to the east, m").fill("300")
    page.get_by_label("Moved to the east, m").press("Enter")
    page.get_by_role("button", name="Make this variant").click()
    page.get_by_role("button", name="Show basin.gpkg, 300 m east").wait_for()
    moved = weighed(found, varied(proposal, Variation(east=300.0), found.inputs))
    page.wait_for_url(re.compile("variant_east=300"))
    text = page.locator("table.stacks").first.inner_text()
    for account in (whole, moved):
        (spared,) = account.units.query("season == 'wet'")["spared_change"]
        assert f"{spared:+,.2f}" in text
    # how sure it is, and the search that is stopped
    page.get_by_role("button", name="Work out how sure it is").click()
    page.get_by_role("columnheader", name="Nine draws in ten").wait_for()
    page.get_by_label("Largest loss you allow", exact=False).fill("0")
    page.get_by_label("Largest loss you allow", exact=False).press("Enter")
    page.get_by_role("button", name="Find the smallest change").click()
    page.get_by_role("button", name="Stop").click()
    page.get_by_text(STOPPED, exact=True).wait_for()
    page.get_by_label("Who answers for the report").fill("A. Planner")
    page.get_by_label("Your own words, which go into the report").fill("Seen at low water.")
    page.get_by_label("Your own words, which go into the report").press("Tab")
    with page.expect_download() as download:
        page.get_by_text("Report of the variant in view", exact=False).click()
    with zipfile.ZipFile(download.value.path()) as archive:
        assert {"appraisal/report.pdf", "appraisal/report.html"} <= set(archive.namelist())
        printed = "".join(
            page.extract_text() for page in PdfReader(io.BytesIO(archive.read("appraisal/report.pdf"))).pages
        )
    printed = re.sub(r"\s+", " ", printed)
    good = page.get_by_role("row", name=re.compile("^good habitat")).first.locator("td").nth(2).inner_text()
    assert good.replace(",", "") in printed.replace(",", "").replace("\u202f", ""), good
    assert "A. Planner" in printed and "Seen at low water." in printed

    # the same address opens the same variant; the season is kept as well
    page.get_by_label("Season", exact=True).select_option("Dry season")
    page.wait_for_url(re.compile("season=dry"))


def test_a_link_opens_the_same_variant_and_tells_nothing_of_a_place(visit, basin, found, proposal):
    page = visit("appraise?season=dry&layer=threat&proposal=basin.gpkg&variant_share=0.5&variant_east=much")
    smaller = weighed(found, varied(proposal, Variation(share=0.5), found.inputs))
    for sentence in sentences(smaller):
        page.get_by_text(sentence, exact=True).wait_for()
    assert page.get_by_label("Season", exact=True).input_value() == "Dry season"
    assert page.get_by_label("Map of").input_value() == "Threat"
    page.wait_for_url(re.compile(r"proposal=basin\.gpkg"))
    assert "variant_share=0.5" in page.url and "easting" not in page.url and "variant_east" not in page.url
    again = visit("appraise?proposal=../site.toml")
    again.get_by_text("Load a proposal", exact=True).wait_for()
    again.wait_for_timeout(1000)
    assert again.get_by_text("What ", exact=False).filter(has_text="site.toml").count() == 0


def test_a_bad_file_is_told_in_one_alert_and_leaves_all_as_it_was(opened, tmp_path):
    page = opened
    field = page.locator("input[type=file]").first
    crossed = write(tmp_path / "crossed.geojson", (DREDGED, BOW))
    far = write(tmp_path / "far.geojson", ({**DREDGED}, CHANNEL.__class__([(0, 0), (0, 9), (9, 9)])), crs="EPSG:4326")
    unknown = write(tmp_path / "unknown.geojson", ({"kind": "heliport"}, CHANNEL))
    negative = write(tmp_path / "negative.geojson", ({**DREDGED, "volume_m3": -4.0}, CHANNEL))
    empty = tmp_path / "empty.geojson"
    empty.write_text("{}", encoding="utf-8")
    for path in (crossed, far, unknown, negative, empty):
        field.set_input_files(path)
        page.locator(ALERT).get_by_text(path.name, exact=False).first.wait_for()
        assert len(alerts(page)) == 1
    assert page.get_by_role("heading", name="What basin.gpkg does").is_visible()
    approved = write(tmp_path / "pipe.geojson", (OUTFALL, PIPE))
    page.locator("input[type=file]").nth(1).set_input_files(approved)
    page.get_by_role("heading", name="Each alone, and all together").wait_for()
    assert alerts(page) == []
    assert page.locator("table").filter(has_text="all of them together").get_by_text("pipe.geojson").count() == 2
    planted = write(tmp_path / "meadow.geojson", (PLANTED, MEADOW))
    page.locator("input[type=file]").nth(2).set_input_files(planted)
    page.get_by_role("button", name="Show basin.gpkg, 80% seagrass planted").wait_for()
    page.get_by_label("Conditions it has to meet", exact=False).select_option("dredging from seagrass")
    page.get_by_label("What may be changed").select_option("the season of the work")
    page.get_by_role("button", name="Find the smallest change").click()
    page.get_by_text(re.compile("All that was tried, \\d+ appraisals")).wait_for()
    assert (
        page.locator("details table").filter(has_text="as it was given").get_by_text("dredging from seagrass").count()
    )
    for viewport in (NARROW, WIDE):
        page.set_viewport_size(viewport)
        page.wait_for_timeout(700)
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    page.wait_for_function(f"({NAMELESS})().nameless.length === 0")
