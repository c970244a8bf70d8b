"""Numbers of a profile that the layers need: light, and where a boat strikes."""

from __future__ import annotations

import re

import pytest
from pytest import approx

from habitat.profile import read_profile, shipped_profiles
from habitat.profile_numbers import NUMBER_TABLES, FeedingDepthTable, LightTable, StrikingTable
from layers.fault import ProfileError
from layers.textfile import validate

SOURCED = {"source": "a test"}
LIGHT = {
    "water": (0.32, "1/m"),
    "per_chlorophyll": (0.016, "m2/mg"),
    "per_solids": (0.094, "m2/g"),
    "secchi_product": (1.45, "1"),
    "chlorophyll_per_nitrogen": (24.0, "ug/mg"),
    "requirement": (0.24, "1"),
}


def refused(model, document):
    faults = []
    validate(model, document, "table", faults)
    return [str(fault) for fault in faults]


def number(value, units):
    return {"value": value, "units": units} | SOURCED


@pytest.mark.parametrize("key", LIGHT)
def test_a_number_of_the_light_alone_is_enough(key):
    faults = []
    table = validate(LightTable, {key: number(*LIGHT[key])}, "light", faults)
    assert faults == []
    assert getattr(table, key).value == LIGHT[key][0]
    assert all(getattr(table, other) is None for other in LIGHT if other != key)


@pytest.mark.parametrize(
    ("key", "value", "units", "said"),
    [
        (
            "water",
            0.0032,
            "1/cm",
            'the unit is "1/cm", and "1/m" is needed here. Convert the number and write units = "1/m".',
        ),
        ("water", 0.0, "1/m", "0 1/m is out of bounds. Give more than 0 and at most 100 1/m."),
        ("per_solids", -0.1, "m2/g", "-0.1 m2/g is out of bounds. Give 0 to 10 m2/g."),
        (
            "requirement",
            24.0,
            "1",
            "24 is out of bounds. Give more than 0 and at most 0.999. It is a share of 1: 30 % is 0.3.",
        ),
        (
            "requirement",
            1.0,
            "1",
            "1 is out of bounds. Give more than 0 and at most 0.999. It is a share of 1: 30 % is 0.3.",
        ),
        (
            "requirement",
            24.0,
            "percent",
            'the unit is "percent", and "1" is needed here. Convert the number and write units = "1".',
        ),
    ],
)
def test_a_number_in_another_unit_or_out_of_bounds_is_refused(key, value, units, said):
    # a profile is written again by the pages, so its numbers stand in the unit they are used in
    assert refused(LightTable, {key: number(value, units)}) == [f"table.{key}: {said}"]


def test_striking_is_told_whole_or_not_at_all():
    depth, share = number(1.5, "m"), number(0.47, "1")
    assert refused(StrikingTable, {"depth": depth, "share_when_deep": share}) == []
    assert refused(StrikingTable, {"depth": depth}) == [
        "table.share_when_deep: this is missing. Add `share_when_deep`."
    ]
    assert refused(StrikingTable, {"share_when_deep": share}) == ["table.depth: this is missing. Add `depth`."]
    assert len(refused(StrikingTable, {"depth": number(0, "m"), "share_when_deep": number(47, "1")})) == 2


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_an_animal_may_be_never_or_always_within_reach(share):
    assert refused(StrikingTable, {"depth": number(1.5, "m"), "share_when_deep": number(share, "1")}) == []


def test_feeding_depths_are_a_range_with_a_source():
    good = {"shallowest": 0.5, "deepest": 3.0, "units": "m"} | SOURCED
    assert refused(FeedingDepthTable, good) == []
    assert refused(FeedingDepthTable, good | {"deepest": 0.5}) == [
        "table: shallowest is 0.5 m and deepest is 0.5 m. Shallowest must be less than deepest."
    ]
    assert len(refused(FeedingDepthTable, good | {"shallowest": -1.0})) == 1
    assert len(refused(FeedingDepthTable, good | {"units": "ft"})) == 1
    assert refused(FeedingDepthTable, good | {"source": " "}) == [
        'table.source: this is empty. Say where the numbers come from, or say "expert judgement".'
    ]


@pytest.mark.parametrize("name", shipped_profiles())
def test_a_shipped_profile_gives_its_numbers_under_their_tables(name):
    profile = read_profile(name)
    assert {key.partition(".")[0] for key in profile.amounts} <= set(NUMBER_TABLES)
    assert all(amount.source.strip() and amount.file for amount in profile.amounts.values())
    # a share of the light that plants live on: 10 to 30 % of the surface in most, up to 37 % (Kenworthy & Fonseca
    # 1996, Estuaries 19:740-750)
    assert 0.1 <= profile.amounts["light.requirement"].value <= 0.37


def test_the_numbers_of_the_marine_grazer_are_those_of_their_sources():
    amounts = read_profile("marine_seagrass_grazer").amounts
    # Kd = 0.32 + 0.016 chlorophyll + 0.094 solids: Gallegos 2001, Batiuk et al. 2000, Chesapeake Bay (from memory);
    # 15 ug/L and 15 mg/L give 1.970 /m, computed
    fading = sum(
        amounts[f"light.{key}"].value * held
        for key, held in (("water", 1), ("per_chlorophyll", 15), ("per_solids", 15))
    )
    assert fading == approx(1.970, abs=5e-4)
    # 47 % of the day within 1.5 m of the surface: Chilvers et al. 2004, J Exp Mar Biol Ecol 304:203-224, as quoted in
    # the profile
    assert (amounts["striking.depth"].value, amounts["striking.share_when_deep"].value) == (1.5, 0.47)


def test_every_faulty_number_of_a_profile_is_told_at_once(tmp_path):
    text = read_profile("marine_seagrass_grazer").text
    for old, new in (
        (r"requirement = \{ value = 0\.24", "requirement = { value = 24"),
        (r"per_solids = \{", "per_solid = {"),
        (r"depth = \{ value = 1\.5, units = \"m\"", 'depth = { value = 1.5, units = "ft"'),
    ):
        text, count = re.subn(rf"(?m)^{old}", new, text)
        assert count == 1, old
    path = tmp_path / "profile.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as refused:
        read_profile(path)
    assert [fault.place for fault in refused.value.faults] == ["light.requirement", "light.per_solid", "striking.depth"]
