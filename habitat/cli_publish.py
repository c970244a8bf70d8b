"""The command `publish`: a public folder of a map, checked for places of sightings before it appears."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_commands(commands: argparse._SubParsersAction) -> None:
    """Add the command to the parser of `shallows`."""
    tell = commands.add_parser("publish", help="write a public folder that gives no animal away")
    tell.add_argument("site", type=Path, help="site file or its folder")
    tell.add_argument("--profile", help="profile file, or name of a shipped one (default: profile.toml of the site)")
    tell.add_argument("--cell", type=float, metavar="METRES", help="cell size instead of the site file's")
    tell.add_argument("--rules", type=Path, metavar="FILE", help="publishing.toml (default: beside the site file)")
    tell.add_argument("--former", type=Path, metavar="FILE", help="occurrences.csv that was published last")
    tell.add_argument("--key", type=Path, metavar="FILE", help="file of the secret of pseudonyms (default: none)")
    tell.add_argument("--date", metavar="YYYY-MM-DD", help="date printed on the maps (default: today)")
    tell.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="folder to make")
    tell.set_defaults(run=run_publish)


def run_publish(chosen: argparse.Namespace) -> None:
    """Do what the command asks."""
    from habitat.cli import _clear_progress, _print_date, _show_progress
    from habitat.publish import publish
    from habitat.publish_rules import read_rules
    from habitat.report.results import refuse_existing
    from habitat.site_map import map_site
    from layers.site import site_path

    date = _print_date(chosen.date)
    refuse_existing(chosen.out)  # before minutes of work, not after
    rules = read_rules(chosen.rules or site_path(chosen.site).parent)
    former = None if chosen.former is None else _former(chosen.former)
    key = None if chosen.key is None else chosen.key.read_bytes()
    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    told = publish(found, chosen.out, rules, date=date, key=key, former=former, on_step=_show_progress)
    _clear_progress()
    print(f"Wrote the public folder {chosen.out}. {told}")
    print("Look at it as a stranger would before it leaves your hands; whoever keeps the records decides.")


def _former(path: Path) -> object:
    import pandas as pd

    from layers.fault import Fault, RecordError

    try:
        return pd.read_csv(path, dtype={"eventDate": str, "recordedBy": str, "license": str})
    except (OSError, ValueError):
        fault = Fault("--former", f"{path.name} cannot be read.", "Name the occurrences.csv that was published last.")
        raise RecordError("command line", [fault]) from None
