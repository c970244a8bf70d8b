"""A development proposal as a value: its features, and copies of them that are moved or changed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import shapely

from habitat.proposal_kinds import KINDS, Attribute, Kind

Value = float | str


@dataclass(frozen=True, kw_only=True)
class Feature:
    """One thing that is built, dug, planted or released."""

    kind: str  # a name of habitat.proposal_kinds.KINDS
    number: int  # its place among the features of its kind, from 1
    shape: shapely.Geometry  # in the grid's projection
    attributes: Mapping[str, Value] = field(default_factory=dict)  # by column; what was not said is absent

    @property
    def label(self) -> str:
        """How it is told from the others, such as "dredged area 2"."""
        return f"{self.kind} {self.number}"

    @property
    def title(self) -> str:
        """The label and, where it has one, the name that people gave it."""
        name = self.attributes.get("name")
        return f"{self.label} ({name})" if name else self.label

    def get(self, column: str, default: Value | None = None) -> Value | None:
        """What was said under a column, or `default`."""
        return self.attributes.get(column, default)


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """The features of a development proposal, read and checked against a site."""

    name: str  # such as "marina.gpkg"
    path: Path | None  # None for one drawn on a page
    digest: str = field(repr=False)  # SHA-256 of the file, or of the features where they are not those of a file
    features: tuple[Feature, ...]
    remarks: tuple[str, ...] = ()  # what a person should know and need not mend
    steps: tuple[str, ...] = ()  # of mitigation that a variant takes; none for what was given

    def of_kind(self, kind: str) -> tuple[Feature, ...]:
        """The features of one kind."""
        return tuple(feature for feature in self.features if feature.kind == kind)

    def with_features(self, *features: Feature) -> Proposal:
        """A variant in which each of `features` takes the place of the one with its label, or comes last.

        Its digest is that of its features, and remarks made on the features as they were are left out.
        """
        changed = {feature.label: feature for feature in features}
        kept = [changed.pop(feature.label, feature) for feature in self.features]
        whole = (*kept, *changed.values())
        return replace(self, features=whole, digest=features_digest(whole), remarks=())

    def without(self, *labels: str) -> Proposal:
        """A variant without the features of these labels."""
        kept = tuple(feature for feature in self.features if feature.label not in labels)
        return replace(self, features=kept, digest=features_digest(kept), remarks=())


def with_changes(feature: Feature, **attributes: Value | None) -> Feature:
    """A copy of a feature with other attributes; None takes one away.

    Raises
    ------
    ValueError
        If its kind has no such attribute, or the value is not possible or needed and taken away.

    Examples
    --------
    >>> pipe = Feature(kind="outfall", number=1, shape=shapely.Point(0, 0), attributes={"n_kg_year": 900.0})
    >>> with_changes(pipe, n_kg_year=300.0).attributes
    {'n_kg_year': 300.0}
    >>> with_changes(pipe, n_kg_year=-1.0)
    Traceback (most recent call last):
    ValueError: n_kg_year: it is -1. Give a number of kg/year, from 0 to 1,000,000,000.
    """
    kind = KINDS[feature.kind]
    changed = dict(feature.attributes)
    for column, value in attributes.items():
        attribute = kind.attribute(column)
        if attribute is None:
            known = ", ".join(one.column for one in kind.attributes) or "none"
            raise ValueError(f"{column}: {with_article(kind)} has no such attribute. Its attributes: {known}.")
        if value is None:
            changed.pop(column, None)
            if attribute.required:
                raise ValueError(f"{column}: {with_article(kind)} needs it. Give {attribute.wanted}.")
            continue
        if not is_possible(attribute, value):
            shown = f"{value:g}" if attribute.is_number and isinstance(value, (int, float)) else f'"{value}"'
            raise ValueError(f"{column}: it is {shown}. Give {attribute.wanted}.")
        changed[column] = float(value) if attribute.is_number else value
    return replace(feature, attributes=changed)


def moved(feature: Feature, dx: float, dy: float) -> Feature:
    """A copy of a feature, so far to the east and to the north. [m]"""
    from shapely.affinity import translate

    return replace(feature, shape=translate(feature.shape, dx, dy))


def features_digest(features: Sequence[Feature]) -> str:
    """SHA-256 of features: of their kinds, attributes and shapes, in their order."""
    whole = hashlib.sha256()
    for feature in features:
        whole.update(repr((feature.kind, feature.number, sorted(feature.attributes.items()))).encode())
        whole.update(shapely.to_wkb(feature.shape))
    return whole.hexdigest()


def is_possible(attribute: Attribute, value: Value) -> bool:
    """Whether an attribute may have that value."""
    if not attribute.is_number:
        return isinstance(value, str) and bool(value.strip()) and (not attribute.words or value in attribute.words)
    if isinstance(value, (str, bool)):
        return False
    least, most = attribute.bounds
    return (least < value if attribute.above else least <= value) and value <= most


def with_article(kind: Kind) -> str:
    """The name of a kind as a sentence begins with it: "a dredged area", "an outfall", "moorings"."""
    if kind.name.startswith(("seagrass", "mangrove", "moorings")):
        return kind.name
    return f"{'an' if kind.name[0] in 'aeio' else 'a'} {kind.name}"
