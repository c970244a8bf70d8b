"""The last step before a folder is public: every byte of it is read for the places of sightings.

What is found is told by file, form and the number of the sighting, never by the place. A piece that cannot be read
whole counts as found. The check knows the forms of `leak_forms` and the packings of `leak_readers`, and no others: it
finds mistakes, and cannot prove that someone who wanted to hide a place did not.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from habitat.leak_codes import CODES, utm_code
from habitat.leak_forms import FORMS as NUMBERS
from habitat.leak_forms import METRES_A_DEGREE, Part, Places
from habitat.leak_marks import MARKS
from habitat.leak_readers import OPENERS, TooLargeError

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.grid import Grid

DEPTH = 6  # packings within packings
NOT_READ = "not read whole"
FORMS = NUMBERS | CODES | MARKS


@dataclass(frozen=True, order=True)
class Leak:
    """A sighting that a file still gives away."""

    where: str  # the file, and the part of it
    form: str
    sighting: int  # position in the table that was searched for, from 0; -1 where a piece was not read

    def __str__(self) -> str:
        of_which = f", sighting {self.sighting + 1}" if self.sighting >= 0 else ""
        return f"{self.where}: {self.form}{of_which}"


def searched_places(
    sightings: gpd.GeoDataFrame,
    *,
    allowed: float,
    crs: object,
    grid: Grid | None = None,
    told: np.ndarray | None = None,
) -> tuple[Places, ...]:
    """The sightings in every projection that is searched for: the site's, WGS 84 (also 0 to 360), Web Mercator and UTM.

    Parameters
    ----------
    sightings : GeoDataFrame of points
    allowed : float
        Step of released coordinates. [degree]
    crs : CRS
        Of the site.
    grid : Grid, optional
        Of the published maps. A pair that is an edge or a middle of its cells is the map's own and no leak.
    told : (n, 2) array, optional
        Longitude and latitude of squares that are released, for whatever species. [degree]
    """
    from pyproj import CRS

    found = []
    cell = None if grid is None else (grid.transform.c, grid.transform.f, grid.cell)
    wanted = {"site": crs, "WGS 84": 4326, "Web Mercator": 3857}
    if len(sightings):
        zone = utm_code(*sightings.to_crs(4326).total_bounds[:2])
        wanted |= {} if CRS.from_user_input(crs).to_epsg() == zone else {"UTM": zone}
    for name, one in wanted.items():
        points = sightings.geometry.to_crs(one)
        is_degrees = CRS.from_user_input(one).is_geographic
        step = allowed if is_degrees else allowed * METRES_A_DEGREE
        xy = np.column_stack([points.x, points.y]).reshape(-1, 2)
        own = cell if name == "site" else None
        squares = told if name == "WGS 84" else None
        found.append(Places(name=name, xy=xy, is_degrees=is_degrees, allowed=step, cell=own, told=squares))
        if name == "WGS 84" and (xy[:, 0] < 0).any():
            east = np.column_stack([xy[:, 0] % 360, xy[:, 1]])
            turned = None if told is None else np.column_stack([told[:, 0] % 360, told[:, 1]])
            found.append(Places(name="WGS 84, 0 to 360", xy=east, is_degrees=True, allowed=step, told=turned))
    return tuple(found)


def leaks(
    folder: str | Path,
    places: tuple[Places, ...],
    *,
    openers: Mapping[str, object] = OPENERS,
    forms: Mapping[str, object] = FORMS,
) -> tuple[Leak, ...]:
    """Every sighting that the files of a folder give away; nothing where it is clean.

    Parameters
    ----------
    folder : path
        Read whole, hidden files too.
    places : tuple of Places
        As `searched_places` gives them.
    openers, forms : mappings of name to function
        What to search with.
    """
    folder, found = Path(folder), set()
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        for part in [Part(name, name.encode())] if path.is_dir() else _parts(path, name, openers, found):
            found.update(_found(part, places, forms))
    return tuple(sorted(found))


def _parts(path: Path, name: str, openers: Mapping, found: set[Leak]) -> Iterator[Part]:
    yield Part(name, name.encode())
    yield from opened(Part(name, path.read_bytes()), openers, found)


def opened(whole: Part, openers: Mapping, found: set[Leak]) -> Iterator[Part]:
    """A piece and all that lies in it, each once; what cannot be read is added to `found`."""
    known, waiting = set(), [(whole, 0)]
    while waiting:
        part, depth = waiting.pop()
        digest = hashlib.sha256(part.data).digest()
        if digest in known and not part.arrays and not part.rasters:
            continue
        known.add(digest)
        yield part
        if depth > DEPTH:
            found.add(Leak(part.where, NOT_READ, -1))
            continue
        try:
            for opener in openers.values():
                waiting += [(inner, depth + 1) for inner in opener(part.data, part.where)]
        except TooLargeError as problem:
            found.add(Leak(str(problem), NOT_READ, -1))


def _found(part: Part, places: tuple[Places, ...], forms: Mapping) -> Iterator[Leak]:
    whole = Part(part.where, part.data, part.data.decode("utf-8", "replace"), part.arrays, part.rasters)
    for some in places:
        if len(some.xy):
            for form, detector in forms.items():
                for place in set(detector(whole, some)):
                    yield Leak(part.where, f"{form} ({some.name})", place)
