"""The `shallows` command: a thin face on the functions of `habitat` and `layers`.

Nothing heavy is imported before a command is chosen. Results go to stdout, progress to stderr. Exit codes: 0 done
or the same, 1 not the same, 2 a fault the user can mend, 3 the same within tolerance, 130 stopped by the user.
"""

from __future__ import annotations

import argparse
import signal
import sys
from pathlib import Path
from typing import NoReturn

DONE, FAULT, STOPPED = 0, 2, 130


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    # a stop by the system cleans up like one by the keyboard, also where a shell started us deaf to the latter
    for stop in (signal.SIGINT, signal.SIGTERM):
        signal.signal(stop, signal.default_int_handler)
    from layers.fault import FaultyFileError

    try:
        chosen = _parser().parse_args(arguments)
        return chosen.run(chosen) or DONE
    except FaultyFileError as fault:
        _clear_progress()
        print(fault, file=sys.stderr)
        return FAULT
    except KeyboardInterrupt:
        _clear_progress()
        print("Stopped. Nothing was left half-written.", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:
        # the reader of our output has had enough (`shallows check ... | head`)
        sys.stderr.close()
        return DONE


class _Parser(argparse.ArgumentParser):
    """Says a slip in the arguments as every other fault is said."""

    def error(self, message: str) -> NoReturn:
        from layers.fault import Fault, RecordError

        where, _, found = message.removeprefix("argument ").partition(": ")
        if message.startswith("the following"):
            where, found = found, "this is missing"
        elif message.startswith("unrecognized"):
            where, found = found, "this is not known"
        elif found.startswith("invalid choice"):
            found = 'there is no "{}"'.format(found.split("'")[1])
        raise RecordError("command line", [Fault(where, f"{found}.", f"See: {self.prog} --help")])


def _parser() -> argparse.ArgumentParser:
    from habitat.cli_appraise import add_arguments
    from habitat.cli_publish import add_commands as add_publish_commands
    from habitat.cli_record import add_commands as add_record_commands
    from habitat.cli_trust import add_commands as add_trust_commands
    from layers import __version__

    parser = _Parser(
        prog="shallows",
        description="Habitat and water-quality risk maps for large shallow-water grazing mammals.",
        epilog="Screening-level evidence: local law and licensed practice decide.",
    )
    parser.add_argument("--version", action="version", version=f"shallows {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    new = commands.add_parser("new", help="write a commented starter site")
    new.add_argument("folder", type=Path, help="folder to make")
    new.add_argument("--around", type=Path, metavar="FILE", help="raster or vector file whose extent the grid takes")
    new.add_argument("--cell", type=_metres, metavar="METRES", help="side of a cell (with --around)")
    new.add_argument("--profile", default="marine_seagrass_grazer", help="shipped profile to start from")
    new.set_defaults(run=_new)

    demo = commands.add_parser("demo", help="write the invented site, with three proposals")
    demo.add_argument("folder", type=Path, help="folder to make")
    demo.add_argument("--cell", type=_metres, default=40.0, metavar="METRES", help="40 (coarse, default) or 10 (fine)")
    demo.set_defaults(run=_demo)

    check = commands.add_parser("check", help="say what is wrong with a site, or what its layers hold")
    _add_site(check)
    check.add_argument("--layer", metavar="NAME", help="print the recipe of one layer: files, functions, numbers")
    check.set_defaults(run=_check)

    draw = commands.add_parser("map", help="write all results of a site into a folder")
    _add_site(draw)
    draw.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="folder to make")
    draw.add_argument("--replace", action="store_true", help="replace the folder if it is there")
    draw.add_argument("--date", metavar="YYYY-MM-DD", help="date printed on the maps (default: today)")
    draw.add_argument("--author", default="", help="who answers for the results (default: whom the site file names)")
    draw.add_argument("--reason", default="", help="what they are made for, kept in their record")
    draw.set_defaults(run=_map)

    weigh = commands.add_parser("appraise", help="say what a development proposal does to the habitat")
    _add_site(weigh)
    add_arguments(weigh, _above_zero)
    weigh.set_defaults(run=_appraise)

    blank = commands.add_parser("template", help="write an empty proposal of one kind, to be filled in")
    blank.add_argument("site", type=Path, help="site file or its folder")
    blank.add_argument("kind", help='kind of feature, such as "dredged area"')
    blank.add_argument("--out", type=Path, required=True, metavar="FILE", help="GeoJSON file to write")
    blank.set_defaults(run=_template)

    add_record_commands(commands)
    add_trust_commands(commands)
    add_publish_commands(commands)

    serve = commands.add_parser("serve", help="open the pages of a site, or of the invented one")
    serve.add_argument("site", type=Path, nargs="?", help="site file or its folder (default: the invented site)")
    serve.add_argument("--public", type=Path, metavar="FOLDER", help="show a published folder to everybody, no site")
    serve.add_argument("--profile", help="profile file, or name of a shipped one")
    serve.add_argument("--port", type=_port, default=5010, help="default: 5010; 0 takes any free one")
    serve.add_argument("--address", default="127.0.0.1", help="default: this machine only")
    serve.add_argument("--no-browser", action="store_true", help="do not open a browser")
    serve.set_defaults(run=_serve)
    return parser


def _add_site(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, help="site file or its folder")
    parser.add_argument("--profile", help="profile file, or name of a shipped one (default: profile.toml of the site)")
    parser.add_argument("--cell", type=_metres, metavar="METRES", help="cell size instead of the site file's")


def _metres(text: str) -> float:
    return _above_zero(text, "a length in metres")


def _above_zero(text: str, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0 < number < float("inf"):
        raise argparse.ArgumentTypeError(f'"{text}" is not {what} above 0')
    return number


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f'"{text}" is not the number of a port, 0 to 65535')
    return int(text)


def _new(chosen: argparse.Namespace) -> None:
    from habitat.starter import write_starter

    written = write_starter(chosen.folder, profile=chosen.profile, around=chosen.around, cell=chosen.cell)
    print(f"Wrote {', '.join(path.name for path in written)} in {chosen.folder}.")
    print(f"Put your files there, describe them in site.toml, then: shallows check {chosen.folder}")


def _demo(chosen: argparse.Namespace) -> None:
    from habitat.starter import write_invented_site

    path = write_invented_site(chosen.folder, cell=chosen.cell, on_step=_show_progress)
    _clear_progress()
    print(f"Wrote an invented site: {path}")
    print(f"Next: shallows map {chosen.folder} --out results, or: shallows serve {chosen.folder}")


def _check(chosen: argparse.Namespace) -> None:
    from habitat.site_map import map_site

    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    _clear_progress()
    # costly to import, and not needed where there are faults
    if chosen.layer:
        from habitat.lineage import lineage_text

        print(lineage_text(found, chosen.layer))
        return
    from habitat.inventory import inventory_text

    print(inventory_text(found))


def _map(chosen: argparse.Namespace) -> None:
    from habitat.report.results import refuse_existing, write_results
    from habitat.site_map import map_site

    date = _print_date(chosen.date)
    refuse_existing(chosen.out, replace=chosen.replace)  # before minutes of work, not after
    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=_show_progress)
    write_results(
        chosen.out,
        found,
        date=date,
        author=chosen.author,
        reason=chosen.reason,
        replace=chosen.replace,
        on_step=_show_progress,
    )
    _clear_progress()
    print(f"Wrote the results to {chosen.out}. Start with {chosen.out / 'README.txt'}.")


def _appraise(chosen: argparse.Namespace) -> None:
    from habitat.cli_appraise import run_appraise

    run_appraise(chosen, _print_date(chosen.date), _show_progress, _clear_progress)


def _template(chosen: argparse.Namespace) -> None:
    from habitat.proposal_template import write_template
    from layers.inputs import read_inputs

    write_template(chosen.kind, chosen.out, read_inputs(chosen.site, on_step=_show_progress))
    _clear_progress()
    print(f"Wrote {chosen.out}. Fill it in, then: shallows appraise {chosen.site} {chosen.out}")


def _serve(chosen: argparse.Namespace) -> None:
    if chosen.public is not None:
        from habitat.cli_publish import refuse_beside_public
        from habitat.view.public import serve_public

        refuse_beside_public(chosen)
        serve_public(
            chosen.public,
            port=chosen.port,
            address=chosen.address,
            open_browser=not chosen.no_browser,
            announce=_announce,
        )
        return
    from layers.site import site_path

    if chosen.site is not None:
        site_path(chosen.site)  # missed under the name that was typed, before the pages are loaded
    from habitat.view.server import serve

    serve(
        chosen.site,
        profile=chosen.profile,
        port=chosen.port,
        address=chosen.address,
        open_browser=not chosen.no_browser,
        on_step=_show_progress,
        announce=_announce,
    )


def _announce(sentence: str) -> None:
    _clear_progress()
    print(sentence, flush=True)


def _print_date(text: str | None) -> str:
    import datetime

    from layers.fault import Fault, RecordError

    if text is None:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        fault = Fault("--date", f'"{text}" is not a date.', 'Write it like "2026-03-05".')
        raise RecordError("command line", [fault]) from None


def _show_progress(step: object) -> None:
    if sys.stderr.isatty():
        print(f"\r\033[K{step}", end="", file=sys.stderr, flush=True)
    else:
        print(step, file=sys.stderr, flush=True)


def _clear_progress() -> None:
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
