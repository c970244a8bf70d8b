"""One cell followed back: each layer on the way with its values recorded and now, the files, and their rows nearby.

Rows are told of files of points alone, and never of sightings, survey tracks or anything else that is sensitive.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from habitat.lineage import Ancestor, lineage
from habitat.view.review_checks import label_of
from habitat.view.review_maps import value_words
from habitat.view.review_pairs import AFTER, Pairs
from layers.feeds import FEEDS

if TYPE_CHECKING:
    from habitat.site_map import SiteMap
    from layers.site import FileEntry

MOST_ROWS = 3  # of a file that are named
NEVER = ("sighting", "survey_track", "vessel_fix")  # where animals or people were


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row of a file of points near the cell."""

    number: int  # of a table, the line of the file if no text in it runs over lines; else of the feature
    noun: str  # "line" or "feature"
    distance: float  # from the centre of the cell [m]


@dataclass(frozen=True, kw_only=True)
class Source:
    """A file a layer was made from."""

    file: str
    digest: str  # SHA-256 now
    is_recorded: bool | None  # whether its bytes are those of the record; None where the record does not know it
    source: str
    rows: tuple[Row, ...] = ()
    total: int = 0  # rows of points it holds within the site


@dataclass(frozen=True, kw_only=True)
class Link:
    """One layer or result at the cell."""

    name: str
    label: str
    recorded: str
    now: str
    is_same: bool | None  # None where the record keeps no cells of it
    how: str
    numbers: tuple[str, ...] = ()
    made_from: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()


def chain_of_cell(pairs: Pairs, key: str, season: str | None, place: tuple[float, float]) -> list[Link]:
    """The links from a layer or result back to its files at a place; empty off the grid.

    Parameters
    ----------
    key : str
        As of `Pairs`.
    place : pair of float
        Easting and northing. [m]
    """
    found = pairs.site_map(key)
    cell = found.inputs.site.grid.cell_at(*place)
    if cell is None:
        return []
    name, after = key.removeprefix(AFTER), AFTER if key.startswith(AFTER) else ""
    links, told = [], {}
    if name not in found.derivation.made:
        links.append(_link(pairs, key, season, cell, "Scored by habitat.assessment.assess."))
        links += [_link(pairs, f"{after}{part}", season, cell, how) for part, how, _ in _parts(found, name)]
        heads = [layer for _, _, layer in _parts(found, name)]
    else:
        heads = [name]
    for head in heads:
        if found.derivation.made.get(head) is not None:
            told |= {one.name: one for one in lineage(found, head) if one.name not in told}
    for one in told.values():
        links.append(_layer_link(pairs, f"{after}{one.name}", season, cell, one, found))
    return links


def nearest_rows(found: SiteMap, entry: FileEntry, cell: tuple[int, int]) -> tuple[tuple[Row, ...], int]:
    """The rows of a file of points nearest to a cell, one of each place, and how many the file has in the site."""
    features = found.inputs.features.get(entry.name)
    feed = FEEDS[entry.feeds]
    if entry.sensitive or feed.sensitive or feed.name in NEVER or features is None or not len(features):
        return (), 0
    if feed.on == "catchment" or not (features.geom_type == "Point").all():
        return (), 0
    grid = found.inputs.site.grid
    x, y = features.geometry.x.to_numpy(), features.geometry.y.to_numpy()
    away = np.hypot(x - grid.x[cell[1]], y - grid.y[cell[0]])
    noun = "line" if entry.path.suffix.lower() in (".csv", ".tsv", ".txt") else "feature"
    rows, seen = [], set()
    for at in np.argsort(away, kind="stable"):
        where = (float(x[at]), float(y[at]))
        if where not in seen:
            seen.add(where)
            rows.append(Row(number=int(features.index[at]), noun=noun, distance=float(away[at])))
        if len(rows) == MOST_ROWS:
            break
    return tuple(rows), len(features)


def _parts(found: SiteMap, name: str) -> list[tuple[str, str, str]]:
    """Index or exposure, how it came about, and its layer, for each part of a result."""
    profile = found.profile
    needs = [(f"index_{one.name}", f"The curve of {one.label.lower()}.", one.layer) for one in profile.factors]
    threats = [(f"exposure_{one.name}", f"The reach of {one.label.lower()}.", one.layer) for one in profile.pressures]
    if name.startswith(("index_", "exposure_")):
        return [one for one in (*needs, *threats) if one[0] == name][:1]
    chosen = needs if "suitability" in name or "factor" in name else threats if "threat" in name else needs + threats
    return [one for one in chosen if one[0] in found.assessment]


def _layer_link(
    pairs: Pairs, key: str, season: str | None, cell: tuple[int, int], told: Ancestor, found: SiteMap
) -> Link:
    from dataclasses import replace

    link = _link(pairs, key, season, cell, f"{told.method} ({told.function}).")
    sources = tuple(_source(pairs, found, cell, *file) for file in told.files)
    return replace(link, numbers=told.numbers, made_from=told.made_from, sources=sources)


def _link(pairs: Pairs, key: str, season: str | None, cell: tuple[int, int], how: str) -> Link:
    name, pair = key.removeprefix(AFTER), pairs.pair(key, season)
    if pair is None:
        return Link(name=name, label=label_of(name), recorded="only its digest", now="", is_same=None, how=how)
    recorded, now = (float(one.to_numpy()[cell]) for one in (pair.recorded, pair.rebuilt))
    is_same = recorded == now or (recorded != recorded and now != now)
    said = (value_words(pair, recorded), value_words(pair, now))
    return Link(name=name, label=label_of(name), recorded=said[0], now=said[1], is_same=is_same, how=how)


def _source(pairs: Pairs, found: SiteMap, cell: tuple[int, int], file: str, source: str, digest: str) -> Source:
    recorded = next((one for one in pairs.made.record.table.inputs if one.file.rpartition("/")[2] == file), None)
    entry = next((one for one in found.inputs.site.files if one.path.name == file), None)
    if entry is None or entry.sensitive:
        return Source(file=file, digest=digest, is_recorded=None, source=source)
    rows, total = nearest_rows(found, entry, cell)
    same = None if recorded is None else digest == recorded.sha256
    return Source(file=file, digest=digest, is_recorded=same, source=source, rows=rows, total=total)
