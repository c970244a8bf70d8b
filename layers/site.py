"""The site file: which file feeds which layer, in what unit, from what source.

A site is a folder with a `site.toml`; every path in it is relative to that file, so the folder can be zipped.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from layers.fault import Fault, LayerError
from layers.feeds import FEEDS, is_raster

if TYPE_CHECKING:
    from layers.amount import Amount
    from layers.grid import Grid

SITE_FILE = "site.toml"


@dataclass(frozen=True, kw_only=True)
class FileEntry:
    """One table under `[files]`: a file, and all that is needed to read it without guessing."""

    name: str  # the table's name
    feeds: str  # what it feeds, a key of layers.feeds.FEEDS
    path: Path
    band: int = 1
    layer: str | None = None  # layer of a vector file that holds several
    column: str | None = None
    units: str | None = None  # as written; None only where the feed has no unit
    positive: str | None = None  # "up" or "down"
    datum: str | None = None
    rule: str | None = None
    season: str | None = None
    date: str | None = None
    source: str
    licence: str
    credit: str
    sensitive: bool = False
    nodata: float | None = None  # declared by the user where the file does not say
    crs: str | None = None  # of a CSV
    x: str | None = None  # column names of a CSV
    y: str | None = None
    time: str | None = None
    station: str | None = None
    constituent: str | None = None  # column names of a table of tidal constituents
    phase: str | None = None  # [degree]
    temperature: str | None = None  # column of the water's temperature beside a conductivity [degree_Celsius]
    temperature_scale: str | None = None
    vessel: str | None = None  # column of the name of a vessel
    draft: str | None = None  # column of the draft of vessels [m]
    error: float | None = None  # standard error of a value, in the unit of the file
    decimal: str = "."
    delimiter: str = ","
    where: dict[str, str] = field(default_factory=dict)  # keep only rows with these values
    columns: dict[str, str] = field(default_factory=dict)  # of a term of the feed: the column that holds it
    plausible: tuple[float, float] | None = None  # set by the user where the catalogue's range is too narrow

    @property
    def is_raster(self) -> bool:
        """Whether the file is read as a raster."""
        return is_raster(self.path.suffix)


@dataclass(frozen=True, kw_only=True)
class CatchmentPlan:
    """The grid of the land that drains to the water, and how its loads are told."""

    grid: Grid
    methods: dict[str, str]  # of each nutrient: "export coefficient" or "event-mean concentration"


@dataclass(frozen=True, kw_only=True)
class Site:
    """A site file, read and checked."""

    path: Path
    title: str
    author: str
    invented: bool
    grid: Grid
    seasons: dict[str, tuple[int, ...]]
    decided_by: str | None  # the file entry that says what is water
    datums: dict[str, float]  # height of each named datum above a common zero [m]
    reach: dict[str, float]  # how far a value of stations or soundings is carried, a vessel is felt [m]
    amounts: dict[str, Amount]  # every other number of the file, under "table.key"
    open_edges: tuple[str, ...]  # of the grid, over which the water goes on
    catchment: CatchmentPlan | None
    files: tuple[FileEntry, ...]

    def feeding(self, feeds: str) -> tuple[FileEntry, ...]:
        """The entries that feed `feeds`, in the order of the site file."""
        return tuple(entry for entry in self.files if entry.feeds == feeds)

    def height_of(self, datum: str | None) -> float:
        """Height of a datum above the common zero. [m] Zero where only one datum is in use."""
        return self.datums.get(datum, 0.0)


def site_path(place: str | Path) -> Path:
    """The site file meant by `place`: the file itself, or the one in that folder.

    Raises
    ------
    LayerError
        If there is no such file.
    """
    path = Path(place)
    found = path / SITE_FILE if path.is_dir() else path
    if found.is_file():
        return found
    if path.is_dir():
        remedy = f"Name a folder with a {SITE_FILE} in it."
        fault = Fault(SITE_FILE, f'the folder "{place}" holds no site file.', remedy)
    else:
        fault = Fault(str(place), "there is no such file or folder.", "Name the folder of a site, or its site file.")
    raise LayerError(str(place), [fault])


def parse_site(path: Path, faults: list[Fault], *, cell: float | None = None) -> Site | None:
    """The site of the file at `path` with those entries that are whole; `faults` receives the rest.

    None when the file has no usable grid, for then no other file can be looked at.
    `cell` replaces the size of the grid's cells. [m]
    """
    # pydantic is costly to import and only needed once a file is read
    from layers.amount import amounts_of
    from layers.site_rules import check_site
    from layers.site_schema import SiteTable
    from layers.textfile import read_document, validate

    document = read_document(path, faults)
    if document is None:
        return None
    if cell is not None and isinstance(document.get("grid"), dict):
        document = {**document, "grid": {**document["grid"], "cell": float(cell)}}
    before = len(faults)
    table = validate(SiteTable, document, "", faults)
    broken = frozenset(fault.place.split(".")[0] for fault in faults[before:])
    if table is None:  # what is whole is used all the same, so that the files are looked at in the same round
        whole = {key: value for key, value in document.items() if key not in broken}
        table = validate(SiteTable, {"format": 1, "title": "", "files": {}, **whole}, "", [])
    tables = document.get("files")
    entries = [] if not isinstance(tables, dict) else _entries(path.parent, tables, faults)
    if table is None:
        return None
    grid = _grid(table.grid, faults)
    if grid is None:
        return None
    numbers = {name: getattr(table, name) for name in ("bed", "mixing", "background", "vessels", "catchment")}
    site = Site(
        path=path,
        title=table.title,
        author=table.author,
        invented=table.invented,
        grid=grid,
        seasons={name: tuple(months) for name, months in table.seasons.items()},
        decided_by=table.water.decided_by if table.water else None,
        datums=dict(table.datums),
        reach=table.reach.model_dump(exclude={"units", "source"}, exclude_none=True) if table.reach else {},
        amounts=amounts_of(numbers, path.name),
        open_edges=tuple(table.mixing.open_edges) if table.mixing else (),
        catchment=_catchment(table.catchment, table.grid.crs),
        files=tuple(entries),
    )
    check_site(site, faults, broken)
    if site.decided_by is None:
        return replace(site, decided_by=next((entry.name for entry in deciding(site)), None))
    return site


def deciding(site: Site) -> tuple[FileEntry, ...]:
    """The entries that can say what is water."""
    return tuple(entry for entry in site.files if entry.feeds in ("land", "sea", "bed_elevation"))


def _entries(folder: Path, tables: dict[str, object], faults: list[Fault]) -> list[FileEntry]:
    from layers.site_schema import FileTable
    from layers.textfile import validate

    entries = []
    for name, document in tables.items():
        table = validate(FileTable, document, f"files.{name}", faults)
        if table is None:
            continue
        given = table.model_dump(exclude={"file", "sensitive", "plausible"})
        entry = FileEntry(
            name=name,
            path=folder / table.file,
            sensitive=FEEDS[table.feeds].sensitive if table.sensitive is None else table.sensitive,
            plausible=tuple(table.plausible) if table.plausible else None,
            **given,
        )
        feed = FEEDS[entry.feeds]
        if entry.is_raster and "raster" not in feed.forms:
            found = f'"{table.file}" would be read as a raster, and {feed.label} come as {" or ".join(feed.forms)}.'
            faults.append(Fault(f"files.{name}.file", found, "Name a vector file or a CSV."))
            continue
        if not entry.is_raster and feed.forms == ("raster",):
            found = f'"{table.file}" would be read as a vector file, and {feed.label} comes as a raster.'
            faults.append(Fault(f"files.{name}.file", found, "Name a raster, for example a GeoTIFF."))
            continue
        entries.append(entry)
    return entries


def _catchment(table: object | None, crs: str) -> CatchmentPlan | None:
    from layers.grid import Grid

    if table is None:
        return None
    grid = Grid.from_bounds(crs, table.west, table.south, table.east, table.north, table.cell)
    return CatchmentPlan(grid=grid, methods={"nitrogen": table.nitrogen, "phosphorus": table.phosphorus})


def _grid(table: object, faults: list[Fault]) -> Grid | None:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    from layers.grid import Grid

    try:
        known = CRS.from_user_input(table.crs)
    except CRSError:
        faults.append(
            Fault(
                "grid.crs",
                f'"{table.crs}" is not a known CRS.',
                'Give an authority code such as "EPSG:32755".',
            )
        )
        return None
    try:
        grid = Grid.from_bounds(table.crs, table.west, table.south, table.east, table.north, table.cell)
    except ValueError:
        faults.append(
            Fault(
                "grid.crs",
                f'"{table.crs}" ({known.name}) is not a projection in metres.',
                "Give a projected CRS, for example the site's UTM zone.",
            )
        )
        return None
    return grid if _lies_where_its_crs_holds(grid, table.crs, faults) else None


def _lies_where_its_crs_holds(grid: Grid, crs: str, faults: list[Fault]) -> bool:
    from pyproj import Transformer

    area = grid.crs.area_of_use
    if area is None:
        return True
    west, south, east, north = grid.bounds
    to_degrees = Transformer.from_crs(grid.crs, 4326, always_xy=True)
    longitude, latitude = to_degrees.transform((west + east) / 2, (south + north) / 2)
    margin = 10.0  # degrees: neighbouring zones are used by common practice, other continents are not
    if area.west - margin <= longitude <= area.east + margin and area.south - margin <= latitude <= area.north + margin:
        return True
    faults.append(
        Fault(
            "grid",
            f"the middle of the grid is at longitude {longitude:.2f}, latitude {latitude:.2f}, outside the area of "
            f"{crs}: {area.name.rstrip('.')}.",
            "Check the zone and its hemisphere, and that west and east are eastings, south and north northings.",
        )
    )
    return False
