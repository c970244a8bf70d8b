"""The tables of a report: what stands in them is what stands in the CSV files, to the last digit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.report.appraisal_asked import NOTHING, Asked, range_rows, settling_rows, variant_rows
from habitat.report.appraisal_document import Block, table
from habitat.report.appraisal_doubt import load_ranges, loss_ranges, standard_errors
from habitat.report.appraisal_rows import conditions, features, shares
from layers.export import write_table
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from habitat.appraisal_account import Account

_LEAST_SHARE = 1.0  # of a doubt that is printed [%]; all are in the CSV file
NOT_KNOWN = "-"  # in print, where there is no data
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


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """A table of the report: a frame whose numbers are text already, and which of it is printed."""

    name: str  # of its CSV file
    caption: str
    frame: pd.DataFrame  # of text; empty where there is no data
    words: dict[str, str]  # heading of each column that is printed
    numeric: frozenset[str]
    printed: np.ndarray  # which rows are printed

    def block(self, where: Callable[[pd.DataFrame], pd.Series] | None = None, caption: str = "") -> Block | None:
        """The printed rows (those of a choice of them) as a table; None where there are none."""
        rows = self.frame[self.printed & (True if where is None else where(self.frame).to_numpy())]
        if not len(rows):
            return None
        headings = {word: column in self.numeric for column, word in self.words.items()}
        blank = [NOT_KNOWN if column in self.numeric else "" for column in self.words]
        cells = [
            tuple(cell or empty for cell, empty in zip(row, blank, strict=True))
            for row in rows[list(self.words)].itertuples(index=False)
        ]
        return table(caption or self.caption, headings, cells)


def report_tables(account: Account, asked: Asked = NOTHING) -> dict[str, Numbers]:
    """All tables of the report by their name."""
    classes, zones = account.classes, account.classes_by_zone
    words = {name: _WORDS[name] for name in ("season", "class", "hectares_before", "hectares_after")}
    words |= {name: _WORDS[name] for name in ("hectares_change", "units_change")}
    made = [
        _numbers(
            "habitat_units",
            "Habitat units of the whole site: suitability times hectares",
            account.units,
            {"season": "Season", "units_before": "Before", "units_after": "After", "units_change": "Change"}
            | {"unknown_hectares": "Water not known [ha]"},
        ),
        _numbers(
            "habitat_units_spared",
            "What threat leaves of them: suitability times (1 - threat) times hectares",
            account.units[["season", *_SPARED]],
            {"season": "Season", **_SPARED},
        ),
        _numbers(
            "proposals_alone",
            "Each proposal alone and all together, in habitat units",
            shares(account),
            {"proposal": "Proposal", "season": "Season", "units_change": "Change of habitat"}
            | {"spared_change": "Change of what threat leaves", "share_percent": "Share of all together [%]"},
            places={"share_percent": 1},
        ),
        _numbers("classes", "Hectares and habitat units by class, the whole site", classes, words, kept=_composites),
        _numbers(
            "classes_by_zone",
            "Hectares and habitat units by class and zone, where they change",
            zones if len(zones) else classes.iloc[:0],
            {"zone": "Zone", **words},
            kept=lambda frame: _composites(frame) & (frame["hectares_change"].abs() >= 0.005),
        ),
        _numbers(
            "class_crossings",
            "Hectares that cross a class",
            account.moves,
            {"season": "Season", "class_before": "From", "class_after": "To", "hectares": "Area [ha]"},
        ),
        _numbers(
            "causes",
            "What does it, each changed by itself, the greatest loss of each season first",
            account.causes.assign(looks_at=[LAYERS[name].label for name in account.causes["layer"]]),
            {"season": "Season", "label": "Part", "kind": "Kind", "looks_at": "What it looks at"}
            | {"units_change": "Change [habitat units]", "spared_change": "Of what threat leaves [habitat units]"},
            kept=lambda frame: (frame[["spared_change", "units_change"]].abs() >= 0.005).any(axis=1),
        ),
        _numbers(
            "ways_to_fresh_water",
            "Ways from good habitat to fresh water that change",
            account.ways,
            {"season": "Season", "patch": "Patch", "hectares": "Area [ha]", "metres_before": "Before [m]"}
            | {"metres_after": "After [m]", "state": "The way is"},
            places={"patch": 0, "metres_before": 0, "metres_after": 0},
            kept=lambda frame: ~frame["state"].isin(["as before", "none"]),
        ),
        _numbers(
            "nearest_good_habitat",
            "From the proposal to the nearest good habitat through the water, with all in place",
            account.nearest,
            {"season": "Season", "metres": "Way [m]", "hectares": "Area of that patch [ha]"},
            places={"metres": 0},
        ),
        _numbers(
            "net_annual_units",
            f"With the project less without it, in a mean year of {account.period:g} [habitat units]",
            account.years,
            {"season": "Season", "net_annual_units": "Habitat", "net_annual_spared": "What threat leaves of it"},
        ),
        _numbers(
            "net_annual_units_by_zone",
            f"The same for the habitat of each zone, in a mean year of {account.period:g}",
            account.zone_years,
            {"zone": "Zone", "season": "Season", "net_annual_units": "Habitat [habitat units]"},
            kept=lambda frame: frame["net_annual_units"].abs() >= 0.005,
        ),
        _numbers(
            "target_years",
            "Habitat of the whole site in the target years",
            account.targets,
            {"season": "Season", "project": "Project", "year": "Year", "hectares": "Water [ha]"}
            | {"index": "Mean suitability", "units": "Habitat units"},
            places={"year": 0, "index": 4},
        ),
        _numbers(
            "conditions",
            "Standing conditions",
            conditions(account),
            {"condition": "Condition", "found": "Found", "needed": "Needed", "basis": "Source, and who decides"},
        ),
        _numbers(
            "features",
            "What is proposed",
            features(account),
            {"means": "What is said of it", "value": "Value", "units": "Unit"},
        ),
        _numbers(
            "standard_errors",
            "Standard errors of the layers that have one, over the water of the site",
            standard_errors(account),
            {"label": "Layer", "season": "Season", "median": "Half of the water is below"}
            | {"most": "Nine tenths are below", "units": "Unit"},
            places={"median": 3, "most": 3},
        ),
        _numbers(
            "loss_ranges",
            "Share of the fines that dredges lose to the water, as taken and as published",
            loss_ranges(account),
            {"work": "Work", "equipment": "Equipment", "low": "Low", "taken": "Taken", "high": "High"}
            | {"source": "Source"},
            places={"low": 3, "taken": 3, "high": 3},
        ),
        _numbers(
            "load_ranges",
            "Loads of the catchment in a year with the published range of their coefficients [kg]",
            load_ranges(account),
            {"when": "When", "load": "Load", "low": "All low", "median": "Taken", "high": "All high"},
            places={"low": 0, "median": 0, "high": 0},
        ),
    ]
    return {one.name: one for one in [*made, *_asked_tables(account, asked)]}


def write_report_tables(folder: Path, tables: dict[str, Numbers]) -> None:
    """Write each table as a CSV file, all its rows and columns, in the digits of the report."""
    folder.mkdir()
    for name, one in tables.items():
        write_table(one.frame, folder / f"{name}.csv")


def _asked_tables(account: Account, asked: Asked) -> list[Numbers]:
    """Tables of what was asked for beside the account."""
    made = []
    if asked.variants:
        made.append(
            _numbers(
                "variants",
                "What was given and its variants",
                variant_rows(account, asked),
                {"variant": "Variant", "steps": "Step", "season": "Season", "units_change": "Habitat units"}
                | {"spared_change": "Of what threat leaves", "good_change": "Good habitat [ha]"}
                | {"not_met": "Not met", "unknown": "Not told"},
                places={"not_met": 0, "unknown": 0},
            )
        )
    if asked.loss_range is not None:
        limit = asked.loss_range.limit
        chance = {"chance_percent": f"Chance of more than {limit:g} [%]"} if limit is not None else {}
        made += [
            _numbers(
                "loss_range",
                "Range of the loss: nine draws in ten lie between low and high",
                range_rows(asked.loss_range),
                {"season": "Season", "measure": "Of", "taken": "Taken", "low": "Low", "median": "Middle"}
                | {"high": "High", **chance},
                places={"chance_percent": 1},
            ),
            _numbers(
                "loss_settling",
                "Where the doubt comes from, in shares of the variance of the loss",
                settling_rows(asked.loss_range),
                {"season": "Season", "measure": "Of", "label": "Doubt", "share_percent": "Share [%]"}
                | ({"certainty_if_known_percent": "Sure of the limit if known [%]"} if limit is not None else {}),
                places=dict.fromkeys(("share_percent", "certainty_percent", "certainty_if_known_percent"), 1),
                kept=lambda frame: frame["share_percent"] >= _LEAST_SHARE,
            ),
        ]
    return made


def _numbers(
    name: str,
    caption: str,
    frame: pd.DataFrame,
    words: dict[str, str],
    *,
    places: dict[str, int] | None = None,
    kept: Callable[[pd.DataFrame], pd.Series] | None = None,
) -> Numbers:
    printed = np.ones(len(frame), bool) if kept is None or not len(frame) else kept(frame).to_numpy().astype(bool)
    text, numeric = {}, set()
    for column in frame.columns:
        if pd.api.types.is_numeric_dtype(frame[column]):
            numeric.add(column)
            digits = (places or {}).get(column, 2)
            text[column] = [_number(value, digits) for value in frame[column]]
        else:
            text[column] = ["" if pd.isna(value) else str(value) for value in frame[column]]
    if "season" in text and not any(text["season"]):
        text["season"] = ["all year"] * len(frame)
    return Numbers(
        name=name,
        caption=caption,
        frame=pd.DataFrame(text, columns=frame.columns, dtype=object),
        words=words,
        numeric=frozenset(numeric),
        printed=printed,
    )


def _number(value: float, digits: int) -> str:
    """A number in print.

    Examples
    --------
    >>> _number(-0.001, 2), _number(12.345, 1), _number(float("nan"), 2)
    ('0.00', '12.3', '')
    """
    if not np.isfinite(value):
        return ""
    shown = f"{value:.{digits}f}"
    return shown.removeprefix("-") if not float(shown) else shown


def _composites(frame: pd.DataFrame) -> pd.Series:
    return frame["kind"].isin(["suitability", "threat"])
