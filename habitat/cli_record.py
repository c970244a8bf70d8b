"""The commands on records: `record` tells of one, `reproduce` makes its map again, `compare` holds two side by side.

Exit codes beside those of every command: 0 the same, 1 not the same, 3 the same within tolerance.
"""

from __future__ import annotations

import argparse
from pathlib import Path

SAME_CODE, DIFFERENT_CODE, WITHIN_CODE = 0, 1, 3


def add_commands(commands: argparse._SubParsersAction) -> None:
    """Add the commands to the parser of `shallows`; each sets `run`, which returns an exit code."""
    tell = commands.add_parser("record", help="check a record, and say what it holds")
    tell.add_argument("record", type=Path, help="record.zip, or the folder of results it lies in")
    tell.set_defaults(run=_record)

    again = commands.add_parser("reproduce", help="make a map again from its record, and say whether it is the same")
    again.add_argument("record", type=Path, help="record.zip, or the folder of results it lies in")
    again.add_argument(
        "--inputs", type=Path, metavar="FOLDER", help="site folder whose files are used where it has them"
    )
    again.add_argument("--profile", metavar="FILE", help="make it with another profile, and say what that changes")
    again.add_argument(
        "--tolerance", type=_tolerance, metavar="SCORE", help="largest difference of a score (default: 0.00001)"
    )
    again.add_argument(
        "--differences", type=Path, metavar="FOLDER", help="folder to make, with maps of the differences"
    )
    again.set_defaults(run=_reproduce)

    both = commands.add_parser("compare", help="say what differs between two records, folders of results or profiles")
    both.add_argument("first", help="record, folder of results, or profile")
    both.add_argument("second", help="another of the same kind")
    both.add_argument("--differences", type=Path, metavar="FOLDER", help="folder to make, with maps of the differences")
    both.set_defaults(run=_compare)


def _record(chosen: argparse.Namespace) -> int:
    from habitat.record_file import open_record
    from habitat.record_words import record_words

    print(record_words(open_record(chosen.record)))
    return SAME_CODE


def _reproduce(chosen: argparse.Namespace) -> int:
    from habitat.cli import _clear_progress, _show_progress
    from habitat.record_file import open_record

    record = open_record(chosen.record)  # refused before the libraries for maps are read
    if chosen.differences is not None:
        _refuse_taken(chosen.differences)
    from habitat.reproduce import DIFFERENT, SAME, TOLERANCE, WITHIN, reproduce
    from habitat.reproduce_text import difference_pairs, reproduction_text

    tolerance = TOLERANCE if chosen.tolerance is None else chosen.tolerance
    made = reproduce(record, chosen.inputs, profile=chosen.profile, tolerance=tolerance, on_step=_show_progress)
    _clear_progress()
    print(reproduction_text(made))
    _write_differences(chosen.differences, difference_pairs(made) if chosen.differences else {})
    return {SAME: SAME_CODE, WITHIN: WITHIN_CODE, DIFFERENT: DIFFERENT_CODE}[made.verdict]


def _compare(chosen: argparse.Namespace) -> int:
    from habitat.compare import compare, score_pairs
    from habitat.compare_text import comparison_text

    if chosen.differences is not None:
        _refuse_taken(chosen.differences)
    comparison = compare(chosen.first, chosen.second)
    print(comparison_text(comparison))
    _write_differences(
        chosen.differences, score_pairs(chosen.first, chosen.second) if chosen.differences and comparison.maps else {}
    )
    return SAME_CODE if comparison.is_same else DIFFERENT_CODE


def _write_differences(folder: Path | None, pairs: dict) -> None:
    if folder is None:
        return
    if not pairs:
        print("\nThere is no difference to draw, so no folder of maps was made.")
        return
    from habitat.compare_maps import write_difference_maps

    write_difference_maps(folder, pairs)
    print(f"\nWrote maps of the differences to {folder}.")


def _refuse_taken(folder: Path) -> None:
    from layers.fault import Fault, RecordError

    if folder.exists():
        raise RecordError("command line", [Fault("--differences", f"{folder} exists already.", "Choose another name.")])
    if not folder.absolute().parent.is_dir():
        said = f"there is no folder {folder.parent} to make it in."
        raise RecordError("command line", [Fault("--differences", said, "Make that first.")])


def _tolerance(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number <= 1:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number from 0 to 1')
    return number
