"""What a page shows while something is worked out beside it: the step it is at, a Stop, and the site in quick cells."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

import panel as pn
from markupsafe import Markup

from habitat.site_map import SiteMap
from habitat.view import appraise_words as words
from habitat.view import theme
from habitat.view.desk import Desk, Work
from habitat.view.fields import LOOK
from habitat.view.frame import ALERT_CSS
from habitat.view.opening import coarse_site, is_quick
from layers.step import Step

DOING_CSS = f"""
:host {{ min-width: 0; }}
.alert pre {{ max-height: 34vh; overflow-y: auto; }}
.doing, .note {{ border-left: 6px solid {theme.ACCENT}; padding: 10px 16px; background: #fff; margin: 0;
  max-width: none; border-radius: 4px; box-shadow: 0 2px 10px #0002; }}
.doing span {{ display: inline-block; }}
"""
STICKY_CSS = ":host { position: sticky; top: 8px; z-index: 20; gap: 8px; }"


def quick_body(opened: SiteMap, parts: Callable[[SiteMap, SiteMap, dict[str, object]], list[object]]) -> list[object]:
    """A page on quick cells: `parts(quick site, opened site, what the address asks for)` once the site is there."""
    whole = theme.stack()
    query = {} if pn.state.location is None else dict(pn.state.location.query_params)
    _when_coarse(opened, whole, lambda site_map: parts(site_map, opened, query))
    return [whole]


def once_seen(act: Callable[[], None]) -> None:
    """Do it when the browser has the page: what is sent before can be lost on the way."""
    document = pn.state.curdoc
    if document is None or document.session_context is None:
        act()
    else:
        pn.state.onload(act)


def progress(desk: Desk, state: Callable[[Work], Markup] = words.state) -> pn.Column:
    """What is going on, with the button that stops it; it stays in sight."""
    stop = pn.widgets.Button(name="Stop", visible=False, **{**LOOK, "sizing_mode": None})
    stop.on_click(lambda _: desk.stop())
    desk.param.watch(lambda event: stop.param.update(visible=bool(event.new.doing)), "work")
    said = theme.text(pn.bind(state, desk.param.work), css=ALERT_CSS + DOING_CSS)
    return pn.Column(said, stop, stylesheets=[STICKY_CSS], sizing_mode="stretch_width", margin=0)


def cell_note(site_map: SiteMap, opened: SiteMap) -> Markup:
    """Which size of cell the page works on."""
    cell, fine = site_map.inputs.site.grid.cell, opened.inputs.site.grid.cell
    said = f"This page works on cells of {cell:g} m"
    more = "." if cell == fine else f", for quick answers; the other pages show this site in cells of {fine:g} m."
    return Markup("<p class='quiet'>{}{}</p>").format(said, more)


def _when_coarse(opened: SiteMap, whole: pn.Column, parts: Callable[[SiteMap], list[object]]) -> None:
    """Lay the page out as soon as the site is there in its quick cells; until then say which step it is at."""
    document = pn.state.curdoc
    if document is None or document.session_context is None or is_quick(opened):
        whole.objects = parts(coarse_site(opened))
        return
    said = pn.widgets.StaticText(value=_opening_words(None), stylesheets=[theme.TEXT_CSS, DOING_CSS], margin=0)

    def later(act: Callable[[], None]) -> None:
        if not document.session_context.destroyed:
            document.add_next_tick_callback(act)

    def work() -> None:
        def tell(step: Step) -> None:
            later(lambda: said.param.update(value=_opening_words(step)))

        try:
            site_map = coarse_site(opened, on_step=tell)
        except ValueError as error:
            later(partial(said.param.update, value=str(words.trouble_words(str(error)))))
            return
        later(lambda: whole.param.update(objects=parts(site_map)))

    whole.objects = [said]
    once_seen(lambda: threading.Thread(target=work).start())


def _opening_words(step: Step | None) -> str:
    """What the page does before it can answer."""
    at = Markup(" Step {} of {}: {}.").format(step.number, step.of, step.label) if step else ""
    said = Markup('<p role="status" class="doing"><strong>Preparing the site for quick answers.</strong>{}</p>')
    return str(said.format(at))
