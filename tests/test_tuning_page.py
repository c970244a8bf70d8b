"""The page that tunes a profile, in a real browser: dragged and typed, undone, saved with a reason, read again."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

from habitat.assessment import assess
from habitat.colours import scale_of
from habitat.profile import read_profile, shipped_profiles
from habitat.profile_change import changes
from habitat.profile_edit import part_of
from habitat.profile_mark import reasons_in
from habitat.view import flips
from habitat.view.session import Picture
from habitat.view.spread import curve_sentence, spread_of
from habitat.view.tuning_file import ASKS_FOR_A_NAME
from habitat.view.tuning_second import why_beside
from habitat.view.words import hectares
from tests.pages import (
    NARROW,
    WIDE,
    at,
    browser,  # noqa: F401
    comes_to,
    found_by_the_site,  # noqa: F401
    in_browser,
    rgb,
    serving,  # noqa: F401
    share_of,
    shore_site,  # noqa: F401
    visiting,  # noqa: F401
)

pytestmark = in_browser

# where each point of the curve in hand is on the screen, from the left and the top of its chart [px]
POINTS = """() => { const models = [...Bokeh.documents[0]._all_models.values()];
  const hand = models.find(model => model.type === 'ColumnDataSource' && model.data.along);
  const fig = models.find(model => model.type === 'Figure' && model.height === 290);
  const box = Bokeh.index.find_one(fig).frame.bbox, x = fig.x_range, y = fig.y_range;
  return [...hand.data.x].map((value, k) => [value, hand.data.y[k],
    box.left + (value - x.start) / (x.end - x.start) * box.width,
    box.top + (y.end - hand.data.y[k]) / (y.end - y.start) * box.height]); }"""
LIVE = ".live"


def picture(found, profile, season="wet"):
    """The site by a profile, scored in full."""
    return Picture(layers=found.layers, profile=profile, assessment=assess(found.layers, profile), season=season)


def live(page):
    return page.locator(LIVE).inner_text()


def said(found, profile):
    """What the page says of the hectares that change class."""
    areas = []
    for kind in ("suitability", "threat"):
        areas += flips.moved(flips.class_table(picture(found, found.profile), picture(found, profile), kind))
    return [f"{hectares(area)} {way}" for area, way in zip(areas, ("up", "down", "up", "down"), strict=True)]


def says(page, words):
    """Whether the line of hectares comes to hold exactly these."""
    for _ in range(300):
        if re.findall(r"(?:about )?[\d,.]+ ha (?:up|down)", live(page)) == words:
            return True
        page.wait_for_timeout(100)
    return False


def drag(page, number, right, down, steps=8):
    """Drag a point of the curve in hand; gives what the page said under way."""
    chart = page.locator(".bk-Figure").first
    chart.scroll_into_view_if_needed()
    box, (_, _, x, y) = chart.bounding_box(), page.evaluate(POINTS)[number]
    page.mouse.move(box["x"] + x, box["y"] + y)
    page.mouse.down()
    for step in range(1, steps + 1):
        page.mouse.move(box["x"] + x + right * step / steps, box["y"] + y + down * step / steps)
        page.wait_for_timeout(50)
    for _ in range(100):
        under_way = live(page)
        if re.search(r"about [1-9]", under_way):
            break
        page.wait_for_timeout(100)
    page.mouse.up()
    return under_way


def test_a_point_is_dragged_the_map_follows_and_what_is_saved_says_why(visit, found, tmp_path):
    page, grid = visit("tuning"), found.inputs.site.grid
    page.get_by_label("Need or pressure in hand").select_option("Water depth")
    part = part_of(found.profile, "water_depth")
    sentence = curve_sentence(part, spread_of(found.layers, part.layer, "wet"))
    page.locator("strong").get_by_text(sentence, exact=True).wait_for()
    page.wait_for_function(f"({POINTS})().length === {len(part.curve.values)}")
    number = part.curve.indices.index(max(part.curve.indices))
    under_way = drag(page, number, 0, 150)
    assert re.search(r"about [1-9]", under_way), "nothing is shown while the hand moves"

    page.wait_for_function(f"({POINTS})()[{number}]?.[1] < 0.8")
    value, index, *_ = page.evaluate(POINTS)[number]
    points = list(zip(part.curve.values, part.curve.indices, strict=True))
    assert value == points[number][0]
    points[number] = (value, index)
    dragged = found.profile.with_curve("water_depth", type(part.curve)(*zip(*points, strict=True)))
    expected = said(found, dragged)
    assert expected != said(found, found.profile)
    assert says(page, expected), (live(page), expected)

    before, now = picture(found, found.profile), picture(found, dragged)
    flipped = flips.flips(before, now, "suitability").to_numpy()
    # a cell whose neighbours share its fate, so that the pixel looked at lies within one colour
    rows, columns = np.nonzero(flipped == flips.WORSE)
    row, column = next(
        (r, c)
        for r, c in zip(rows, columns, strict=True)
        if 3 < r < grid.shape[0] - 3
        and 3 < c < grid.shape[1] - 9
        and (flipped[r - 1 : r + 2, c - 1 : c + 2] == flips.WORSE).all()
    )
    where = share_of(grid, grid.x[column], grid.y[row])
    figures = page.locator(".bk-Figure")
    figures.nth(2).scroll_into_view_if_needed()
    assert comes_to(page, figures.nth(2), where, rgb(flips.FLIP_COLOURS[flips.WORSE]))
    score = float(now.layer("suitability")[row, column])
    assert comes_to(page, figures.nth(1), where, rgb(scale_of("suitability").colour(score)))

    page.get_by_role("button", name="Undo").click()
    assert says(page, said(found, found.profile))
    page.get_by_role("button", name="Redo").click()
    assert says(page, expected)

    place = f"factors.water_depth.points[{number + 1}]"
    page.get_by_text(f"1 change has no reason yet: water depth: point {number + 1}.").wait_for()
    page.get_by_text(ASKS_FOR_A_NAME).wait_for()
    unsigned = page.locator("a[disabled]", has_text="Save the profile (TOML)")
    unsigned.wait_for()
    page.get_by_label(re.compile("^Why water depth: point")).fill("seen feeding (twice) in deeper water")
    page.get_by_label("Author").fill("A. Diver")
    page.get_by_label("Date").fill("2026-05-01")
    page.get_by_label("Date").press("Tab")
    page.get_by_text("no reason yet").wait_for(state="detached")
    unsigned.wait_for(state="detached")
    with page.expect_download() as download:
        page.get_by_text("Save the profile (TOML)").click()
    saved = tmp_path / "tuned.toml"
    download.value.save_as(saved)
    assert read_profile(saved) == dragged
    text = saved.read_text(encoding="utf-8")
    assert reasons_in(text) == {place: "seen feeding [twice] in deeper water (A. Diver, 2026-05-01)"}
    assert [change.place for change in changes(found.profile, read_profile(saved))] == [place]

    again = visit("tuning")
    assert says(again, said(found, found.profile))
    again.locator("input[type=file]").set_input_files(saved)
    again.get_by_role("button", name="Go on with it").click()
    assert says(again, expected)
    assert again.get_by_label(re.compile("^Why water depth")).input_value() == "seen feeding [twice] in deeper water"


def test_what_can_be_dragged_can_be_typed_and_a_point_stays_between_its_neighbours(visit, found):
    page = visit("tuning", NARROW)
    page.get_by_label("Need or pressure in hand").select_option("Water depth")
    curve = part_of(found.profile, "water_depth").curve
    last = len(curve.values)
    page.wait_for_function(f"({POINTS})().length === {last}")
    field = page.get_by_label(re.compile(f"^Point {last}: value"))
    field.fill("-90")
    field.press("Enter")
    page.wait_for_function(f"({POINTS})()[{last - 1}]?.[0] !== {curve.values[-1]}")
    shown = [point[0] for point in page.evaluate(POINTS)]
    assert shown[:-1] == list(curve.values[:-1])
    assert curve.values[-2] < shown[-1] <= curve.values[-2] + 1
    page.get_by_role("button", name="As published").click()
    page.wait_for_function(f"({POINTS})()[{last - 1}]?.[0] === {curve.values[-1]}")

    weight = page.get_by_label("Weight", exact=True)
    weight.fill("0.5")
    weight.press("Enter")
    assert says(page, said(found, found.profile.with_weight("water_depth", 0.5)))
    page.get_by_label("Good habitat from").fill("0.5")
    page.get_by_label("Good habitat from").press("Enter")
    lighter = found.profile.with_weight("water_depth", 0.5)
    low = min(lighter.suitability_breaks[0], 0.49)
    assert says(page, said(found, dataclasses.replace(lighter, suitability_breaks=(low, 0.5))))
    for viewport in (NARROW, WIDE):
        page.set_viewport_size(viewport)
        page.wait_for_timeout(700)
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]


@pytest.mark.parametrize("viewport", [NARROW], ids=["narrow"])
def test_a_second_profile_is_laid_beside_the_one_in_hand(visit, found, tmp_path, viewport):
    page = visit("tuning", viewport)
    name = found.profile.factors[-1].name
    other = found.profile.with_weight(name, 9.0)
    from habitat.profile_text import profile_text

    path = tmp_path / "second.toml"
    path.write_text(profile_text(other), encoding="utf-8")
    page.locator("input[type=file]").set_input_files(path)
    page.get_by_role("button", name="Lay it beside").click()
    page.get_by_role("heading", name="Two profiles side by side").wait_for()
    table = flips.class_table(picture(found, found.profile), picture(found, other), "suitability")
    page.get_by_text(flips.agreement_sentence(table), exact=True).wait_for()
    row = page.get_by_role("row").filter(has_text=f"{name.replace('_', ' ')}: weight")
    assert "9" in row.inner_text()
    figures = page.locator(".bk-Figure")
    figures.nth(4).wait_for()
    assert figures.count() == 5
    x, y = at(figures.nth(3), (0.5, 0.5))
    assert x > 0 and y > 0
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]

    bad = tmp_path / "bad.toml"
    bad.write_text('title = "nothing"', encoding="utf-8")
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    page.locator("input[type=file]").set_input_files(bad)
    page.get_by_role("button", name="Lay it beside").click()
    page.get_by_role("alert").get_by_text("bad.toml", exact=False).wait_for()

    # one with other needs cannot be gone on with: the page says why, stays alive and reads the site for it
    strange = next(one for one in map(read_profile, shipped_profiles()) if why_beside(one, found.profile))
    path.write_text(strange.text, encoding="utf-8")
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    page.locator("input[type=file]").set_input_files(path)
    page.get_by_role("button", name="Go on with it").click()
    page.get_by_text(why_beside(strange, found.profile)).wait_for()
    page.get_by_role("heading", name="Two profiles side by side").wait_for()
