"""Sightings made coarse enough for the public: places on a fixed grid of degrees, small counts withheld.

Coordinates are rounded to the nearest multiple of a step (never moved at random), so a released pair is the middle of
a cell one step wide. The circle that holds the true place is half the cell's diagonal, plus what the record had.
Truncated coordinates would need the whole diagonal; none are made here.
"""

from __future__ import annotations

import hashlib
import hmac
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

import numpy as np

from habitat.darwin_core import RELEASED, plain_basis, plain_name
from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    import pandas as pd

    from habitat.publish_rules import PublishingRules


_FINE = ("decimalLatitude", "decimalLongitude", "coordinatePrecision")


def rounded_degrees(value: float, step: float) -> float:
    """The multiple of `step` that is nearest to a coordinate; halves go away from zero. [degree]

    References
    ----------
    Chapman 2020, GBIF, 10.15468/doc-5jp4-5g10: generalise on a geographic grid.

    Examples
    --------
    >>> rounded_degrees(12.34567, 0.01), rounded_degrees(-61.98765, 0.1)
    (12.35, -62.0)
    """
    unit = Decimal(str(step))
    return float((Decimal(repr(float(value))) / unit).quantize(Decimal(1), ROUND_HALF_UP) * unit) + 0.0


def half_diagonal(latitude: float, step: float) -> float:
    """Distance from the middle of a cell of `step` degrees to its farthest corner, on WGS84. [m]

    Parameters
    ----------
    latitude : float
        Of the middle. [degree]
    """
    from pyproj import Geod

    north, south = min(latitude + step / 2, 90.0), max(latitude - step / 2, -90.0)
    _, _, far = Geod(ellps="WGS84").inv([0, 0], [latitude] * 2, [step / 2] * 2, [north, south])
    return float(max(far))


def generalised(
    sightings: gpd.GeoDataFrame,
    rules: PublishingRules,
    *,
    key: bytes | None = None,
    water: Callable[[float, float, float], float] | None = None,
    former: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """The sightings that may be told, in Darwin Core terms.

    Parameters
    ----------
    sightings : GeoDataFrame of points
        With columns of Darwin Core names; any other column is dropped. Records of nobody seen are left out.
    rules : PublishingRules
    key : bytes, optional
        Secret of the pseudonyms. Without it recorders are withheld and records are numbered.
    water : function of longitude, latitude and step, optional
        Hectares of water in a released cell. A cell with too little is withheld.
    former : DataFrame, optional
        The table that was published last. A cell changes by at least the minimum of records, or stays as it was.

    Returns
    -------
    DataFrame
        Columns `darwin_core.RELEASED`, all text but counts and coordinates, in an order that tells nothing. May be
        empty.

    Raises
    ------
    RecordError
        If the herd is not said or too small, or the former table has another step.

    References
    ----------
    Chapman 2020, GBIF, 10.15468/doc-5jp4-5g10, table 7; Darwin Core list of terms (TDWG).
    """
    import pandas as pd

    from habitat.generalise_counts import enough_told, unchanged_or_enough

    _require_herd(rules)
    if sightings.empty:
        return pd.DataFrame(columns=list(RELEASED))
    table = _rounded_records(sightings, rules, key)
    if former is not None:
        table = unchanged_or_enough(table, former, rules.minimum_count)
    if water is not None and len(table):
        cells = table[["decimalLongitude", "decimalLatitude", "coordinatePrecision"]].drop_duplicates()
        wide = {cell for cell in cells.itertuples(index=False, name=None) if water(*cell) >= rules.least_water}
        own = list(zip(*(table[name] for name in cells), strict=True))
        table = table[np.array([cell in wide for cell in own], bool)]
    told = -1
    while told != len(table):  # what one rule withholds may make the rest too small for the other
        told = len(table)
        table = enough_told(table, rules.minimum_count)
        if former is not None:
            table = unchanged_or_enough(table, former, rules.minimum_count, only_drop=True)
    order = [name for name in RELEASED if name != "occurrenceID"]
    table = table.sort_values(order, key=lambda column: column.astype(str), ignore_index=True)
    if key is None:
        table["occurrenceID"] = [f"record {number}" for number in range(1, len(table) + 1)]
    return table[list(RELEASED)]


def pseudonym(text: str, key: bytes) -> str:
    """A name that stays the same and tells nothing without the key: HMAC-SHA256 (RFC 2104), 16 digits."""
    return hmac.new(key, text.encode("utf-8"), hashlib.sha256).hexdigest()[:16]


def generalised_date(text: object, form: str) -> str:
    """The year, month or day of an ISO 8601 date; of a span its first; "" where there is none.

    Examples
    --------
    >>> generalised_date("2023-06-01T05:12:00", "month"), generalised_date("2023", "month")
    ('2023-06', '2023')
    """
    import re

    found = re.match(r"\d{4}(-\d\d){0,2}", str(text))
    return found[0][: {"year": 4, "month": 7, "day": 10}[form]] if found else ""


def _require_herd(rules: PublishingRules) -> None:
    if rules.herd is None:
        fault = Fault("sightings.herd", "nobody has said how many animals there are.", "Say it, with its source.")
    elif rules.herd < rules.minimum_herd:
        found = f"{rules.herd} animals are too few to hide among; the least is {rules.minimum_herd}."
        fault = Fault("sightings.herd", found, "Publish no table of sightings.")
    else:
        return
    raise RecordError("publishing.toml", [fault])


def _rounded_records(sightings: gpd.GeoDataFrame, rules: PublishingRules, key: bytes | None) -> pd.DataFrame:
    import pandas as pd

    from layers.sighting_columns import is_seen, uncertainties

    placed = ~(sightings.geometry.isna() | sightings.geometry.is_empty).to_numpy()
    seen = sightings[is_seen(sightings) & placed].to_crs(4326)
    held, radii = _held_precision(seen), uncertainties(seen)
    rows = []
    for place, (_, record) in enumerate(seen.iterrows()):
        name = plain_name(record.get("scientificName", ""))
        category = rules.category_of(name)
        if not category.degrees:
            continue
        longitude, latitude = (rounded_degrees(at, category.degrees) for at in (record.geometry.x, record.geometry.y))
        longitude = -180.0 if longitude == 180 else longitude
        radius = half_diagonal(latitude, category.degrees) + radii[place]
        recorder = str(record.get("recordedBy", "") or "")
        count = pd.to_numeric(record.get("individualCount", np.nan), errors="coerce")
        rows.append(
            {
                "occurrenceID": pseudonym(f"{place} {record.get('occurrenceID', '')}", key) if key else "",
                "basisOfRecord": plain_basis(record.get("basisOfRecord", "")),
                "scientificName": name,
                "eventDate": generalised_date(record.get("eventDate", ""), category.date),
                "decimalLatitude": latitude,
                "decimalLongitude": longitude,
                "geodeticDatum": "EPSG:4326",
                "coordinateUncertaintyInMeters": int(np.ceil(radius)) if radii[place] > 0 else None,
                "coordinatePrecision": category.degrees,
                "occurrenceStatus": "detected",
                "individualCount": None if pd.isna(count) else int(count),
                "recordedBy": pseudonym(recorder, key) if key and recorder else "",
                "dataGeneralizations": (
                    f"Coordinates rounded to the nearest {category.degrees:g} degree (middle of a cell); held at "
                    f"{held:g} degree. Date cut to the {category.date}. No place was moved at random."
                ),
                "informationWithheld": (
                    "Exact place, locality, remarks, hour, identifier and recorder are withheld, and every cell with "
                    f"fewer than {rules.minimum_count} records. Ask whoever keeps the records."
                ),
                "license": rules.words.get("licence", ""),
            }
        )
    whole, fine = ["individualCount", "coordinateUncertaintyInMeters"], list(_FINE)
    table = pd.DataFrame(rows, columns=list(RELEASED)).astype(dict.fromkeys(RELEASED, object))
    return table.astype(dict.fromkeys(whole, "Int64") | dict.fromkeys(fine, float))


def _held_precision(seen: gpd.GeoDataFrame) -> float:
    """The step of ten that the held coordinates are multiples of, no finer than a millionth. [degree]"""
    values = np.concatenate([seen.geometry.x, seen.geometry.y]) if len(seen) else np.zeros(1)
    for decimals in range(6):
        if np.allclose(values, values.round(decimals), rtol=0, atol=1e-9):
            return 10.0**-decimals
    return 1e-6
