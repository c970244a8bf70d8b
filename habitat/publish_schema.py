"""The shape of publication.json: what a public folder says of itself, and the digest of every file in it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from layers.textfile import Table

FORMAT = 1

Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9_][A-Za-z0-9_.-]*(/[A-Za-z0-9_][A-Za-z0-9_.-]*)*$")]


class ClassRow(Table):
    """A class of a map in one season."""

    words: str
    hectares: float = Field(ge=0)
    share: float = Field(ge=0, le=1)  # of the water


class PublicMap(Table):
    """A picture and the areas of its classes."""

    name: Literal["suitability_class", "threat_class", "concern"]
    season: str  # "" without seasons
    picture: Name
    classes: list[ClassRow]


class PublicFile(Table):
    """A file as it was when the folder was published."""

    bytes: int = Field(ge=0)
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Words(Table):
    """What the people who publish have said; "" where they have not."""

    on_seeing_an_animal: str
    on_seeing_an_offence: str
    who_decides: str
    licence: str


class PublicationTable(Table):
    """publication.json as a whole."""

    format: Literal[1]
    title: str
    author: str
    date: str
    invented: bool
    cell: float = Field(gt=0)  # [m]
    sightings: str  # what became of them
    coarse: str  # what became of sensitive layers
    words: Words
    credits: list[str]
    maps: list[PublicMap] = Field(min_length=1)
    files: dict[Name, PublicFile]
    seal: str  # SHA-256 of all the rest
