"""The command `appraise`: what a proposal does, beside what is approved, and the least change that meets limits."""

from __future__ import annotations

import argparse
from pathlib import Path

from layers.fault import Fault, RecordError

SEEKS = ("distance", "size", "season", "volume")  # as habitat.least_change.QUANTITIES, too heavy to start with


def add_arguments(weigh: argparse.ArgumentParser, number_above_zero) -> None:
    """Add what `appraise` takes beside the site; `number_above_zero(text, what)` reads a number or refuses it."""

    def above_zero(what: str):
        return lambda text: number_above_zero(text, what)

    weigh.add_argument("proposals", type=Path, nargs="+", metavar="PROPOSAL", help="vector file of what is proposed")
    weigh.add_argument(
        "--approved",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="proposal approved already: it is in place before, and its loss is told beside (may be repeated)",
    )
    weigh.add_argument("--conditions", default="starter", metavar="FILE", help="standing conditions (default: starter)")
    years = above_zero("a number of years")
    weigh.add_argument("--years", type=years, metavar="YEARS", help="years to recover (default: it never does)")
    metres, count = above_zero("a length in metres"), above_zero("a number of appraisals")
    sure = weigh.add_argument_group("how sure the loss is", "the loss under many draws of all that is in doubt")
    sure.add_argument("--draws", type=_whole(2), metavar="N", help="how many, such as 500 (default: none are made)")
    sure.add_argument("--limit", type=_units, metavar="UNITS", help="tell the chance of a loss above so many units")
    sure.add_argument("--seed", type=_whole(0), metavar="N", help="of the draws: the same gives the same (default: 0)")
    seek = weigh.add_argument_group(
        "the least change that meets limits", "with one proposal; prints all that was tried"
    )
    seek.add_argument("--seek", choices=SEEKS, help="what to change")
    seek.add_argument(
        "--at-most-loss", type=_units, metavar="UNITS", help="largest loss of habitat units in any season"
    )
    seek.add_argument("--loss-of", choices=("spared", "units"), default="spared", help="spared: of what threat leaves")
    seek.add_argument(
        "--condition", action="append", default=[], metavar="NAME", help="condition to be met (may be repeated)"
    )
    seek.add_argument("--towards", type=_bearing, metavar="DEGREES", help="from north (default: best of 8 directions)")
    seek.add_argument("--farthest", type=metres, default=3000.0, metavar="METRES", help="of a move (default: 3000)")
    seek.add_argument("--appraisals", type=count, default=120, metavar="N", help="at which it stops (default: 120)")
    weigh.add_argument("--out", type=Path, metavar="FOLDER", help="folder to make, with the report (HTML and PDF)")
    weigh.add_argument("--replace", action="store_true", help="replace the folder if it is there; notes in it are kept")
    weigh.add_argument("--author", default="", help="who answers for the report")
    weigh.add_argument("--date", metavar="YYYY-MM-DD", help="date of the report (default: today)")


def run_appraise(chosen: argparse.Namespace, date: str, show_progress, clear_progress) -> None:
    """Run the command; `date` is that of the report."""
    from habitat.conditions import read_conditions
    from habitat.site_map import map_site

    _refuse_early(chosen)
    conditions = read_conditions(chosen.conditions)
    if chosen.out is not None:
        from habitat.report.results import refuse_existing

        refuse_existing(chosen.out, replace=chosen.replace)  # before minutes of work, not after
    found = map_site(chosen.site, chosen.profile, cell=chosen.cell, on_step=show_progress)
    from habitat.appraisal import appraise
    from habitat.appraisal_account import account_of, account_text
    from habitat.approved import cumulative_changes, cumulative_text, with_approved
    from habitat.proposal import read_proposal

    approved = [read_proposal(path, found.inputs) for path in chosen.approved]
    before = with_approved(found, approved, on_step=show_progress)
    proposals = [read_proposal(path, before.inputs) for path in chosen.proposals]
    answer, variants = None, []
    if chosen.seek:
        answer, account, variants = _sought(chosen, before, proposals[0], conditions, show_progress)
    else:
        account = account_of(appraise(before, proposals, on_step=show_progress), conditions, recovery=chosen.years)
    loss_range = _range(chosen, account, show_progress)
    after = account.appraisal.together.site_map
    if chosen.out is not None:
        from habitat.report.appraisal_again import Given
        from habitat.report.appraisal_folder import write_appraisal

        write_appraisal(
            chosen.out,
            account,
            date=date,
            author=chosen.author,
            conditions_file=chosen.conditions,
            variants=variants,
            sought=answer,
            loss_range=loss_range,
            cumulative=cumulative_changes(found, before, after) if approved else None,
            given=Given(approved=approved, words=_further_words(chosen)),
            replace=chosen.replace,
            on_step=show_progress,
        )
    clear_progress()
    if answer is not None:
        from habitat.least_change_words import least_change_text

        print(f"{least_change_text(answer)}\n\nThe account of {account.appraisal.proposals[0].name} as it was given:\n")
    print(account_text(account))
    if loss_range is not None:
        from habitat.appraisal_range import sentences

        print("\n" + "\n".join(["How sure the loss is", *sentences(loss_range)]))
    if approved:
        print(f"\n{cumulative_text(found, before, after, [one.name for one in approved])}")
    if chosen.out is not None:
        print(f"\nWrote the report to {chosen.out}. Start with {chosen.out / 'report.pdf'}.")


def _range(chosen: argparse.Namespace, account, show_progress):
    """How sure the loss is, where that was asked; else None."""
    if chosen.draws is None:
        return None
    from habitat.appraisal_range import range_of_loss

    return range_of_loss(
        account.appraisal, draws=chosen.draws, seed=chosen.seed or 0, limit=chosen.limit, on_step=show_progress
    )


def _sought(chosen: argparse.Namespace, before, proposal, conditions, show_progress):
    """The answer of the search, the account of what was handed in, and those of the changes worth comparing with it."""
    from habitat.least_change import Limits, least_change
    from habitat.least_change_accounts import given_and_changed
    from layers.fault import FaultyFileError, told_as_fault

    try:
        answer = least_change(
            before,
            proposal,
            Limits(at_most_loss=chosen.at_most_loss, of=chosen.loss_of, conditions=tuple(chosen.condition)),
            conditions,
            quantity=chosen.seek,
            bearing=chosen.towards,
            farthest=chosen.farthest,
            most=int(chosen.appraisals),
            recovery=chosen.years,
            on_step=show_progress,
        )
        return answer, *given_and_changed(answer, conditions, recovery=chosen.years)
    except FaultyFileError:
        raise
    except ValueError as refusal:
        raise RecordError("command line", [told_as_fault("--seek", refusal)]) from None


def _refuse_early(chosen: argparse.Namespace) -> None:
    """Refuse, before minutes of work, half a search, files given twice, and files that are not to be opened."""
    faults = []
    limits = chosen.at_most_loss is not None or chosen.condition
    if chosen.seek and not limits:
        faults.append(Fault("--seek", "no limit is given.", "Add --at-most-loss or --condition."))
    if limits and not chosen.seek:
        faults.append(Fault("command line", "a limit is given and nothing is sought.", "Add --seek."))
    if chosen.seek and len(chosen.proposals) > 1:
        found = f"{len(chosen.proposals)} proposals are given, and one is changed at a time."
        faults.append(Fault("--seek", found, "Give the others with --approved."))
    if chosen.draws is None and (chosen.limit is not None or chosen.seed is not None):
        faults.append(Fault("command line", "--limit and --seed are of draws, and none are made.", "Add --draws."))
    names = [path.name for path in (*chosen.approved, *chosen.proposals)]
    for name in sorted({name for name in names if names.count(name) > 1}):
        faults.append(Fault(name, "two files have this name.", "Rename one, or leave it out."))
    if faults:
        raise RecordError("command line", faults)
    from habitat.proposal_file import unfit
    from layers.fault import ProposalError

    for path in (*chosen.approved, *chosen.proposals):
        if (fault := unfit(path)) is not None:
            raise ProposalError(path.name, [fault])


def _further_words(chosen: argparse.Namespace) -> list[str]:
    """The options of the draws and of the search, so that the report can print the whole command."""
    words = []
    if chosen.draws is not None:
        words += ["--draws", str(chosen.draws), "--seed", str(chosen.seed or 0)]
        words += [] if chosen.limit is None else ["--limit", f"{chosen.limit:.10g}"]
    if not chosen.seek:
        return words
    words += ["--seek", chosen.seek, "--loss-of", chosen.loss_of]
    words += [] if chosen.at_most_loss is None else ["--at-most-loss", f"{chosen.at_most_loss:.10g}"]
    for name in chosen.condition:
        words += ["--condition", name]
    words += [] if chosen.towards is None else ["--towards", f"{chosen.towards:.10g}"]
    return [*words, "--farthest", f"{chosen.farthest:.10g}", "--appraisals", f"{chosen.appraisals:.10g}"]


def _whole(least: int):
    """A reader of a whole number, so many or more."""

    def read(text: str) -> int:
        if not (text.isascii() and text.isdigit() and int(text) >= least):
            raise argparse.ArgumentTypeError(f'"{text}" is not a whole number, {least} or more')
        return int(text)

    return read


def _units(text: str) -> float:
    return _within(text, 0, float("inf"), "a number of habitat units, 0 or more")


def _bearing(text: str) -> float:
    return _within(text, 0, 360, "a direction from 0 to 360 degrees")


def _within(text: str, least: float, most: float, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not least <= number <= most or number == float("inf"):
        raise argparse.ArgumentTypeError(f'"{text}" is not {what}')
    return number
