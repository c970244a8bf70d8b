"""Forms that write a place as a code: geohash, the military grid and the sentences of positioning receivers.

A code counts where it is finer than what may be told: a geohash where the area of its cell is smaller than that of a
released square, a grid reference where its square is narrower than the released step.

References
----------
Geohash: base 32 of interleaved bits of longitude and latitude, G. Niemeyer 2008, public domain; from memory.
Military Grid Reference System: NGA.STND.0037, appendix B, and NMEA 0183, which
writes ddmm.mmmm; both from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import numpy as np

from habitat.leak_forms import METRES_A_DEGREE, Part, Places, exactness, near_pairs

_GEOHASH = "0123456789bcdefghjkmnpqrstuvwxyz"
_HASH = re.compile(rf"(?<![A-Za-z0-9])[{_GEOHASH}{_GEOHASH[10:].upper()}]{{4,12}}(?![A-Za-z0-9])")
_LONGEST_HASH = 12
_BANDS = "CDEFGHJKLMNPQRSTUVWX"
_COLUMNS, _ROWS = "ABCDEFGHJKLMNPQRSTUVWXYZ", "ABCDEFGHJKLMNPQRSTUV"
_GRID = re.compile(
    r"(?<![A-Za-z0-9])(\d{1,2})\s?([C-HJ-NP-X])\s?([A-HJ-NP-Z][A-HJ-NP-V])\s?(\d{1,5}\s\d{1,5}|\d{2,10})(?!\d)", re.I
)
_NMEA = re.compile(r"(?<![\d.])(\d{1,3})([0-5]\d\.\d{1,8})(?!\d)")


def geohash_text(part: Part, places: Places) -> Iterator[int]:
    """A geohash of a sighting that stands as a word."""
    if not _is_plain_degrees(places):
        return
    words = {word.lower() for word in _HASH.findall(part.text)}
    lengths = [length for length in {len(word) for word in words} if _hash_area(length) < places.allowed**2 * 0.999]
    for place, (longitude, latitude) in enumerate(places.xy if lengths else ()):
        whole = geohash(longitude, latitude)
        if any(whole[:length] in words for length in lengths):
            yield place


def grid_reference(part: Part, places: Places) -> Iterator[int]:
    """A reference of the military grid, cut off or rounded."""
    if not _is_plain_degrees(places):
        return
    found = [m.groups() for m in _GRID.finditer(part.text)]
    wanted: dict[str, set[tuple[int, int, int]]] = {}
    for zone, band, square, digits in found:
        pair = digits.split() if re.search(r"\s", digits) else [digits[: len(digits) // 2], digits[len(digits) // 2 :]]
        if len(pair[0]) == len(pair[1]) and 10 ** (5 - len(pair[0])) < places.allowed * METRES_A_DEGREE * 0.999:
            numbers = (len(pair[0]), int(pair[0]), int(pair[1]))
            wanted.setdefault(f"{int(zone)}{band}{square}".upper(), set()).add(numbers)
    if not wanted:
        return
    for place, (longitude, latitude) in enumerate(places.xy):
        if any(reference in wanted.get(name, ()) for name, reference in _references(longitude, latitude)):
            yield place


def receiver_text(part: Part, places: Places) -> Iterator[int]:
    """Degrees and minutes run together, ddmm.mmmm, as receivers write them."""
    if places.is_degrees:
        found = [(int(m[1]) + float(m[2]) / 60, exactness(m[2]) / 60) for m in _NMEA.finditer(part.text)]
        yield from near_pairs(found, places)


CODES = {"geohash": geohash_text, "grid reference": grid_reference, "ddmm.mmmm": receiver_text}


def geohash(longitude: float, latitude: float, length: int = _LONGEST_HASH) -> str:
    """The geohash of a place. [degree]

    Examples
    --------
    >>> geohash(-5.6, 42.6, 5)
    'ezs42'
    """
    ranges = [[-180.0, 180.0], [-90.0, 90.0]]
    values, word = (longitude, latitude), ""
    for letter in range(length):
        code = 0
        for bit in range(5):
            axis = (5 * letter + bit) % 2
            low, high = ranges[axis]
            middle = (low + high) / 2
            upper = values[axis] >= middle
            ranges[axis] = [middle, high] if upper else [low, middle]
            code = 2 * code + upper
        word += _GEOHASH[code]
    return word


def utm_code(longitude: float, latitude: float) -> int:
    """EPSG code of the UTM zone of a place on WGS 84, the plain zones of 6 degrees.

    Examples
    --------
    >>> utm_code(87.0, -20.0)
    32745
    """
    return (32600 if latitude >= 0 else 32700) + int((longitude + 180) // 6) % 60 + 1


def grid_square(longitude: float, latitude: float) -> tuple[str, float, float]:
    """Zone, band and letters of the military grid, with easting and northing within the 100 km square. [m]

    Between 80 degrees south and 84 north; the wider zones of Norway and Svalbard are not known here.
    """
    from pyproj import Transformer

    code = utm_code(longitude, latitude)
    zone = code % 100
    band = _BANDS[int(np.clip((latitude + 80) // 8, 0, 19))]
    east, north = Transformer.from_crs(4326, code, always_xy=True).transform(longitude, latitude)
    column = _COLUMNS[((zone - 1) % 3 * 8 + int(east // 100_000) - 1) % 24]
    row = _ROWS[(int(north // 100_000) + (0 if zone % 2 else 5)) % 20]
    return f"{zone}{band}{column}{row}", east % 100_000, north % 100_000


def _references(longitude: float, latitude: float) -> Iterable[tuple[str, tuple[int, int, int]]]:
    name, east, north = grid_square(longitude, latitude)
    for digits in range(1, 6):
        side = 10 ** (5 - digits)
        for x in {int(east // side), round(east / side)}:
            for y in {int(north // side), round(north / side)}:
                yield name, (digits, x, y)


def _hash_area(length: int) -> float:
    """Of the cell of a geohash. [square degrees]"""
    return 360 * 180 / 32.0**length


def _is_plain_degrees(places: Places) -> bool:
    return places.is_degrees and len(places.xy) > 0 and places.name == "WGS 84"
