"""The served pages in a real browser: what is drawn, what is said, and that no other host is asked."""

from __future__ import annotations

import re
import struct

import numpy as np
import pytest

from habitat.explanation import explain
from habitat.pressure_ranking import pressures_ranked
from habitat.view import chain_words, summary
from habitat.view.chain import chain_of
from habitat.view.ladder import ladder
from habitat.view.ladder_chart import figure
from habitat.view.words import hectares, measure
from habitat.zones import hectares_by_class
from tests.pages import (
    NAMELESS,
    NARROW,
    PATIENCE,
    WIDE,
    at,
    browser,  # noqa: F401
    comes_to,
    found_by_the_site,  # noqa: F401
    in_browser,
    pixel,
    rgb,
    serving,  # noqa: F401
    share_of,
    shore_site,  # noqa: F401
    visiting,  # noqa: F401
)
from tests.sites import SIGHTINGS, degrees
from tests.view.shoreland import MIDDLE

PAGES = ("", "overview", "appraise", "water", "tuning", "trust", "review", "sources")

SHADOW_TEXT = """body => { let text = ''; const walk = node => {
  if (node.nodeType === 3 && !['STYLE', 'SCRIPT'].includes(node.parentNode?.nodeName)) text += node.textContent + ' ';
  if (node.shadowRoot) walk(node.shadowRoot);
  node.childNodes.forEach(walk); }; walk(body); return text; }"""

# for each map, whether its scale bar measures by the very range that the map shows
MEASURED_BY_THE_RANGE_IN_VIEW = """() => [...Bokeh.documents[0]._all_models.values()]
    .filter(model => model.type === 'Figure')
    .map(figure => figure.center.find(part => part.type === 'ScaleBar').range === figure.x_range)"""
pytestmark = in_browser


@pytest.mark.parametrize("address", PAGES)
def test_each_page_opens_fits_narrow_and_wide_screens_names_its_controls_and_holds_no_sighting(visit, address):
    page = visit(address, NARROW)
    assert page.get_by_role("heading", level=1).inner_text() == "Small site"
    assert page.get_by_text("invented site: no such place exists").is_visible()
    assert page.get_by_text("local law and licensed practice decide", exact=False).last.is_visible()
    assert page.evaluate("document.documentElement.lang") == "en"
    links = page.get_by_role("navigation").get_by_role("link").all_inner_texts()
    names = ["Start", "Overview", "Appraise", "Water and light", "Tuning", "How sure", "Review", "Sources"]
    assert links == names
    figures = page.locator(".bk-Figure")
    if address == "trust":  # it works things out by itself, and what depends on what comes last
        page.get_by_text("Shares of what acts together", exact=False).wait_for()
    assert figures.count() == {"overview": 4, "appraise": 1, "water": 8, "tuning": 3, "trust": 3}.get(address, 0)
    for viewport in (NARROW, WIDE):
        page.set_viewport_size(viewport)
        page.wait_for_timeout(700)
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
        for number in range(figures.count()):
            box = figures.nth(number).bounding_box()
            assert box["width"] >= 280 and box["height"] >= 200
            assert box["x"] >= 0 and box["x"] + box["width"] <= viewport["width"]
    # the names of the handles of sliders and of the small arrows are put on by a script of the page
    page.wait_for_function(f"({NAMELESS})().nameless.length === 0", timeout=PATIENCE)
    assert page.evaluate(NAMELESS)["looked_at"] >= {"overview": 40, "water": 40, "tuning": 25}.get(address, 5)
    headings = {
        "water": [
            "1 Land cover of the catchment",
            "2 Load of nitrogen",
            "3 Plume",
            "4 Light",
            "5 Forage",
            "The map and its points",
            "Its standard error",
            "While it digs",
        ],
        "overview": ["Habitat suitability", "Threat", "Concern: the two together", "One layer at a time"],
        "appraise": ["Or draw it"],
        "tuning": ["The map now", "Cells that change class"],
        "trust": ["Likeliest class, and how sure", "Chance of being good enough", "How far the score may be off"],
    }
    names = figures.locator(".bk-events").evaluate_all("parts => parts.map(part => part.getAttribute('aria-label'))")
    charts = ["Chart: The curve in hand"] if address == "tuning" else []
    assert names == charts + [f"Map: {heading}" for heading in headings.get(address, [])]
    received = b"".join(part.encode() if isinstance(part, str) else part for part in visit.received)
    assert b"Small site" in received, "nothing was received, so nothing was looked through"
    for x, y in SIGHTINGS:
        for number in (x, y, *degrees(x, y)):
            assert struct.pack("<d", number) not in received
            assert f"{number:.5f}".rstrip("0").encode() not in received


def test_the_start_page_gives_the_hectares_and_a_door_for_each_reader(visit, found):
    page = visit("")
    table = hectares_by_class(found.assessment, "wet")
    assert page.get_by_text(hectares(summary.areas(table, "threat")["high threat"]), exact=True).first.is_visible()
    doors = (
        ("the appraisal", "appraise"),
        ("the overview", "overview"),
        ("water and light", "water"),
        ("the tuning page", "tuning"),
        ("the page on how sure", "trust"),
        ("the sources", "sources"),
    )
    for words, address in doors:
        assert page.get_by_role("link", name=f"Open {words}").get_attribute("href") == address


def test_the_maps_draw_the_colours_of_the_scores_and_the_words_give_their_hectares(visit, found):
    from habitat.colours import LAND, class_colours, scale_of

    page, grid = visit("overview"), found.inputs.site.grid
    wet = found.assessment.sel(season="wet")
    row, column = 20, 30  # a cell of open water away from marks, buttons and borders
    where = share_of(grid, grid.x[column], grid.y[row])
    figures = page.locator(".bk-Figure")
    for number, name in enumerate(("suitability", "threat")):
        expected = rgb(scale_of(name).colour(float(wet[name][row, column])))
        drawn = pixel(page, figures.nth(number), *where)
        assert np.abs(np.subtract(drawn, expected)).max() <= 6, (name, drawn, expected)
    expected = rgb(class_colours("concern")[int(wet["concern"][row, column])])
    assert np.abs(np.subtract(pixel(page, figures.nth(2), *where), expected)).max() <= 2
    assert np.abs(np.subtract(pixel(page, figures.nth(0), 0.1, 0.3), rgb(LAND))).max() <= 2
    table = hectares_by_class(found.assessment, "wet")
    for sentence in (summary.suitability_sentence, summary.threat_sentence, summary.concern_sentence):
        assert page.get_by_text(sentence(table), exact=True).is_visible()


def test_pointing_reads_every_value_and_a_click_takes_the_place_apart(visit, found):
    page, grid = visit("overview"), found.inputs.site.grid
    row, column = 12, 27
    x, y = at(page.locator(".bk-Figure").nth(0), share_of(grid, grid.x[column], grid.y[row]))
    page.mouse.move(x - 3, y)
    page.mouse.move(x, y)
    wet = found.assessment.sel(season="wet")
    strip = page.locator(".strip")
    strip.get_by_text(f"suitability {measure(float(wet['suitability'][row, column]))}", exact=True).wait_for()
    salinity = found.layers["salinity"].sel(season="wet")
    for words in (
        f"threat {measure(float(wet['threat'][row, column]))}",
        f"water depth {measure(float(found.layers['water_depth'][row, column]), 'm')}",
        f"salinity {measure(float(salinity[row, column]))}",
    ):
        assert strip.get_by_text(words, exact=True).is_visible()

    page.mouse.click(x, y)
    told = explain(found.layers, found.assessment, found.profile, grid.x[column], grid.y[row], season="wet")
    scores = f"Suitability {measure(told.suitability)}, threat {measure(told.threat)}"
    page.get_by_text(scores, exact=True).wait_for()
    first = max(told.factors, key=lambda part: part.pull)
    table = page.locator("table.bars").filter(has_text="Pull down")
    assert table.locator("tbody tr").first.locator("td").first.inner_text().startswith(first.label)
    assert table.locator("tbody tr").first.locator("td").last.inner_text() == measure(first.pull)
    for part in told.factors:
        listed = table.locator("tbody tr").filter(has_text=part.label).locator(".file").first.inner_text()
        assert listed.startswith(", ".join(part.files[:3]))
        assert listed.endswith(f"and {len(part.files) - 3} more") or len(part.files) <= 3
    page.wait_for_url(re.compile(r"easting=\d+"))


def test_zooming_one_map_zooms_the_others_and_keeps_their_shape(visit, found):
    page = visit("overview")
    # from the start: a scale bar that is given the shared range only later is not drawn again, and tells a wrong length
    assert page.evaluate(MEASURED_BY_THE_RANGE_IN_VIEW) == [True] * 4
    figures = page.locator(".bk-Figure")
    before = [figures.nth(number).bounding_box() for number in range(3)]
    old = figures.nth(2).screenshot()
    page.mouse.move(*at(figures.nth(0), (0.7, 0.4)))
    page.mouse.wheel(0, -400)
    page.wait_for_function(
        """() => { const spans = []; for (const model of Bokeh.documents[0]._all_models.values())
             if (model.type === 'Range1d' && model.start > 1000 && model.end < 1e6) spans.push(model.end - model.start);
             return spans.length && Math.min(...spans) < 1600; }"""
    )
    page.wait_for_timeout(1000)
    assert figures.nth(2).screenshot() != old
    for number in range(3):
        assert figures.nth(number).bounding_box() == pytest.approx(before[number], abs=1)


def test_the_season_and_the_layer_are_chosen_by_keyboard_and_kept_in_the_address(visit, found):
    page = visit("overview")
    page.get_by_label("Season").focus()
    page.keyboard.press("ArrowDown")
    page.get_by_text(summary.suitability_sentence(hectares_by_class(found.assessment, "dry")), exact=True).wait_for()
    page.get_by_label("Layer to show").select_option("Practical salinity")
    page.wait_for_url(re.compile("layer=salinity"))
    assert "season=dry" in page.url
    again = visit(page.url.rpartition("/")[2])
    assert again.get_by_label("Season").input_value() == "Dry season"
    assert again.get_by_label("Layer to show").input_value() == "Practical salinity"
    dry = float(found.layers["salinity"].sel(season="dry").mean())
    assert again.get_by_text(f"mean {measure(dry)}", exact=False).first.is_visible()


def test_the_table_and_the_ranking_give_what_habitat_computes(visit, found):
    page = visit("overview")
    zones = found.inputs.features["zones"]
    table = hectares_by_class(found.assessment, "wet", zones)
    inner = summary.areas(table, "suitability", "Inner")["fair habitat"]
    row = page.locator(".tabulator-row").filter(has_text="Inner")
    assert row.locator('[tabulator-field="Fair habitat, ha"]').inner_text() == f"{np.floor(inner + 0.5):,.0f}"
    ranking = pressures_ranked(found.assessment, found.profile, season="wet")
    rows = page.locator("table.bars").filter(has_text="Heaviest on").locator("tbody tr")
    assert [row.split("\t")[0] for row in rows.all_inner_texts()] == ranking["label"].tolist()
    assert hectares(ranking["habitat_units"][0]) in rows.first.inner_text()


def test_the_sources_name_every_file_with_its_digest(visit, found):
    page = visit("sources")
    text = page.locator("body").evaluate(SHADOW_TEXT)
    for entry in found.inputs.site.files:
        assert entry.path.name in text
        assert found.inputs.digests[entry.name] in text


def test_each_step_of_the_chain_draws_the_colours_of_its_values(visit, found):
    from habitat.colours import scale_of
    from habitat.view.catchment_maps import YIELD_SCALE

    page, grid, chain = visit("water"), found.inputs.site.grid, chain_of(found)
    figures = page.locator(".bk-Figure")
    fields, woods = (share_of(chain.land.grid, 499_625, MIDDLE + north) for north in (225, -225))
    for where, code, kilograms in ((fields, 1, 9.0), (woods, 2, 2.46)):
        drawn = pixel(page, figures.nth(0), *where)
        assert np.abs(np.subtract(drawn, rgb(chain.land.colours[code]))).max() <= 2
        drawn = pixel(page, figures.nth(1), *where)
        assert np.abs(np.subtract(drawn, rgb(YIELD_SCALE.colour(kilograms)))).max() <= 6
    row, column = 13, 22  # in the seagrass, away from marks
    where = share_of(grid, grid.x[column], grid.y[row])
    for number, name in ((2, "nitrogen_concentration"), (3, "bed_light"), (4, "forage")):
        value = chain.value(name, "wet", (row, column))
        assert value > 0
        drawn = pixel(page, figures.nth(number), *where)
        assert np.abs(np.subtract(drawn, rgb(scale_of(name).colour(value)))).max() <= 6, name
    page.get_by_role("button", name="Attenuation").click()
    page.get_by_text(chain_words.attenuation_sentence(chain, "wet"), exact=True).wait_for()
    expected = rgb(scale_of("attenuation").colour(chain.value("attenuation", "wet", (row, column))))
    assert comes_to(page, figures.nth(3), where, expected)
    for sentence in (chain_words.load_sentence, chain_words.plume_sentence, chain_words.forage_sentence):
        assert page.get_by_text(sentence(chain, "wet"), exact=True).is_visible()


@pytest.mark.parametrize("viewport", [WIDE, NARROW], ids=["wide", "narrow"])
def test_a_clicked_cell_shows_the_numbers_behind_it_and_the_season_changes_them(visit, found, viewport):
    page, grid, chain = visit("water", viewport), found.inputs.site.grid, chain_of(found)
    row, column = 9, 12  # off the outlet
    plume = page.locator(".bk-Figure").nth(2)
    plume.scroll_into_view_if_needed()
    page.mouse.click(*at(plume, share_of(grid, grid.x[column], grid.y[row])))
    page.wait_for_url(re.compile(r"easting=\d+"))
    place = tuple(float(re.search(rf"{axis}=(\d+)", page.url)[1]) for axis in ("easting", "northing"))
    assert grid.cell_at(*place) == (row, column)
    seen = []
    for season in ("wet", "dry"):
        page.get_by_label("Season").select_option(f"{season.capitalize()} season")
        page.get_by_text(f"{place[0]:,.0f} E, {place[1]:,.0f} N in the {season} season", exact=True).wait_for()
        shown = {
            rung.get_attribute("data-layer"): rung.locator("b").inner_text()
            for rung in page.locator("li[data-layer]").all()
        }
        rungs = ladder(chain, season, place)
        assert shown == {rung.layer: figure(rung) for rung in rungs}
        seen.append(shown)
        assert page.get_by_text(chain_words.load_sentence(chain, season), exact=True).is_visible()
        assert page.get_by_text(chain_words.dredge_sentence(chain, season), exact=True).is_visible()
    assert seen[0]["nitrogen_concentration"] != seen[1]["nitrogen_concentration"], "the season changes nothing here"
    nitrogen = page.locator('li[data-layer="nitrogen_concentration"]')
    nitrogen.locator("summary").click()
    assert nitrogen.get_by_text("cover.tif", exact=False).last.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]


def test_stations_are_drawn_where_they_are_in_the_colour_of_their_mean(visit, found):
    from habitat.colours import scale_of

    page, grid, chain = visit("water"), found.inputs.site.grid, chain_of(found)
    page.get_by_label("What was measured").select_option("Chlorophyll a")
    page.get_by_text("20+ µg/L", exact=True).wait_for()
    measured = chain.measured["chlorophyll"]
    for number, filled in ((5, True), (6, False)):
        drawn_map = page.locator(".bk-Figure").nth(number)
        for x, y, mean in zip(measured.points["x"], measured.points["y"], measured.means("wet"), strict=True):
            expected = rgb(scale_of("chlorophyll").colour(mean)) if filled else (255, 255, 255)
            assert comes_to(page, drawn_map, share_of(grid, x, y), expected), (number, x, y)


def test_the_plume_of_a_dredge_is_drawn_in_the_season_it_digs(visit, found):
    from habitat.colours import scale_of

    page, grid, chain = visit("water"), found.inputs.site.grid, chain_of(found)
    page.get_by_label("Season").select_option("Dry season")
    page.get_by_text(chain_words.dredge_sentence(chain, "dry"), exact=True).wait_for()
    row, column = 22, 35  # in the water off the footprint
    value = chain.value("dredge_plume", "dry", (row, column))
    assert value > 0.5
    where = share_of(grid, grid.x[column], grid.y[row])
    assert comes_to(page, page.locator(".bk-Figure").nth(7), where, rgb(scale_of("dredge_plume").colour(value)))


def test_maps_of_the_water_zoom_together_and_leave_those_of_the_land(visit, found):
    page = visit("water")
    assert page.evaluate(MEASURED_BY_THE_RANGE_IN_VIEW) == [True] * 8
    figures = page.locator(".bk-Figure")
    figures.nth(3).scroll_into_view_if_needed()
    page.wait_for_timeout(500)
    land, forage = figures.nth(0).screenshot(), figures.nth(4).screenshot()
    page.mouse.move(*at(figures.nth(2), (0.7, 0.4)))
    page.mouse.wheel(0, -400)
    page.wait_for_timeout(2500)
    assert figures.nth(4).screenshot() != forage
    page.mouse.move(5, 5)
    page.wait_for_timeout(800)
    assert figures.nth(0).screenshot() == land
