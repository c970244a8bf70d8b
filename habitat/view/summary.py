"""The maps in sentences: what a reader learns who cannot see the picture."""

from __future__ import annotations

import pandas as pd

from habitat.result import CONCERN_CLASSES, NO_DATA, SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.view.words import hectares, percent
from habitat.zones import WHOLE_SITE

_, _, FAIR, GOOD = SUITABILITY_CLASSES
_, LOW, MODERATE, HIGH = THREAT_CLASSES
GOOD_UNDER_LOW, GOOD_UNDER_MODERATE, GOOD_UNDER_HIGH = CONCERN_CLASSES[7:10]


def suitability_sentence(table: pd.DataFrame) -> str:
    """How much good and fair habitat there is.

    Parameters
    ----------
    table : DataFrame
        From `habitat.zones.hectares_by_class`, of one season.
    """
    area = areas(table, "suitability")
    good, scored = area[GOOD], _scored(area)
    if not scored:
        return f"No water could be given a score{_without_data(area)}: not known is neither good nor poor."
    return (
        f"{hectares(good)} of good habitat ({_share(good, scored)} of the water scored) and "
        f"{hectares(area[FAIR])} of fair habitat{_without_data(area)}."
    )


def threat_sentence(table: pd.DataFrame) -> str:
    """How much water is under high and moderate threat."""
    area = areas(table, "threat")
    high, scored = area[HIGH], _scored(area)
    if not scored:
        return f"No threat is known anywhere{_without_data(area)}: not known is not low."
    return (
        f"{hectares(high)} under high threat ({_share(high, scored)} of the water scored) and "
        f"{hectares(area[MODERATE])} under moderate threat{_without_data(area)}."
    )


def concern_sentence(table: pd.DataFrame) -> str:
    """How much of the good habitat is pressed."""
    area = areas(table, "concern")
    if not _scored(area):
        return "Nothing can be said of the two together: nowhere are both known."
    return (
        f"Of the good habitat, {hectares(area[GOOD_UNDER_HIGH])} is under high threat: act there first. "
        f"{hectares(area[GOOD_UNDER_MODERATE])} is under moderate and {hectares(area[GOOD_UNDER_LOW])} under low "
        "threat."
    )


def areas(table: pd.DataFrame, kind: str, zone: str = WHOLE_SITE) -> dict[str, float]:
    """Hectares of each class of one kind ("suitability", "threat", "concern") in a zone. [ha]"""
    rows = table[(table["kind"] == kind) & (table["zone"] == zone)]
    return dict(zip(rows["class"], rows["hectares"].astype(float), strict=True))


def is_scored(table: pd.DataFrame, kind: str, zone: str = WHOLE_SITE) -> bool:
    """Whether any water of a zone has a class of this kind; without one, 0 ha of a class says nothing."""
    return _scored(areas(table, kind, zone)) > 0


def scored_area(table: pd.DataFrame) -> float:
    """Water and flats with a suitability. [ha]"""
    return _scored(areas(table, "suitability"))


def _scored(area: dict[str, float]) -> float:
    return sum(hectares for name, hectares in area.items() if name != NO_DATA)


def _share(part: float, whole: float) -> str:
    return percent(part / whole)


def _without_data(area: dict[str, float]) -> str:
    return f"; {hectares(area[NO_DATA])} without data" if area[NO_DATA] else ""
