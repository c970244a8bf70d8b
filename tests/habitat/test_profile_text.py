from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import read_profile, shipped_profiles
from habitat.profile_text import profile_text
from tests.scoring import small_profile

WHOLE = Path(__file__).parent / "profile_whole.toml"
EVERY = [*shipped_profiles(), WHOLE]


def _read_back(text, tmp_path):
    path = tmp_path / "profile.toml"
    path.write_text(text, encoding="utf-8")
    return read_profile(path)


@pytest.mark.parametrize("name", EVERY, ids=str)
def test_an_unchanged_profile_is_the_same_text(name):
    profile = read_profile(name)
    assert profile_text(profile) == profile.text


@pytest.mark.parametrize("name", EVERY, ids=str)
def test_a_profile_without_a_file_is_written_anew(name, tmp_path):
    profile = replace(read_profile(name), text="")
    assert _read_back(profile_text(profile), tmp_path) == profile


def test_a_change_changes_its_own_line_and_keeps_every_comment():
    profile = read_profile("marine_seagrass_grazer")
    changed = profile_text(profile.with_weight("salinity", 2.5)).splitlines()
    before = profile.text.splitlines()
    assert len(changed) == len(before)
    different = [(old, new) for old, new in zip(before, changed, strict=True) if old != new]
    assert different == [("weight = 1", "weight = 2.5")]


def test_a_changed_curve_is_written_one_point_a_line(tmp_path):
    profile = read_profile("marine_seagrass_grazer").with_curve("salinity", SuitabilityCurve((0, 20.5), (0.3, 1)))
    text = profile_text(profile)
    assert "points = [\n    [0, 0.3],\n    [20.5, 1],\n]" in text
    assert "# Strictly marine, fresh water not required; a broad range will do." in text
    assert _read_back(text, tmp_path) == profile


def test_a_trapezoid_stays_one_while_it_is_one(tmp_path):
    profile = read_profile(WHOLE)
    moved = profile.with_curve("feeding_time", SuitabilityCurve.trapezoid(0.1, 0.5, 1, 1))
    assert "trapezoid = [0.1, 0.5, 1, 1]" in profile_text(moved)
    other = profile.with_curve("feeding_time", SuitabilityCurve((0, 1), (0.2, 0.8)))
    assert "trapezoid" not in profile_text(other)
    assert _read_back(profile_text(other), tmp_path) == other


def test_everything_that_can_change_reads_back(tmp_path):
    profile = read_profile(WHOLE)
    changed = replace(
        profile.with_curve("dredging", SuitabilityCurve((0, 100, 500), (1, 1, 0))).with_curve(
            "nutrients", SuitabilityCurve((0, 5), (0, 1))
        ),
        title='A "quoted" título',
        rule="limiting factor",
        may_lack=0,
        essential=(),
        feeding_depth=(0.25, 2.0),
        suitability_breaks=(0.2, 0.9),
        threat_may_lack=1,
    )
    assert _read_back(profile_text(changed), tmp_path) == changed


def test_a_stated_doubt_is_kept_changed_and_taken_out_again(tmp_path):
    profile = read_profile("estuarine_grazer")
    salinity = next(factor for factor in profile.factors if factor.name == "salinity")
    doubt = replace(salinity.doubt, threshold=4.5)

    def having(changed):
        kept = tuple(changed if factor.name == "salinity" else factor for factor in profile.factors)
        return replace(profile, factors=kept)

    text = profile_text(having(replace(salinity, doubt=doubt)))
    lines = zip(text.splitlines(), profile.text.splitlines(), strict=True)
    ((new, old),) = [(new, old) for new, old in lines if new != old]
    assert new == old.replace("threshold = 3,", "threshold = 4.5,") != old
    without = having(replace(salinity, doubt=None))
    assert _read_back(profile_text(without), tmp_path) == without
    again = _read_back(profile_text(replace(having(salinity), text=profile_text(without))), tmp_path)
    assert again == profile


def test_a_part_left_out_leaves_the_file_and_a_new_one_joins_it(tmp_path):
    profile = read_profile(WHOLE)
    fewer = replace(profile, factors=profile.factors[:2], pressures=profile.pressures[:1])
    text = profile_text(fewer)
    assert "[factors.ground]" not in text
    assert _read_back(text, tmp_path) == fewer
    more = replace(profile, pressures=(*profile.pressures, small_profile().pressures[2]))
    assert _read_back(profile_text(more), tmp_path) == more
    without = replace(profile, pressures=())
    assert _read_back(profile_text(without), tmp_path) == without


@settings(max_examples=40, deadline=None)
@given(st.floats(0.001, 1000), st.floats(0, 1), st.floats(0, 900), st.floats(901, 5000))
def test_any_number_reads_back_to_the_bit(tmp_path_factory, weight, share, full, reach):
    profile = read_profile(WHOLE).with_weight("ground", weight).with_weight("dredging", share)
    profile = profile.with_curve("dredging", Fade(full, reach, "gaussian"))
    assert _read_back(profile_text(profile), tmp_path_factory.mktemp("p")) == profile
