"""The shape of `record.toml`, the part of a record that machines read: one definition for writing and reading."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from layers.textfile import Table

FORMAT = 2  # 1 was the record.json of a folder of results: digests alone, nothing to make the map from again
Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class PartTable(Table):
    """One file of an input: most have one, some formats have companions."""

    file: str  # below the folder of the site
    bytes: Annotated[int, Field(ge=0)]
    sha256: Digest


class InputTable(Table):
    """One entry of the site file."""

    name: str
    file: str
    feeds: str
    sensitive: bool
    withheld: str  # why it is not in the record; empty where it is
    source: str
    licence: str
    credit: str
    date: str
    sha256: Digest  # as the site's reader takes it
    parts: list[PartTable]


class GridCells(Table):
    """The cells of a layer or a result."""

    name: str
    type: str
    shape: list[Annotated[int, Field(ge=0)]]
    sha256: Digest  # habitat.record_cells.cells_digest
    raster: str  # member that holds the cells; empty where only the digest is kept


class StepTable(GridCells):
    """How a layer was made."""

    function: str
    method: str
    units: str
    numbers: list[str]  # of the site file and the profile, with unit and source
    feeds: list[str]  # all that was asked for, also in vain
    files: list[str]
    parents: list[str]  # layers it was made from, each of them earlier in the list


class GridTable(Table):
    """The grid the map was made on."""

    crs: str
    bounds: Annotated[list[float], Field(min_length=4, max_length=4)]  # west, south, east, north [m]
    cell: Annotated[float, Field(gt=0)]  # [m]
    rows: Annotated[int, Field(gt=0)]
    columns: Annotated[int, Field(gt=0)]
    seasons: list[str]


class ProfileTable(Table):
    """Where the profile came from."""

    title: str
    beside_site: bool  # whether it was the profile.toml beside the site file


class ProposalTable(Table):
    """A proposal that was appraised."""

    name: str
    sha256: Digest
    features: Annotated[int, Field(ge=0)]
    member: str


class AppraisalTable(Table):
    """What was appraised, and the site with it in place."""

    conditions: str
    conditions_member: str  # empty where the file is not in the record
    period: float  # [year]
    construction: float  # [year]
    recovery: float | None = None  # [year]; absent: it never recovers
    approved: list[ProposalTable] = []  # in place before
    proposals: list[ProposalTable]
    steps: list[StepTable]  # the layers that came out differently
    results: list[GridCells]


class RecordTable(Table):
    """The whole file."""

    format: int
    title: str
    invented: bool
    software: dict[str, str]
    machine: dict[str, str]
    seeds: dict[str, int]
    grid: GridTable
    profile: ProfileTable
    inputs: list[InputTable]
    steps: list[StepTable]  # of an appraisal, of the site before, with what is approved in place
    results: list[GridCells]
    appraisal: AppraisalTable | None = None
