"""The scientist's page: weights moved by sliders, the whole site scored again, the tuned profile as a file."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import partial

import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.profile import Profile
from habitat.profile_text import profile_text
from habitat.site_map import SiteMap
from habitat.view import summary, theme
from habitat.view.comparison import changes_table
from habitat.view.controls import season_select
from habitat.view.frame import whole_page
from habitat.view.legends import suitability_legend, threat_legend
from habitat.view.map_cards import MapTable, map_card, picture_of
from habitat.view.overview import first_view, sentence_of
from habitat.view.session import Session

LEAD = (
    "Move the weight of a need or a pressure: the whole site is scored again and compared with the profile as it "
    "was read."
)
FACTOR_MOST = 10.0  # end of the sliders of needs; only the proportion between their weights matters


def tuning_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("tuning", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    session = Session(site_map, first_view(site_map), assess)
    table = MapTable(session)
    maps = (
        map_card(
            "Habitat suitability",
            "With the weights as they stand now.",
            table.map(partial(picture_of, "suitability"), score="suitability"),
            pn.bind(suitability_legend, session.param.picture),
            pn.bind(sentence_of(summary.suitability_sentence), session.param.picture),
        ),
        map_card(
            "Threat",
            "With the weights as they stand now.",
            table.map(partial(picture_of, "threat"), score="threat"),
            pn.bind(threat_legend, session.param.picture),
            pn.bind(sentence_of(summary.threat_sentence), session.param.picture),
        ),
    )
    season = season_select(session)
    return [
        theme.grid(
            theme.card(
                theme.text(Markup("<h2>Weights of the needs</h2><p class='quiet'>Only their proportion matters.</p>")),
                *weight_sliders(session, site_map.profile.factors, FACTOR_MOST),
                gap=16,
            ),
            theme.card(
                theme.text(
                    Markup(
                        "<h2>Weights of the pressures</h2><p class='quiet'>What full exposure takes of the habitat's "
                        "worth, 0 to 1.</p>"
                    )
                ),
                *weight_sliders(session, site_map.profile.pressures, 1.0),
                gap=16,
            ),
            theme.card(
                theme.text(Markup("<h2>What changed</h2>")),
                *([season] if season else []),
                theme.text(pn.bind(partial(changes_table, site_map), session.param.picture)),
                *steps_and_file(session),
                gap=14,
            ),
            least=300,
            align="start",
        ),
        theme.grid(*maps, least=420),
        table.thinning_note(),
    ]


def weight_sliders(session: Session, parts: tuple, most: float) -> list[pn.widgets.FloatSlider]:
    """A slider for each need or pressure; a move is acted on when it ends."""
    sliders = []
    for part in parts:
        slider = pn.widgets.FloatSlider(
            name=part.label.capitalize(),
            start=0.0,
            end=max(most, part.weight),
            step=0.05 if most == 1 else 0.5,
            value=part.weight,
            stylesheets=[theme.WIDGET_CSS],
            sizing_mode="stretch_width",
            margin=0,
        )
        slider.param.watch(_weigh(session, part.name), "value_throttled")
        session.param.watch(_follow(slider, part.name), "picture")
        sliders.append(slider)
    return sliders


def steps_and_file(session: Session) -> list[object]:
    """A step back, a step forward, the way back to the start, and the tuned profile as a file."""
    look = {"stylesheets": [theme.WIDGET_CSS], "sizing_mode": "stretch_width", "margin": 0}
    back = pn.widgets.Button(name="Back", **look)
    forward = pn.widgets.Button(name="Forward", **look)
    first = pn.widgets.Button(name="As read", **look)
    back.on_click(lambda _: session.param.update(history=session.history.back()))
    forward.on_click(lambda _: session.param.update(history=session.history.forward()))
    first.on_click(lambda _: session.choose(profile=session.site_map.profile))
    file = pn.widgets.FileDownload(
        callback=lambda: profile_file(session.view.profile),
        filename="profile.toml",
        label="Take the tuned profile home (TOML)",
        button_type="primary",
        **look,
    )
    return [theme.grid(back, forward, first, least=84, gap=8), file]


def profile_file(profile: Profile) -> io.BytesIO:
    """The profile as the bytes of a TOML file, with the comments of the file it was read from."""
    return io.BytesIO(profile_text(profile).encode())


def _weigh(session: Session, name: str) -> Callable[[object], None]:
    return lambda event: session.choose(profile=session.view.profile.with_weight(name, event.new))


def _follow(slider: pn.widgets.FloatSlider, name: str) -> Callable[[object], None]:
    def follow(event: object) -> None:
        slider.value = weight_of(event.new.profile, name)

    return follow


def weight_of(profile: Profile, name: str) -> float:
    """The weight of the need or pressure called `name`."""
    return next(part.weight for part in (*profile.factors, *profile.pressures) if part.name == name)
