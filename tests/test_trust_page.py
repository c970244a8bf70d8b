"""The page on how sure the map is, in a browser: drawn, asked, sown anew, fed with judgements, silent on places."""

from __future__ import annotations

import datetime
import re
import struct
import tomllib

import numpy as np
import pytest

from habitat.colours import class_colours
from habitat.pairwise_file import read_judgements
from habitat.site_doubt import place_doubt, site_doubt
from habitat.site_evidence import WITHHELD, site_evidence
from habitat.site_weights import judgements_file, spread_sentence, weighed_people, weight_spread
from habitat.view import trust_words
from habitat.view.trust_evidence import verdict_sentence
from habitat.view.trust_findings import FIRST_NUMBER, FIRST_SEED
from habitat.view.trust_maps import CHANCE_SCALE, bands_of
from layers.demo.judgements import TABLE
from tests.pages import (
    NARROW,
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
from tests.sites import SIGHTINGS, degrees

__all__ = ["browser", "found_by_the_site", "serving", "shore_site", "visiting"]
pytestmark = in_browser
LIKELIEST, CHANCE, SPREAD = range(3)  # the maps, from left to right
ALERT = ".alert[role=alert]"


@pytest.fixture(scope="module")
def judged(site):
    """The judgements of the demo, beside the site file before the page is opened."""
    (site / "weight_judgements.csv").write_text(TABLE, encoding="utf-8")
    return read_judgements(judgements_file(site))


@pytest.fixture(scope="module")
def doubt(found):
    return site_doubt(found, number=FIRST_NUMBER, seed=FIRST_SEED)


@pytest.fixture
def opened(judged, visit):
    """Opens the page and waits until it has worked everything out."""

    def open_page(address="trust", *options):
        page = visit(address, *options)
        done(page)
        return page

    return open_page


def done(page):
    page.get_by_text("Shares of what acts together", exact=False).wait_for()
    page.get_by_role("button", name="Stop").wait_for(state="hidden")


def test_it_draws_classes_chances_and_ranges_and_says_what_they_come_to(opened, found, doubt):
    page, grid = opened(), found.inputs.site.grid
    figures = page.locator(".bk-Figure")
    cells = doubt.found.cells.sel(season="wet")
    sure = bands_of(cells["confidence"].to_numpy()) == 0
    sure[:, :15] = sure[:, 36:] = sure[:4] = sure[-6:] = False  # away from the coast, buttons and the scale bar
    row, column = map(int, np.argwhere(sure)[len(np.argwhere(sure)) // 2])
    where = share_of(grid, grid.x[column], grid.y[row])
    colour = class_colours("suitability_class", 3)[int(cells["likeliest_class"][row, column])]
    assert comes_to(page, figures.nth(LIKELIEST), where, rgb(colour), within=2)
    chance = rgb(CHANCE_SCALE.colour(float(cells["chance_good"][row, column])))
    assert comes_to(page, figures.nth(CHANCE), where, chance)
    page.get_by_label("Chance of", exact=True).select_option("Fair or good habitat")
    page.get_by_text(trust_words.chance_sentence(doubt, "chance_fair_or_better", "wet"), exact=True).wait_for()
    either = rgb(CHANCE_SCALE.colour(float(cells["chance_fair_or_better"][row, column])))
    assert comes_to(page, figures.nth(CHANCE), where, either)
    for season in ("wet", "dry"):
        page.get_by_label("Season", exact=True).select_option(f"{season.capitalize()} season")
        for sentence in (
            trust_words.confidence_sentence(doubt, season),
            trust_words.spread_sentence(doubt, season),
            trust_words.interval_sentence(doubt, season),
        ):
            page.get_by_text(sentence, exact=True).first.wait_for()
    for exact in doubt.found.doubts.exact:
        assert page.get_by_text(exact, exact=True).first.is_visible()

    # a click on one map asks about the place, and zooming one zooms all
    row, column = map(int, np.argwhere(sure)[0])
    page.mouse.click(*at(figures.nth(SPREAD), share_of(grid, grid.x[column], grid.y[row])))
    place = place_doubt(doubt, float(grid.x[column]), float(grid.y[row]), "dry")
    page.get_by_text(trust_words.place_words(place), exact=True).wait_for()
    page.wait_for_url(re.compile(r"easting=\d+"))
    before = figures.nth(LIKELIEST).screenshot()
    page.mouse.wheel(0, -400)
    page.wait_for_timeout(1500)
    assert figures.nth(LIKELIEST).screenshot() != before


def test_another_seed_and_number_are_drawn_again_and_kept_in_the_address(opened, found):
    page = opened("trust?draws=200&seed=5")
    assert page.get_by_label("Number of draws").input_value() == "200"
    page.get_by_label("Seed of the draws").fill("9")
    page.get_by_label("Seed of the draws").press("Enter")
    page.get_by_role("button", name="Draw again").click()
    anew = site_doubt(found, number=200, seed=9)
    page.get_by_text(trust_words.interval_sentence(anew, "wet"), exact=True).wait_for()
    page.wait_for_url(re.compile("seed=9"))
    done(page)


def test_no_place_and_no_score_of_a_sighting_is_sent(opened, visit, found):
    page = opened("trust", NARROW)
    held = site_evidence(found, as_of=datetime.date.today(), seed=FIRST_SEED)
    page.get_by_text(verdict_sentence(held), exact=True).wait_for()
    page.get_by_text("All of it in sentences").click()
    assert page.get_by_text(WITHHELD, exact=True).count() == 3
    assert page.get_by_text("unknown uncertainty of its place", exact=True).is_visible()
    assert page.get_by_text("too few sightings to propose another value", exact=False).first.is_visible()
    page.get_by_role("button", name="Ask the sightings").click()
    page.get_by_text("forage has an index of 0.3: too few sightings", exact=False).wait_for()
    received = b"".join(part.encode() if isinstance(part, str) else part for part in visit.received)
    assert b"too few to tell" in received, "nothing was received, so nothing was looked through"
    numbers = [number for x, y in SIGHTINGS for number in (x, y, *degrees(x, y))]
    for number in (*numbers, *map(float, held.whole.comparison.seen)):
        assert struct.pack("<d", number) not in received
        assert f"{number:.5f}".rstrip("0").encode() not in received
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]


def test_peoples_weights_are_shown_used_with_a_reason_and_taken_home(opened, doubt, judged, tmp_path):
    page = opened()
    page.get_by_text("The judgements of ranger contradict each other and are left out", exact=False).wait_for()
    row = page.locator("tr").filter(has_text="the group")
    used = weighed_people(judged).used
    assert f"{used.weights['forage']:.0%}" in row.inner_text()
    page.get_by_role("button", name="Work out what their differences do").click()
    page.get_by_text(spread_sentence(weight_spread(doubt, used), "wet"), exact=True).wait_for()

    field = page.get_by_label("Why the judgements of ranger are used all the same")
    field.fill("nobody else knows the flats")
    field.press("Enter")
    page.get_by_text("used all the same: nobody else knows the flats", exact=False).first.wait_for()
    with page.expect_download() as download:
        page.get_by_text("The profile with the group's weights (TOML)").click()
    held = tomllib.loads(download.value.path().read_text("utf-8"))
    source = held["factors"]["forage"]["source"]
    assert "3 people" in source and "knows the flats" in source

    wrong = tmp_path / "wrong.csv"
    wrong.write_text(TABLE.replace("fisher,forage,water_depth,1/2\n", ""), encoding="utf-8")
    page.locator("input[type=file]").set_input_files(wrong)
    page.locator(ALERT).get_by_text("fisher does not compare forage and water_depth", exact=False).wait_for()
    right = tmp_path / "right.csv"
    right.write_text("\n".join(line for line in TABLE.splitlines() if not line.startswith("ranger")), encoding="utf-8")
    page.locator("input[type=file]").set_input_files(right)
    page.locator(ALERT).wait_for(state="detached")
    page.locator("tr").filter(has_text="ranger").wait_for(state="detached")
