"""Yearly load of a catchment with the range of the coefficients that were published, not only their middle.

Published coefficients of one land cover differ tenfold and more between places. A decision that turns on where in the
range the truth lies needs measurements of the river.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from layers.load import export_load, runoff_load
from layers.published_table import RANGE, PublishedTable, shipped_table


@dataclass(frozen=True, kw_only=True)
class LoadRange:
    """A yearly load with low and high values of its coefficients, None where none was published. [kg/year]

    The low of a sum is the sum of the lows: everything low at once. It is a bound, not a percentile.
    """

    low: float | None
    median: float | None
    high: float | None
    sources: tuple[str, ...]

    def __str__(self) -> str:
        words = [f"{name} {'not known' if value is None else f'{value:.4g} kg/year'}" for name, value in self._parts()]
        return ", ".join(words)

    def _parts(self) -> list[tuple[str, float | None]]:
        return [(name, getattr(self, name)) for name in RANGE]


def export_load_range(
    hectares_by_cover: Mapping[str, float], substance: str, table: PublishedTable | None = None
) -> LoadRange:
    """Load of a catchment from the areas of its land covers, with the range of published export coefficients.

    Parameters
    ----------
    hectares_by_cover : mapping of land cover to area
        Covers as the table names them. [ha]
    substance : str
        Such as "nitrogen".
    table : PublishedTable, optional
        With columns cover, substance, low, median, high; by default the one that ships.

    Raises
    ------
    ValueError
        If there is no cover, the table lacks one, or an area is below 0 or missing.

    Examples
    --------
    >>> print(export_load_range({"forest": 300.0, "urban": 80.0}, "nitrogen"))
    low 532.4 kg/year, median 1178 kg/year, high 4956 kg/year
    """
    table = table or shipped_table("export_coefficient")
    return _range(hectares_by_cover, substance, table, export_load)


def runoff_load_range(
    hectares_by_cover: Mapping[str, float], runoff: float, substance: str, table: PublishedTable | None = None
) -> LoadRange:
    """Load of a catchment from a depth of runoff, with the range of published event-mean concentrations.

    Parameters are those of `export_load_range`, with the depth of runoff of a year. [mm/year]

    Examples
    --------
    >>> print(runoff_load_range({"urban": 100.0}, 300.0, "nitrogen"))
    low not known, median 600 kg/year, high not known
    """
    table = table or shipped_table("event_mean_concentration")
    return _range(hectares_by_cover, substance, table, lambda value, area: runoff_load(runoff, value, area))


def _range(
    hectares_by_cover: Mapping[str, float], substance: str, table: PublishedTable, load: Callable[[float, float], float]
) -> LoadRange:
    if not hectares_by_cover:
        raise ValueError("hectares_by_cover: there is no land cover. Give the area of at least one.")
    for cover, area in hectares_by_cover.items():
        if area != area:  # a missing area is not a zero
            raise ValueError(f'hectares_by_cover: the area of "{cover}" is missing. Give it in hectares.')
    rows = [(table.row(cover=cover, substance=substance), area) for cover, area in hectares_by_cover.items()]
    sums = {}
    for name in RANGE:
        # one cover without a published bound leaves the sum without one
        known = all(row[name] is not None for row, _ in rows)
        sums[name] = sum(load(row[name], area) for row, area in rows) if known else None
    sources = tuple(sorted({f"{row['source']} ({row['seen']})" for row, _ in rows}))
    return LoadRange(**sums, sources=sources)
