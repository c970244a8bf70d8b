"""The words of a public folder: the briefing and the README, in plain language."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

from habitat.darwin_core import RELEASED
from habitat.report.briefing import NOT_FILLED, Briefing, Section
from layers.provenance import shortened

if TYPE_CHECKING:
    import pandas as pd

    from habitat.publish_rules import PublishingRules
    from habitat.site_map import SiteMap

INVENTED = "INVENTED SITE - not a real place"
DECIDES = "Local law and licensed practice decide. This page gives screening-level evidence and no permission."
CANNOT = (
    "It cannot say where an animal is, today or ever. Exact places are withheld.",
    "It cannot say that a place without sightings has no animals: nobody may have looked.",
    "It cannot say that a place may be built on, dredged or driven over.",
    "Hatched is not known: it is neither poor habitat nor safe water.",
)
_CAUTION = (
    "Screening-level evidence. A class is a reading of data by the profile that the maps name, not a measurement. No "
    "data means no data: it is neither poor habitat nor safe water. Absence of sightings is not absence of animals, "
    "and no file here shows the exact place where one was seen."
)
_CONTENTS = (
    ("briefing.pdf", "One page to read and to print."),
    ("maps/", "The class maps as pictures."),
    ("rasters/", "The class maps as GeoTIFF."),
    ("classes.nc, classes.gpkg", "The same as NetCDF (CF conventions) and as polygons (GeoPackage)."),
    ("hectares_by_class.csv, hectares_by_zone.csv", "Areas of the classes; the second where the site has zones."),
    ("occurrences.csv", "Sightings in Darwin Core terms, made coarse; only where the rules allow it."),
    (
        "publication.json",
        "What the folder says of itself, with a digest of every file.",
    ),
)


def briefing_of(found: SiteMap, rules: PublishingRules, hectares: pd.DataFrame, *, date: str, told: str) -> Briefing:
    """The words of the page."""
    site, words = found.inputs.site, rules.words
    credits = shortened("; ".join(credits_of(found)))
    return Briefing(
        title=f"{site.title}: habitat and what weighs on it",
        subtitle=f"For everybody. {date}. By {site.author or 'an author not named'}.",
        banner=INVENTED if site.invented else "",
        described="Map of classes of habitat: poor, fair and good, land, and where nothing is known.",
        left=(
            Section(heading="What the map shows", points=_shares(hectares)),
            Section(heading="What it cannot say", points=CANNOT),
            Section(heading="Sightings", points=(told,)),
        ),
        right=(
            Section(heading="If you see an animal", points=(words.get("on_seeing_an_animal") or NOT_FILLED,)),
            Section(heading="If you see an offence", points=(words.get("on_seeing_an_offence") or NOT_FILLED,)),
            Section(heading="Who decides", points=(words.get("who_decides") or NOT_FILLED, DECIDES)),
            Section(
                heading="Credits and licences",
                points=(f"{credits}. Licence of this page: {_licence(rules)}. All are in README.txt.",),
            ),
        ),
    )


def readme_of(found: SiteMap, rules: PublishingRules, *, date: str, told: str, coarse: str) -> str:
    """The README of the folder."""
    site = found.inputs.site
    title = f"{site.title}: public version"
    lines = [title, "=" * len(title), "", *([INVENTED, ""] if site.invented else [])]
    lines += [fill(f"{_CAUTION} Made {date}. {DECIDES}", 100), "", fill(told, 100), ""]
    lines += [fill(coarse, 100), "", "What is what", "------------"]
    for name, what in _CONTENTS:
        lines += [name, fill(what, 100, initial_indent="    ", subsequent_indent="    ")]
    lines += ["", "Terms of occurrences.csv", "------------------------"]
    lines += [fill(f"{term}: {what}.", 100, subsequent_indent="    ") for term, what in RELEASED.items()]
    lines += ["", "Licence", "-------", _licence(rules), "", "Credits", "-------", *credits_of(found)]
    return "\n".join(lines) + "\n"


def credits_of(found: SiteMap) -> list[str]:
    """Credit and licence of every file that is not sensitive, once each."""
    open_ones = [entry for entry in found.inputs.site.files if not entry.sensitive]
    return list(dict.fromkeys(f"{entry.credit} ({entry.licence})" for entry in open_ones))


def _licence(rules: PublishingRules) -> str:
    return rules.words.get("licence") or "not said; ask before you use it"


def _shares(hectares: pd.DataFrame) -> tuple[str, ...]:
    """Rounded shares of the classes of habitat and of threat in each season."""
    said = []
    for season, rows in hectares.groupby("season", sort=False):
        parts = []
        for kind in ("suitability", "threat"):
            own = rows[rows["kind"] == kind]
            parts.append(", ".join(f"{row['class']} {row['share']:.0%}" for _, row in own.iterrows()))
        said.append(f"{f'In the {season} season' if season else 'Of the water'}: {'; '.join(parts)}.")
    return (*said, "Where habitat and threat meet is in the folder maps.") if said else ("No cell could be scored.",)
