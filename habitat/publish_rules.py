"""The rules by which sightings are generalised, from `publishing.toml` beside the site file or as shipped."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Literal

from layers.fault import Fault, RecordError

RULES_FILE = "publishing.toml"


@dataclass(frozen=True, kw_only=True)
class Category:
    """How far a kind of record is generalised."""

    name: str
    degrees: float  # step of released coordinates; 0 withholds them [degree]
    date: str  # "year", "month" or "day"


@dataclass(frozen=True, kw_only=True)
class PublishingRules:
    """What may be told of sightings in public; every number from a text file that names its source."""

    category: str
    categories: dict[str, Category]
    species: dict[str, str] = field(default_factory=dict)  # category of a species
    minimum_count: int  # records of a released cell, and of what is left when released cells are taken from an area
    minimum_herd: int  # animals below which nothing is told
    least_water: float  # of a released cell [ha]
    herd: int | None = None  # animals there are; None: not said, and nothing is told
    words: dict[str, str] = field(default_factory=dict)  # of [public]; "" where the site has not filled them in

    def category_of(self, species: str) -> Category:
        """The category of a species; of a record without a name, the strictest that any species here has."""
        if species:
            return self.categories[self.species.get(species, self.category)]
        used = [self.categories[name] for name in (self.category, *self.species.values())]
        return max(used, key=lambda one: (not one.degrees, one.degrees))


def read_rules(path: str | Path | None = None) -> PublishingRules:
    """The rules of a file or of the folder it lies in; those shipped where there is none.

    Raises
    ------
    RecordError
        With every fault of the file.
    """
    from layers.textfile import read_document, validate

    path = Path(path) if path is not None else None
    if path is not None and path.is_dir():
        path = path / RULES_FILE if (path / RULES_FILE).is_file() else None
    if path is None:
        with resources.as_file(resources.files("habitat") / RULES_FILE) as shipped:
            return read_rules(shipped)
    faults: list[Fault] = []
    document = read_document(path, faults)
    table = None if document is None else validate(_model(), document, "", faults)
    if table is not None:
        faults += _faults(table)
    if faults:
        raise RecordError(path.name, faults)
    told = table.sightings
    return PublishingRules(
        category=told.category,
        categories={
            name: Category(name=name, degrees=one.degrees, date=one.date) for name, one in table.categories.items()
        },
        species=dict(table.species),
        minimum_count=int(told.minimum_count.value),
        minimum_herd=int(told.minimum_herd.value),
        least_water=told.least_water.value,
        herd=None if told.herd is None else int(told.herd.value),
        words=table.public.model_dump(),
    )


def _model() -> type:
    # pydantic is costly to import and only needed once a file is read
    from pydantic import create_model

    from layers.textfile import Table

    def number(name: str, unit: str) -> type:
        return create_model(name, __base__=Table, value=(float, ...), units=(Literal[unit], ...), source=(str, ...))

    one, hectares = number("Number", "1"), number("Hectares", "ha")
    category = create_model(
        "CategoryTable",
        __base__=Table,
        degrees=(float, ...),
        date=(Literal["year", "month", "day"], ...),
        source=(str, ...),
    )
    sightings = create_model(
        "SightingsTable",
        __base__=Table,
        category=(str, ...),
        minimum_count=(one, ...),
        minimum_herd=(one, ...),
        least_water=(hectares, ...),
        herd=(one | None, None),
    )
    names = ("on_seeing_an_animal", "on_seeing_an_offence", "who_decides", "licence")
    public = create_model("PublicTable", __base__=Table, **{name: (str, "") for name in names})
    return create_model(
        "RulesTable",
        __base__=Table,
        format=(Literal[1], ...),
        sightings=(sightings, ...),
        categories=(dict[str, category], ...),
        species=(dict[str, str], {}),
        public=(public, public()),
    )


def _faults(table: object) -> list[Fault]:
    faults, told = [], table.sightings
    known = ", ".join(table.categories)
    chosen = {"sightings.category": told.category, **{f"species.{name}": one for name, one in table.species.items()}}
    for place, name in chosen.items():
        if name not in table.categories:
            faults.append(Fault(place, f'there is no category "{name}".', f"Use one of: {known}."))
    for name, one in table.categories.items():
        if one.degrees not in (0, 1, 0.1, 0.01, 0.001):
            found = f"{one.degrees:g} degree is no published step."
            faults.append(Fault(f"categories.{name}.degrees", found, "Use 1, 0.1, 0.01 or 0.001; 0 withholds."))
    for name in ("minimum_count", "minimum_herd", "herd"):
        value = getattr(told, name)
        if value is not None and (value.value < 2 or value.value % 1):
            faults.append(
                Fault(
                    f"sightings.{name}.value", f"{value.value:g} is too small or broken.", "Give a whole number from 2."
                )
            )
    if told.least_water.value < 0:
        faults.append(Fault("sightings.least_water.value", "it is below 0.", "Give hectares, 0 or more."))
    return faults
