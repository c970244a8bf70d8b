"""The profile: what the animal needs and what presses it, as one immutable value read from a text file.

Factors and pressures stand in one canonical order, the heaviest first and equal weights by name, whatever
their order in the file: scores are summed in that order, ties for the limiting factor go to the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.pressure import Exposure, Fade
from habitat.profile_numbers import NUMBER_TABLES
from layers.fault import Fault, ProfileError
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from layers.amount import Amount

MOST_PARTS = 255  # results count them in a byte


@dataclass(frozen=True, kw_only=True)
class PartDoubt:
    """How far a curve and a weight are in doubt; None is not stated, which is not the same as certain."""

    threshold: float | None = None  # standard uncertainty of where the whole curve stands, in the unit of the layer
    weight_share: float | None = None  # standard deviation of the weight over the weight [1]
    source: str


@dataclass(frozen=True, kw_only=True)
class Factor:
    """Something the animal needs: a layer, and the curve that turns it into an index."""

    name: str
    layer: str
    weight: float  # 0 or more; only the proportion between weights matters
    veto: bool = False  # an index of 0 makes the whole score 0
    curve: SuitabilityCurve | CategoryCurve
    source: str
    doubt: PartDoubt | None = None

    @property
    def label(self) -> str:
        """The name in plain words."""
        return self.name.replace("_", " ")


@dataclass(frozen=True, kw_only=True)
class Pressure:
    """Something that presses the animal: a layer, and how exposure follows from it."""

    name: str
    layer: str
    weight: float  # 0 to 1, absolute: what full exposure takes
    exposure: Exposure
    source: str
    doubt: PartDoubt | None = None

    @property
    def label(self) -> str:
        """The name in plain words."""
        return self.name.replace("_", " ")


@dataclass(frozen=True, kw_only=True)
class Profile:
    """Everything an assessment needs to know of the animal."""

    title: str
    source: str
    feeding_depth: tuple[float, float] | None = None  # shallowest and deepest [m]
    feeding_depth_source: str = ""
    amounts: Mapping[str, Amount] = field(default_factory=dict)  # other numbers the layers need, under "table.key"
    rule: str  # a key of habitat.combine.RULES
    may_lack: int  # factors a score may lack
    essential: tuple[str, ...] = ()  # factors without which there is no score
    suitability_source: str
    factors: tuple[Factor, ...]
    threat_may_lack: int = 0  # pressures the threat may lack
    threat_source: str
    pressures: tuple[Pressure, ...] = ()
    suitability_breaks: tuple[float, float]
    suitability_breaks_source: str
    threat_breaks: tuple[float, float]
    threat_breaks_source: str
    text: str = field(default="", repr=False, compare=False)  # the file it was read from, for its comments

    def __post_init__(self):
        object.__setattr__(self, "factors", _canonical(self.factors))
        object.__setattr__(self, "pressures", _canonical(self.pressures))
        object.__setattr__(self, "essential", tuple(sorted(self.essential)))
        if max(len(self.factors), len(self.pressures)) > MOST_PARTS:
            raise ValueError(f"a profile holds at most {MOST_PARTS} factors and {MOST_PARTS} pressures.")

    @property
    def layers_needed(self) -> tuple[str, ...]:
        """Names of the layers looked at, factors first, each once."""
        return tuple(dict.fromkeys(part.layer for part in (*self.factors, *self.pressures)))

    def reach_of(self, layer: str) -> float:
        """Distance from which on nothing in this profile depends on a distance layer; 0 if none looks at it. [m]

        Raises
        ------
        ValueError
            If `layer` is not a distance.
        """
        if not LAYERS[layer].saturates:
            raise ValueError(f"{layer} is not a distance and has no reach.")
        ends = [factor.curve.last for factor in self.factors if factor.layer == layer]
        ends += [pressure.exposure.last for pressure in self.pressures if pressure.layer == layer]
        return max(ends, default=0.0)

    def with_weight(self, name: str, weight: float) -> Profile:
        """This profile with another weight for one factor or pressure.

        Raises
        ------
        KeyError
            If nothing is named `name`.
        ValueError
            If the weight is negative, that of a pressure is above 1, or no factor is left with a weight.
        """
        if not 0 <= weight < float("inf"):
            raise ValueError(f"the weight of {name} must be 0 or more, got {weight}.")
        if weight > 1 and any(pressure.name == name for pressure in self.pressures):
            raise ValueError(f"the weight of the pressure {name} must lie between 0 and 1, got {weight}.")
        changed = self._with(name, weight=float(weight))
        if not any(factor.weight for factor in changed.factors):
            raise ValueError("at least one factor needs a weight above 0.")
        return changed

    def with_curve(self, name: str, curve: SuitabilityCurve | CategoryCurve | Fade) -> Profile:
        """This profile with another curve (of a factor) or exposure (of a pressure).

        Raises
        ------
        KeyError
            If nothing is named `name`.
        """
        is_factor = any(factor.name == name for factor in self.factors)
        return self._with(name, **{"curve" if is_factor else "exposure": curve})

    def _with(self, name: str, **changes) -> Profile:
        for kind in ("factors", "pressures"):
            parts = getattr(self, kind)
            if any(part.name == name for part in parts):
                changed = (replace(part, **changes) if part.name == name else part for part in parts)
                return replace(self, **{kind: tuple(changed)})
        raise KeyError(name)


def shipped_profiles() -> tuple[str, ...]:
    """Names of the profiles that come with the library."""
    folder = resources.files("habitat") / "profiles"
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


def read_profile(path: str | Path) -> Profile:
    """The profile in a file, or a shipped one by its name.

    Parameters
    ----------
    path
        A file ending in ``.toml``, or one of `shipped_profiles()`.

    Raises
    ------
    ProfileError
        With everything that is wrong in the file.
    """
    from habitat.profile_schema import validated
    from layers.textfile import read_document

    path = Path(path)
    faults: list[Fault] = []
    if path.suffix != ".toml" and not path.exists():
        if path.name not in shipped_profiles() or path.name != str(path):
            remedy = f"Give a .toml file, or one of: {', '.join(shipped_profiles())}."
            raise ProfileError(str(path), [Fault("the profile", f'no profile is called "{path}".', remedy)])
        path = Path(str(resources.files("habitat") / "profiles" / f"{path.name}.toml"))
    document = read_document(path, faults)
    table = None if document is None else validated(document, faults)
    if faults:
        raise ProfileError(path.name, faults)
    return _profile(table, path.read_text(encoding="utf-8-sig"))


def write_profile(profile: Profile, path: str | Path, *, overwrite: bool = False) -> None:
    """Write `profile` as TOML, with the comments of the file it was read from.

    Raises
    ------
    RecordError
        If the file exists and `overwrite` is not set, or its folder does not exist.
    """
    from habitat.profile_text import profile_text
    from layers.atomic import whole_file

    with whole_file(path, replace=overwrite) as unfinished:
        unfinished.write_text(profile_text(profile), encoding="utf-8", newline="\n")


def _canonical(parts: Iterable) -> tuple:
    return tuple(sorted(parts, key=lambda part: (-part.weight, part.name)))


def _profile(table, text: str) -> Profile:
    from layers.amount import amounts_of

    feeding = table.settings.feeding_depth
    return Profile(
        title=table.title,
        source=table.source,
        feeding_depth=(feeding.shallowest, feeding.deepest) if feeding else None,
        feeding_depth_source=feeding.source if feeding else "",
        amounts=amounts_of({name: getattr(table, name) for name in NUMBER_TABLES}, "the profile"),
        rule=table.suitability.rule,
        may_lack=table.suitability.may_lack,
        essential=tuple(table.suitability.essential),
        suitability_source=table.suitability.source,
        factors=tuple(
            Factor(
                name=name,
                layer=part.layer,
                weight=float(part.weight),
                veto=part.veto,
                curve=_curve(part),
                source=part.source,
                doubt=_doubt(part),
            )
            for name, part in table.factors.items()
        ),
        threat_may_lack=table.threat.may_lack,
        threat_source=table.threat.source,
        pressures=tuple(
            Pressure(
                name=name,
                layer=part.layer,
                weight=float(part.weight),
                exposure=Fade(part.full, part.reach, part.fade) if part.fade else _curve(part),
                source=part.source,
                doubt=_doubt(part),
            )
            for name, part in table.pressures.items()
        ),
        suitability_breaks=tuple(table.classes.suitability.breaks),
        suitability_breaks_source=table.classes.suitability.source,
        threat_breaks=tuple(table.classes.threat.breaks),
        threat_breaks_source=table.classes.threat.source,
        text=text,
    )


def _curve(part) -> SuitabilityCurve | CategoryCurve:
    if part.points is not None:
        return SuitabilityCurve(*zip(*part.points, strict=True))
    if part.trapezoid is not None:
        return SuitabilityCurve.trapezoid(*part.trapezoid)
    categories = LAYERS[part.layer].categories
    return CategoryCurve(categories, tuple(part.categories.get(name) for name in categories))


def _doubt(part) -> PartDoubt | None:
    given = part.doubt
    if given is None:
        return None
    return PartDoubt(threshold=given.threshold, weight_share=given.weight_share, source=given.source)
