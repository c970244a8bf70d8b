"""Colours: one palette for each kind of quantity, the same on every page and every printed map.

A scale runs in even steps of CIE lightness: it reads in grey, and a step looks as large in its pale half as in its
dark half. Ranges are fixed, so two maps of one quantity can be laid side by side. Suitability runs from sand to
teal, threat from rose to rust, and neither scale is used for anything else. Land and no data lie outside all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

PAGE = "#ffffff"
INK = "#1d2529"  # text, and the outline of swatches and coast
MUTED_INK = "#4d585e"  # secondary text
LAND = "#c6c1ba"
LAND_LINES = "#e6e2dc"  # level lines over LAND in print
NO_DATA = "#f0f0f0"
NO_DATA_HATCH = "#767676"  # diagonal lines over NO_DATA
ALERT = "#8c1d18"  # ground of the banner of an invented site, under text in PAGE

# lightness, chroma and hue angle (degrees) in CIE L*C*h of the pale and the dark end, and the chroma that is
# added half-way, in the hue of the dark end
_FAMILIES = {
    "suitability": ((94, 13, 84), (30, 25, 212), 14),
    "threat": ((93, 11, 60), (25, 46, 32), 34),
    "depth": ((95, 8, 230), (20, 36, 282), 16),
    "salinity": ((94, 8, 330), (24, 42, 308), 18),
    "temperature": ((95, 24, 98), (30, 38, 66), 24),
    "cover": ((95, 16, 118), (28, 30, 142), 22),
    "load": ((94, 16, 105), (26, 26, 108), 30),
    "traffic": ((93, 8, 355), (26, 34, 345), 26),
    "distance": ((92, 4, 240), (27, 8, 250), 2),
    "time": ((95, 7, 200), (28, 26, 232), 8),
    "light": ((95, 26, 102), (22, 34, 318), 24),
    "doubt": ((94, 4, 310), (30, 30, 318), 12),
}
_NEAR_IS_DARK = frozenset({"distance"})  # what is near matters
_STEPS = 256  # colours of a scale: what a picture of 8 bits can tell apart

# family and range of each layer; the range is for looking at, values beyond it are drawn as its ends
_RANGES: dict[str, tuple[str, float, float]] = {
    "water_depth": ("depth", 0, 10),
    "bed_elevation": ("depth", -10, 2),
    "wet_time": ("time", 0, 1),
    "feeding_time": ("time", 0, 1),
    "salinity": ("salinity", 0, 40),
    "water_temperature": ("temperature", 10, 35),
    "seagrass_cover": ("cover", 0, 1),
    "mangrove_cover": ("cover", 0, 1),
    "forage": ("cover", 0, 1),
    "low_water_depth": ("depth", 0, 10),
    "high_water_depth": ("depth", 0, 10),
    "nitrogen_concentration": ("load", 0, 0.6),
    "phosphorus_concentration": ("load", 0, 0.1),
    "chlorophyll": ("cover", 0, 20),
    "suspended_solids": ("load", 0, 50),
    "dredge_plume": ("load", 0, 50),
    "dredge_solids": ("load", 0, 10),
    "dredge_deposit": ("load", 0, 5),
    "secchi_depth": ("depth", 0, 10),
    "attenuation": ("light", 0, 4),
    "bed_light": ("light", 0, 1),
    "depth_limit": ("depth", 0, 10),
    "keel_clearance": ("depth", 0, 5),
    "vessel_density": ("traffic", 0, 20),
    "strike_exposure": ("traffic", 0, 20),
    "bed_elevation_error": ("doubt", 0, 0.5),
    "salinity_error": ("doubt", 0, 5),
    "water_temperature_error": ("doubt", 0, 3),
    "chlorophyll_error": ("doubt", 0, 5),
    "suspended_solids_error": ("doubt", 0, 20),
    "secchi_depth_error": ("doubt", 0, 2),
    "fetch": ("distance", 0, 20_000),
    "mangrove_distance": ("distance", 0, 2_000),
    "fresh_water_distance": ("distance", 0, 10_000),
    "dredging_distance": ("distance", 0, 5_000),
    "landing_distance": ("distance", 0, 5_000),
    "net_distance": ("distance", 0, 5_000),
    "track_distance": ("distance", 0, 5_000),
}
# the bed has the colours of the depth above it; much light is pale
_HIGH_IS_PALE = frozenset({"bed_elevation", "bed_light"})

# the 3 x 3 reading in CIE L*a*b*: rows suitability low to high, columns threat low to high. Lightness falls both
# ways and no two cells share one, so that the square also reads in grey.
_CONCERN_LIGHTNESS = ((94, 78, 59), (85, 66, 41), (72, 50, 24))
_CONCERN_SUITABILITY = ((0, 0), (-14, -6), (-29, -12))  # what each class of suitability adds to a*, b*
_CONCERN_THREAT = ((0, 6), (17, 20), (42, 36))  # what each class of threat adds

# L*, C*, h of classes without an order, each as far as can be from those before it, for colour-blind eyes too
_UNORDERED = (
    (32, 44, 300),
    (32, 44, 80),
    (71, 44, 280),
    (58, 44, 100),
    (45, 12, 180),
    (58, 44, 340),
    (84, 44, 100),
    (84, 28, 260),
    (32, 12, 220),
    (58, 28, 160),
    (45, 28, 100),
    (32, 12, 120),
)

# linear sRGB to CIE XYZ, IEC 61966-2-1:1999; its rows add up to the white of the space, D65
_RGB_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


@dataclass(frozen=True, kw_only=True)
class Scale:
    """A colour scale with its fixed range; values beyond the range take the colour of the nearer end."""

    name: str
    colours: tuple[str, ...]  # from low to high, "#rrggbb"
    low: float
    high: float

    def colour(self, value: float) -> str:
        """Colour of one value, "#rrggbb"; NaN has no colour and gives `NO_DATA`."""
        return NO_DATA if np.isnan(value) else self.colours[int(self._step(np.float64(value)))]

    def pixels(self, values: np.ndarray) -> np.ndarray:
        """Red, green and blue of each cell, uint8, shape (..., 3); `NO_DATA` where NaN."""
        table = np.stack([rgb(colour) for colour in (*self.colours, NO_DATA)])
        missing = np.isnan(values)
        return table[np.where(missing, len(self.colours), self._step(np.where(missing, self.low, values)))]

    def _step(self, values: np.ndarray) -> np.ndarray:
        share = (values - self.low) / (self.high - self.low)
        return np.clip(share * len(self.colours), 0, len(self.colours) - 1).astype(np.intp)


def scale_of(name: str) -> Scale:
    """Scale of a layer or of a variable of an assessment, by its name.

    Raises
    ------
    ValueError
        If the name has no scale (a layer of codes has `class_colours` instead).
    """
    if name == "suitability" or name.startswith("index_"):
        return _scale("suitability", 0, 1)
    if name == "threat" or name.startswith("exposure_"):
        return _scale("threat", 0, 1)
    if name not in _RANGES:
        raise ValueError(f"{name} has no colour scale. Known: {', '.join(sorted(_RANGES))}.")
    return _scale(*_RANGES[name], name in _HIGH_IS_PALE)


def class_colours(name: str, count: int | None = None) -> dict[int, str]:
    """Colour of each code of a layer of classes; code 0 (no data) has none.

    Parameters
    ----------
    name : str
        `suitability_class`, `threat_class`, `concern`, `surface`, `limiting_factor`, `missing_factors` or
        `missing_pressures`.
    count : int, optional
        How many codes there are besides 0, where that depends on the profile.

    Raises
    ------
    ValueError
        If the name is none of these.
    """
    if name == "concern":
        return dict(_concern())
    if name == "surface":
        return {1: LAND, 2: "#e2d3a4", 3: "#9fc3dc"}
    if name in ("suitability_class", "threat_class"):
        scale = scale_of(name.removesuffix("_class"))
        return {i: scale.colour(share) for i, share in enumerate(np.linspace(0.08, 0.88, count or 3), start=1)}
    if name == "limiting_factor":
        unordered = _hexadecimals(np.array([_lab(*colour) for colour in _UNORDERED]))
        return {1 + i: unordered[i % len(unordered)] for i in range(count or len(unordered))}
    if name in ("missing_factors", "missing_pressures"):
        return dict(enumerate(_even_path((90, 0, 0), (30, 0, 0), 0, max(count or 6, 2)), start=1))
    raise ValueError(f"{name} has no colours of classes.")


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 (none) to 21 (black on white).

    References
    ----------
    W3C. Web Content Accessibility Guidelines 2.1 (2018), definitions of "relative luminance" and of "contrast
    ratio".

    Examples
    --------
    >>> round(contrast("#000000", "#ffffff"), 1)
    21.0
    """
    dark, bright = sorted((_luminance(one), _luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def rgb(colour: str) -> np.ndarray:
    """A colour given as "#rrggbb", as three bytes."""
    return np.frombuffer(bytes.fromhex(colour.removeprefix("#")), np.uint8)


@cache
def _scale(family: str, low: float, high: float, turned: bool = False) -> Scale:
    colours = _even_path(*_FAMILIES[family], _STEPS)
    if turned != (family in _NEAR_IS_DARK):
        colours = colours[::-1]
    return Scale(name=family, colours=colours, low=low, high=high)


@cache
def _concern() -> dict[int, str]:
    """Colour of each code of concern: 1 + 3 x (suitability class - 1) + (threat class - 1)."""
    lightness = np.array(_CONCERN_LIGHTNESS, float)[:, :, None]
    ab = np.array(_CONCERN_SUITABILITY, float)[:, None] + np.array(_CONCERN_THREAT, float)[None, :]
    return dict(enumerate(_hexadecimals(np.concatenate([lightness, ab], axis=-1).reshape(9, 3)), start=1))


def _even_path(pale: tuple, dark: tuple, swell: float, count: int) -> tuple[str, ...]:
    """`count` colours from `pale` to `dark` (L*, C*, h) in even steps of lightness."""
    share = np.linspace(0, 1, count)[:, None]
    start, end = _lab(*pale), _lab(*dark)
    towards = _lab(0, 1, dark[2])
    return _hexadecimals(start + (end - start) * share + swell * np.sin(np.pi * share) * towards)


def _lab(lightness: float, chroma: float, hue: float) -> np.ndarray:
    """L*, a*, b* from L*, C* and the hue angle in degrees."""
    return np.array([lightness, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))])


def _hexadecimals(lab: np.ndarray) -> tuple[str, ...]:
    """sRGB of CIE L*a*b* colours, shape (N, 3); chroma, never lightness, is cut back to what sRGB can hold."""
    low, high = np.zeros(len(lab)), np.ones(len(lab))
    for _ in range(20):  # bisection to a millionth of the chroma
        middle = (low + high) / 2
        tried = _linear_rgb(_of_chroma(lab, middle))
        fits = ((tried >= 0) & (tried <= 1)).all(axis=-1)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    linear = np.clip(_linear_rgb(_of_chroma(lab, low)), 0, 1)
    encoded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return tuple("#" + bytes(pixel).hex() for pixel in np.rint(encoded * 255).astype(np.uint8))


def _of_chroma(lab: np.ndarray, share: np.ndarray) -> np.ndarray:
    """The colours with their chroma multiplied by `share`."""
    return lab * np.stack([np.ones_like(share), share, share], axis=-1)


def _linear_rgb(lab: np.ndarray) -> np.ndarray:
    """Linear sRGB of CIE 1976 L*a*b* colours, shape (N, 3); outside 0 to 1 where sRGB has no such colour.

    CIE 15:2004, Colorimetry, 3rd edition: the equations of L*a*b*, inverted.
    """
    lightness, a, b = lab.T
    f_y = (lightness + 16) / 116
    f = np.stack([f_y + a / 500, f_y, f_y - b / 200], axis=-1)
    relative = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    return (relative * _RGB_TO_XYZ.sum(axis=1)) @ np.linalg.inv(_RGB_TO_XYZ).T


def _luminance(colour: str) -> float:
    """Relative luminance of WCAG: 0 black, 1 white."""
    part = rgb(colour) / 255
    linear = np.where(part <= 0.03928, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))
