"""The page for appraising a proposal: what it does to the habitat, by how much, and which variant does less."""

from __future__ import annotations

from collections.abc import Callable

import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.site_map import SiteMap
from habitat.view import appraise_words as words
from habitat.view import theme
from habitat.view.address import view_of_address
from habitat.view.appraise_files import download_form
from habitat.view.appraise_forms import approved_form, load_form, load_named, planting_form, show_buttons
from habitat.view.appraise_link import query_of_appraisal, search_of, site_proposals, wish_of_query
from habitat.view.appraise_maps import KINDS_SHOWN, map_parts
from habitat.view.asking import asking_cards
from habitat.view.bench import Bench
from habitat.view.desk import Desk
from habitat.view.difference import PEN
from habitat.view.drawing import NAME, draw_form
from habitat.view.frame import whole_page
from habitat.view.opening import first_season
from habitat.view.session import Session, View
from habitat.view.variant_form import variant_form
from habitat.view.waiting import cell_note, once_seen, progress, quick_body

LEAD = "What does this proposal do to the habitat, how sure is that, and which variant would do less?"

CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude, and who decides</h2>"
    "<p><strong>We may</strong> say which of these variants takes less habitat, what takes most of it, in which "
    "season, and which standing condition it does not meet.</p>"
    "<p><strong>We may not</strong> take a change smaller than a few cells for real, read habitat units as animals, "
    "take water without data or sightings for empty, or treat a condition that is met as a permit.</p>"
    "<p><strong>Who decides:</strong> the authority that each condition names. Local law and licensed practice decide, "
    "and whoever keeps the records of the animals is to be asked.</p>"
)
LOADING = Markup(
    "<h2>Load a proposal</h2><p>A GeoJSON, GeoPackage, zipped shapefile or KML, in any projection. Each of its "
    "features says its <code>kind</code>; a template shows what a kind asks for.</p>"
)
LINKED = Markup(
    '<p class="quiet">The address of this page opens the same season, map and, for a proposal that lies in the folder '
    "of the site, the same variant. What was drawn, uploaded or planted is in no link.</p>"
)
VARIANTS = Markup(
    "<h2>Variants side by side</h2><p>Change what you like, or drag the outline on the map above. Each variant is made "
    "from the proposal as it was given.</p>"
)
GLANCE_CSS = f".glance {{ border-left: 6px solid {PEN}; padding: 4px 12px; }} b {{ white-space: nowrap; }}"


def appraise_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("appraise", LEAD, lambda opened: quick_body(opened, _parts))


def _parts(site_map: SiteMap, opened: SiteMap, query: dict[str, object]) -> list[object]:
    desk = Desk(site_map)
    start = View(profile=site_map.profile, season=first_season(site_map), shown="suitability")
    session = Session(site_map, view_of_address(start, site_map), assess)
    if session.view.shown not in KINDS_SHOWN.values():
        session.choose(shown="suitability")
    site_files = site_proposals(site_map.inputs.site)
    results = theme.stack()
    built: list[object] = []

    def lay_out(bench: Bench) -> None:
        if bench.account is not None and not built:
            built.extend(_results(desk, session))
            results.objects = built

    desk.param.watch(lambda event: lay_out(event.new), "bench")
    _keep_address(desk, session)
    loading = theme.stack(
        theme.card(theme.text(LOADING), *load_form(desk, site_files)),
        theme.card(*approved_form(desk)),
        theme.text(cell_note(site_map, opened)),
        theme.text(LINKED),
    )
    drawing = theme.card(theme.text(Markup("<h2>Or draw it</h2>")), *draw_form(desk, _glance(desk, session)))
    once_seen(lambda: load_named(desk, site_files, *wish_of_query(query)))
    return [
        progress(desk),
        theme.grid(loading, drawing, least=420, align="start"),
        results,
        theme.card(theme.text(CONCLUSIONS)),
    ]


def _glance(desk: Desk, session: Session) -> pn.widgets.StaticText:
    figures = pn.bind(
        lambda bench, picture: words.at_a_glance(bench, picture.season, NAME), desk.param.bench, session.param.picture
    )
    return theme.text(figures, css=GLANCE_CSS)


def _keep_address(desk: Desk, session: Session) -> None:
    location = pn.state.location
    if location is None:
        return

    def write(_: object) -> None:
        location.search = search_of(location.query_params, query_of_appraisal(session.view, desk.bench))

    session.param.watch(write, "history")
    desk.param.watch(write, "bench")


def _results(desk: Desk, session: Session) -> list[object]:
    def said(part: Callable[..., Markup], *also: object) -> pn.Column:
        return theme.card(theme.text(pn.bind(part, desk.param.bench, *also), css=words.WORDS_CSS))

    def with_season(part: Callable[[Bench, str | None], Markup]) -> Callable[..., Markup]:
        return lambda bench, picture: part(bench, picture.season)

    picture = session.param.picture
    side_by_side = theme.text(pn.bind(with_season(words.side_by_side), desk.param.bench, picture), css=words.WORDS_CSS)
    shares = said(words.together)
    desk.param.watch(lambda event: shares.param.update(visible=bool(event.new.approved)), "bench")
    shares.visible = bool(desk.bench.approved)
    return [
        said(words.answers),
        *map_parts(desk, session),
        theme.card(theme.text(VARIANTS), *variant_form(desk), *planting_form(desk), side_by_side, show_buttons(desk)),
        theme.grid(*asking_cards(desk), least=420, align="start"),
        shares,
        theme.grid(said(with_season(words.hectares), picture), said(words.causes), least=420, align="start"),
        theme.grid(said(words.numbers), said(words.ways), least=420, align="start"),
        said(words.conditions),
        said(words.animals),
        theme.card(*download_form(desk)),
    ]
