"""Dredging as a proposal states it, held to the same rules as the works of a site's own files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import shapely

from habitat.proposal_feature import Feature, Value
from habitat.proposal_kinds import KINDS
from layers.column import is_nothing
from layers.dredge_work import NUMBERS, OPTIONAL_NUMBERS, OPTIONAL_WORDS, WORDS, works_of
from layers.dredging import loss_fractions
from layers.fault import Fault
from layers.site import FileEntry, Site

COLUMNS = (*WORDS, *NUMBERS, *OPTIONAL_NUMBERS, *OPTIONAL_WORDS)
_ASKED = "work, feature 1"  # how `works_of` names the one work it is given


def check_work(
    found: Mapping[str, Value], given: Mapping[str, object], place: str, site: Site, faults: list[Fault]
) -> dict[str, Value]:
    """What is said of a dredged area, with its equipment spelt as in the table of losses.

    Parameters
    ----------
    found : mapping
        What has been read already; numbers that were refused are absent.
    given : mapping
        What the file says, so that a number that was refused is not told again as one that is missing.
    """
    known = loss_fractions()
    spelt = {name.casefold(): name for name in known}
    equipment = str(found.get("equipment", "")).strip()
    checked = {**found, "equipment": spelt.get(equipment.casefold(), equipment)}
    if not equipment:
        remedy = f"Name one of {', '.join(known)}, or another with loss_share and loss_src."
        faults.append(Fault(f"{place}, column equipment", "nothing is given for what digs.", remedy))
        checked["equipment"] = next(iter(known))
    examples = {one.column: one.example for one in KINDS["dredged area"].attributes if one.is_number}
    refused = [column for column in (*NUMBERS, *OPTIONAL_NUMBERS) if column not in found]
    stated = {column for column in OPTIONAL_NUMBERS if column in refused and not is_nothing(given.get(column))}
    row = {column: checked.get(column) for column in COLUMNS}
    if any(column in NUMBERS for column in refused):  # the example digs for a few days, so nothing else is refused
        row |= {column: examples[column] for column in NUMBERS}
    row |= {column: examples[column] for column in stated}
    told: list[Fault] = []
    works_of(_table(row, shapely.Point(0, 0)), _entry(), site, told)
    faults += [Fault(place + fault.place.removeprefix(_ASKED), fault.found, fault.remedy) for fault in told]
    return checked


def work_table(feature: Feature, name: str, crs: object) -> gpd.GeoDataFrame:
    """A dredged area as a table of one work, called `name`."""
    row = {column: feature.get(column) for column in COLUMNS} | {"name": name}
    return _table(row, feature.shape).set_crs(crs)


def _table(row: Mapping[str, object], shape: shapely.Geometry) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({column: [value] for column, value in row.items()}, geometry=[shape], index=[1])


def _entry() -> FileEntry:
    about = {"source": "", "licence": "", "credit": ""}
    return FileEntry(name="work", feeds="dredge_work", path=Path("work"), **about)
