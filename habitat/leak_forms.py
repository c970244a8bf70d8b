"""The forms in which a place may be written, each found by a function of its own.

A match needs both coordinates of one sighting near each other, in one projection, in either order, more exactly than
is allowed. A number in text is as exact as its decimals say; a packed number is compared to less than a metre, and in
degrees to the sighting rounded to any finer count of decimals than is allowed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from affine import Affine

METRES_A_DEGREE = 111_320.0  # along the equator of WGS 84
NEAR = 12  # numbers of a text between the two coordinates
NEAR_BYTES = 64  # bytes between two packed coordinates
# how near a packed number has to be: half a metre and what a single-precision number is off, in degrees and in metres
_NEAR_PLACE = {True: 6e-6, False: 0.8}
_NUMBER = re.compile(r"(?<![\d.])[-+]?\d{1,9}\.?\d*(?:[eE][-+]?\d{1,2})?(?![\d])")
_COMMA = re.compile(r"(?<![\d.,])[-+]?\d{1,8},\d{2,}(?![\d,])")
_SECONDS = re.compile(
    r"(\d{1,3})\s?(?:°|º|\ufffd|deg|d|:|\s)\s?(\d{1,2})\s?(?:'|′|’|\ufffd|m|:|\s)\s?(\d{1,2}(?:\.\d+)?)"
)
_MINUTES = re.compile(r"(\d{1,3})\s?(?:°|º|\ufffd|deg|d|:|\s)\s?(\d{1,2}(?:\.\d+)?)\s?(?:'|′|’|\ufffd|m\b|\s?[NSEW])")
_RUN = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d{1,2})?(?:[,;\s]{1,4}[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d{1,2})?)+")


@dataclass(frozen=True, kw_only=True)
class Places:
    """Sightings in one projection, as (n, 2) x and y."""

    name: str
    xy: np.ndarray = field(repr=False)
    is_degrees: bool
    allowed: float  # step that may be told, in the unit of the projection
    cell: tuple[float, float, float] | None = None  # west, north and side of the published grid, in this projection
    told: np.ndarray | None = field(default=None, repr=False)  # (m, 2) middles of released squares, in this projection

    def is_on_grid(self, x: float, y: float) -> bool:
        """Whether both numbers are edges or middles of cells of the published grid: those are the map's own."""
        if self.cell is None:
            return False
        west, north, side = self.cell
        halves = np.array([(x - west) * 2 / side, (y - north) * 2 / side])
        return bool((np.abs(halves - halves.round()) < 1e-6).all())

    def is_told(self, x: float, y: float) -> bool:
        """Whether the pair is a released square: for another species it may be told."""
        return self.told is not None and bool((np.abs(np.abs(self.told) - np.abs((x, y))) < 1e-9).all(axis=1).any())


@dataclass(frozen=True)
class Raster:
    """Cells with a place, read by a library."""

    values: np.ndarray = field(repr=False)  # (rows, columns)
    transform: Affine = field(repr=False)


@dataclass(frozen=True)
class Part:
    """A piece of a file that has been opened as far as it goes."""

    where: str  # file and the parts of it, such as "a.zip > b.csv"
    data: bytes = field(repr=False)
    text: str = field(default="", repr=False)
    arrays: tuple[np.ndarray, ...] = field(default=(), repr=False)  # columns of numbers, read by a library
    rasters: tuple[Raster, ...] = field(default=(), repr=False)


def decimal_text(part: Part, places: Places) -> Iterator[int]:
    """Numbers with a decimal point, as text: also WKT, GeoJSON and CSV."""
    yield from near_pairs(_decimal_numbers(part.text), places)


def comma_text(part: Part, places: Places) -> Iterator[int]:
    """Numbers with a decimal comma."""
    yield from near_pairs(_comma_numbers(part.text), places)


def seconds_text(part: Part, places: Places) -> Iterator[int]:
    """Degrees, minutes and seconds."""
    if places.is_degrees:
        found = [
            (int(m[1]) + int(m[2]) / 60 + float(m[3]) / 3600, exactness(m[3]) / 3600)
            for m in _SECONDS.finditer(part.text)
        ]
        yield from near_pairs(found, places)


def minutes_text(part: Part, places: Places) -> Iterator[int]:
    """Degrees and minutes, with or without decimals."""
    if places.is_degrees:
        found = [(int(m[1]) + float(m[2]) / 60, exactness(m[2]) / 60) for m in _MINUTES.finditer(part.text)]
        yield from near_pairs(found, places)


def text_columns(part: Part, places: Places) -> Iterator[int]:
    """One list of x and another of y in a text, of equal length, anywhere apart."""
    yield from _columns(_runs(part.text), places)


def number_columns(part: Part, places: Places) -> Iterator[int]:
    """One array of x and another of y, of equal length, as a library reads them from a file."""
    yield from _columns(part.arrays, places)


def packed(kind: str) -> Callable[[Part, Places], Iterator[int]]:
    """A detector of packed floating-point numbers of a kind such as "<f8", at any offset: also WKB and free pages."""

    def detector(part: Part, places: Places) -> Iterator[int]:
        size = np.dtype(kind).itemsize
        spots, values = [], []
        for offset in range(size):
            count = (len(part.data) - offset) // size
            if count > 0:
                column = np.frombuffer(part.data, kind, count, offset)
                with np.errstate(all="ignore"):
                    wide = column.astype(np.float64)
                    kept = np.flatnonzero(_may_match(wide, places))
                spots.append(kept * size + offset)
                values.append(wide[kept])
        if spots:
            yield from _near_packed(np.concatenate(spots), np.concatenate(values), places)

    return detector


def scaled_integers(part: Part, places: Places) -> Iterator[int]:
    """Degrees times ten million or a million, as little-endian integers of four bytes."""
    if not places.is_degrees:
        return
    for scale in (1e7, 1e6):
        spots, values = [], []
        for offset in range(4):
            count = (len(part.data) - offset) // 4
            if count > 0:
                wide = np.frombuffer(part.data, "<i4", count, offset) / scale
                kept = np.flatnonzero(_may_match(wide, places))
                spots.append(kept * 4 + offset)
                values.append(wide[kept])
        if spots:
            yield from _near_packed(np.concatenate(spots), np.concatenate(values), places)


FORMS: dict[str, Callable[[Part, Places], Iterable[int]]] = {
    "decimal text": decimal_text,
    "decimal comma": comma_text,
    "degrees, minutes and seconds": seconds_text,
    "degrees and minutes": minutes_text,
    "columns in text": text_columns,
    "columns of numbers": number_columns,
    "double, little-endian": packed("<f8"),
    "double, big-endian": packed(">f8"),
    "single, little-endian": packed("<f4"),
    "single, big-endian": packed(">f4"),
    "scaled integers": scaled_integers,
}


# a piece is searched for one projection after another, and its numbers are the same in all
@lru_cache(maxsize=1)
def _decimal_numbers(text: str) -> list[tuple[float, float]]:
    return [(float(m[0]), exactness(m[0])) for m in _NUMBER.finditer(text)]


@lru_cache(maxsize=1)
def _comma_numbers(text: str) -> list[tuple[float, float]]:
    words = [m[0].replace(",", ".") for m in _COMMA.finditer(text)]
    return [(float(word), exactness(word)) for word in words]


@lru_cache(maxsize=1)
def _runs(text: str) -> list[np.ndarray]:
    runs = [np.array([float(word) for word in re.split(r"[,;\s]+", m[0])]) for m in _RUN.finditer(text) if "." in m[0]]
    return [run for run in runs if len(run) > 1]


def exactness(word: str) -> float:
    """How exact a number is that is written so.

    Half a unit of the last digit would do for rounding; a whole one also finds what was cut off.
    """
    digits, _, power = word.lower().partition("e")
    decimals = len(digits.partition(".")[2]) - int(power or 0)
    return 10.0**-decimals


def near_pairs(found: list[tuple[float, float]], places: Places) -> Iterator[int]:
    """Sightings that two of these numbers, each with how exact it is, give away."""
    if len(found) < 2:
        return
    values, steps = (np.array(column) for column in zip(*found, strict=True))
    fine = steps < places.allowed * 0.999
    stripped = np.array([_stripped(value) for value in values])  # 118.9500000 is 118.95
    width = np.maximum(np.where(fine, np.maximum(steps, stripped), 0), _least(places))
    width = np.minimum(width, places.allowed / 10 if places.is_degrees else 1.0)
    spots = np.arange(len(values))
    for along, across in ((0, 1), (1, 0)):
        for here, place in _matches(values, width, places.xy[:, along], places.is_degrees, fine):
            other = np.flatnonzero(fine[here + 1 : here + 1 + NEAR]) + here + 1
            off = np.abs(_plain(values[other], places) - _plain(places.xy[place, across], places))
            close = other[off <= width[other]]
            if any(not _is_own(values, spots[here], one, along, places) for one in close):
                yield place


def _near_packed(spots: np.ndarray, values: np.ndarray, places: Places) -> Iterator[int]:
    order = np.argsort(spots, kind="stable")
    spots, values = spots[order], values[order]
    for along, across in ((0, 1), (1, 0)):
        widths = np.full(len(values), _NEAR_PLACE[places.is_degrees])
        for variant in _variants(places):
            for here, place in _matches(values, widths, variant[:, along], False, None):
                stop = np.searchsorted(spots, spots[here] + NEAR_BYTES, "right")
                other = np.arange(here + 1, stop)
                close = other[np.abs(values[other] - variant[place, across]) <= widths[other]]
                if any(not _is_own(values, here, one, along, places) for one in close):
                    yield place


def _columns(arrays: Iterable[np.ndarray], places: Places) -> Iterator[int]:
    with np.errstate(all="ignore"):  # bytes that are no numbers
        arrays = [np.asarray(array, np.float64).ravel() for array in arrays]
    lengths: dict[int, list[np.ndarray]] = {}
    for array in arrays:
        lengths.setdefault(len(array), []).append(array)
    for same in lengths.values():
        for variant in _variants(places):
            width = _NEAR_PLACE[places.is_degrees]
            across = np.stack(same)
            for array in same if len(same) > 1 else []:
                for here, place in _matches(array, np.full(len(array), width), variant[:, 0], False, None):
                    beside = np.abs(across[:, here] - variant[place, 1]) <= width
                    if any(not _is_own(np.array([array[here], one]), 0, 1, 0, places) for one in across[beside, here]):
                        yield place


def _variants(places: Places) -> list[np.ndarray]:
    """The sightings as they are, and rounded to every step of ten that is finer than allowed (10 to 1000 m)."""
    if not places.is_degrees:
        steps = [step for step in (10, 100, 1000) if step < places.allowed]
        return [places.xy, *((places.xy / step).round() * step for step in steps)]
    first = round(-np.log10(places.allowed)) + 1
    return [places.xy, *(places.xy.round(decimals) for decimals in range(max(first, 1), 6))]


def _matches(
    values: np.ndarray, widths: np.ndarray, wanted: np.ndarray, either_sign: bool, fine: np.ndarray | None
) -> Iterator[tuple[int, int]]:
    """Places in `values` and in `wanted` that agree within the width of the value."""
    if either_sign:
        values, wanted = np.abs(values), np.abs(wanted)
    order = np.argsort(wanted)
    low = np.searchsorted(wanted[order], values - widths, "left")
    high = np.searchsorted(wanted[order], values + widths, "right")
    hit = high > low if fine is None else (high > low) & fine
    for here in np.flatnonzero(hit):
        yield from ((int(here), int(place)) for place in order[low[here] : high[here]])


def _may_match(values: np.ndarray, places: Places) -> np.ndarray:
    pad = places.allowed if places.is_degrees else 1000.0
    low, high = places.xy.min(axis=0) - pad, places.xy.max(axis=0) + pad
    return ((values >= low[0]) & (values <= high[0])) | ((values >= low[1]) & (values <= high[1]))


def _is_own(values: np.ndarray, one: int, other: int, along: int, places: Places) -> bool:
    """Whether the pair is the map's own, or released."""
    pair = (values[one], values[other]) if along == 0 else (values[other], values[one])
    return places.is_on_grid(*pair) or places.is_told(*pair)


def _least(places: Places) -> float:
    return 2e-8 if places.is_degrees else 1e-3


def _stripped(value: float) -> float:
    word = repr(float(value))
    return 1.0 if word.endswith(".0") or "e" in word else 10.0 ** -len(word.partition(".")[2])


def _plain(values: np.ndarray | float, places: Places) -> np.ndarray | float:
    return np.abs(values) if places.is_degrees else values
