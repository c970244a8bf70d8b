"""The shape of `profile.toml`: which keys stand where, and what each may hold.

Editors can complete and check a profile against `json_schema()`.
"""

from __future__ import annotations

import difflib
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from habitat.combine import RULES
from habitat.profile_numbers import LightTable, SettingsTable, SourcedTable, StrikingTable
from layers.fault import Fault
from layers.quantity import LAYERS
from layers.textfile import Table, validate

_Share = Annotated[float, Field(ge=0, le=1)]


class DoubtTable(SourcedTable):
    """`doubt` of a factor or a pressure: standard uncertainties."""

    threshold: Annotated[float, Field(ge=0)] | None = None  # along the axis of the layer, in `units`
    units: str | None = None
    weight_share: _Share | None = None  # of the weight

    @model_validator(mode="after")
    def _says_of_what(self) -> DoubtTable:
        if self.threshold is None and self.weight_share is None:
            raise ValueError("nothing is in doubt here. | Give `threshold` with `units`, or `weight_share`, or both.")
        return self


class _LayerTable(SourcedTable):
    """A table that looks at one layer, in that layer's unit, through a curve."""

    layer: str
    weight: float
    units: str | None = None
    points: list[list[float]] | None = None
    doubt: DoubtTable | None = None

    @field_validator("layer")
    @classmethod
    def _is_in_the_catalogue(cls, name: str) -> str:
        if name not in LAYERS:
            near = difflib.get_close_matches(name, LAYERS, 1)
            hint = f'Did you mean "{near[0]}"?' if near else f"Use one of: {', '.join(LAYERS)}."
            raise ValueError(f'there is no layer "{name}". | {hint}')
        return name

    @field_validator("units")
    @classmethod
    def _are_the_layer_s(cls, units: str, info: ValidationInfo) -> str:
        layer = LAYERS.get(info.data.get("layer"))
        if layer is not None and units != layer.units:
            raise ValueError(
                f'the unit is "{units}", but {layer.label} is held in "{layer.units}". '
                f'| Convert the numbers and write units = "{layer.units}".'
            )
        return units

    @field_validator("points")
    @classmethod
    def _are_a_curve(cls, points: list[list[float]], info: ValidationInfo) -> list[list[float]]:
        if points is None:
            return points
        if len(points) < 2 or any(len(point) != 2 for point in points):
            raise ValueError("these are not points of a curve. | Write two or more pairs [value, index].")
        values = [value for value, _ in points]
        for before, after in pairwise(values):
            if after < before:
                raise ValueError(f"{after:g} comes after {before:g}. | Order the points by rising value.")
        if any(values.count(value) > 2 for value in values):
            raise ValueError("a value stands in more than two points. | A step needs two points, no more.")
        for value, index in points:
            if not 0 <= index <= 1:
                raise ValueError(f"the index at {value:g} is {index:g}. | An index lies between 0 and 1.")
        _require_plausible(values, info)
        return points

    @field_validator("doubt")
    @classmethod
    def _is_in_the_layer_s_unit(cls, doubt: DoubtTable | None, info: ValidationInfo) -> DoubtTable | None:
        layer = LAYERS.get(info.data.get("layer"))
        if doubt is None or layer is None or doubt.threshold is None:
            return doubt
        if layer.categories:
            raise ValueError(f"{layer.label} has no thresholds. | State `weight_share` only.")
        if doubt.units != layer.units:
            found = "there is no unit" if doubt.units is None else f'the unit is "{doubt.units}"'
            raise ValueError(
                f'{found}, but {layer.label} is held in "{layer.units}". '
                f'| Give `threshold` in it and write units = "{layer.units}".'
            )
        return doubt


class FactorTable(_LayerTable):
    """One table under `[factors]`."""

    weight: Annotated[float, Field(ge=0)]
    veto: bool = False
    trapezoid: list[float] | None = None
    categories: dict[str, _Share] | None = None

    @field_validator("trapezoid")
    @classmethod
    def _is_in_order(cls, corners: list[float], info: ValidationInfo) -> list[float]:
        if corners is None:
            return corners
        if len(corners) != 4 or any(after < before for before, after in pairwise(corners)):
            raise ValueError(f"{corners} is not a trapezoid. | Write four values that do not fall: [a, b, c, d].")
        _require_plausible(corners, info)
        return corners

    @field_validator("categories")
    @classmethod
    def _are_the_layer_s_categories(cls, given: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        layer = LAYERS.get(info.data.get("layer"))
        if given is None or layer is None:
            return given
        if not layer.categories:
            raise ValueError(f"{layer.label} has no categories. | Give `points` or `trapezoid`.")
        for name in given:
            if name not in layer.categories:
                raise ValueError(f'"{name}" is no category. | Use: {", ".join(layer.categories)}.')
        return given

    @model_validator(mode="after")
    def _has_one_curve(self) -> FactorTable:
        given = [key for key in ("points", "trapezoid", "categories") if getattr(self, key) is not None]
        if len(given) != 1:
            found = "there is no curve." if not given else f"there are {len(given)} curves: {', '.join(given)}."
            raise ValueError(f"{found} | Give one of `points`, `trapezoid` and `categories`.")
        if LAYERS[self.layer].categories and given != ["categories"]:
            raise ValueError(f"{LAYERS[self.layer].label} holds categories. | Give `categories`, not `{given[0]}`.")
        _require_units(self)
        return self


class PressureTable(_LayerTable):
    """One table under `[pressures]`."""

    weight: _Share
    full: Annotated[float, Field(ge=0)] | None = None
    reach: Annotated[float, Field(gt=0)] | None = None
    fade: Literal["linear", "exponential", "gaussian"] | None = None

    @model_validator(mode="after")
    def _fades_or_has_a_curve(self) -> PressureTable:
        layer = LAYERS[self.layer]
        fading = [key for key in ("full", "reach", "fade") if getattr(self, key) is not None]
        if layer.categories:
            raise ValueError(f"{layer.label} cannot be a pressure. | Name a layer that holds a number.")
        if (self.points is None) == (not fading):
            raise ValueError(
                "a pressure needs one way to tell exposure. | Give `points`, or `full`, `reach` and `fade`, not both."
            )
        if fading and len(fading) < 3:
            missing = [f"`{key}`" for key in ("full", "reach", "fade") if key not in fading]
            raise ValueError(f"the fade is incomplete. | Add {' and '.join(missing)}.")
        if fading and not layer.saturates:
            raise ValueError(f"{layer.label} is not a distance. | Give `points` of [value, exposure].")
        if fading and not self.full < self.reach:
            raise ValueError(
                f"full is {self.full:g} m and reach is {self.reach:g} m. | The reach must be greater than full."
            )
        _require_units(self)
        return self


class SuitabilityTable(SourcedTable):
    """`[suitability]`: how the factors become one score."""

    rule: Literal[tuple(RULES)]
    may_lack: Annotated[int, Field(ge=0)]
    essential: list[str] = []


class ThreatTable(SourcedTable):
    """`[threat]`: how many pressures may be missing."""

    may_lack: Annotated[int, Field(ge=0)] = 0


class BreaksTable(SourcedTable):
    """Least scores of the second and third class."""

    breaks: list[float]

    @field_validator("breaks")
    @classmethod
    def _are_two_in_order(cls, breaks: list[float]) -> list[float]:
        if len(breaks) != 2 or not 0 < breaks[0] < breaks[1] < 1:
            raise ValueError(f"{breaks} cannot cut three classes. | Write two rising numbers between 0 and 1.")
        return breaks


class ClassesTable(Table):
    """`[classes]`: where the scores are cut."""

    suitability: BreaksTable
    threat: BreaksTable


class ProfileTable(SourcedTable):
    """The whole file."""

    format: Literal[1]
    title: str
    settings: SettingsTable = SettingsTable()
    light: LightTable | None = None
    striking: StrikingTable | None = None
    suitability: SuitabilityTable
    factors: dict[str, FactorTable]
    threat: ThreatTable
    pressures: dict[str, PressureTable] = {}
    classes: ClassesTable


def validated(document: dict[str, Any], faults: list[Fault]) -> ProfileTable | None:
    """`document` as a profile table, or None with all its faults added to `faults`."""
    table = validate(ProfileTable, document, "", faults)
    faults.extend(_faults_between_tables(document))
    return table if not faults else None


def json_schema() -> dict[str, Any]:
    """JSON schema of a profile, for editors."""
    return ProfileTable.model_json_schema()


def _require_plausible(values: list[float], info: ValidationInfo) -> None:
    layer = LAYERS.get(info.data.get("layer"))
    if layer is None or layer.categories:
        return
    low, high = layer.plausible
    unit = "" if layer.units == "1" else f" {layer.units}"
    for value in values:
        if not low <= value <= high:
            raise ValueError(
                f"{value:g}{unit} is no plausible {layer.label}. "
                f"| It lies between {low:g} and {high:g}{unit}: check the unit."
            )


def _require_units(table: _LayerTable) -> None:
    layer = LAYERS[table.layer]
    if table.units is None and not layer.categories:
        raise ValueError(f'there is no unit. | Write units = "{layer.units}" once the numbers are in it.')


def _faults_between_tables(document: dict[str, Any]) -> list[Fault]:
    """Faults that take two tables to see. The document may be wrong in any other way as well."""
    factors, pressures = (_table(document, key) for key in ("factors", "pressures"))
    suitability, threat = (_table(document, key) for key in ("suitability", "threat"))
    faults = []
    for kind, named in (("factors", factors), ("pressures", pressures)):
        faults += [
            Fault(f"{kind}.{name}", "the name will not do.", "Use small letters, digits and _, a letter first.")
            for name in named
            if not (name.isascii() and name.isidentifier() and name == name.lower() and name[0] != "_")
        ]
    faults += [
        Fault(f"pressures.{name}", "a factor has this name too.", "Give one of the two another name.")
        for name in pressures
        if name in factors
    ]
    for name in suitability.get("essential", []) if isinstance(suitability.get("essential"), list) else []:
        if isinstance(name, str) and name not in factors:
            near = difflib.get_close_matches(name, factors, 1)
            hint = f'Did you mean "{near[0]}"?' if near else f"Factors here: {', '.join(factors) or 'none'}."
            faults.append(Fault("suitability.essential", f'there is no factor "{name}".', hint))
    for key, table, named, what in (
        ("suitability", suitability, factors, "factor"),
        ("threat", threat, pressures, "pressure"),
    ):
        if type(table.get("may_lack")) is int and named and table["may_lack"] >= len(named):
            found = f"a score may lack {table['may_lack']} of {len(named)} {what}s, that is all of them."
            faults.append(Fault(f"{key}.may_lack", found, f"It must be less than the number of {what}s."))
    if "factors" in document and isinstance(document["factors"], dict) and not factors:
        faults.append(Fault("factors", "there is no factor.", "Add a table [factors.NAME]."))
    weights = [table.get("weight") for table in factors.values() if isinstance(table, dict)]
    if weights and all(weight == 0 for weight in weights):
        faults.append(Fault("factors", "every weight is 0.", "Give at least one factor a weight above 0."))
    uses = [table.get("layer") for table in (*factors.values(), *pressures.values()) if isinstance(table, dict)]
    if "feeding_time" in uses and "feeding_depth" not in _table(document, "settings"):
        found = "feeding_time is used, but nobody says at which depths the animal feeds."
        faults.append(Fault("settings", found, "Add feeding_depth = { shallowest, deepest, units, source }."))
    return faults


def _table(document: dict[str, Any], key: str) -> dict[str, Any]:
    return document[key] if isinstance(document.get(key), dict) else {}
