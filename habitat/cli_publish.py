"""The command `publish`: a public folder of a map, checked for places of sightings before it appears."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from habitat.publish_rules import PublishingRules
    from habitat.site_map import SiteMap


def add_commands(commands: argparse._SubParsersAction) -> None:
    """Add the command to the parser of `shallows`."""
    tell = commands.add_parser("publish", help="write a public folder that gives no animal away")
    tell.add_argument("site", type=Path, help="site file or its folder, or a folder of results or its record.zip")
    tell.add_argument("--inputs", type=Path, metavar="FOLDER", help="of a record: folder of the site")
    tell.add_argument("--profile", help="profile file, or name of a shipped one (default: profile.toml of the site)")
    tell.add_argument("--cell", type=float, metavar="METRES", help="cell size instead of the site file's")
    tell.add_argument("--rules", type=Path, metavar="FILE", help="publishing.toml (default: beside the site file)")
    tell.add_argument("--former", type=Path, metavar="FILE", help="occurrences.csv that was published last")
    tell.add_argument("--key", type=Path, metavar="FILE", help="file of the secret of pseudonyms (default: none)")
    tell.add_argument("--date", metavar="YYYY-MM-DD", help="date printed on the maps (default: today)")
    tell.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="folder to make")
    tell.add_argument("--replace", action="store_true", help="replace the folder if it is an earlier publication")
    tell.set_defaults(run=run_publish)


def run_publish(chosen: argparse.Namespace) -> None:
    """Do what the command asks."""
    from habitat.cli import _clear_progress, _print_date, _show_progress
    from habitat.publish import publish
    from habitat.publish_record import is_record, map_of_record
    from habitat.publish_rules import read_rules
    from habitat.publish_seal import require_place
    from habitat.site_map import map_site
    from layers.site import site_path

    date = _print_date(chosen.date)
    require_place(chosen.out, replace=chosen.replace)  # before minutes of work, not after
    from_record = is_record(chosen.site)
    if from_record:
        _refuse_both(chosen)
    beside = chosen.inputs if from_record else site_path(chosen.site).parent
    rules = read_rules(chosen.rules or beside)
    former = None if chosen.former is None else _former(chosen.former)
    key = None if chosen.key is None else chosen.key.read_bytes()
    if from_record:
        found = map_of_record(chosen.site, chosen.inputs, on_step=_show_progress)
    else:
        found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    told = publish(
        found, chosen.out, rules, date=date, key=key, former=former, replace=chosen.replace, on_step=_show_progress
    )
    _clear_progress()
    print(f"Wrote the public folder {chosen.out}. {told}")
    learned = _learned(found, rules)
    if learned:
        print(learned)
    print("Look at it as a stranger would before it leaves your hands; whoever keeps the records decides.")
    print(f"To show it: shallows serve --public {chosen.out}")


def _learned(found: SiteMap, rules: PublishingRules) -> str:
    from habitat.publish import all_sightings
    from habitat.publish_layers import public_classes
    from habitat.publish_stranger import learned_from_classes

    seen = all_sightings(found)
    classes, dropped, _ = public_classes(found, seen, rules)
    return "" if "suitability_class" in dropped else learned_from_classes(classes["suitability_class"], seen)


def refuse_beside_public(chosen: argparse.Namespace) -> None:
    """Refuse a site or a profile beside a published folder: that server opens neither.

    Raises
    ------
    RecordError
        If one is named.
    """
    from layers.fault import Fault, RecordError

    if chosen.site is not None or chosen.profile is not None:
        fault = Fault("--public", "a site or profile is named as well.", "Name the published folder alone.")
        raise RecordError("command line", [fault])


def _refuse_both(chosen: argparse.Namespace) -> None:
    from layers.fault import Fault, RecordError

    given = [name for name in ("profile", "cell") if getattr(chosen, name) is not None]
    faults = [Fault(f"--{name}", "a record has its own.", "Leave it out, or publish from the site.") for name in given]
    if faults:
        raise RecordError("command line", faults)


def _former(path: Path) -> object:
    import pandas as pd

    from layers.fault import Fault, RecordError

    try:
        return pd.read_csv(path, dtype={"eventDate": str, "recordedBy": str, "license": str})
    except (OSError, ValueError):
        fault = Fault("--former", f"{path.name} cannot be read.", "Name the occurrences.csv that was published last.")
        raise RecordError("command line", [fault]) from None
