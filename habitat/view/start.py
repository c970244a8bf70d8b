"""The first page: what this is for, how the site stands, and a door for each kind of reader."""

from __future__ import annotations

import math

import panel as pn
from markupsafe import Markup

from habitat.site_map import SiteMap
from habitat.view import summary, theme
from habitat.view.frame import whole_page
from habitat.view.host import address_of
from habitat.view.opening import first_season
from habitat.view.words import hectares
from habitat.zones import hectares_by_class

LEAD = (
    "A few dozen large grazing animals, too wary to count, live in these shallows. What can be watched and defended "
    "is their habitat: where they can live, what threatens each place, and where the two meet. These pages turn a "
    "folder of survey files into maps of that, with every score open to question."
)

# page, for whom, what they get
DOORS = (
    (
        "appraise",
        "I am appraising a plan",
        "Load or draw a proposal: maps before and after, what it takes of the habitat and why, the standing conditions "
        "it does not meet, and variants side by side.",
        "Open the appraisal",
    ),
    (
        "overview",
        "I want to see how the site stands",
        "Maps of habitat, threat and concern side by side, hectares by class and zone, and for any place you click "
        "the reasons behind its score.",
        "Open the overview",
    ),
    (
        "water",
        "I look after the land, the outlets or a dredge",
        "From land cover to load, plume, light and forage, step by step: a map of each, the numbers behind any place, "
        "and where the measurements leave the map in doubt.",
        "Open water and light",
    ),
    (
        "tuning",
        "I know the animals and the water",
        "Move the weight of each need and pressure, see at once which hectares change class, and take the tuned "
        "profile home as a text file.",
        "Open the tuning page",
    ),
    (
        "trust",
        "I want to know how sure this is",
        "The chance of each class in each place, hectares with their range, what they depend on, what the sightings "
        "say of the map, and weights that several people gave.",
        "Open the page on how sure",
    ),
    (
        "review",
        "I am reviewing a published map",
        "Drop its sealed record: the map is made again, check after check, with the first cause of any difference, the "
        "cells it shows in, each followed back to its files, and your comments.",
        "Open the review",
    ),
    (
        "sources",
        "I am checking a map",
        "Every layer with its file, digest, date, source, licence and method, the versions used, and the command "
        "that makes the same map again.",
        "Open the sources",
    ),
)

START_CSS = f"""
.state {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 210px), 1fr)); gap: 18px 28px; }}
.state b {{ display: block; font: 600 1.9rem/1.15 "Iowan Old Style", "Palatino Linotype", Palatino, "Noto Serif",
  Georgia, serif; font-variant-numeric: tabular-nums; }}
.state span {{ font-size: 0.92rem; }}
.doors {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 250px), 1fr)); gap: 20px; }}
.door {{ background: #fff; border: 1px solid {theme.LINE}; border-radius: 14px; padding: 24px 24px 22px;
  display: flex; flex-direction: column; gap: 8px; }}
.door a {{ margin-top: auto; padding: 10px 0; font-weight: 600; }}
.door p {{ margin-bottom: 6px; }}
"""


def start_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("start", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    return [
        theme.card(theme.text(state_of_site(site_map), css=START_CSS)),
        theme.text(doors(), css=START_CSS),
    ]


def state_of_site(site_map: SiteMap) -> Markup:
    """Four figures that sum the site up, in its first season."""
    season = first_season(site_map)
    table = hectares_by_class(site_map.assessment, season)
    figures = [(summary.scored_area(table), "of water and flats scored")]
    for kind, name, words in (
        ("suitability", summary.GOOD, "of it good habitat"),
        ("threat", summary.HIGH, "under high threat"),
        ("concern", summary.GOOD_UNDER_HIGH, "good habitat under high threat: act there first"),
    ):
        known = summary.is_scored(table, kind)
        figures.append((summary.areas(table, kind)[name] if known else math.nan, words))
    cells = Markup("").join(
        Markup("<div><b>{}</b><span>{}</span></div>").format(hectares(area), words) for area, words in figures
    )
    when = f" in the {season} season" if season else ""
    heading = f"The site{when}, read for: {site_map.profile.title.lower()}"
    return Markup('<h2>{}</h2><div class="state" style="margin-top:16px">{}</div>').format(heading, cells)


def doors() -> Markup:
    """The ways in, one for each kind of reader."""
    parts = Markup("").join(
        Markup('<section class="door"><h2>{}</h2><p>{}</p><a href="{}">{}</a></section>').format(
            who, gets, address_of(page), words
        )
        for page, who, gets, words in DOORS
    )
    return Markup('<div class="doors">{}</div>').format(parts)
