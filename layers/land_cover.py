"""Curve numbers of land cover and soil group from a published table, for one piece of land or a grid of codes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layers.cellwise import Numeric, cellwise
from layers.published_table import PublishedTable, shipped_table
from layers.quantity import describe
from layers.runoff import CURVE_NUMBER

SOIL_GROUPS = ("A", "B", "C", "D")  # hydrologic soil groups, from sand, which takes in most, to clay


def tabulated_curve_number(cover: str, soil_group: str, table: PublishedTable | None = None) -> float:
    """Curve number of a land cover on a soil group, from the table that ships or one of the user's own.

    Raises
    ------
    ValueError
        If the table has no such cover (the covers are named) or the soil group is not A, B, C or D.

    Examples
    --------
    >>> tabulated_curve_number("pasture, good", "C")
    74.0
    """
    table = table or shipped_table("curve_number")
    if soil_group not in SOIL_GROUPS:
        raise ValueError(f'soil_group: found "{soil_group}". It must be one of {", ".join(SOIL_GROUPS)}.')
    return float(table.row(cover=cover)[soil_group])


def curve_number_of_codes(
    cover: Numeric,
    soil_group: Numeric,
    *,
    covers: Mapping[int, str | None],
    soil_groups: Mapping[int, str | None],
    table: PublishedTable | None = None,
) -> Numeric:
    """Curve number of each cell of a land-cover map and a soil map.

    Parameters
    ----------
    cover, soil_group : number or array, broadcast against each other
        Codes of the two maps; NaN is no data.
    covers : mapping of code to cover
        Covers as the table names them; None for a code that is no data or no land, such as water.
    soil_groups : mapping of code to soil group
        A, B, C or D; None for a code that is no data.
    table : PublishedTable, optional
        With columns cover, A, B, C, D; by default the one that ships.

    Returns
    -------
    float or array
        NaN where either code is NaN or stands for None. [1]

    Raises
    ------
    ValueError
        If a map holds a code that its mapping lacks, or as `tabulated_curve_number`.

    Examples
    --------
    >>> codes = {"covers": {1: "woods, good", 2: None}, "soil_groups": {1: "B"}}
    >>> curve_number_of_codes(np.array([1.0, 2.0]), 1.0, **codes).tolist()
    [55.0, nan]
    """
    table = table or shipped_table("curve_number")
    numbers = {
        (code, soil_code): tabulated_curve_number(name, group, table)
        for code, name in covers.items()
        for soil_code, group in soil_groups.items()
        if name is not None and group is not None
    }

    def formula(ground, soil):
        _refuse_unknown(ground, covers, "covers")
        _refuse_unknown(soil, soil_groups, "soil_groups")
        result = np.full(np.broadcast_shapes(ground.shape, soil.shape), np.nan)
        for (code, soil_code), number in numbers.items():
            result[(ground == code) & (soil == soil_code)] = number
        return result

    return describe(cellwise(formula, cover, soil_group, kind=np.float32), CURVE_NUMBER)


def _refuse_unknown(codes: np.ndarray, known: Mapping[int, str | None], name: str) -> None:
    found = np.unique(codes[~np.isnan(codes)])
    unknown = sorted(set(found.tolist()) - set(known))
    if unknown:
        raise ValueError(
            f"{name}: the map holds code {', '.join(f'{code:g}' for code in unknown)}, which is not listed. "
            "Give its name, or None if it is no data."
        )
