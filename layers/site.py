"""The site file: which file feeds which layer, in what unit, from what source.

A site is a folder with a `site.toml`; every path in it is relative to that file, so the folder can be zipped.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from layers.grid import Grid


@dataclass(frozen=True, kw_only=True)
class FileEntry:
    """One table under `[files]`: a file, and all that is needed to read it without guessing."""

    name: str  # the table's name
    feeds: str  # what it feeds, a key of layers.feeds.FEEDS
    path: Path
    band: int = 1
    layer: str | None = None  # layer of a vector file that holds several
    column: str | None = None
    units: str | None = None  # as written; None only where the feed has no unit
    positive: str | None = None  # "up" or "down"
    datum: str | None = None
    rule: str | None = None
    season: str | None = None
    date: str | None = None
    source: str
    licence: str
    credit: str
    sensitive: bool = False
    nodata: float | None = None  # declared by the user where the file does not say
    crs: str | None = None  # of a CSV
    x: str | None = None  # column names of a CSV
    y: str | None = None
    time: str | None = None
    station: str | None = None
    decimal: str = "."
    delimiter: str = ","
    where: dict[str, str] = field(default_factory=dict)  # keep only rows with these values
    plausible: tuple[float, float] | None = None  # set by the user where the catalogue's range is too narrow


@dataclass(frozen=True, kw_only=True)
class Site:
    """A site file, read and checked."""

    path: Path
    title: str
    author: str
    invented: bool
    grid: Grid
    seasons: dict[str, tuple[int, ...]]
    decided_by: str | None  # the file entry that says what is water
    datums: dict[str, float]  # height of each named datum above a common zero [m]
    files: tuple[FileEntry, ...]

    def feeding(self, feeds: str) -> tuple[FileEntry, ...]:
        """The entries that feed `feeds`, in the order of the site file."""
        return tuple(entry for entry in self.files if entry.feeds == feeds)

    def season_of(self, month: int) -> str | None:
        """The season that holds a month (1 to 12), or None where the site has no seasons."""
        return next((name for name, months in self.seasons.items() if month in months), None)
