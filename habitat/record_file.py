"""A record that was opened and checked: what it says, and the cells it keeps."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from habitat.record_archive import Archive, open_archive, refuse
from habitat.record_members import MADE
from habitat.record_toml import document_of
from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    import xarray as xr

    from habitat.record_schema import GridCells, RecordTable
    from layers.grid import Grid

RECORD_FILE = "record.zip"
OLD_RECORD_FILE = "record.json"  # of format 1
MOST_CELLS = 100_000_000  # of a grid, as of a site file
# what each older format lacks, told to who opens one
_LACKING = {
    1: "it holds digests alone: the inputs, the steps of every layer and the cells are missing, so nothing can be "
    "made again from it or compared with it.",
}


@dataclass(frozen=True, kw_only=True)
class Record:
    """A record, its members checked against their list and its text against its shape."""

    archive: Archive = field(repr=False)
    table: RecordTable = field(repr=False)
    site: dict[str, Any] = field(repr=False)  # the site file, as plain tables
    profile: dict[str, Any] = field(repr=False)
    made: dict[str, str]  # author, date, reason

    @property
    def name(self) -> str:
        """Name of the file."""
        return self.archive.path.name

    @property
    def root(self) -> str:
        """Digest of the record."""
        return self.archive.root

    @property
    def grid(self) -> Grid:
        """The grid of the map."""
        from layers.grid import Grid

        told = self.table.grid
        return Grid.from_bounds(told.crs, *told.bounds, told.cell)

    def cells(self, told: GridCells) -> xr.DataArray | None:
        """The cells of a layer or result as they were; None where only the digest was kept.

        Raises
        ------
        RecordError
            If what is kept is not what the record says of it.
        """
        return _cells(self, told) if told.raster else None

    def result(self, name: str, *, after: bool = False) -> xr.DataArray | None:
        """A variable of the assessment (of an appraisal, with the proposals in place); None where it is not kept."""
        results = self.table.appraisal.results if after and self.table.appraisal else self.table.results
        told = next((one for one in results if one.name == name), None)
        return None if told is None else self.cells(told)


def open_record(path: str | Path) -> Record:
    """The record at `path`: a zip file, or a folder of results with one in it.

    Raises
    ------
    RecordError
        In one sentence, if it is hostile, changed or damaged (see `habitat.record_archive.open_archive`), of another
        format, or not of the shape of a record.
    """
    from habitat.record_schema import FORMAT, RecordTable
    from layers.textfile import validate

    path = Path(path)
    if path.name == OLD_RECORD_FILE or (path.is_dir() and not (path / RECORD_FILE).is_file()):
        _refuse_old(path)
    archive = open_archive(path / RECORD_FILE if path.is_dir() else path)
    document = document_of(archive, "record.toml")
    _refuse_format(archive.path, document.get("format"), FORMAT)
    faults: list[Fault] = []
    table = validate(RecordTable, document, "", faults)
    if table is None:
        raise RecordError(f"{archive.path.name}, record.toml", faults)
    grid = table.grid
    if grid.rows * grid.columns > MOST_CELLS:
        refuse(archive.path, f"its grid has {grid.rows * grid.columns:,} cells, too many.", "A site has 100 million.")
    for file in (part.file for one in table.inputs for part in (one, *one.parts)):
        if not _is_below(file):
            refuse(archive.path, f"the input {file[:60]!a} lies outside its folder.", "Do not use it; ask who made it.")
    made = document_of(archive, MADE) if _has_made(archive) else {}
    return Record(
        archive=archive,
        table=table,
        site=document_of(archive, "site.toml"),
        profile=document_of(archive, "profile.toml"),
        made={key: str(value) for key, value in made.items()},
    )


def _has_made(archive: Archive) -> bool:
    import zipfile

    with zipfile.ZipFile(archive.path) as opened:
        return MADE in opened.namelist()


def _refuse_old(path: Path) -> None:
    import json

    found = path / OLD_RECORD_FILE if path.is_dir() else path
    if not found.is_file():
        refuse(path, "there is no record in it.", f"Name a folder of results, or the {RECORD_FILE} of one.")
    try:
        number = json.loads(found.read_text(encoding="utf-8")).get("format")
    except (ValueError, AttributeError, OSError, RecursionError):
        number = None
    if number not in _LACKING:
        refuse(path, f"{found.name} is no record that can be read.", f"Name the {RECORD_FILE} of a folder of results.")
    refuse(path, f"it is a record of format {number}: {_LACKING[number]}", f"Make the map again for a {RECORD_FILE}.")


def _refuse_format(path: Path, number: object, current: int) -> None:
    if number == current:
        return
    if isinstance(number, int) and not isinstance(number, bool) and number > current:
        said = f"it is of format {number}, and this version reads format {current}: a newer Shallows made it."
        refuse(path, said, "Install that version; record.toml names it.")
    if number in _LACKING:
        refuse(path, f"it is of format {number}: {_LACKING[number]}", "Make the map again.")
    refuse(path, "record.toml does not say its format.", "Get the file again from who made it.")


def _cells(record: Record, told: GridCells) -> xr.DataArray:
    import rasterio
    import xarray as xr
    from rasterio.errors import RasterioError
    from rasterio.io import MemoryFile

    from habitat.record_cells import cells_digest

    path, grid = record.archive.path, record.table.grid
    anew = "Get the file again from who made it."
    bands = 1 if len(told.shape) == 2 else told.shape[0]
    if told.shape[-2:] != [grid.rows, grid.columns] or bands not in (1, len(grid.seasons)) or len(told.shape) > 3:
        refuse(path, f"{told.name} has not the shape of the grid.", anew)
    try:
        # no other driver: some of them follow names of files and addresses that stand in the content
        with (
            rasterio.Env(),
            MemoryFile(record.archive.read(told.raster)) as memory,
            memory.open(driver="GTiff") as file,
        ):
            if (file.count, file.height, file.width) != (bands, grid.rows, grid.columns):
                refuse(path, f"{told.raster} has not the shape of the grid.", anew)
            values = file.read()
    except RasterioError:
        refuse(path, f"{told.raster} cannot be read.", anew)
    values = values if len(told.shape) == 3 else values[0]
    if cells_digest(values) != told.sha256:
        refuse(path, f"{told.raster} does not hold the cells that record.toml tells of.", anew)
    whole = record.grid.coordinates
    dimensions = ("season", "y", "x") if values.ndim == 3 else ("y", "x")
    seasons = {"season": grid.seasons} if values.ndim == 3 else {}
    label = {"long_name": told.name.replace("_", " "), "units": getattr(told, "units", "1")}
    return xr.DataArray(values, dims=dimensions, coords={**whole, **seasons}, name=told.name, attrs=label)


def _is_below(file: str) -> bool:
    pieces = file.replace("\\", "/").split("/")
    return bool(file) and pieces[0] != "" and ".." not in pieces and ":" not in pieces[0]
