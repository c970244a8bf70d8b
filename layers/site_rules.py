"""Rules between the tables of a site file: what is water, seasons, datums, reaches."""

from __future__ import annotations

from layers.fault import Fault
from layers.site import Site, deciding

# feeds of which a site holds one file, or one for each season
_SINGLE = ("bed_elevation", "water_level", "tide", "salinity", "water_temperature", "nutrient_load", "wind")


def check_site(site: Site, faults: list[Fault], broken: frozenset[str] = frozenset()) -> None:
    """Add every fault between the tables of a site to `faults`; tables that are `broken` are left alone."""
    checks = {"water": _check_water, "seasons": _check_seasons, "datums": _check_datums, "reach": _check_reach}
    for table, check in checks.items():
        if not broken & {table, "files"}:
            check(site, faults)


def _check_water(site: Site, faults: list[Fault]) -> None:
    deciders = deciding(site)
    names = {entry.name for entry in deciders}
    if site.decided_by is None:
        if len(deciders) > 1:
            listed = ", ".join(f'"{name}"' for name in sorted(names))
            faults.append(
                Fault(
                    "water",
                    f"{listed} can each say what is water, and nothing says which one does.",
                    "Add `decided_by` with one of these names to a table [water].",
                )
            )
        elif not deciders and not any(fault.place.startswith("files.") for fault in faults):
            faults.append(
                Fault(
                    "files",
                    "no file says what is water.",
                    "Add a file that feeds land, sea or bed_elevation.",
                )
            )
    elif site.decided_by not in names and not any(
        fault.place.startswith(f"files.{site.decided_by}") for fault in faults
    ):
        listed = ", ".join(f'"{name}"' for name in sorted(names)) or "none yet"
        faults.append(
            Fault(
                "water.decided_by",
                f'no file named "{site.decided_by}" says what is water.',
                f"Name a table under [files] that feeds land, sea or bed_elevation: {listed}.",
            )
        )


def _check_seasons(site: Site, faults: list[Fault]) -> None:
    for entry in site.files:
        if entry.season is not None and entry.season not in site.seasons:
            known = ", ".join(site.seasons) or "none; add a table [seasons]"
            faults.append(
                Fault(
                    f"files.{entry.name}.season",
                    f'"{entry.season}" is not a season.',
                    f"Known seasons: {known}.",
                )
            )
    for feeds in _SINGLE:
        seen: dict[str | None, str] = {}
        for entry in site.feeding(feeds):
            if entry.season in seen or (seen and None in {entry.season, *seen}):
                faults.append(
                    Fault(
                        f"files.{entry.name}",
                        f'"{next(iter(seen.values()))}" already feeds {feeds}.',
                        "Keep one of them, or give each a season.",
                    )
                )
            seen[entry.season] = entry.name


def _check_datums(site: Site, faults: list[Fault]) -> None:
    named = [entry for entry in site.files if entry.datum is not None]
    datums = {entry.datum for entry in named}
    if len(datums) > 1:
        for entry in named:
            if entry.datum not in site.datums:
                faults.append(
                    Fault(
                        f"files.{entry.name}.datum",
                        f'the height of "{entry.datum}" is not known, and the site uses {len(datums)} datums.',
                        "Add its height in metres above a common zero to the table [datums].",
                    )
                )


def _check_reach(site: Site, faults: list[Fault]) -> None:
    needed = {
        "stations": [
            entry for feeds in ("salinity", "water_temperature") for entry in site.feeding(feeds) if not entry.is_raster
        ],
        "nutrient_load": site.feeding("nutrient_load"),
        "vessels": site.feeding("vessel_route"),
    }
    for key, entries in needed.items():
        if entries and key not in site.reach:
            faults.append(
                Fault(
                    f"reach.{key}",
                    f"this is missing, and files.{entries[0].name} cannot be carried onto the grid without it.",
                    "Add a distance in metres to the table [reach].",
                )
            )
