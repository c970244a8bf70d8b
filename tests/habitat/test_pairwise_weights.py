"""Judgements from files, and what three invented people come to."""

import numpy as np
import pytest

from habitat.pairwise_file import read_judgements
from habitat.pairwise_weights import GROUP, judged_weights, with_judged_weights
from habitat.profile import read_profile, write_profile
from layers.demo import judgements as demo
from layers.fault import ProfileError

NAMES = ("forage", "water_depth", "water_temperature", "shelter")


@pytest.fixture
def write(tmp_path):
    def writing(text, name="judgements.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return writing


@pytest.fixture
def invented(write):
    return read_judgements(write(demo.TABLE))


def test_the_invented_file_holds_three_people_one_of_whom_makes_a_slip(invented):
    assert invented.names == NAMES and list(invented.people) == ["ecologist", "fisher", "ranger"]
    with pytest.raises(ProfileError) as refused:
        judged_weights(invented)
    (fault,) = refused.value.faults
    assert fault.place == "judgements of ranger"
    assert '"forage" is said to be 1/5 times as important as "shelter"; the other judgements imply ' in fault.found
    assert "0.1 is the most" in fault.found and "Saaty 1980" in fault.found and "say why" in fault.remedy


def test_with_a_reason_the_slip_is_used_and_said(invented):
    judged = judged_weights(invented, accepted={"ranger": "he could not be asked again"})
    assert judged.people.loc["ecologist"].idxmax() == "forage" and judged.people.loc["fisher"].idxmax() == "water_depth"
    assert judged.consistency["ranger"].ratio > 0.1 > judged.consistency["fisher"].ratio
    odd = judged.odd["ranger"]
    assert (odd.first, odd.second) == ("forage", "shelter") and odd.fitting > 3 and odd.ratio_then < 0.1
    said = " ".join(judged.sentences)
    assert "used all the same: he could not be asked again" in said and "do not agree on what matters most" in said
    np.testing.assert_allclose(judged.people.sum(axis=1), 1)
    assert judged.weights.sum() == pytest.approx(1)


def test_the_group_of_consistent_people_is_the_geometric_mean_of_their_weights(write):
    # closed form: of consistent matrices, the geometric mean of the comparisons is that of the weights
    text = "# asked at the landing, invented\nperson,first,second,times_as_important\n"
    text += "one,a,b,2\none,a,c,4\none,b,c,2\ntwo,a,b,1/2\ntwo,a,c,1/4\ntwo,b,c,1/2\n"
    judged = judged_weights(read_judgements(write(text)))
    assert judged.weights.to_dict() == pytest.approx({"a": 1 / 3, "b": 1 / 3, "c": 1 / 3})
    assert judged.people.loc["one"].tolist() == pytest.approx([4 / 7, 2 / 7, 1 / 7])
    spread = judged.spread
    assert spread.loc["a", ["least", "most"]].tolist() == pytest.approx([1 / 7, 4 / 7])
    assert spread.loc["b", "relative_spread"] == pytest.approx(0)
    assert judged.consistency[GROUP].ratio == pytest.approx(0, abs=1e-9)


def test_weights_go_into_a_profile_with_their_source_and_leave_the_rest(invented, tmp_path):
    profile = read_profile("marine_seagrass_grazer")
    judged = judged_weights(invented, accepted={"ranger": "he could not be asked again"})
    changed = with_judged_weights(profile, judged)
    before, after = ({factor.name: factor for factor in each.factors} for each in (profile, changed))
    assert sum(after[name].weight for name in NAMES) == pytest.approx(
        sum(before[name].weight for name in NAMES), abs=0.01
    )
    ratio = after["forage"].weight / after["shelter"].weight
    assert ratio == pytest.approx(judged.weights["forage"] / judged.weights["shelter"], rel=0.01)
    assert after["salinity"] == before["salinity"] and after["feeding_time"] == before["feeding_time"]
    assert "3 people, consistency ratio" in after["forage"].source and "Invented" in after["forage"].source
    assert after["forage"].source.startswith(before["forage"].source)
    assert with_judged_weights(changed, judged) == changed  # a second time changes nothing
    write_profile(changed, tmp_path / "judged.toml")
    assert read_profile(tmp_path / "judged.toml") == changed


def test_what_is_no_factor_is_refused(write):
    text = "# asked at the landing, invented\nperson,first,second,times_as_important\none,forage,dredging,2\n"
    with pytest.raises(ProfileError, match="no factor of that name"):
        with_judged_weights(read_profile("marine_seagrass_grazer"), judged_weights(read_judgements(write(text))))


def test_toml_reads_as_the_table_does(write, invented):
    lines = [line.split(",") for line in demo.TABLE.splitlines()[3:]]
    text = 'format = 1\nsource = "Invented for demonstration"\n[accepted]\nranger = "no time"\n'
    for person, first, second, times in lines:
        number = times if "/" not in times else f'"{times}"'
        text += f'[[judgement]]\nperson = "{person}"\nfirst = "{first}"\nsecond = "{second}"\n'
        text += f"times_as_important = {number}\n"
    found = read_judgements(write(text, "judgements.toml"))
    assert found.people == invented.people and found.accepted == {"ranger": "no time"}
    assert judged_weights(found).accepted == {"ranger": "no time"}


def test_every_fault_of_a_file_comes_at_once(write):
    text = (
        "person,first,second,times_as_important\n"
        "one,a,b,20\none,a,a,2\none,b,a,many\n,a,c,2\none,a,c,2\none,c,a,3\ntwo,a,b,2\ntwo,a\n"
    )
    with pytest.raises(ProfileError) as refused:
        read_judgements(write(text))
    said = str(refused.value)
    for words in (
        'line 2: times_as_important is "20"',
        'line 3: "a" is compared with itself',
        'line 4: times_as_important is "many"',
        "line 5: person is empty",
        "line 7: one compares c and a a second time",
        "line 9: it has 2 cells",
        "source: the file does not say",
        "two does not compare a and c",
    ):
        assert words in said, words


def test_a_file_that_is_not_there_or_has_no_columns_is_refused(write, tmp_path):
    for path in (tmp_path / "none.csv", tmp_path / "none.toml", write("# asked at the landing\nwho,what\nme,that\n")):
        with pytest.raises(ProfileError):
            read_judgements(path)
