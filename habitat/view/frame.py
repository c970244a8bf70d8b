"""What all pages share: the head with the way to the other pages, the caution, and faults of a site in one alert."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import panel as pn
from markupsafe import Markup

from habitat.colours import ALERT
from habitat.site_map import SiteMap
from habitat.view import theme
from habitat.view.host import PAGES, address_of
from habitat.view.opening import opened_site
from layers.fault import FaultyFileError

CAUTION = (
    "Screening-level evidence for talking about places, not a permit: local law and licensed practice decide. "
    "Cells without data are hatched; they are neither safe nor poor."
)

HEAD_CSS = f"""
.top {{ display: flex; flex-wrap: wrap; gap: 6px 26px; align-items: baseline; margin-bottom: 22px;
  padding-bottom: 10px; border-bottom: 1px solid {theme.LINE}; }}
.word {{ font: 600 1.15rem/1.2 "Iowan Old Style", "Palatino Linotype", Palatino, "Noto Serif", Georgia, serif;
  color: inherit; text-decoration: none; margin-right: auto; }}
nav {{ display: flex; flex-wrap: wrap; gap: 4px 20px; }}
nav a {{ padding: 8px 0; text-decoration: none; font-size: 0.95rem; }}
nav a[aria-current] {{ color: inherit; font-weight: 600; box-shadow: 0 2px 0 currentColor; }}
.title {{ display: flex; flex-wrap: wrap; gap: 8px 14px; align-items: center; }}
.lead {{ font-size: 1.08rem; max-width: 74ch; }}
"""

ALERT_CSS = f"""
.alert {{ border: 2px solid {ALERT}; border-radius: 14px; background: #fff; padding: 18px 22px; }}
.alert h2 {{ color: {ALERT}; }} .alert pre {{ white-space: pre-wrap; }}
"""


def whole_page(name: str, lead: str, body: Callable[[SiteMap], Sequence[object]]) -> pn.Column:
    """A page about the opened site; a faulty site or profile gives its faults instead, word for word.

    Parameters
    ----------
    name : str
        Key of `host.PAGES`.
    lead : str
        What the page answers.
    body : callable
        Gives the parts of the page between head and caution.
    """
    try:
        site_map = opened_site(_asked_profile())
    except FaultyFileError as error:
        return theme.page(_head(name, "This site cannot be shown yet", lead, ""), fault_alert(error))
    site = site_map.inputs.site
    badge = "invented site: no such place exists" if site.invented else ""
    return theme.page(_head(name, site.title, lead, badge), *body(site_map), caution())


def fault_alert(error: FaultyFileError) -> pn.widgets.StaticText:
    """Everything to mend, as the command line prints it."""
    heading = "Something in the files needs mending"
    markup = Markup('<div class="alert" role="alert"><h2>{}</h2><pre>{}</pre></div>').format(heading, error)
    return theme.text(markup, css=ALERT_CSS)


def caution() -> pn.widgets.StaticText:
    """The sentence under every page."""
    return theme.text(Markup('<footer><p class="quiet">{}</p></footer>').format(CAUTION))


def _head(name: str, title: str, lead: str, badge: str) -> pn.widgets.StaticText:
    links = Markup("").join(
        Markup('<a href="{}"{}>{}</a>').format(
            address_of(page), Markup(' aria-current="page"') if page == name else "", label
        )
        for page, label in PAGES.items()
    )
    return theme.text(
        Markup(
            '<header><div class="top"><a class="word" href="{home}">Shallows</a>'
            '<nav aria-label="Pages">{links}</nav></div><div class="title"><h1>{title}</h1>{badge}</div>'
            '<p class="lead">{lead}</p></header>'
        ).format(
            home=address_of("start"),
            links=links,
            title=title,
            badge=Markup('<span class="badge">{}</span>').format(badge) if badge else "",
            lead=lead,
        ),
        css=HEAD_CSS,
    )


def _asked_profile() -> str | None:
    location = pn.state.location
    return None if location is None else location.query_params.get("profile")
