"""The shape of a file of standing conditions: the forms of rule, and what each must say."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from habitat.profile_numbers import SourcedTable
from habitat.proposal_kinds import KINDS, kind_called, nearest_kind
from layers.fault import Fault
from layers.textfile import validate

GOOD_HABITAT = "good habitat"
ZONE = "zone "  # what stands before the name of a zone
# what on file a distance may be measured to; never sightings: an answer would tell how far an animal is
MEASURED_TO = ("seagrass", "mangrove", "fresh_water", "landing", "net", "track", "dredging")

_Above = Annotated[float, Field(gt=0)]
_Share = Annotated[float, Field(ge=0, le=1)]


class RuleTable(SourcedTable):
    """What every rule says: its source, who decides, and which kinds of feature it is about."""

    decides: str | None = None  # instead of what the file says for all its rules
    kinds: list[str] = []  # every kind where it is empty

    @field_validator("kinds")
    @classmethod
    def _are_known(cls, kinds: list[str]) -> list[str]:
        for name in kinds:
            if kind_called(name) is None:
                near = nearest_kind(name)
                hint = f'Did you mean "{near.name}"?' if near else f"Kinds: {', '.join(KINDS)}."
                raise ValueError(f'there is no kind of feature "{name}". | {hint}')
        return [kind_called(name).name for name in kinds]


class DistanceTable(RuleTable):
    """`[distance.NAME]`: how far a kind of feature must stay from something on the map."""

    to: str  # one of MEASURED_TO, GOOD_HABITAT, or "zone " and its name
    least_m: _Above

    @field_validator("to")
    @classmethod
    def _can_be_measured_to(cls, to: str) -> str:
        if to in ("sighting", "sightings"):
            raise ValueError(
                "a distance to sightings would tell where animals are. | Measure to their food, their water or a zone."
            )
        if to not in (*MEASURED_TO, GOOD_HABITAT) and not (to.startswith(ZONE) and to.removeprefix(ZONE).strip()):
            known = ", ".join(f'"{name}"' for name in (*MEASURED_TO, GOOD_HABITAT))
            raise ValueError(f'nothing is measured to "{to}". | Use one of {known}, or "zone " and its name.')
        return to


class ClosedSeasonTable(RuleTable):
    """`[closed_season.NAME]`: months in which a kind of feature may not be worked on."""

    months: list[Annotated[int, Field(ge=1, le=12)]]

    @field_validator("months")
    @classmethod
    def _are_some(cls, months: list[int]) -> list[int]:
        if not months or len(set(months)) < len(months):
            raise ValueError(f"{months} are not months. | Name each closed month once, 1 to 12.")
        return months


class OpeningTable(RuleTable):
    """`[opening.NAME]`: sizes of opening in which an animal is caught, and the bars that keep it out."""

    from_m: _Above  # narrowest that must be barred
    to_m: _Above  # widest that must be barred
    bars_m: _Above  # widest gap between the bars

    @model_validator(mode="after")
    def _is_a_range(self) -> OpeningTable:
        if not self.from_m < self.to_m:
            raise ValueError(
                f"from_m is {self.from_m:g} and to_m is {self.to_m:g}. | The first must be less than the second."
            )
        return self


class KeelTable(RuleTable):
    """`[keel.NAME]`: water to be left under a keel at mean low water, unless the vessel goes slowly."""

    clearance_m: Annotated[float, Field(ge=0)]
    slow_kn: _Above | None = None  # speed at which less water will do


class ZoneTable(RuleTable):
    """`[zone.NAME]`: kinds of feature that are not allowed in zones of these names."""

    zones: list[str]

    @model_validator(mode="after")
    def _names_both(self) -> ZoneTable:
        if not self.zones or not self.kinds:
            raise ValueError("a zone without kinds, or kinds without a zone, closes nothing. | Name both.")
        return self


class SeagrassLossTable(RuleTable):
    """`[seagrass_loss.NAME]`: largest share of the site's seagrass that may be lost."""

    largest_share: _Share
    of: Literal["seagrass_cover", "forage"] = "seagrass_cover"


class TurbidityTable(RuleTable):
    """`[turbidity.NAME]`: how much cloudier than its background the water may become."""

    limit_ntu: _Above
    beyond_m: Annotated[float, Field(ge=0)] = 0.0  # from the works, where the limit begins to hold
    ntu_per_mg_l: _Above | None = None  # of this water, from samples measured both ways
    factor_source: str | None = None

    @model_validator(mode="after")
    def _has_a_sourced_factor(self) -> TurbidityTable:
        if (self.ntu_per_mg_l is None) != (not (self.factor_source or "").strip()):
            raise ValueError("the factor and its source do not both stand here. | Give both, or neither.")
        return self


class ToldTable(RuleTable):
    """`[told.NAME]`: what no map can check and every decision should say."""

    text: str

    @field_validator("text")
    @classmethod
    def _is_said(cls, text: str) -> str:
        if not text.strip():
            raise ValueError("this is empty. | Say the condition.")
        return text


class ConditionsTable(SourcedTable):
    """The whole file."""

    format: Literal[1]
    title: str
    decides: str
    distance: dict[str, DistanceTable] = {}
    closed_season: dict[str, ClosedSeasonTable] = {}
    opening: dict[str, OpeningTable] = {}
    keel: dict[str, KeelTable] = {}
    zone: dict[str, ZoneTable] = {}
    seagrass_loss: dict[str, SeagrassLossTable] = {}
    turbidity: dict[str, TurbidityTable] = {}
    told: dict[str, ToldTable] = {}


FORMS = tuple(name for name in ConditionsTable.model_fields if name not in ("source", "format", "title", "decides"))


def validated_conditions(document: dict[str, Any], faults: list[Fault]) -> ConditionsTable | None:
    """`document` as a table of conditions, or None with all its faults added to `faults`."""
    table = validate(ConditionsTable, document, "", faults)
    named: dict[str, str] = {}
    for form in FORMS:
        rules = document.get(form)
        for name in rules if isinstance(rules, dict) else ():
            if name in named:
                found = f"a rule under [{named[name]}] has this name too."
                faults.append(Fault(f"{form}.{name}", found, "Give one of the two another name."))
            named[name] = form
    if table is not None and not named:
        faults.append(Fault("the file", "there is no rule in it.", f"Add one of: {', '.join(FORMS)}."))
    return table if not faults else None
