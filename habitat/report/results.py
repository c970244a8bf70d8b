"""The folder of results: what `shallows map` leaves behind, whole or not at all.

Rasters, one NetCDF with everything, zones and classes as polygons, tables, maps, the site file and profile that
were used, a README, and a record to check it by and to make it again from. Where animals were seen is in none of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.record_file import OLD_RECORD_FILE, RECORD_FILE
from habitat.report.account import readme_text, site_attributes
from layers.atomic import refuse_unwritable, whole_folder
from layers.fault import Fault, RecordError
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


@dataclass(frozen=True, kw_only=True)
class _Made:
    """What the results do not hang on."""

    date: str
    author: str
    reason: str


def refuse_existing(folder: str | Path, *, replace: bool = False) -> None:
    """Refuse a place that results cannot be written to.

    Raises
    ------
    RecordError
        If the folder it lies in does not exist or takes nothing; if it exists and is not to be replaced; if it is
        to be replaced and does not hold results: nothing else is ever deleted.
    """
    folder = Path(folder).absolute()
    if not folder.parent.is_dir():
        _refuse(folder, f"there is no folder {folder.parent.name or folder.parent} to make it in.", "Make that first.")
    if not folder.exists():
        refuse_unwritable(folder)
        return
    if not replace:
        _refuse(folder, "exists already.", "Choose another name, or replace it with --replace.")
    records = [(folder / name).is_file() for name in (RECORD_FILE, OLD_RECORD_FILE)]
    if not folder.is_dir() or (any(folder.iterdir()) and not any(records)):
        _refuse(
            folder,
            f"exists and is not a folder of results: it has no {RECORD_FILE}.",
            "Choose another name; only results are replaced.",
        )


def write_results(
    folder: str | Path,
    found: SiteMap,
    *,
    date: str,
    author: str = "",
    reason: str = "",
    replace: bool = False,
    on_step: OnStep = ignore,
) -> None:
    """Write everything that was found out about a site.

    Parameters
    ----------
    folder : path
        To make.
    found : SiteMap
        Inputs, layers, profile and assessment.
    date : str
        Date of print, for the maps.
    author, reason : str
        Who answers for the results, by default whom the site file names, and what they were made for; both stand in
        the record, outside what it seals.
    replace : bool
        Whether a folder of earlier results may be replaced.
    on_step : callable
        Told of each step before it starts.

    Raises
    ------
    RecordError
        If the folder cannot be written, see `refuse_existing`.
    """
    refuse_existing(folder, replace=replace)
    made = _Made(date=date, author=author or found.inputs.site.author, reason=reason)
    with whole_folder(folder, replace=replace) as unfinished:
        for number, (label, write) in enumerate(_PARTS, start=1):
            on_step(Step(number, len(_PARTS), f"writing {label}"))
            write(unfinished, found, made)


def _write_rasters(folder: Path, found: SiteMap, made: _Made) -> None:
    from habitat.report.rasters import write_rasters

    write_rasters(folder / "rasters", found)


def _write_netcdf(folder: Path, found: SiteMap, made: _Made) -> None:
    from layers.netcdf import write_netcdf

    everything = found.layers.assign(dict(found.assessment.data_vars))
    write_netcdf(everything, folder / "results.nc", attributes=site_attributes(found))


def _write_tables(folder: Path, found: SiteMap, made: _Made) -> None:
    from habitat.report.tables import write_polygons, write_tables

    write_tables(folder / "tables", found)
    write_polygons(folder / "zones.gpkg", found)


def _write_maps(folder: Path, found: SiteMap, made: _Made) -> None:
    from habitat.report.sheets import write_maps

    write_maps(folder / "maps", found, date=made.date)


def _write_account(folder: Path, found: SiteMap, made: _Made) -> None:
    from habitat.profile_text import profile_text

    (folder / "site.toml").write_bytes(found.inputs.site.path.read_bytes())
    (folder / "profile.toml").write_text(profile_text(found.profile), encoding="utf-8", newline="")
    (folder / "README.txt").write_text(readme_text(found), encoding="utf-8")


def _write_sealed(folder: Path, found: SiteMap, made: _Made) -> None:
    from habitat.record import write_record

    write_record(folder / RECORD_FILE, found, date=made.date, author=made.author, reason=made.reason, files=folder)


_PARTS: tuple[tuple[str, Callable[[Path, SiteMap, _Made], None]], ...] = (
    ("rasters", _write_rasters),
    ("results.nc", _write_netcdf),
    ("tables and polygons", _write_tables),
    ("maps", _write_maps),
    ("the account", _write_account),
    ("the record", _write_sealed),
)


def _refuse(folder: Path, found: str, remedy: str) -> None:
    raise RecordError(folder.name, [Fault(folder.name, found, remedy)])
