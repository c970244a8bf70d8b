"""Rules between the tables of a site file: what is water, seasons, datums, reaches."""

from __future__ import annotations

from layers.fault import Fault
from layers.site import Site, deciding

# feeds of which a site holds one file, or one for each season
_SINGLE = (
    "bed_elevation",
    "water_level",
    "tide",
    "salinity",
    "water_temperature",
    "chlorophyll",
    "suspended_solids",
    "secchi_depth",
    "nitrogen_load",
    "phosphorus_load",
    "sediment_load",
    "current_east",
    "current_north",
    "terrain",
    "land_cover",
    "soil_group",
    "cover_table",
    "soil_table",
    "rain",
    "catchment",
    "catchment_outlet",
    "wind",
)
_STATIONS = (
    "salinity",
    "conductivity",
    "specific_conductance",
    "water_temperature",
    "chlorophyll",
    "suspended_solids",
    "secchi_depth",
)
# what is asked of the tables of numbers by each feed that is mixed into the water
_MIXED = {
    "nitrogen_load": ("mixing.nitrogen_loss", "background.nitrogen"),
    "phosphorus_load": ("mixing.phosphorus_loss", "background.phosphorus"),
    "sediment_load": ("mixing.sediment_settling", "background.suspended_solids"),
    "land_cover": ("mixing.nitrogen_loss", "background.nitrogen"),
    "dredge_work": (),
}
# files without which another is of no use
_TOGETHER = {
    "land_cover": ("cover_table", "soil_group", "soil_table", "rain"),
    "cover_table": ("land_cover",),
    "soil_group": ("land_cover",),
    "soil_table": ("soil_group",),
    "terrain": ("land_cover",),
    "land_cover_change": ("land_cover",),
    "catchment": ("land_cover", "catchment_outlet"),
    "catchment_outlet": ("catchment",),
    "current_east": ("current_north",),
    "current_north": ("current_east",),
}


def check_site(site: Site, faults: list[Fault], broken: frozenset[str] = frozenset()) -> None:
    """Add every fault between the tables of a site to `faults`; tables that are `broken` are left alone."""
    checks = {
        "water": _check_water,
        "seasons": _check_seasons,
        "datums": _check_datums,
        "reach": _check_reach,
        "bed": _check_bed,
        "mixing": _check_mixing,
        "vessels": _check_fixes,
        "catchment": _check_catchment,
    }
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
        "stations": [entry for feeds in _STATIONS for entry in site.feeding(feeds) if not entry.is_raster],
        "soundings": site.feeding("sounding"),
        "vessels": site.feeding("vessel_route") + site.feeding("vessel_fix"),
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


def _check_bed(site: Site, faults: list[Fault]) -> None:
    surveys = site.feeding("sounding")
    if len({entry.date for entry in surveys}) > 1 and "bed.yearly_change" not in site.amounts:
        faults.append(
            Fault(
                "bed.yearly_change",
                f"this is missing, and {len(surveys)} surveys of different dates cannot be weighed without it.",
                'Add `yearly_change = { value = ..., units = "m", source = "..." }` to the table [bed]: how far the '
                "bed moves in a year, as a standard deviation.",
            )
        )


def _check_mixing(site: Site, faults: list[Fault]) -> None:
    missing: dict[str, str] = {}
    for feeds, keys in _MIXED.items():
        for entry in site.feeding(feeds)[:1]:
            for key in ("mixing.dispersion", "mixing.least_depth", *keys):
                if key not in site.amounts:
                    missing.setdefault(key, entry.name)
            broken = any(fault.place.startswith("files.") for fault in faults)  # the bed may be among them
            if not (site.feeding("bed_elevation") or site.feeding("sounding") or broken):
                faults.append(
                    Fault(
                        f"files.{entry.name}",
                        "what is released in the water cannot be mixed into it, as no file says how deep it is.",
                        "Add a file that feeds bed_elevation or sounding.",
                    )
                )
    for key, name in missing.items():
        faults.append(
            Fault(
                key,
                f"this is missing, and files.{name} cannot be mixed into the water without it.",
                f'Add `{key.split(".")[1]} = {{ value = ..., units = "...", source = "..." }}` '
                f"to the table [{key.split('.')[0]}].",
            )
        )


def _check_fixes(site: Site, faults: list[Fault]) -> None:
    fixes = site.feeding("vessel_fix")
    if fixes and "vessels.longest_gap" not in site.amounts:
        faults.append(
            Fault(
                "vessels",
                f"this is missing, and the positions of files.{fixes[0].name} cannot be joined to tracks without it.",
                "Add a table [vessels] with longest_gap, greatest_speed and least_speed.",
            )
        )


def _check_catchment(site: Site, faults: list[Fault]) -> None:
    if any(fault.place.startswith("files.") for fault in faults):
        return  # what is missing may be among the tables with faults
    for feeds, others in _TOGETHER.items():
        for entry in site.feeding(feeds)[:1]:
            missing = [other for other in others if not site.feeding(other)]
            if missing:
                faults.append(
                    Fault(
                        f"files.{entry.name}",
                        f"this is of no use without a file that feeds {' and one that feeds '.join(missing)}.",
                        "Add it, or leave this table out.",
                    )
                )
    covers = site.feeding("land_cover")
    if covers and site.catchment is None:
        found = f"this is missing, and files.{covers[0].name} cannot be read without it."
        faults.append(Fault("catchment", found, "Add a table [catchment] with west, south, east, north and cell."))
    if covers and not (site.feeding("terrain") or site.feeding("catchment")):
        faults.append(
            Fault(
                f"files.{covers[0].name}",
                "nothing says where the land drains to.",
                "Add a file that feeds terrain, or one that feeds catchment and one that feeds catchment_outlet.",
            )
        )
    if site.feeding("terrain") and site.feeding("catchment"):
        faults.append(
            Fault(
                f"files.{site.feeding('terrain')[0].name}",
                f"files.{site.feeding('catchment')[0].name} says where the land drains to already.",
                "Keep one of them.",
            )
        )
