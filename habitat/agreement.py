"""How far two maps of the same classes agree, and what kind of disagreement there is.

Two maps can hold the same hectares of each class and put them elsewhere (allocation), or put different amounts
(quantity). One number such as kappa mixes the two; here they are told apart, and add up to all disagreement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """What share of an area two maps differ on, in its two parts."""

    quantity: float  # share of the area by which the amounts of the classes differ [1]
    allocation: float  # share that is in other places, amounts apart [1]
    kappa: float  # Cohen's kappa, for comparison with older work; NaN where chance agrees wholly [1]

    @property
    def total(self) -> float:
        """Share of the area on which the maps differ. [1]"""
        return self.quantity + self.allocation

    @property
    def sentences(self) -> tuple[str, ...]:
        """What it means, in plain words."""
        if np.isnan(self.total):
            return ("The two maps have no class in common cells, so nothing can be said of their agreement.",)
        if self.total == 0:
            return ("The two maps put every cell in the same class.",)
        mostly = (
            "mostly because they hold different amounts of the classes"
            if self.quantity > self.allocation
            else "mostly because they put the classes in different places"
            if self.allocation > self.quantity
            else "as much in the amounts of the classes as in their places"
        )
        return (
            f"The two maps differ on {self.total:.1%} of the area compared: {self.quantity:.1%} in the amounts of the "
            f"classes, {self.allocation:.1%} in their places; {mostly}.",
        )


def disagreement(table: np.ndarray) -> Disagreement:
    """Quantity and allocation disagreement of a square table of areas or counts.

    Parameters
    ----------
    table : (k, k) float
        Row: class on the first map; column: class on the second. Cells, hectares or shares.

    Returns
    -------
    Disagreement
        NaN throughout where the table holds nothing.

    Raises
    ------
    ValueError
        If the table is not square or holds a number below 0 or none.

    Notes
    -----
    With p the table over its sum: quantity = sum over classes of |row_k - column_k| / 2, allocation = sum of
    min(row_k - p_kk, column_k - p_kk); the two add up to 1 - sum of p_kk.

    References
    ----------
    Pontius and Millones 2011, Death to Kappa, International Journal of Remote Sensing 32:4407-4429, from memory.

    Examples
    --------
    >>> found = disagreement([[40, 5, 5], [3, 22, 5], [2, 8, 10]])
    >>> round(found.quantity, 2), round(found.allocation, 2), round(found.kappa, 4)
    (0.05, 0.23, 0.5556)
    """
    table = np.asarray(table, np.float64)
    if table.ndim != 2 or table.shape[0] != table.shape[1]:
        raise ValueError(f"table: its shape is {table.shape}. It must be square: the same classes both ways.")
    if not (table >= 0).all():
        raise ValueError("table: a number is below 0 or missing. Areas and counts are 0 or more.")
    if not table.sum() > 0:
        return Disagreement(quantity=np.nan, allocation=np.nan, kappa=np.nan)
    shares = table / table.sum()
    rows, columns, same = shares.sum(axis=1), shares.sum(axis=0), np.diag(shares)
    chance = float(rows @ columns)
    return Disagreement(
        quantity=float(np.abs(rows - columns).sum() / 2),
        allocation=float(np.minimum(rows - same, columns - same).sum()),
        kappa=float((same.sum() - chance) / (1 - chance)) if chance < 1 else float("nan"),
    )


def class_changes(
    first: np.ndarray, second: np.ndarray, classes: Sequence[str], *, cell_hectares: float
) -> pd.DataFrame:
    """Hectares that went from each class of one map to each class of another.

    Parameters
    ----------
    first, second : uint8 arrays or layers of one shape
        Codes of classes, 0 for no data.
    classes : sequence of str
        Their names, that of code 0 first.
    cell_hectares : float
        Area of a cell. [ha]

    Returns
    -------
    DataFrame
        Row: class on the first map; column: class on the second, no data last in both. Cells without data on both
        maps (land, for one) count nowhere. [ha]

    Raises
    ------
    ValueError
        If the maps are not of one shape or hold a code that has no name.

    Examples
    --------
    >>> changes = class_changes([[1, 1, 2]], [[1, 2, 0]], ("no data", "poor", "good"), cell_hectares=1)
    >>> changes.loc["poor"].to_dict(), float(changes.loc["good", "no data"])
    ({'poor': 1.0, 'good': 1.0, 'no data': 0.0}, 1.0)
    """
    first, second = np.asarray(first), np.asarray(second)
    if first.shape != second.shape:
        raise ValueError(f"maps: one is {first.shape} cells, the other {second.shape}. Compare maps of one grid.")
    count = len(classes)
    if first.size and max(first.max(), second.max()) >= count:
        raise ValueError(f"maps: a code is above {count - 1}, and only {count} classes have a name.")
    pairs = first.astype(np.int64).ravel() * count + second.astype(np.int64).ravel()
    hectares = np.bincount(pairs, minlength=count * count).reshape(count, count) * float(cell_hectares)
    hectares[0, 0] = 0.0
    order = [*range(1, count), 0]
    names = [classes[code] for code in order]
    return pd.DataFrame(
        hectares[np.ix_(order, order)], index=pd.Index(names, name="first"), columns=pd.Index(names, name="second")
    )


def map_disagreement(changes: pd.DataFrame) -> Disagreement:
    """Disagreement of two maps over the cells that both give a class, from the table of `class_changes`."""
    return disagreement(changes.to_numpy()[:-1, :-1])


def change_sentences(changes: pd.DataFrame, *, most: int = 3) -> tuple[str, ...]:
    """The largest changes of class in words, and what cannot be compared; from the table of `class_changes`."""
    inner = changes.iloc[:-1, :-1]
    moved = inner.stack()
    moved = moved[[first != second for first, second in moved.index]]
    moved = moved[moved > 0].sort_values(ascending=False, kind="stable")
    said = [f"{hectares:,.0f} ha went from {first} to {second}." for (first, second), hectares in moved[:most].items()]
    if len(moved) > most:
        said.append(f"{moved[most:].sum():,.0f} ha changed in other ways.")
    if not len(moved):
        said.append("No cell changed its class.")
    lost, gained = changes.iloc[:-1, -1].sum(), changes.iloc[-1, :-1].sum()
    if lost + gained > 0:
        said.append(f"{lost + gained:,.0f} ha have a class on one of the two maps only, and cannot be compared.")
    return tuple(said)
