"""Values that cannot be what they are said to be: marks for no data, wrong units, wrong signs.

Checked once, where values enter, before any of them is averaged with its neighbours.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from layers.fault import Fault
from layers.quantity import Quantity
from layers.site import FileEntry
from layers.source import key

# numbers that programs write where they have no value
MARKS = (-9999.0, -999.0, -99999.0, 9999.0, 99999.0, 999999.0, -32768.0, -32767.0, 32767.0, 65535.0, 255.0)
HUGE = 1e10  # 1e12, 1e20, 3.4e38 and their kin: no quantity of a coast is as large
MOST_ZEROS = 0.5
LEAST_BELOW_DATUM = 0.01
_ZEROS_ARE_DOUBTFUL = ("bed_elevation", "salinity", "water_temperature")
_SLIPS = {  # unit of the layer: other units the values may be in, and what turns them into the layer's
    "m": (("feet", 0.3048, 0.0), ("centimetres", 0.01, 0.0), ("millimetres", 0.001, 0.0)),
    "degree_Celsius": (("kelvin", 1.0, -273.15), ("degrees Fahrenheit", 5 / 9, -160 / 9)),
    "1": (("percent", 0.01, 0.0),),
    "kg/year": (("grams a year", 0.001, 0.0),),
    "mS/cm": (("uS/cm", 0.001, 0.0), ("S/m", 10.0, 0.0)),
}


def implausible_values(
    place: str,
    values: np.ndarray,
    convert: Callable[[np.ndarray], np.ndarray],
    quantity: Quantity,
    entry: FileEntry,
    where: Callable[[int], str],
    *,
    noun: str = "cell",
) -> list[Fault]:
    """Faults of values that are marks for no data, infinite, or out of the plausible range.

    Parameters
    ----------
    place : str
        The place that faults name, such as "bed.tif, band 2".
    values : array, any shape
        As in the file, NaN where it has no data.
    convert : callable
        From the file's unit to the layer's.
    where : callable
        Words for the place of the value with a flat index, such as "row 3, column 7".
    """
    values = np.asarray(values)
    faults = []
    infinite = np.isinf(values)
    if infinite.any():
        faults.append(
            Fault(
                place,
                f"{counted(infinite.sum(), noun)} {_hold(infinite.sum())} an infinite value, "
                f"first at {where(int(infinite.argmax()))}.",
                "Replace infinite values with no data.",
            )
        )
    low, high = entry.plausible or quantity.plausible
    with np.errstate(invalid="ignore", over="ignore"):
        converted = convert(values)
        outside = ((converted < low) | (converted > high)) & ~infinite
    suspects = values[outside]
    is_mark = np.isin(suspects, np.array(MARKS, values.dtype)) | (np.abs(suspects) >= HUGE)
    for mark in np.unique(suspects[is_mark])[:3]:
        count = int((suspects == mark).sum())
        faults.append(
            Fault(
                place,
                f"{counted(count, noun)} {_hold(count)} {number(mark)}, which looks like a mark for no data that the "
                "file does not declare.",
                f"Add `nodata = {_toml(mark)}` to the table files.{entry.name}, or mend the file.",
            )
        )
    outside[outside] = ~is_mark
    if outside.any():
        faults.append(_out_of_range(place, values, converted, outside, (low, high), quantity, entry, where, noun))
    return faults


def doubtful_zeros(
    place: str, values: np.ndarray, quantity: Quantity, entry: FileEntry, declared: bool
) -> Fault | None:
    """The fault of a raster that is mostly exact zeros, which may mean no data; None where that is well."""
    if declared or entry.plausible is not None or quantity.name not in _ZEROS_ARE_DOUBTFUL:
        return None
    known = np.isfinite(values).sum()
    share = (values == 0).sum() / known if known else 0.0
    if share <= MOST_ZEROS:
        return None
    low, high = quantity.plausible
    return Fault(
        place,
        f"{share:.0%} of the cells are exactly 0, and the file declares no value for no data.",
        f"If 0 means no data, add `nodata = 0` to the table files.{entry.name}; if the zeros are real, say so with "
        f"`plausible = [{low:g}, {high:g}]`.",
    )


def doubtful_sign(entry: FileEntry, elevation: np.ndarray) -> Fault | None:
    """The fault of a bed that would lie above its datum nearly everywhere; None where that is well.

    Parameters
    ----------
    elevation : array
        Positive up, NaN for no data. [m]
    """
    known = elevation[np.isfinite(elevation)]
    if entry.plausible is not None or not known.size or not (known != 0).any():
        return None
    below = (known < 0).mean()
    if below >= LEAST_BELOW_DATUM:
        return None
    other = {"up": "down", "down": "up"}[entry.positive]
    sign = "below" if entry.positive == "up" else "above"
    low, high = known.min(), known.max()
    if entry.positive == "down":
        low, high = -high, -low
    return Fault(
        key(entry, "positive"),
        f'with positive = "{entry.positive}", {1 - below:.0%} of {entry.path.name} would be dry: its values run '
        f"from {low:.4g} to {high:.4g} m, and {'none is' if not below else 'almost none are'} {sign} 0.",
        f'If the values are {"depths" if entry.positive == "up" else "elevations"}, write positive = "{other}"; if '
        "they are right, say so with `plausible = [lowest, highest]` in metres.",
    )


def number(value: float) -> str:
    """A value in words: as it is written, without a needless fraction."""
    value = float(value)
    return f"{value:.0f}" if value == round(value) and abs(value) < HUGE else f"{value:.6g}"


def counted(count: int, noun: str) -> str:
    """`1 cell`, `1,234 cells`."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def _out_of_range(place, values, converted, outside, limits, quantity, entry, where, noun) -> Fault:
    low, high = limits
    beyond = np.where(outside, np.maximum(low - converted, converted - high), -np.inf)
    worst = int(np.argmax(beyond))
    count = int(outside.sum())
    counts = np.isfinite(converted) & (outside | ((converted >= low) & (converted <= high)))
    known = converted[counts]
    # a slip is looked for only where the numbers were taken as they stand: other units were somebody's choice
    taken_as_written = np.allclose(np.abs(known), np.abs(values[counts]))
    slips = _SLIPS.get(quantity.units, ()) if taken_as_written and quantity.name != "salinity" else ()
    likely = [
        words
        for words, scale, offset in slips
        if low <= known.min() * scale + offset and known.max() * scale + offset <= high
    ]
    cause = f" All values would be plausible if they were in {' or '.join(likely)}." if likely else ""
    unit = "" if quantity.units == "1" else f" {quantity.units}"
    return Fault(
        place,
        f"{counted(count, noun)} {'is' if count == 1 else 'are'} outside the plausible range of {quantity.label}, "
        f"{low:g} to {high:g}{unit}; the worst is {number(converted.flat[worst])}{unit} at {where(worst)}.{cause}",
        f"Check the file and `units` of files.{entry.name}; if the values are right, set "
        "`plausible = [lowest, highest]` there.",
    )


def _hold(count: int) -> str:
    return "holds" if count == 1 else "hold"


def _toml(value: float) -> str:
    value = float(value)
    if value == round(value) and abs(value) < HUGE:
        return f"{value:.0f}"
    return np.format_float_scientific(np.float32(value), trim="-")  # the shortest that is the same in float32
