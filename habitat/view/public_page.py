"""The page for everybody, as plain HTML: what a published folder shows and does not, in plain words.

It runs no script, asks no other host and is made of the published folder alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from markupsafe import Markup

from habitat.colours import INK, MUTED_INK, class_colours
from habitat.publish_words import CANNOT, DECIDES, INVENTED
from habitat.result import CONCERN_CLASSES, CONCERN_READINGS, NO_DATA, SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.view.theme import ACCENT, LINE, PAPER, TEXT_CSS

if TYPE_CHECKING:
    from habitat.publish_schema import PublicationTable, PublicMap

UNSAID = "The people who published this have not said."
_TITLES = {
    "suitability_class": ("Where the animals could live", "What the water, the bed and the plants offer them."),
    "threat_class": ("What weighs on them", "What people do on the water and the land, all together."),
    "concern": ("Where the two meet", "Good habitat under heavy pressure is where help counts most."),
}
_NAMES = {"suitability_class": SUITABILITY_CLASSES, "threat_class": THREAT_CLASSES, "concern": CONCERN_CLASSES}
_MEANINGS = {
    "good habitat": "most of what they need is here",
    "fair habitat": "some of what they need is here",
    "poor habitat": "little of what they need is here",
    "low threat": "little weighs on them here; it is not safe for that",
    "moderate threat": "some pressures add up here",
    "high threat": "many or heavy pressures add up here",
    **dict(zip(CONCERN_CLASSES, CONCERN_READINGS, strict=True)),
    NO_DATA: "nobody has measured: neither poor habitat nor safe water",
}
_FILES = {
    "briefing.pdf": "one page to print",
    "README.txt": "what every file is",
    "classes.nc": "the maps for scientific programs (NetCDF)",
    "classes.gpkg": "the maps as outlines for mapping programs (GeoPackage)",
    "hectares_by_class.csv": "areas of the classes, as a table",
    "hectares_by_zone.csv": "areas by zone, as a table",
    "occurrences.csv": "sightings, made coarse, in Darwin Core terms",
}
_CSS = f"""
body {{ margin: 0; background: {PAPER}; }}
main, header, footer {{ max-width: 1120px; margin: 0 auto; padding: 0 clamp(14px, 3vw, 32px); box-sizing: border-box; }}
header {{ padding-top: 28px; }} footer {{ padding-bottom: 56px; }}
.skip {{ position: absolute; left: -9999px; }} .skip:focus {{ left: 14px; top: 10px; background: #fff; padding: 6px; }}
.lead {{ font-size: 1.08rem; }} .invented {{ margin-bottom: 8px; border-radius: 8px; white-space: normal; }}
.card {{ background: #fff; border: 1px solid {LINE}; border-radius: 14px; padding: 20px; margin: 20px 0 0;
  min-width: 0; }}
.map {{ display: grid; grid-template-columns: minmax(0, 1.5fr) minmax(0, 1fr); gap: 8px 28px; align-items: start; }}
.map header {{ grid-column: 1 / -1; padding: 0; margin: 0; max-width: none; }}
figure {{ margin: 0; position: sticky; top: 14px; }}
img {{ width: 100%; height: auto; display: block; border: 1px solid {LINE}; }}
figcaption {{ color: {MUTED_INK}; font-size: 0.9rem; margin-top: 6px; }}
.pair {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 380px), 1fr)); gap: 0 20px; }}
.seasons {{ display: flex; flex-wrap: wrap; gap: 8px; margin: 16px 0 0; padding: 0; list-style: none; }}
.seasons a {{ display: block; padding: 10px 18px; border: 1px solid {ACCENT}; border-radius: 999px; background: #fff;
  text-decoration: none; }}
.seasons a[aria-current] {{ background: {ACCENT}; color: #fff; }}
.swatch {{ display: inline-block; width: 15px; height: 15px; border-radius: 3px; border: 1px solid {MUTED_INK};
  vertical-align: -2px; margin-right: 7px; }}
td small {{ display: block; color: {MUTED_INK}; font-size: 0.85rem; }} td {{ overflow-wrap: anywhere; }}
ul {{ padding-left: 1.2em; margin: 0.4rem 0 0; }} li {{ margin: 0.3rem 0; max-width: 68ch; overflow-wrap: anywhere; }}
.act {{ border-left: 6px solid {ACCENT}; }} .act p {{ font-size: 1.05rem; }} .said {{ white-space: pre-line; }}
.unsaid {{ color: {MUTED_INK}; font-style: italic; }}
code.digest {{ white-space: normal; overflow-wrap: anywhere; }}
summary {{ cursor: pointer; padding: 8px 0; color: {INK}; }}
@media (max-width: 760px) {{ .map {{ grid-template-columns: minmax(0, 1fr); }} figure {{ position: static; }}
  .card {{ padding: 16px; }} }}
"""


def public_page(table: PublicationTable, season: str | None = None) -> str:
    """The page of a publication, about one of its seasons; the first where `season` is none of them."""
    seasons = list(dict.fromkeys(one.season for one in table.maps))
    shown = season if season in seasons else seasons[0]
    maps = Markup("").join(_map(one) for one in table.maps if one.season == shown)
    words = table.words
    parts = [
        _head(table, seasons, shown),
        Markup('<main id="page">'),
        Markup('<div class="pair">{}{}</div>').format(
            _act("If you see an animal", words.on_seeing_an_animal),
            _act("If you see an offence", words.on_seeing_an_offence),
        ),
        maps,
        Markup('<div class="pair">{}{}</div>').format(
            _card("What the maps do not show", _points(CANNOT)),
            _card("Sightings", Markup("<p>{}</p><p>{}</p>").format(table.sightings, table.coarse)),
        ),
        Markup('<div class="pair">{}{}</div>').format(
            _card("Who decides", _said(words.who_decides) + Markup("<p>{}</p>").format(DECIDES)),
            _card("Whose data this is", _sources(table)),
        ),
        _card("Files to take away", _files(table)),
        Markup("</main>"),
        Markup('<footer><p class="quiet">{}</p></footer>').format(
            f"Made {table.date} by {table.author or 'an author not named'}. Every file was held against the digest "
            "it was published with before it was sent to you."
        ),
    ]
    return _document(table.title, Markup("").join(parts))


def plain_page(title: str, words: str) -> str:
    """A page that says one thing, for what is not there."""
    body = Markup('<main><div class="card"><h1>{}</h1><p>{}</p><p><a href="/">To the maps</a></p></div></main>')
    return _document(title, body.format(title, words))


def _document(title: str, body: Markup) -> str:
    css = Markup(TEXT_CSS.replace(":host", "body") + _CSS)
    return str(
        Markup(
            '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{}</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">'
            "<style>{}</style></head><body>{}</body></html>"
        ).format(title, css, body)
    )


def _head(table: PublicationTable, seasons: list[str], shown: str) -> Markup:
    links = Markup("").join(
        Markup('<li><a href="/?season={}"{}>{} season</a></li>').format(
            one, Markup(' aria-current="page"') if one == shown else "", one.replace("_", " ").capitalize()
        )
        for one in seasons
        if len(seasons) > 1
    )
    chosen = Markup('<nav aria-label="Season"><ul class="seasons">{}</ul></nav>').format(links) if links else ""
    badge = Markup('<p><strong class="badge invented">{}</strong></p>').format(INVENTED) if table.invented else ""
    return Markup(
        '<header><a class="skip" href="#page">To the maps</a>{}<h1>{}</h1><p class="lead">Where could large grazing '
        "animals of shallow water live here, and what weighs on them? These maps answer for classes of water, not for "
        "single animals.</p>{}</header>"
    ).format(badge, table.title, chosen)


def _map(one: PublicMap) -> Markup:
    title, about = _TITLES[one.name]
    season = f", {one.season.replace('_', ' ')} season" if one.season else ""
    colours = class_colours(one.name)
    codes = {word: code for code, word in enumerate(_NAMES[one.name])}
    rows = Markup("").join(
        Markup(
            '<tr><td>{}{}<small>{}</small></td><td class="number">{:,.0f}</td><td class="number">{:.0%}</td></tr>'
        ).format(
            _swatch(colours.get(codes.get(row.words, 0))),
            row.words,
            _MEANINGS.get(row.words, ""),
            row.hectares,
            row.share,
        )
        for row in one.classes
        if row.hectares or one.name != "concern"
    )
    return Markup(
        '<section class="card map"><header><h2>{title}{season}</h2><p class="quiet">{about}</p></header>'
        '<figure><a href="/files/{picture}" aria-label="See this map large: {title}{season}">'
        '<img src="/files/{picture}" alt="Map: {title}{season}. The table beside it '
        'says the same in hectares."></a><figcaption>Grey is land. Choose the picture to see it large.</figcaption>'
        "</figure>"
        '<table><thead><tr><th scope="col">On the map</th><th scope="col" class="number">Hectares</th>'
        '<th scope="col" class="number">Of the water</th></tr></thead><tbody>{rows}</tbody></table></section>'
    ).format(title=title, season=season, about=about, picture=one.picture, rows=rows)


def _swatch(colour: str | None) -> Markup:
    if colour is None:
        return Markup('<i class="swatch hatch"></i>')
    return Markup('<i class="swatch" style="background:{}"></i>').format(colour)


def _card(title: str, content: Markup) -> Markup:
    return Markup('<section class="card"><h2>{}</h2>{}</section>').format(title, content)


def _act(title: str, words: str) -> Markup:
    return Markup('<section class="card act"><h2>{}</h2>{}</section>').format(title, _said(words))


def _said(words: str) -> Markup:
    return (
        Markup('<p class="said">{}</p>').format(words) if words else Markup('<p class="unsaid">{}</p>').format(UNSAID)
    )


def _points(points: Iterable[str]) -> Markup:
    return Markup("<ul>{}</ul>").format(Markup("").join(Markup("<li>{}</li>").format(one) for one in points))


def _sources(table: PublicationTable) -> Markup:
    licence = table.words.licence or f"{UNSAID} Ask before you use them."
    return _points(table.credits) + Markup("<p>Licence of these pages and files: {}</p>").format(licence)


def _files(table: PublicationTable) -> Markup:
    first = [name for name in _FILES if name in table.files]
    rest = sorted(set(table.files) - set(first))
    digests = Markup("").join(
        Markup('<li>{}<br><code class="digest">{}</code></li>').format(name, table.files[name].sha256)
        for name in [*first, *rest]
    )
    return Markup(
        "<ul>{}</ul><details><summary>All maps as pictures and rasters</summary><ul>{}</ul></details>"
        "<details><summary>Digests (SHA-256), to check a file that somebody gave you</summary><ul>{}</ul></details>"
    ).format(_links(table, first), _links(table, rest), digests)


def _links(table: PublicationTable, names: list[str]) -> Markup:
    return Markup("").join(
        Markup('<li><a href="/files/{0}" download>{0}</a>{1} ({2})</li>').format(
            name, f": {_FILES[name]}" if name in _FILES else "", _size(table.files[name].bytes)
        )
        for name in names
    )


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 100_000 else f"{max(count / 1e3, 0.1):.1f} kB"
