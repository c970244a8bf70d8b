"""The planner's page: where the animals can live, what presses on each place, and where the two meet."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pandas as pd
import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.explanation import explain
from habitat.pressure_ranking import pressures_ranked
from habitat.site_map import SiteMap
from habitat.view import summary, theme
from habitat.view.address import keep_address, view_of_address
from habitat.view.areas import hectares_table, layer_words, zones_of
from habitat.view.charts import CHART_CSS, explanation_chart, ranking_chart
from habitat.view.controls import layer_select, place_inputs, season_select
from habitat.view.frame import whole_page
from habitat.view.host import address_of, is_in_lab
from habitat.view.legends import concern_legend, layer_legend, suitability_legend, threat_legend
from habitat.view.map_cards import MapTable, map_card, picture_of, shown_picture
from habitat.view.opening import first_season
from habitat.view.readout import READOUT_CSS, readout
from habitat.view.session import Picture, Session, View
from habitat.zones import hectares_by_class

LEAD = "Where can the animals live, what presses on each place, and where do the two meet?"


CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude</h2>"
    "<p><strong>We may</strong> compare places within this site, see which pressure weighs where, and say which "
    "survey or rule a disputed score rests on.</p>"
    "<p><strong>We may not</strong> read a score as a number of animals, take a place without data for a safe or a "
    "poor one, compare with a site read for another profile, or treat a map as a permit.</p>"
)


def overview_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("overview", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    session = Session(site_map, view_of_address(first_view(site_map), site_map), assess)
    keep_address(session)
    table = MapTable(session)
    cards = [
        map_card(
            "Habitat suitability",
            "How well each place meets the animals' needs, all factors together.",
            table.map(partial(picture_of, "suitability"), score="suitability"),
            pn.bind(suitability_legend, session.param.picture),
            pn.bind(sentence_of(summary.suitability_sentence), session.param.picture),
        ),
        map_card(
            "Threat",
            "How heavily people's pressures weigh on each place, all together.",
            table.map(partial(picture_of, "threat"), score="threat"),
            pn.bind(threat_legend, session.param.picture),
            pn.bind(sentence_of(summary.threat_sentence), session.param.picture),
        ),
        map_card(
            "Concern: the two together",
            "Good habitat under heavy pressure is where to act first.",
            table.map(partial(picture_of, "concern"), score="concern"),
            concern_legend(),
            pn.bind(sentence_of(summary.concern_sentence), session.param.picture),
        ),
    ]
    detail = map_card(
        "One layer at a time",
        "Look behind the scores: any layer, any need, any pressure.",
        theme.stack(layer_select(session), table.map(shown_picture, follows=("picture", "shown")), gap=12),
        pn.bind(_shown_legend, session.param.picture, session.param.shown),
        pn.bind(_shown_words, session.param.picture, session.param.shown),
    )
    why = theme.card(
        theme.text(Markup("<h2>Why this place scores as it does</h2>")),
        place_inputs(session),
        theme.text(pn.bind(_explanation, session.param.picture, session.param.place), css=CHART_CSS),
    )
    ranking = theme.card(
        theme.text(
            Markup(
                "<h2>Which pressures matter most</h2><p class='quiet'>By the habitat each weighs on: suitability, "
                "exposure and weight multiplied, summed over the site.</p>"
            )
        ),
        theme.text(pn.bind(_ranking, session.param.picture), css=CHART_CSS),
    )
    areas = theme.card(theme.text(Markup("<h2>Hectares by class and zone</h2>")), hectares_table(session), gap=14)
    season = season_select(session)
    return [
        theme.grid(*([season] if season else []), profile_note(site_map), least=300, align="end"),
        theme.grid(*cards),
        *zones_note(site_map),
        table.thinning_note(),
        theme.grid(
            theme.stack(detail, ranking),
            theme.stack(why, theme.card(theme.text(CONCLUSIONS))),
            least=420,
            align="start",
        ),
        areas,
        theme.text(pn.bind(readout, session.param.picture, session.param.pointed), css=READOUT_CSS),
    ]


def zones_note(site_map: SiteMap) -> list[pn.widgets.StaticText]:
    """What the dashed lines are, where there are any."""
    if zones_of(site_map) is None:
        return []
    return [
        theme.text(Markup("<p class='quiet'>Dashed lines part the zones; the table below gives each its own row.</p>"))
    ]


def profile_note(site_map: SiteMap) -> pn.widgets.StaticText:
    """Which profile the site is read for, and the ways to read it for another that is shipped."""
    from habitat.profile import read_profile, shipped_profiles

    others = [name for name in shipped_profiles() if read_profile(name).title != site_map.profile.title]
    links = Markup(", ").join(
        Markup('<a href="{}?profile={}">{}</a>').format(address_of("overview"), name, name.replace("_", " "))
        for name in others
    )
    also = Markup(" Read it for: {}.").format(links) if others and not is_in_lab() else ""
    return theme.text(Markup("<p>Read for: <strong>{}</strong>.{}</p>").format(site_map.profile.title, also))


def first_view(site_map: SiteMap) -> View:
    """What a visitor sees first: the first season, and the place where good habitat meets the most threat."""
    season = first_season(site_map)
    picture = Picture(layers=site_map.layers, profile=site_map.profile, assessment=site_map.assessment, season=season)
    return View(profile=site_map.profile, season=season, place=most_pressed_place(picture))


def most_pressed_place(picture: Picture) -> tuple[float, float]:
    """Centre of the cell where suitability times threat is greatest; the middle where nothing is scored."""
    product = picture.layer("suitability") * picture.layer("threat")
    if not bool(product.notnull().any()):
        return float(product["x"].mean()), float(product["y"].mean())
    row, column = np.unravel_index(int(np.nanargmax(product.to_numpy())), product.shape)
    return float(product["x"][column]), float(product["y"][row])


def sentence_of(sentence: Callable[[pd.DataFrame], str]) -> Callable[[Picture], Markup]:
    """A sentence about hectares as a paragraph about a picture."""

    def of_picture(picture: Picture) -> Markup:
        return Markup("<p>{}</p>").format(sentence(hectares_by_class(picture.assessment, picture.season)))

    return of_picture


def _shown_legend(picture: Picture, shown: str) -> Markup:
    return layer_legend(picture.layer(shown))


def _shown_words(picture: Picture, shown: str) -> Markup:
    return layer_words(picture.layer(shown))


def _explanation(picture: Picture, place: tuple[float, float]) -> Markup:
    parts = explain(picture.layers, picture.assessment, picture.profile, *place, season=picture.season)
    return explanation_chart(parts)


def _ranking(picture: Picture) -> Markup:
    return ranking_chart(pressures_ranked(picture.assessment, picture.profile, season=picture.season))
