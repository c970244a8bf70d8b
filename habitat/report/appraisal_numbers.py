"""The tables of a report: what stands in them is what stands in the CSV files, to the last digit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from habitat.report.appraisal_asked import NOTHING, Asked
from habitat.report.appraisal_asked_tables import asked_tables
from habitat.report.appraisal_doubt import load_ranges, loss_ranges, standard_errors
from habitat.report.appraisal_rows import conditions, features, shares
from habitat.report.appraisal_table import Numbers, numbers_of
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from habitat.appraisal_account import Account

_WORDS = {
    "season": "Season",
    "zone": "Zone",
    "class": "Class",
    "hectares_before": "Before [ha]",
    "hectares_after": "After [ha]",
    "hectares_change": "Change [ha]",
    "units_change": "Change [habitat units]",
    "class_before": "From",
    "class_after": "To",
    "hectares": "Area [ha]",
}
_SPARED = {
    "spared_before": "Before",
    "spared_after": "After",
    "spared_change": "Change",
}


def report_tables(account: Account, asked: Asked = NOTHING) -> dict[str, Numbers]:
    """All tables of the report by their name."""
    classes, zones = account.classes, account.classes_by_zone
    words = {name: _WORDS[name] for name in ("season", "class", "hectares_before", "hectares_after")}
    words |= {name: _WORDS[name] for name in ("hectares_change", "units_change")}
    made = [
        numbers_of(
            "habitat_units",
            "Habitat units of the whole site: suitability times hectares",
            account.units,
            {"season": "Season", "units_before": "Before", "units_after": "After", "units_change": "Change"}
            | {"unknown_hectares": "Water not known [ha]"},
        ),
        numbers_of(
            "habitat_units_spared",
            "What threat leaves of them: suitability times (1 - threat) times hectares",
            account.units[["season", *_SPARED]],
            {"season": "Season", **_SPARED},
        ),
        numbers_of(
            "proposals_alone",
            "Each proposal alone and all together, in habitat units",
            shares(account),
            {"proposal": "Proposal", "season": "Season", "units_change": "Change of habitat"}
            | {"spared_change": "Change of what threat leaves", "share_percent": "Share of all together [%]"},
            places={"share_percent": 1},
        ),
        numbers_of("classes", "Hectares and habitat units by class, the whole site", classes, words, kept=_composites),
        numbers_of(
            "classes_by_zone",
            "Hectares and habitat units by class and zone, where they change",
            zones if len(zones) else classes.iloc[:0],
            {"zone": "Zone", **words},
            kept=lambda frame: _composites(frame) & (frame["hectares_change"].abs() >= 0.005),
        ),
        numbers_of(
            "class_crossings",
            "Hectares that cross a class",
            account.moves,
            {"season": "Season", "class_before": "From", "class_after": "To", "hectares": "Area [ha]"},
        ),
        numbers_of(
            "causes",
            "What does it, each changed by itself, the greatest loss of each season first",
            account.causes.assign(looks_at=[LAYERS[name].label for name in account.causes["layer"]]),
            {"season": "Season", "label": "Part", "kind": "Kind", "looks_at": "What it looks at"}
            | {"units_change": "Change [habitat units]", "spared_change": "Of what threat leaves [habitat units]"},
            kept=lambda frame: (frame[["spared_change", "units_change"]].abs() >= 0.005).any(axis=1),
        ),
        numbers_of(
            "ways_to_fresh_water",
            "Ways from good habitat to fresh water that change",
            account.ways,
            {"season": "Season", "patch": "Patch", "hectares": "Area [ha]", "metres_before": "Before [m]"}
            | {"metres_after": "After [m]", "state": "The way is"},
            places={"patch": 0, "metres_before": 0, "metres_after": 0},
            kept=lambda frame: ~frame["state"].isin(["as before", "none"]),
        ),
        numbers_of(
            "nearest_good_habitat",
            "From the proposal to the nearest good habitat through the water, with all in place",
            account.nearest,
            {"season": "Season", "metres": "Way [m]", "hectares": "Area of that patch [ha]"},
            places={"metres": 0},
        ),
        numbers_of(
            "net_annual_units",
            f"With the project less without it, in a mean year of {account.period:g} [habitat units]",
            account.years,
            {"season": "Season", "net_annual_units": "Habitat", "net_annual_spared": "What threat leaves of it"},
        ),
        numbers_of(
            "net_annual_units_by_zone",
            f"The same for the habitat of each zone, in a mean year of {account.period:g}",
            account.zone_years,
            {"zone": "Zone", "season": "Season", "net_annual_units": "Habitat [habitat units]"},
            kept=lambda frame: frame["net_annual_units"].abs() >= 0.005,
        ),
        numbers_of(
            "target_years",
            "Habitat of the whole site in the target years",
            account.targets,
            {"season": "Season", "project": "Project", "year": "Year", "hectares": "Water [ha]"}
            | {"index": "Mean suitability", "units": "Habitat units"},
            places={"year": 0, "index": 4},
        ),
        numbers_of(
            "conditions",
            "Standing conditions",
            conditions(account),
            {"condition": "Condition", "found": "Found", "needed": "Needed", "basis": "Source, and who decides"},
        ),
        numbers_of(
            "features",
            "What is proposed",
            features(account),
            {"means": "What is said of it", "value": "Value", "units": "Unit"},
        ),
        numbers_of(
            "standard_errors",
            "Standard errors of the layers that have one, over the water of the site",
            standard_errors(account),
            {"label": "Layer", "season": "Season", "median": "Half of the water is below"}
            | {"most": "Nine tenths are below", "units": "Unit"},
            places={"median": 3, "most": 3},
        ),
        numbers_of(
            "loss_ranges",
            "Share of the fines that dredges lose to the water, as taken and as published",
            loss_ranges(account),
            {"work": "Work", "equipment": "Equipment", "low": "Low", "taken": "Taken", "high": "High"}
            | {"source": "Source"},
            places={"low": 3, "taken": 3, "high": 3},
        ),
        numbers_of(
            "load_ranges",
            "Loads of the catchment in a year with the published range of their coefficients [kg]",
            load_ranges(account),
            {"when": "When", "load": "Load", "low": "All low", "median": "Taken", "high": "All high"},
            places={"low": 0, "median": 0, "high": 0},
        ),
    ]
    return {one.name: one for one in [*made, *asked_tables(account, asked)]}


def _composites(frame: pd.DataFrame) -> pd.Series:
    return frame["kind"].isin(["suitability", "threat"])
