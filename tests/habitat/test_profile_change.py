"""A profile that was changed, saved with its reasons and read again has lost nothing."""

import itertools
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.compare_parameters import differences, parameter_changes
from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import read_profile, shipped_profiles
from habitat.profile_change import Change, argued_text, changes
from habitat.profile_mark import reasons_in
from habitat.profile_text import profile_text
from habitat.toml_list import entries_of, list_text, with_remarks, with_values

WHOLE = Path(__file__).parent / "profile_whole.toml"
share = st.floats(0, 1)
remark = st.text(st.characters(blacklist_categories=("Cc", "Cs"), blacklist_characters="\x7f\u2028\u2029"), max_size=12)


def read_text(text, folder):
    path = folder / "profile.toml"
    path.write_text(text, encoding="utf-8", newline="\n")
    return read_profile(path)


@st.composite
def remarked_texts(draw):
    """The text of a shipped profile with remarks put into it: after values, between lines, inside lists."""
    lines = read_profile(draw(st.sampled_from(shipped_profiles()))).text.splitlines()
    put = []
    for number in draw(st.sets(st.integers(0, len(lines) - 1), max_size=12)):
        said = f"# r{number}: {draw(remark)}".rstrip()
        if "#" in lines[number]:
            continue
        if draw(st.booleans()) or not lines[number].strip() or lines[number].startswith("["):
            lines[number] = f"{lines[number]}\n{said}" if draw(st.booleans()) else f"{said}\n{lines[number]}"
        else:
            lines[number] = f"{lines[number]} {said}"
        put.append(said)
    text = "\n".join(lines) + "\n"
    tomllib.loads(text)
    return text, put


def bent(draw, curve):
    """The curve with one point moved, or with one more or one fewer."""
    k = draw(st.integers(0, len(curve.values) - 1))
    points = list(zip(curve.values, curve.indices, strict=True))
    step = draw(st.sampled_from(["move", "add", "drop"]))
    if step == "move":
        points[k] = (points[k][0], draw(share))
    elif step == "add" and k:
        points.insert(k, ((points[k - 1][0] + points[k][0]) / 2, draw(share)))
    elif len(points) > 2:
        del points[k]
    return SuitabilityCurve(*zip(*points, strict=True))


@st.composite
def changed_profiles(draw, profile):
    """A profile with some of its numbers changed."""
    for part in profile.factors:
        if isinstance(part.curve, SuitabilityCurve) and draw(st.booleans()):
            profile = profile.with_curve(part.name, bent(draw, part.curve))
        if draw(st.booleans()):
            profile = profile.with_weight(part.name, draw(st.floats(0.01, 20)))
    for part in profile.pressures:
        if isinstance(part.exposure, Fade) and draw(st.booleans()):
            profile = profile.with_curve(part.name, replace(part.exposure, full=draw(st.floats(0, 99))))
        if draw(st.booleans()):
            profile = profile.with_weight(part.name, draw(share))
    vetoes = draw(st.sets(st.sampled_from([part.name for part in profile.factors])))
    return replace(
        profile,
        factors=tuple(replace(part, veto=part.name in vetoes) for part in profile.factors),
        essential=tuple(draw(st.sets(st.sampled_from([part.name for part in profile.factors]), max_size=3))),
        may_lack=draw(st.integers(0, 3)),
        rule=draw(st.sampled_from(["weighted geometric mean", "limiting factor"])),
        suitability_breaks=(draw(st.floats(0.05, 0.45)), 0.65),
        title=draw(st.sampled_from([profile.title, 'A "quoted" título'])),
    )


@settings(max_examples=12, deadline=None)
@given(st.data(), remarked_texts())
def test_a_profile_saved_reloaded_and_compared_has_lost_nothing(tmp_path_factory, data, written):
    text, put = written
    folder = tmp_path_factory.mktemp("p")
    before = read_text(text, folder)
    after = data.draw(changed_profiles(before))
    made = changes(before, after)
    reasons = {change.place: f"reason {number}: {data.draw(remark)}" for number, change in enumerate(made)}
    saved = argued_text(after, before, reasons, author="A. Diver", date="2026-05-01")
    again = read_text(saved, folder)
    assert again == after
    assert changes(after, again) == ()
    assert changes(before, again) == made
    for said in put + re.findall(r"#[^\n]*", text):
        assert said[1:].strip() in saved, said
    found = reasons_in(saved)
    for change in made:
        if change.now is not None and "points" not in change.place:
            clean = " ".join("".join(s if s.isprintable() else " " for s in reasons[change.place]).split())
            clean = clean.translate({ord("|"): "/", ord("("): "[", ord(")"): "]"})
            assert " ".join(found[change.place].split()) == f"{clean} (A. Diver, 2026-05-01)"
    assert argued_text(again, again, {}) == saved


def test_only_the_changed_lines_differ_and_say_what_they_were_and_why():
    before = read_profile("estuarine_grazer")
    salinity = next(part for part in before.factors if part.name == "salinity")
    curve = SuitabilityCurve((0, 20, 35, 45), salinity.curve.indices)
    after = before.with_weight("salinity", 2).with_curve("salinity", curve)
    reasons = {"factors.salinity.weight": "two tagged animals (of three) left brackish water"}
    saved = argued_text(after, before, reasons, author="A. Diver", date="2026-05-01").splitlines()
    assert saved[0] == ('# 2 changes from "Estuarine grazer" (A. Diver, 2026-05-01). Each is marked where it stands.')
    assert saved[1] == "# No reason is given for 1 of them: factors.salinity.points[2]."
    old = before.text.splitlines()
    different = [(was, now) for was, now in zip(old, saved[2:], strict=True) if was != now]
    assert different == [
        ("weight = 1", "weight = 2  # was 1: two tagged animals [of three] left brackish water (A. Diver, 2026-05-01)"),
        ("  [25.0, 0.8],", "  [20, 0.8],  # was [25, 0.8]: no reason given (A. Diver, 2026-05-01)"),
    ]


def test_a_second_change_keeps_the_first_reason_and_the_latest_is_read(tmp_path):
    before = read_profile("estuarine_grazer")
    first = before.with_weight("salinity", 2)
    again = read_text(argued_text(first, before, {"factors.salinity.weight": "one"}, author="A", date="d1"), tmp_path)
    second = again.with_weight("salinity", 3)
    saved = argued_text(second, again, {"factors.salinity.weight": "two"}, author="B", date="d2")
    assert "weight = 3  # was 1: one (A, d1) | was 2: two (B, d2)" in saved
    assert reasons_in(saved) == {"factors.salinity.weight": "two (B, d2)"}


def test_a_reason_that_comes_late_is_put_beside_its_change(tmp_path):
    before = read_profile("estuarine_grazer")
    first = read_text(argued_text(before.with_weight("salinity", 2), before, {}, author="A", date="d1"), tmp_path)
    assert reasons_in(first.text) == {"factors.salinity.weight": "no reason given (A, d1)"}
    later = argued_text(first, first, {"factors.salinity.weight": "brackish water"}, author="B", date="d2")
    assert "weight = 2  # was 1: no reason given (A, d1) | was 1: brackish water (B, d2)" in later
    assert read_text(later, tmp_path) == first
    again = read_text(later, tmp_path)
    assert argued_text(again, again, {"factors.salinity.weight": "other words"}, author="C") == later


def test_the_numbers_of_a_table_on_one_line_have_a_reason_each(tmp_path):
    before = read_profile("marine_seagrass_grazer")
    deeper = replace(before, feeding_depth=(0.4, 4.8), feeding_depth_source="dives: Chilvers et al. 2004")
    why = {change.place: f"reason {number}" for number, change in enumerate(changes(before, deeper))}
    assert len(why) == 3
    saved = argued_text(deeper, before, why, author="A", date="d")
    assert reasons_in(saved) == {place: f"{reason} (A, d)" for place, reason in why.items()}
    again = read_text(saved, tmp_path)
    assert again == deeper
    later = argued_text(replace(again, feeding_depth=(0.4, 5.0)), again, {"settings.feeding_depth.deepest": "new"})
    assert "deepest was 3.0: reason 1 (A, d)" in later or "deepest was 3: reason 1 (A, d)" in later
    assert reasons_in(later)["settings.feeding_depth.deepest"] == "new (unsigned)"


def test_a_new_title_needs_no_reason():
    before = read_profile("estuarine_grazer")
    saved = argued_text(replace(before, title="Mine"), before, {})
    assert saved.startswith('# 1 change from "Estuarine grazer" (unsigned).') and "No reason is given" not in saved


def test_differences_have_their_place_in_the_file():
    before = read_profile(WHOLE)
    after = replace(before, may_lack=0, feeding_depth=(0.25, 3), pressures=before.pressures[1:])
    dredging = before.pressures[0]
    found = {change.place: (change.was, change.now) for change in changes(before, after)}
    assert found["suitability.may_lack"] == (1, 0)
    assert found["settings.feeding_depth.shallowest"] == (0.5, 0.25)
    assert found["pressures.dredging"][1] is None and dredging.name == "dredging"
    assert changes(before, before) == ()


@pytest.mark.parametrize("names", list(itertools.permutations(shipped_profiles(), 2)), ids=" to ".join)
def test_reasons_and_the_lists_of_records_are_about_the_same_entries(names):
    before, after = map(read_profile, names)
    documents = [tomllib.loads(profile_text(replace(each, text=""))) for each in (before, after)]
    asked = {re.sub(r"\[\d+\]$", "", change.place) for change in changes(before, after)}
    listed = {re.sub(r"\[\d+\]$", "", change.path) for change in parameter_changes("profile", *documents)}
    assert asked and listed
    # a table that only one has is one change that asks for one reason, and in a record as many numbers as it holds
    assert {place for path in listed for place in asked if f"{path}.".startswith(f"{place}.")} == asked
    assert all(any(f"{path}.".startswith(f"{place}.") for place in asked) for path in listed)


def test_a_truth_value_is_no_number_and_a_whole_number_is_what_it_is_with_a_point():
    assert [*differences({"a": [1, {"b": 2}], "c": 1}, {"a": [1.0, {"b": 2.0}], "c": 1.0})] == []
    found = [*differences({"a": [1], "c": 1, "d": {}}, {"a": [True], "c": True, "d": {"e": 0}})]
    assert [one.place for one in found] == ["a", "c", "d.e"]


def test_a_point_more_or_fewer_is_one_change():
    before = read_profile("estuarine_grazer")
    more = before.with_curve("salinity", SuitabilityCurve((0, 10, 25, 35, 45), (1, 0.9, 0.8, 0.6, 0.3)))
    assert changes(before, more) == (Change(place="factors.salinity.points[2]", was=None, now=[10, 0.9]),)
    fewer = before.with_curve("salinity", SuitabilityCurve((0, 35, 45), (1, 0.6, 0.3)))
    (change,) = changes(before, fewer)
    assert (change.place, change.was) == ("factors.salinity.points", [[25, 0.8]])


def test_a_trapezoid_keeps_its_words_and_takes_its_mark(tmp_path):
    before = read_profile(WHOLE)
    after = before.with_curve("feeding_time", SuitabilityCurve.trapezoid(0.1, 0.5, 1, 1))
    saved = argued_text(after, before, {"factors.feeding_time.points[1]": "seen feeding"}, author="A", date="d")
    assert re.search(r"trapezoid = \[0\.1, 0\.5, 1, 1\].*was .*: seen feeding \(A, d\)", saved)
    assert read_text(saved, tmp_path) == after


LISTS = [
    "[1, 2, 3]",
    "[ [0, 1.0], # sea\n  # before the last\n  [40.0, 0.2] # land\n  # end\n]",
    "[\"a, # no remark\", 'b]']",
    "[\n  1 # one, two\n  , 2\n]",
    "[]",
    "[\n  # nothing yet\n]",
]


@pytest.mark.parametrize("text", LISTS)
def test_a_list_taken_apart_is_put_together_as_it_was(text):
    entries, end = entries_of(text)
    values = tomllib.loads(f"v = {text}")["v"]
    assert tomllib.loads(f"v = {list_text(entries, end)}")["v"] == values
    assert with_values(text, values) == list_text(entries, end)
    assert [tomllib.loads(f"v = {entry.value}")["v"] for entry in entries] == values


@pytest.mark.parametrize(
    ("text", "values", "expected"),
    [('["a", "b"]', ["a"], '["a"]'), ("[1, 2,]", [1], "[1,]"), ("[1]", [1, 2], "[1, 2]"), ("[1, 2]", [2], "[ 2]")],
)
def test_a_list_ends_as_it_ended(text, values, expected):
    assert with_values(text, values) == expected


@given(st.sampled_from(LISTS[:2] + LISTS[3:4]), st.lists(st.integers(0, 9), max_size=6), st.sets(st.integers(0, 5)))
def test_new_values_and_remarks_keep_every_remark(text, values, marked):
    changed = with_values(text, values)
    assert tomllib.loads(f"v = {changed}")["v"] == values
    for said in re.findall(r"# [^\n]*", text):
        assert said in changed
    remarks = {number: f"mark {number}" for number in marked if number < len(values)}
    final = with_remarks(changed, remarks)
    assert tomllib.loads(f"v = {final}")["v"] == values
    for number, mark in remarks.items():
        assert entries_of(final)[0][number].remark.endswith(mark)
