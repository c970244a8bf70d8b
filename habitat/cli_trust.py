"""The commands on trust: `doubt` says how sure the conclusions are, `agreement` what the sightings say of the map."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_commands(commands: argparse._SubParsersAction) -> None:
    """Add the commands to the parser of `shallows`; each sets `run`."""
    from habitat.cli import _above_zero, _add_site

    sure = commands.add_parser("doubt", help="say how sure the conclusions of a site are, and what they depend on")
    _add_site(sure)
    sure.add_argument("--draws", type=_draws, default=1000, metavar="N", help="of all that is in doubt (default: 1000)")
    sure.add_argument("--seed", type=_seed, default=0, help="the same seed gives the same result (default: 0)")
    sure.add_argument(
        "--out", type=Path, metavar="FOLDER", help="folder to make, with tables and maps of chance and confidence"
    )
    sure.set_defaults(run=_doubt)

    held = commands.add_parser("agreement", help="say how well the map of a site agrees with its sightings")
    _add_site(held)
    held.add_argument(
        "--block",
        type=lambda text: _above_zero(text, "a length in metres"),
        metavar="METRES",
        help="side of the blocks of ground that are drawn again (default: 2000)",
    )
    held.add_argument("--draws", type=_draws, default=999, metavar="N", help="of the blocks (default: 999)")
    held.add_argument("--seed", type=_seed, default=0, help="the same seed gives the same result (default: 0)")
    held.add_argument("--date", metavar="YYYY-MM-DD", help="no record may be dated after it (default: today)")
    held.set_defaults(run=_agreement)


def _doubt(chosen: argparse.Namespace) -> int:
    from habitat.cli import _clear_progress, _show_progress
    from habitat.site_map import map_site

    if chosen.out is not None:
        _refuse_taken(chosen.out)  # before minutes of work, not after
    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    from habitat.doubt_folder import README, doubt_text, write_doubt
    from habitat.site_doubt import site_doubt, site_ranking

    doubt = site_doubt(found, number=chosen.draws, seed=chosen.seed, on_step=_show_progress)
    ranking = site_ranking(doubt, on_step=_show_progress)
    if chosen.out is not None:
        write_doubt(chosen.out, doubt, ranking, on_step=_show_progress)
    _clear_progress()
    print(doubt_text(doubt, ranking))
    if chosen.out is not None:
        print(f"\nWrote tables and maps to {chosen.out}. Start with {chosen.out / README}.")
    return 0


def _agreement(chosen: argparse.Namespace) -> int:
    import datetime

    from habitat.cli import _clear_progress, _print_date, _show_progress
    from habitat.site_map import map_site

    date = datetime.date.fromisoformat(_print_date(chosen.date))
    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    from habitat.site_evidence import NO_SIGHTINGS, SIDE, evidence_text, site_evidence

    side = chosen.block or SIDE
    held = site_evidence(found, as_of=date, side=side, seed=chosen.seed, draws=chosen.draws, on_step=_show_progress)
    _clear_progress()
    print(NO_SIGHTINGS if held is None else evidence_text(held))
    return 0


def _refuse_taken(folder: Path) -> None:
    from layers.atomic import refuse_unwritable
    from layers.fault import Fault, RecordError

    if folder.exists():
        raise RecordError("command line", [Fault("--out", f"{folder} exists already.", "Choose another name.")])
    if not folder.absolute().parent.is_dir():
        said = f"there is no folder {folder.parent} to make it in."
        raise RecordError("command line", [Fault("--out", said, "Make that first.")])
    refuse_unwritable(folder)


def _draws(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number of draws, 1 to 100000')
    return int(text)


def _seed(text: str) -> int:
    if not text.isdecimal() or int(text) >= 2**32:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number from 0 to {2**32 - 1}')
    return int(text)
