"""Two readings of one site side by side: how many hectares change class."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from habitat.result import SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.site_map import SiteMap
from habitat.view import summary
from habitat.view.session import Picture
from habitat.view.words import hectares
from habitat.zones import hectares_by_class
from layers.grid import Grid


def class_changes(before: Picture, now: Picture) -> pd.DataFrame:
    """Hectares of each class before and now.

    Parameters
    ----------
    before, now : Picture
        Of one site and one season.

    Returns
    -------
    DataFrame
        Columns class, before, now. [ha]
    """
    tables = [hectares_by_class(picture.assessment, picture.season) for picture in (before, now)]
    rows = []
    for kind, classes in (("suitability", SUITABILITY_CLASSES), ("threat", THREAT_CLASSES)):
        was, is_now = (summary.areas(table, kind) for table in tables)
        rows += [{"class": name, "before": was[name], "now": is_now[name]} for name in classes[:0:-1]]
    return pd.DataFrame(rows)


def changed_area(before: Picture, now: Picture, name: str) -> float:
    """Area of the cells whose class of `name` ("suitability_class", "threat_class") differs. [ha]"""
    differs = before.layer(name).to_numpy() != now.layer(name).to_numpy()
    return float(differs.sum()) * Grid.of(now.assessment).cell_hectares


def changes_table(site_map: SiteMap, now: Picture) -> Markup:
    """The present reading against the profile as it was read, in words and a table."""
    before = Picture(
        layers=site_map.layers, profile=site_map.profile, assessment=site_map.assessment, season=now.season
    )
    rows = Markup("").join(
        Markup("<tr><td>{}</td><td class='number'>{}</td><td class='number'>{}</td></tr>").format(
            row[0], hectares(row.before), hectares(row.now)
        )
        for row in class_changes(before, now).rename(columns={"class": "name"}).itertuples(index=False)
    )
    habitat, threat = (hectares(changed_area(before, now, f"{kind}_class")) for kind in ("suitability", "threat"))
    return Markup(
        "<p aria-live='polite'><strong class='figure'>{}</strong> change their class of habitat, "
        "<strong class='figure'>{}</strong> their class of threat.</p><table><thead><tr><th scope='col'>Class</th>"
        "<th scope='col' class='number'>As read</th><th scope='col' class='number'>Now</th></tr></thead>"
        "<tbody>{}</tbody></table>"
    ).format(habitat, threat, rows)
