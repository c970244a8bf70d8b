"""Works of dredges as a vector file describes them: what is dug, how fast, by what, and what of it clouds the water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.column import is_nothing
from layers.dredging import Measure, dredging_source, loss_fractions, lowered_source
from layers.fault import Fault, LayerError
from layers.season import season_days
from layers.settling import FINEST, ferguson_church_settling_speed

if TYPE_CHECKING:
    import geopandas as gpd
    import shapely

    from layers.grid import Grid
    from layers.site import FileEntry, Site

# names of columns have at most ten letters, all that a shapefile keeps
# columns of numbers: least and most of each, and whether the least itself is allowed
NUMBERS = {
    "volume_m3": (0, 1e9, False),
    "rate_m3_h": (0, 1e5, False),
    "hours_day": (0, 24, False),
    "dry_kg_m3": (50, 3000, True),
    "fines": (0, 1, True),
    "fines_um": (FINEST, 63, True),
}
WORDS = ("name", "equipment")
OPTIONAL_NUMBERS = {"loss_share": (0, 1, True), "left_share": (0, 1, True)}
_ADVICE = {
    ("fines_um",): "Sizes are in micrometres: 0.02 mm is 20 um.",
    ("dry_kg_m3",): "Densities are in kilograms: 0.8 t/m3 is 800 kg/m3.",
    ("fines", "loss_share", "left_share"): "It is a share of 1: 30 % is 0.3.",
}
OPTIONAL_WORDS = ("season", "loss_src", "measure", "left_src")


@dataclass(frozen=True, kw_only=True)
class DredgeWork:
    """One footprint that a dredge digs."""

    name: str
    footprint: shapely.Geometry
    season: str | None  # in which it digs; None for any
    volume: float  # as it lies [m3]
    rate: float  # [m3/h]
    hours_per_day: float
    density: float  # dry mass in a volume of bed [kg/m3]
    fines_share: float  # of the dry mass [1]
    fines_size: float  # grain size that stands for the fines [um]
    equipment: str
    loss: tuple[float | None, float, float | None]  # share of the fines lost: low, taken, high [1]
    measures: tuple[Measure, ...] = ()

    @property
    def source(self) -> float:
        """Fines lost to the water while it digs. [kg/s]"""
        lost = dredging_source(self.rate, self.density, self.fines_share, self.loss[1])
        return lowered_source(lost, *self.measures)

    @property
    def settling_speed(self) -> float:
        """Of the fines. [m/s]"""
        return float(ferguson_church_settling_speed(self.fines_size))

    @property
    def hours_of_digging(self) -> float:
        """[h]"""
        return self.volume / self.rate

    @property
    def days(self) -> float:
        """From the first day of digging to the last. [day]"""
        return self.hours_of_digging / self.hours_per_day

    def __str__(self) -> str:
        low, taken, high = self.loss
        span = f" ({low:g} to {high:g} published)" if low is not None and high is not None else ""
        taken_off = "".join(f", {measure.name} leaves {measure.factor:g} of it" for measure in self.measures)
        return (
            f"{self.name}, {self.equipment}, {self.volume:,.0f} m3 in {self.days:,.0f} days, {taken:g} of the fines "
            f"lost{span}{taken_off}: {self.source:.3g} kg/s"
        )


def works_of(table: gpd.GeoDataFrame, entry: FileEntry, site: Site, faults: list[Fault]) -> list[DredgeWork]:
    """Works of the footprints in a file; what is missing or impossible in their attributes is added to `faults`.

    Parameters
    ----------
    table : GeoDataFrame
        Polygons with the columns of `WORDS` and `NUMBERS`, and any of the optional ones.
    """
    missing = [column for column in (*WORDS, *NUMBERS) if column not in table.columns]
    if missing:
        found = f"the file has no column {', '.join(missing)}."
        remedy = f"A work of a dredge needs the columns {', '.join((*WORDS, *NUMBERS))}."
        faults.append(Fault(entry.path.name, found, remedy))
        return []
    works = [_work(number, row, table, entry, site, faults) for number, row in table.iterrows()]
    return [work for work in works if work is not None]


def footprint_source(work: DredgeWork, water: np.ndarray, grid: Grid, entry: FileEntry) -> np.ndarray:
    """Fines lost by a work, shared out over the water of its footprint. [g/s]

    Raises
    ------
    LayerError
        If no water lies in the footprint.
    """
    import geopandas as gpd

    from layers.alignment import cover_fraction

    share = np.where(water, cover_fraction(gpd.GeoSeries([work.footprint], crs=grid.crs), grid), 0.0)
    total = share.sum()
    if not total > 0:
        found = "no water lies in the footprint of this work."
        fault = Fault(f'work "{work.name}"', found, "Correct its place, or leave it out.")
        raise LayerError(entry.path.name, [fault])
    return share * (1000 * work.source / total)


def _work(number: int, row, table: gpd.GeoDataFrame, entry: FileEntry, site: Site, faults: list[Fault]):
    place = f"{entry.path.name}, feature {number}"
    numbers = {
        column: _number(row[column], column, limits, place, faults)
        for column, limits in (NUMBERS | OPTIONAL_NUMBERS).items()
        if column in table.columns and (column in NUMBERS or not is_nothing(row[column]))
    }
    words = {
        column: "" if column not in table.columns or is_nothing(row[column]) else str(row[column]).strip()
        for column in (*WORDS, *OPTIONAL_WORDS)
    }
    before = len(faults)
    loss = _loss(words, numbers, place, faults)
    season = _season(words["season"], place, site, faults)
    _check_measure(words, numbers, place, faults)
    if len(faults) > before or any(value is None for value in numbers.values()):
        return None
    work = DredgeWork(
        name=words["name"] or f"feature {number}",
        footprint=row.geometry,
        season=season,
        volume=numbers["volume_m3"],
        rate=numbers["rate_m3_h"],
        hours_per_day=numbers["hours_day"],
        density=numbers["dry_kg_m3"],
        fines_share=numbers["fines"],
        fines_size=numbers["fines_um"],
        equipment=words["equipment"],
        loss=loss,
        measures=_measures(words, numbers),
    )
    # a work without a season may dig in any, and is shown in each of them as if it dug then
    allowed = (season,) if season else tuple(site.seasons) or (None,)
    length = min(season_days(site.seasons, one) for one in allowed)
    if work.days > length:
        there = "and there are" if season or not site.seasons else "no season is named, and the shortest has"
        found = f"{work.volume:,.0f} m3 take {work.days:,.0f} days, {there} {length:,.0f}."
        remedy = "Correct the volume, the rate or the hours, or split the work by season."
        faults.append(Fault(place, found, remedy))
    return work


def _check_measure(words: dict[str, str], numbers: dict[str, float], place: str, faults: list[Fault]) -> None:
    """Add a fault for a measure without its share, or a share without its source."""
    if "left_share" in numbers and not words["left_src"]:
        found = "a measure takes sediment off, and nothing says who found that."
        faults.append(Fault(f"{place}, column left_src", found, "Name the source of left_share."))
    elif words["measure"] and "left_share" not in numbers:
        found = f'the measure "{words["measure"]}" is named, and nothing says how much of the loss it leaves.'
        remedy = "Give left_share, from 0 to 1, and its source as left_src, or leave the measure out."
        faults.append(Fault(f"{place}, column measure", found, remedy))


def _measures(words: dict[str, str], numbers: dict[str, float]) -> tuple[Measure, ...]:
    if "left_share" not in numbers:
        return ()
    name = words["measure"] or "a measure"
    return (Measure(name=name, factor=numbers["left_share"], source=words["left_src"]),)


def _loss(words: dict, numbers: dict, place: str, faults: list[Fault]):
    if "loss_share" in numbers:
        if not words["loss_src"]:
            found = "a share that is lost is stated, and nothing says who found it."
            faults.append(Fault(f"{place}, column loss_src", found, "Name the source of loss_share."))
            return None
        return None, numbers["loss_share"], None
    known = loss_fractions()
    found = known.get(words["equipment"])
    if found is None:
        faults.append(
            Fault(
                f"{place}, column equipment",
                f'no share that is lost is known for "{words["equipment"]}".',
                f"Name one of {', '.join(known)}, or add columns loss_share and loss_src.",
            )
        )
        return None
    ends = [end for end in (found.low, found.high) if end is not None]
    taken = found.characteristic if found.characteristic is not None else sum(ends) / len(ends)
    return found.low, taken, found.high


def _season(word: str, place: str, site: Site, faults: list[Fault]) -> str | None:
    if not word or word in site.seasons:
        return word or None
    known = ", ".join(site.seasons) or "none; add a table [seasons]"
    faults.append(Fault(f"{place}, column season", f'"{word}" is not a season.', f"Known seasons: {known}."))
    return None


def _number(given: object, column: str, limits: Sequence, place: str, faults: list[Fault]) -> float | None:
    least, most, inclusive = limits
    try:
        value = float(given)
    except (TypeError, ValueError):
        value = float("nan")
    inside = (least <= value if inclusive else least < value) and value <= most
    if inside:
        return value
    shown = "nothing" if is_nothing(given) else f'"{given}"' if value != value else f"{value:g}"
    bounds = f"from {least:g} to {most:g}" if inclusive else f"above 0, at most {most:,.0f}"
    advice = "".join(f" {said}" for columns, said in _ADVICE.items() if column in columns)
    faults.append(Fault(f"{place}, column {column}", f"it holds {shown}.", f"Give a number {bounds}.{advice}"))
    return None
