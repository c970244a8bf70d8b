import tomllib
from pathlib import Path

import jsonschema
import pytest

from habitat.profile import read_profile, shipped_profiles
from habitat.profile_schema import json_schema
from layers.fault import ProfileError

HERE = Path(__file__).parent
WHOLE = (HERE / "profile_whole.toml").read_text(encoding="utf-8")
FAULTS = tomllib.loads((HERE / "profile_faults.toml").read_text(encoding="utf-8"))["fault"]


def _faults(path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as error:
        read_profile(path)
    return [str(fault) for fault in error.value.faults]


NAMES = [" ".join(case["as"].split())[:40] or f"without {case['write'][:20]}" for case in FAULTS]


@pytest.mark.parametrize("case", FAULTS, ids=NAMES)
def test_a_fault_is_told_word_for_word(case, tmp_path):
    assert WHOLE.count(case["write"]) == 1
    assert _faults(tmp_path / "profile.toml", WHOLE.replace(case["write"], case["as"])) == case["says"]


def test_all_faults_are_told_at_once(tmp_path):
    text = WHOLE
    for old, new in (
        ("format = 1", "format = 3"),
        ("[10, 0]]", "[2, 0]]"),
        ("trapezoid = [0, 0.5, 1, 1]", "trapezoid = [0, 0.5]"),
        ('essential = ["water_depth"]', 'essential = ["food"]'),
        ("reach = 2000", "reach = -5"),
        ("breaks = [0.25, 0.6]", "breaks = [0.25]"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    assert [fault.split(":")[0] for fault in _faults(tmp_path / "p.toml", text)] == [
        "format",
        "factors.water_depth.points",
        "factors.feeding_time.trapezoid",
        "pressures.dredging.reach",
        "classes.threat.breaks",
        "suitability.essential",
    ]


@pytest.mark.parametrize("text", [WHOLE, *shipped_profiles()])
def test_editors_are_given_a_schema_that_a_profile_passes(text):
    document = tomllib.loads(text if text is WHOLE else read_profile(text).text)
    jsonschema.Draft202012Validator(json_schema()).validate(document)


@pytest.mark.parametrize(("key", "value"), [("rule", "harmonic"), ("may_lack", -1), ("rules", 1)])
def test_editors_are_given_a_schema_that_a_fault_fails(key, value):
    document = tomllib.loads(WHOLE)
    document["suitability"][key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(json_schema()).validate(document)
