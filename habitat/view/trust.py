"""The page on trust: how sure each class and each conclusion is, what that hangs on, and what sightings say of it."""

from __future__ import annotations

import datetime
from functools import partial

import holoviews as hv
import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.site_doubt import place_doubt
from habitat.site_map import SiteMap
from habitat.view import appraise_words, theme, trust_maps
from habitat.view import trust_words as words
from habitat.view.address import keep_address, view_of_address
from habitat.view.controls import place_inputs, season_select
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from habitat.view.frame import whole_page
from habitat.view.map_cards import MapTable, map_card
from habitat.view.overview import first_view
from habitat.view.session import Picture, Session
from habitat.view.trust_charts import TRUST_CHART_CSS, chances_chart
from habitat.view.trust_evidence import evidence_cards
from habitat.view.trust_findings import MOST_SEED, NUMBERS, Findings, asked_of_query, next_wish, with_doubt
from habitat.view.trust_people import people_card
from habitat.view.waiting import cell_note, once_seen, progress, quick_body

LEAD = "How sure is the map, what does it hang on, and does it know where the animals are seen?"
MEANING = Markup(
    "<p>Depths, curves, weights and amounts are in doubt. The site is scored again and again, each time with all of "
    "them drawn anew within the doubt that is stated. <strong>A chance is a share of these draws</strong>: what "
    "follows if the stated doubts are right and nothing else is wrong.</p>"
)
CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude</h2>"
    "<p><strong>We may</strong> say which places keep their class whatever is in doubt, between which hectares a "
    "conclusion lies, and which survey would make it surer.</p>"
    "<p><strong>We may not</strong> take a chance for how often animals come, read a narrow range as safe where most "
    "is taken as exact, take water without sightings for empty, or let sightings alone change a number.</p>"
)
DOING = "how sure each cell is"


def trust_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("trust", LEAD, lambda opened: quick_body(opened, _parts))


def _parts(site_map: SiteMap, opened: SiteMap, query: dict[str, object]) -> list[object]:
    desk = Desk(site_map, Findings())
    session = Session(site_map, view_of_address(first_view(site_map), site_map), assess)
    keep_address(session)
    results = theme.stack()
    built: list[object] = []

    def lay_out(findings: Findings) -> None:
        if findings.doubt is not None and not built:
            built.extend(_results(desk, session))
            results.objects = built

    desk.param.watch(lambda event: lay_out(event.new), "bench")
    # the people of a file beside the site lie on the desk before the first draws are asked for
    people = people_card(desk, session)
    asking = _asking(desk, query)
    doing = progress(desk, words.state)
    # last: whoever else follows the work must have seen that it ended before more is begun
    desk.param.watch(lambda _: _go_on(desk), "work")
    _go_on(desk)  # in a notebook the first draws are there already
    return [
        doing,
        theme.card(theme.text(MEANING), asking, theme.text(cell_note(site_map, opened))),
        results,
        *evidence_cards(desk),
        people,
        theme.card(theme.text(CONCLUSIONS)),
    ]


def _asking(desk: Desk, query: dict[str, object]) -> pn.Column:
    """Number of draws and seed, and the first draws as soon as the page is seen."""
    first_number, first_seed = asked_of_query(query)
    number = pn.widgets.Select(
        name="Number of draws", options={f"{one:,}": one for one in NUMBERS}, value=first_number, **LOOK
    )
    seed = pn.widgets.IntInput(name="Seed of the draws", value=first_seed, start=0, end=MOST_SEED, **LOOK)
    again = pn.widgets.Button(name="Draw again", button_type="primary", **LOOK)

    def draw(_: object = None) -> None:
        if pn.state.location is not None and not desk.work.doing:
            pn.state.location.update_query(draws=number.value, seed=seed.value)
        desk.do(DOING, partial(with_doubt, desk.site_map, number.value, seed.value or 0))

    again.on_click(draw)
    once_seen(lambda: desk.do(DOING, partial(with_doubt, desk.site_map, first_number, first_seed)))
    return theme.grid(number, seed, again, least=200, gap=12, align="end")


def _go_on(desk: Desk) -> None:
    """Work out what is still missing, once there is nothing else to do and nothing stood in the way."""
    if desk.work.doing or desk.work.note or desk.work.trouble:
        return
    wish = next_wish(desk.bench, desk.site_map, datetime.date.today())
    if wish is not None:
        desk.do(*wish)


def _results(desk: Desk, session: Session) -> list[object]:
    table = MapTable(session, with_zones=False)
    season = season_select(session)
    chance = pn.widgets.Select(name="Chance of", options=trust_maps.CHANCES, **LOOK)
    head = theme.text(Markup("<p>The maps move and zoom together. Click one to ask about a place.</p>"))
    return [
        theme.grid(*([season] if season else []), chance, head, least=300, align="end"),
        theme.grid(*_map_cards(desk, session, table, chance)),
        table.thinning_note(),
        _place_card(desk, session),
        _conclusions_card(desk, session),
        _depends_card(desk, session),
    ]


def _map_cards(desk: Desk, session: Session, table: MapTable, chance: pn.widgets.Select) -> list[pn.Column]:
    findings = hv.streams.Params(desk, ["bench"], rename={"bench": "findings"})
    chosen = hv.streams.Params(chance, ["value"], rename={"value": "chance"})
    picture = hv.streams.Params(session, ["picture"])
    dots = hv.DynamicMap(trust_maps.doubt_dots, streams=[findings, picture, table.in_view])
    bench, seen = desk.param.bench, session.param.picture
    return [
        map_card(
            "Likeliest class, and how sure",
            "Colour is the class that most draws agree on. Dots say how few agree.",
            table.map(trust_maps.likeliest_map, choices=(findings,), over=(dots,)),
            pn.bind(trust_maps.confidence_legend, bench),
            _said(lambda bench, picture: words.confidence_sentence(bench.doubt, picture.season), bench, seen),
        ),
        map_card(
            "Chance of being good enough",
            "The share of the draws in which a place is of the class chosen above.",
            table.map(trust_maps.chance_map, choices=(findings, chosen)),
            pn.bind(trust_maps.chance_legend, bench, chance),
            _said(
                lambda bench, picture, chance: words.chance_sentence(bench.doubt, chance, picture.season),
                bench,
                seen,
                chance,
            ),
        ),
        map_card(
            "How far the score may be off",
            "How wide a range nine draws in ten lie in. Dark is where least is known.",
            table.map(trust_maps.spread_map, choices=(findings,)),
            pn.bind(trust_maps.spread_legend, bench),
            _said(lambda bench, picture: words.spread_sentence(bench.doubt, picture.season), bench, seen),
        ),
    ]


def _said(sentence: object, *parts: object) -> object:
    return pn.bind(lambda *given: Markup("<p>{}</p>").format(sentence(*given)), *parts)


def _place_card(desk: Desk, session: Session) -> pn.Column:
    def told(findings: Findings, picture: Picture, place: tuple[float, float]) -> Markup:
        found = place_doubt(findings.doubt, *place, picture.season)
        said = Markup("<p>{}</p>").format(words.place_words(found))
        return said + chances_chart(found) if found is not None and found.chances else said

    shown = pn.bind(told, desk.param.bench, session.param.picture, session.param.place)
    return theme.card(
        theme.text(Markup("<h2>How sure this place is</h2>")),
        theme.grid(place_inputs(session), theme.text(shown, css=TRUST_CHART_CSS), least=380, align="start", gap=30),
    )


def _conclusions_card(desk: Desk, session: Session) -> pn.Column:
    css = TRUST_CHART_CSS + appraise_words.WORDS_CSS
    bench, picture = desk.param.bench, session.param.picture
    return theme.card(
        theme.text(Markup("<h2>How sure the conclusions are</h2>")),
        theme.grid(
            theme.stack(
                theme.text(pn.bind(words.intervals, bench, picture), css=css),
                theme.text(pn.bind(words.interval_table, bench, picture), css=css),
                gap=8,
            ),
            theme.text(pn.bind(words.exact_words, bench), css=css),
            least=420,
            align="start",
            gap=30,
        ),
    )


def _depends_card(desk: Desk, session: Session) -> pn.Column:
    bench, picture = desk.param.bench, session.param.picture
    charts = [
        theme.text(pn.bind(partial(words.depends_on, key), bench, picture), css=TRUST_CHART_CSS)
        for key in words.CONCLUSIONS
    ]
    return theme.card(
        theme.text(Markup("<h2>What the map depends on</h2>")),
        theme.grid(*charts, least=420, align="start", gap=30),
        theme.text(pn.bind(words.sample_words, bench)),
    )
