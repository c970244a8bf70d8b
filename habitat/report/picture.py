"""A layer as a picture: cells to pixels, with land, missing cells and incompletely scored cells each in their look.

A pixel that stands for many cells shows their mean, or the code most of them have. Numbers are never taken from
here: statistics come from every cell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from habitat.colours import INK, LAND, LAND_LINES, NO_DATA, NO_DATA_HATCH, PAGE, Scale, rgb
from layers import quantity as q

_HATCH_EVERY, _HATCH_WIDE = 9, 2  # pixels
_DOTS_EVERY, _DOTS_WIDE = 8, 2
_LINES_EVERY = 8
_DARK = 110  # of 255: ground on which a pale dot is seen better than a dark one


@dataclass(frozen=True, kw_only=True)
class Size:
    """Height and width of a picture. [pixel]"""

    height: int
    width: int

    @classmethod
    def fitting(cls, shape: tuple[int, int], *, height: int, width: int) -> Size:
        """The largest size with square cells within a height and a width.

        Examples
        --------
        >>> Size.fitting((100, 400), height=500, width=1000)
        Size(height=250, width=1000)
        """
        scale = min(height / shape[0], width / shape[1])
        return cls(height=max(1, round(shape[0] * scale)), width=max(1, round(shape[1] * scale)))


def map_picture(
    values: np.ndarray,
    look: Scale | Mapping[int, str],
    size: Size,
    *,
    surface: np.ndarray,
    lacking: np.ndarray | None = None,
) -> np.ndarray:
    """Red, green and blue of a map.

    Parameters
    ----------
    values : array (M, N), float32 or uint8
        The layer. NaN, or a code that `look` does not have, is no data.
    look : Scale or mapping of code to "#rrggbb"
        Its colours.
    size : Size
        Of the picture.
    surface : array (M, N) of uint8
        Codes of `layers.quantity.SURFACE`: land is drawn as land whatever the layer says.
    lacking : array (M, N) of bool, optional
        Cells to dot: scored without all their factors or pressures.

    Returns
    -------
    array (height, width, 3) of uint8
    """
    if isinstance(look, Scale):
        shown = mean_pixels(values, size)
        missing = np.isnan(shown)
        picture = look.pixels(shown)
    else:
        codes = code_pixels(values, size)
        missing = ~np.isin(codes, list(look))
        table = np.zeros((256, 3), np.uint8)
        table[list(look)] = [rgb(colour) for colour in look.values()]
        picture = table[codes]
    land = code_pixels(surface, size) == q.LAND
    if lacking is not None:
        picture = dotted(picture, (code_pixels(lacking.astype(np.uint8), size) == 1) & ~missing)
    picture = np.where(missing[..., None], hatched(size), picture)
    picture[land] = lined(size)[land]
    picture[_edge(land)] = rgb(INK)
    return picture


def mean_pixels(values: np.ndarray, size: Size) -> np.ndarray:
    """Mean of the cells of each pixel, float32; NaN where more than half of them are missing.

    Examples
    --------
    >>> mean_pixels(np.array([[1, 3, np.nan, np.nan], [1, 3, np.nan, 5]], np.float32), Size(height=1, width=2))
    array([[ 2., nan]], dtype=float32)
    """
    if _is_enlarged(values.shape, size):
        return _nearest(values, size)
    known = ~np.isnan(values)
    count = _sums(known.astype(np.float32), size)
    total = _sums(np.where(known, values, np.float32(0)), size)
    cells = _sums(np.ones(values.shape, np.float32), size)
    with np.errstate(invalid="ignore", divide="ignore"):  # no cell known: 0 / 0 is the NaN we want
        return np.where(2 * count >= cells, total / count, np.float32(np.nan)).astype(np.float32)


def code_pixels(codes: np.ndarray, size: Size) -> np.ndarray:
    """The code that most cells of each pixel have; of two as frequent the lower one.

    Examples
    --------
    >>> code_pixels(np.array([[1, 1, 2], [1, 2, 2]], np.uint8), Size(height=1, width=1))
    array([[1]], dtype=uint8)
    """
    if _is_enlarged(codes.shape, size):
        return _nearest(codes, size)
    most, best = np.zeros((size.height, size.width), np.float32), np.zeros((size.height, size.width), np.uint8)
    for code in np.flatnonzero(np.bincount(codes.ravel(), minlength=256)):
        count = _sums((codes == code).astype(np.float32), size)
        best = np.where(count > most, np.uint8(code), best)
        most = np.maximum(count, most)
    return best


def lined(size: Size) -> np.ndarray:
    """The look of land: level lines, which set it apart from water of the same grey in a black and white print."""
    lines = np.arange(size.height) % _LINES_EVERY == 0
    rows = np.stack([rgb(LAND), rgb(LAND_LINES)])[lines.astype(np.uint8)]
    return np.repeat(rows[:, None], size.width, axis=1)


def hatched(size: Size) -> np.ndarray:
    """The look of no data: slanting lines."""
    across, down = np.arange(size.width), np.arange(size.height)[:, None]
    lines = (across + down) % _HATCH_EVERY < _HATCH_WIDE
    return np.stack([rgb(NO_DATA), rgb(NO_DATA_HATCH)])[lines.astype(np.uint8)]


def dotted(picture: np.ndarray, where: np.ndarray) -> np.ndarray:
    """The picture with dots `where` true: dark ones on pale ground, pale ones on dark ground."""
    across, down = np.arange(picture.shape[1]), np.arange(picture.shape[0])[:, None]
    shift = _DOTS_EVERY // 2 * (down // _DOTS_EVERY % 2)  # every second row stands between the dots above
    dots = ((across + shift) % _DOTS_EVERY < _DOTS_WIDE) & (down % _DOTS_EVERY < _DOTS_WIDE) & where
    ground = picture[dots]
    is_dark = ground @ (0.2126, 0.7152, 0.0722) < _DARK
    marked = picture.copy()
    marked[dots] = np.where(is_dark[:, None], rgb(PAGE), rgb(INK))
    return marked


def _is_enlarged(shape: tuple[int, int], size: Size) -> bool:
    return size.height >= shape[0] or size.width >= shape[1]


def _nearest(values: np.ndarray, size: Size) -> np.ndarray:
    rows = (np.arange(size.height) + 0.5) * values.shape[0] / size.height
    columns = (np.arange(size.width) + 0.5) * values.shape[1] / size.width
    return values[np.ix_(rows.astype(int), columns.astype(int))]


def _sums(values: np.ndarray, size: Size) -> np.ndarray:
    """Sum of the cells of each pixel; pixels share out rows and columns whole."""
    rows = np.arange(size.height) * values.shape[0] // size.height
    columns = np.arange(size.width) * values.shape[1] // size.width
    return np.add.reduceat(np.add.reduceat(values, rows, axis=0), columns, axis=1)


def _edge(land: np.ndarray) -> np.ndarray:
    """Pixels of land that touch another kind."""
    edge = np.zeros_like(land)
    for axis in (0, 1):
        differs = np.diff(land, axis=axis)
        edge |= np.insert(differs, 0, False, axis=axis) | np.insert(differs, differs.shape[axis], False, axis=axis)
    return edge & land
