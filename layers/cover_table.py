"""The table that says what each code of a land-cover map stands for in the tables of runoff and load."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from layers.fault import Fault, LayerError
from layers.published_table import PublishedTable, shipped_table

NOTHING = "nothing"  # written for a cover that yields none, such as a lake; an empty cell is not known
COVERS = {
    "curve_number_cover": "curve_number",
    "export_cover": "export_coefficient",
    "concentration_cover": "event_mean_concentration",
}
SHARES = ("impervious_share", "cover_factor", "practice_factor")
_KNOWN = ("code", "label", *COVERS, *SHARES, "source", "note")


@dataclass(frozen=True, kw_only=True)
class Cover:
    """One code of a land-cover map; None where the table is silent, NaN for a factor that is not known."""

    code: int
    label: str
    curve_number_cover: str | None
    export_cover: str | None
    concentration_cover: str | None
    impervious_share: float
    cover_factor: float
    practice_factor: float


@dataclass(frozen=True, kw_only=True)
class CoverTable:
    """What every code of a land-cover map stands for."""

    covers: tuple[Cover, ...]

    def values(self, land_cover: np.ndarray, by_code: Mapping[int, float]) -> np.ndarray:
        """(M, N) float32: the value of each cell's code; NaN where the map is NaN or the code has none.

        Raises
        ------
        ValueError
            If the map holds a code that this table lacks.
        """
        codes = np.asarray(land_cover, np.float64)
        self.refuse_unlisted(codes)
        known = np.array(sorted(cover.code for cover in self.covers), np.float64)
        values = np.array([by_code.get(int(code), np.nan) for code in known], np.float32)
        place = np.searchsorted(known, np.where(np.isnan(codes), known[0], codes))
        return np.where(np.isnan(codes), np.float32(np.nan), values[place])

    def factor(self, land_cover: np.ndarray, name: str) -> np.ndarray:
        """(M, N) float32: one of `impervious_share`, `cover_factor`, `practice_factor` of each cell. [1]"""
        return self.values(land_cover, {cover.code: getattr(cover, name) for cover in self.covers})

    def refuse_unlisted(self, land_cover: np.ndarray) -> None:
        """Nothing, or a ValueError that names the codes of a map that this table lacks."""
        unlisted = _unlisted(land_cover, {cover.code for cover in self.covers})
        if unlisted:
            raise ValueError(f"land_cover: the map holds code {unlisted}, which the table of covers lacks. Add a row.")


def cover_table(
    frame: pd.DataFrame,
    *,
    name: str = "land_cover.csv",
    land_cover: np.ndarray | None = None,
    curve_numbers: PublishedTable | None = None,
    export_coefficients: PublishedTable | None = None,
    concentrations: PublishedTable | None = None,
) -> CoverTable:
    """What the codes of a land-cover map stand for, from a table with one row for each.

    Parameters
    ----------
    frame : DataFrame
        Columns `code` (whole number), `label`, and as needed: `curve_number_cover`, `export_cover`,
        `concentration_cover` (covers as those tables name them; "nothing" for a cover that yields none, such as a
        lake; empty where it is not known); `impervious_share` of ground that is paved beside such a cover (empty is
        0); `cover_factor` and `practice_factor` of soil loss (empty is not known, and 1). Columns `source` and
        `note` are passed over.
    name : str
        Of the file, for the words of the error.
    land_cover : array, optional
        The map: its codes have to be in the table.
    curve_numbers, export_coefficients, concentrations : PublishedTable, optional
        By default those that ship.

    Raises
    ------
    LayerError
        With every fault: a column that is missing or not known, a code twice or not whole, a cover that its table
        lacks (the known ones are named), a share outside 0 to 1, a code of the map without a row.
    """
    tables = dict(zip(COVERS, (curve_numbers, export_coefficients, concentrations), strict=True))
    tables = {column: table or shipped_table(COVERS[column]) for column, table in tables.items()}
    faults = []
    for column in ("code", "label"):
        if column not in frame.columns:
            faults.append(Fault(f"column {column}", "It is missing.", "Add it."))
    for column in sorted(set(map(str, frame.columns)) - set(_KNOWN)):
        faults.append(Fault(f"column {column}", "It is not known.", f"Known are: {', '.join(_KNOWN)}."))
    if not len(frame):
        faults.append(Fault("rows", "There are none.", "Give one for each code of the map."))
    if faults:
        raise LayerError(name, faults)
    covers = []
    for number, row in enumerate(frame.to_dict("records"), start=2):  # line 1 holds the names of the columns
        cover, wrong = _cover(f"line {number}", row, tables)
        faults += wrong
        covers += [cover] if cover else []
    codes = [cover.code for cover in covers]
    for code in sorted({code for code in codes if codes.count(code) > 1}):
        faults.append(Fault(f"code {code}", f"It stands {codes.count(code)} times.", "Leave one row for each code."))
    if land_cover is not None and (unlisted := _unlisted(land_cover, set(codes))):
        faults.append(Fault("rows", f"The map holds code {unlisted}, which has none.", "Add a row for each."))
    if faults:
        raise LayerError(name, faults)
    return CoverTable(covers=tuple(covers))


def _cover(place: str, row: dict, tables: Mapping[str, PublishedTable]) -> tuple[Cover | None, list[Fault]]:
    faults, words, shares = [], {}, {}
    code = _number(row["code"])
    if code is None or code != round(code):
        faults.append(Fault(f"{place}, code", f'"{row["code"]}" is not a whole number.', "Write the code of the map."))
    for column, table in tables.items():
        words[column] = _word(row.get(column))
        known = sorted({str(known["cover"]) for known in table.rows})
        if words[column] is not None and words[column] not in (*known, NOTHING):
            found = f'"{words[column]}" is not in {table.name}.'
            near = difflib.get_close_matches(words[column], known, 1)
            remedy = f'Did you mean "{near[0]}"?' if near else f'Write "{NOTHING}" or one of: {"; ".join(known)}.'
            faults.append(Fault(f"{place}, {column}", found, remedy))
    for column, empty in zip(SHARES, (0.0, np.nan, 1.0), strict=True):
        shares[column] = empty if _word(row.get(column)) is None else _number(row[column])
        if shares[column] is None or shares[column] < 0 or shares[column] > 1:
            found = f'"{row[column]}" is not a share from 0 to 1.'
            faults.append(Fault(f"{place}, {column}", found, "Divide a percentage by 100."))
    if not faults and shares["impervious_share"] > 0:
        paved = [known for known in tables["curve_number_cover"].rows if known["cover"] == words["curve_number_cover"]]
        if paved and paved[0].get("impervious") is not None:
            found = f"The curve number of {words['curve_number_cover']} counts {paved[0]['impervious']:g} % paved."
            remedy = "Leave the share empty, or name the cover between the paving."
            faults.append(Fault(f"{place}, impervious_share", found, remedy))
    if faults:
        return None, faults
    return Cover(code=int(code), label=_word(row["label"]) or f"code {code:g}", **words, **shares), []


def _word(value: object) -> str | None:
    if value is None or value is pd.NA or value != value:
        return None
    return str(value).strip() or None


def _number(value: object) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError):
        return None
    return number if np.isfinite(number) else None


def _unlisted(land_cover: np.ndarray, known: set[int]) -> str:
    codes = np.asarray(land_cover, np.float64)
    found = np.unique(codes[~np.isnan(codes)]).tolist()
    return ", ".join(f"{code:g}" for code in found if code not in known)
