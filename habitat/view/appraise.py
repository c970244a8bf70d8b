"""The page for appraising a proposal: what it does to the habitat, by how much, and which variant does less."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib.util import find_spec

import holoviews as hv
import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.site_map import SiteMap
from habitat.view import appraise_words as words
from habitat.view import difference, theme
from habitat.view.address import view_of_address
from habitat.view.appraise_forms import LOOK, draw_form, load_form, variant_form
from habitat.view.bench import Bench, Desk, name_of
from habitat.view.controls import season_select
from habitat.view.frame import ALERT_CSS, whole_page
from habitat.view.legends import suitability_legend, threat_legend
from habitat.view.map_cards import MapTable, map_card, shown_picture
from habitat.view.opening import coarse_site, first_season
from habitat.view.session import Session, View

LEAD = "What does this proposal do to the habitat, how sure is that, and which variant would do less?"
KINDS_SHOWN = {"Suitability": "suitability", "Threat": "threat"}

CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude, and who decides</h2>"
    "<p><strong>We may</strong> say which of these variants takes less habitat, what takes most of it, in which "
    "season, and which standing condition it does not meet.</p>"
    "<p><strong>We may not</strong> take a change smaller than a few cells for real, read habitat units as animals, "
    "take water without data or sightings for empty, or treat a condition that is met as a permit.</p>"
    "<p><strong>Who decides:</strong> the authority that each condition names. Local law and licensed practice decide, "
    "and whoever keeps the records of the animals is to be asked.</p>"
)


def appraise_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("appraise", LEAD, _body)


def _body(opened: SiteMap) -> list[object]:
    site_map = coarse_site(opened)
    desk = Desk(site_map)
    start = View(profile=site_map.profile, season=first_season(site_map), shown="suitability")
    session = Session(site_map, view_of_address(start, site_map), assess)
    if session.view.shown not in KINDS_SHOWN.values():
        session.choose(shown="suitability")
    _keep_season(session)
    results = theme.stack()
    built: list[object] = []

    def lay_out(bench: Bench) -> None:
        if bench.account is not None and not built:
            built.extend(_results(desk, session))
            results.objects = built

    desk.param.watch(lambda event: lay_out(event.new), "bench")
    loading = theme.card(
        theme.text(
            Markup(
                "<h2>Load a proposal</h2><p>A GeoJSON, GeoPackage, zipped shapefile or KML whose features each say "
                "their <code>kind</code>. A template shows what a kind asks for.</p>"
            )
        ),
        *load_form(desk),
    )
    drawing = theme.card(theme.text(Markup("<h2>Or draw it</h2>")), *draw_form(desk))
    return [
        theme.text(cell_note(site_map, opened)),
        theme.grid(loading, drawing, least=420, align="start"),
        theme.text(pn.bind(words.state, desk.param.bench), css=ALERT_CSS + DOING_CSS),
        results,
        theme.card(theme.text(CONCLUSIONS)),
    ]


DOING_CSS = f"""
.doing {{ border-left: 6px solid {theme.ACCENT}; padding: 8px 14px; background: #fff; font-weight: 600;
  animation: breathe 1.2s ease-in-out infinite alternate; }}
@keyframes breathe {{ to {{ opacity: 0.55; }} }}
@media (prefers-reduced-motion: reduce) {{ .doing {{ animation: none; }} }}
"""


def cell_note(site_map: SiteMap, opened: SiteMap) -> Markup:
    """Which size of cell the page works on."""
    cell, fine = site_map.inputs.site.grid.cell, opened.inputs.site.grid.cell
    said = f"This page works on cells of {cell:g} m"
    more = "." if cell == fine else f", for quick answers; the other pages show this site in cells of {fine:g} m."
    return Markup("<p class='quiet'>{}{}</p>").format(said, more)


def _keep_season(session: Session) -> None:
    location = pn.state.location
    if location is not None:  # the season and nothing else: what is proposed is in no link
        session.param.watch(lambda event: location.update_query(season=event.new.present.season), "history")


def _results(desk: Desk, session: Session) -> list[object]:
    def said(part: Callable[[Bench], Markup]) -> pn.Column:
        return theme.card(theme.text(pn.bind(part, desk.param.bench), css=words.WORDS_CSS))

    season = season_select(session)
    shown = pn.widgets.Select(name="Map of", options=KINDS_SHOWN, value=session.view.shown, **LOOK)
    shown.param.watch(lambda event: session.choose(shown=event.new), "value")
    return [
        said(words.answers),
        theme.grid(*([season] if season else []), shown, least=200),
        theme.grid(*_maps(desk, session), least=300),
        theme.card(
            theme.text(
                Markup(
                    "<h2>Variants side by side</h2><p>Change what you like; each variant is made from the "
                    "proposal as it was given.</p>"
                )
            ),
            *variant_form(desk),
            theme.text(
                pn.bind(
                    lambda bench, picture: words.side_by_side(bench, picture.season),
                    desk.param.bench,
                    session.param.picture,
                ),
                css=words.WORDS_CSS,
            ),
            _show_buttons(desk),
        ),
        theme.grid(said(words.numbers), said(words.causes), least=420, align="start"),
        said(words.conditions),
        theme.grid(said(words.ways), said(words.animals), least=420, align="start"),
        theme.grid(*_downloads(desk), least=260),
    ]


def _maps(desk: Desk, session: Session) -> list[pn.Column]:
    table = MapTable(session, with_zones=False)
    bench = hv.streams.Params(desk, ["bench"])
    outline = hv.DynamicMap(partial(difference.footprint, grid=table.grid), streams=[bench])
    claimed = hv.DynamicMap(partial(difference.new_land, grid=table.grid), streams=[bench])
    follows = ("picture", "shown")

    def legend(picture: object, shown: str) -> Markup:
        return suitability_legend(picture) if shown == "suitability" else threat_legend(picture)

    score_legend = pn.bind(legend, session.param.picture, session.param.shown)
    changed = pn.bind(difference.difference_legend, session.param.shown)
    blank = Markup("")
    return [
        map_card(
            "Before", "As the site is.", table.map(shown_picture, follows=follows, over=(outline,)), score_legend, blank
        ),
        map_card(
            "After",
            "With the variant in view.",
            table.map(difference.after_map, follows=follows, choices=(bench,), over=(claimed, outline)),
            score_legend,
            blank,
        ),
        map_card(
            "Difference",
            "After less before.",
            table.map(difference.difference_map, follows=follows, choices=(bench,), over=(claimed, outline)),
            changed,
            blank,
        ),
    ]


def _show_buttons(desk: Desk) -> pn.Column:
    """One button for each variant, to bring it into view."""
    row = theme.grid(least=220, gap=12)
    count = [0]

    def lay_out(bench: Bench) -> None:
        if len(bench.accounts) == count[0] and all(
            button.name == f"Show {name_of(one)}" for button, one in zip(row.objects, bench.accounts, strict=False)
        ):
            return
        buttons = []
        for number, account in enumerate(bench.accounts):
            button = pn.widgets.Button(name=f"Show {name_of(account)}", **LOOK)
            button.on_click(partial(_show, desk, number))
            buttons.append(button)
        row.objects, count[0] = buttons, len(buttons)

    lay_out(desk.bench)
    desk.param.watch(lambda event: lay_out(event.new), "bench")
    return row


def _show(desk: Desk, number: int, _: object) -> None:
    if not desk.bench.doing:
        desk.bench = desk.bench.showing(number)


def _downloads(desk: Desk) -> list[pn.widgets.FileDownload]:
    offered = [("Tables of the variant in view (ZIP)", "appraisal_tables.zip", words.tables_archive)]
    if find_spec("habitat.report.appraisal_folder") is not None:
        offered.append(("Report of the variant in view (PDF)", "appraisal.pdf", words.report_file))
    return [
        pn.widgets.FileDownload(
            label=label,
            filename=name,
            callback=lambda make=make: make(desk.bench.account),
            embed=False,
            auto=True,
            **LOOK,
        )
        for label, name, make in offered
    ]
