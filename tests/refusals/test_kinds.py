"""How many kinds of bad input are refused, and that each is told apart."""

from collections import Counter
from pathlib import Path

from tests.refusals import (
    test_many_faults,
    test_refused_catchments,
    test_refused_changes,
    test_refused_commands,
    test_refused_curves,
    test_refused_dredging,
    test_refused_grids,
    test_refused_mixing,
    test_refused_places,
    test_refused_profiles,
    test_refused_proposals,
    test_refused_rasters,
    test_refused_records,
    test_refused_shapes,
    test_refused_sites,
    test_refused_soundings,
    test_refused_tables,
    test_refused_texts,
    test_refused_units,
    test_refused_vessels,
)

MODULES = (
    test_many_faults,
    test_refused_catchments,
    test_refused_changes,
    test_refused_commands,
    test_refused_curves,
    test_refused_dredging,
    test_refused_grids,
    test_refused_mixing,
    test_refused_places,
    test_refused_profiles,
    test_refused_proposals,
    test_refused_rasters,
    test_refused_records,
    test_refused_shapes,
    test_refused_sites,
    test_refused_soundings,
    test_refused_tables,
    test_refused_texts,
    test_refused_units,
    test_refused_vessels,
)
REFUSALS = [refusal for module in MODULES for refusal in module.REFUSALS]


def test_each_kind_is_a_sentence_of_its_own():
    kinds = [refusal.kind for refusal in REFUSALS]
    assert [kind for kind, count in Counter(kinds).items() if count > 1] == []
    assert [kind for kind in kinds if len(kind.split()) < 3 or not kind[0].islower() or kind.endswith(".")] == []


def test_no_file_of_refusals_is_left_out():
    assert {path.stem for path in Path(__file__).parent.glob("test_refused_*.py")} <= {
        module.__name__.rpartition(".")[2] for module in MODULES
    }


def test_at_least_three_hundred_kinds_are_told_in_different_words():
    assert len({refusal.says for refusal in REFUSALS}) >= 300


def test_each_refusal_says_what_was_found_and_what_to_do():
    for refusal in REFUSALS:
        header, *faults = refusal.says.splitlines()
        count = "1 problem" if len(faults) == 1 else f"{len(faults)} problems"
        assert header.endswith(f": {count}"), refusal.kind
        for fault in faults:
            place, found = fault.removeprefix("  ").split(": ", 1)
            assert place, refusal.kind
            assert found.count(". ") + found.count("? ") >= 1, refusal.kind
            assert found.endswith((".", "?", "--help")), refusal.kind
