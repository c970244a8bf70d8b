import tomllib
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import pytest

from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import read_profile, shipped_profiles, write_profile
from layers.fault import ProfileError, RecordError
from layers.quantity import LAYERS
from tests.scoring import FACTORS, PRESSURES, small_profile

WHOLE = Path(__file__).parent / "profile_whole.toml"


def test_a_file_becomes_a_profile():
    profile = read_profile(WHOLE)
    assert (profile.title, profile.rule, profile.may_lack) == ("Test grazer", "weighted geometric mean", 1)
    assert profile.feeding_depth == (0.5, 3)
    assert profile.essential == ("water_depth",)
    depth, feeding, ground = profile.factors
    assert depth.curve == SuitabilityCurve((0, 1, 3, 10), (0, 1, 1, 0))
    assert depth.veto and not feeding.veto
    assert feeding.curve == SuitabilityCurve.trapezoid(0, 0.5, 1, 1)
    assert [ground.curve(code) for code in (2, 3)] == [0.6, 1]
    dredging, nutrients = profile.pressures
    assert dredging.exposure == Fade(0, 2000, "linear")
    assert nutrients.exposure(50.0) == 0.5
    assert (profile.suitability_breaks, profile.threat_breaks) == ((0.35, 0.65), (0.25, 0.6))


@pytest.mark.parametrize("name", shipped_profiles())
def test_a_shipped_profile_gives_a_source_for_every_table(name):
    profile = read_profile(name)
    document = tomllib.loads(profile.text)

    def tables(table):
        yield table
        for value in table.values():
            if isinstance(value, dict):
                yield from tables(value)

    with_numbers = [table for table in tables(document) if {"points", "breaks", "reach", "shallowest"} & set(table)]
    assert len(with_numbers) >= 15
    assert all(len(table["source"]) > 10 for table in with_numbers)
    assert set(profile.layers_needed) <= set(LAYERS)


def test_the_marine_profile_holds_the_published_numbers():
    profile = read_profile("marine_seagrass_grazer")
    parts = {part.name: part for part in (*profile.factors, *profile.pressures)}
    # Chilvers et al. 2004, J Exp Mar Biol Ecol 304:203-224, abstract: 72 % of the day within 3 m, deepest dive 20.5 m
    assert profile.feeding_depth[1] == 3.0
    assert 20.5 in parts["water_depth"].curve.values
    # Lanyon et al. 2005, Wildl Res 32:361-368, abstract: animals move elsewhere below 18 degrees, some stay below 16
    assert 0 < parts["water_temperature"].curve(16.0) < parts["water_temperature"].curve(18.0) < 1
    assert not parts["water_temperature"].veto, "18 degrees is no lethal limit"
    # Queensland Water Quality Guidelines 2006, total nitrogen of lower, middle and upper estuaries, as quoted by a
    # regional monitoring partnership [mg/L]
    assert {0.2, 0.3, 0.45} <= set(parts["nutrients"].exposure.values)
    # Kenworthy and Fonseca 1996, Estuaries 19:740-750: 24 to 37 % of the light below the surface
    assert profile.amounts["light.requirement"].value == 0.24
    # Chilvers et al. 2004: 47 % of the day within 1.5 m
    assert (profile.amounts["striking.depth"].value, profile.amounts["striking.share_when_deep"].value) == (1.5, 0.47)


def test_the_estuarine_profile_needs_fresh_water_and_says_that_no_distance_is_published():
    profile = read_profile("estuarine_grazer")
    fresh = next(factor for factor in profile.factors if factor.name == "fresh_water_distance")
    assert "fresh_water_distance" in profile.essential
    assert not fresh.veto
    assert "no published value" in fresh.source
    assert next(factor for factor in profile.factors if factor.name == "forage").curve(0.0) > 0


def test_the_canonical_order_comes_from_weights_and_names_and_not_from_the_file(tmp_path):
    text = WHOLE.read_text(encoding="utf-8")
    head, depth, rest = text.partition("[factors.water_depth]")
    block, threat, tail = rest.partition("[threat]")
    first, feeding, second = block.partition("[factors.feeding_time]")
    turned = tmp_path / "turned.toml"
    turned.write_text(head + feeding + second + depth + first + threat + tail, encoding="utf-8")
    assert [factor.name for factor in read_profile(WHOLE).factors] == ["water_depth", "feeding_time", "ground"]
    assert read_profile(turned) == read_profile(WHOLE)


def test_the_layers_needed_come_in_canonical_order_each_once():
    shared = replace(FACTORS[2], name="brackish", weight=5)
    profile = small_profile(factors=(*FACTORS, shared))
    assert profile.layers_needed == (
        "salinity",
        "water_depth",
        "seagrass_cover",
        "dredging_distance",
        "net_distance",
        "vessel_density",
    )


def test_the_reach_of_a_layer_is_the_farthest_anything_looks():
    near = replace(FACTORS[1], name="fringe", layer="net_distance", curve=SuitabilityCurve((200, 2500), (1, 0.5)))
    assert small_profile().reach_of("net_distance") == 1000
    assert small_profile(factors=(*FACTORS, near)).reach_of("net_distance") == 2500
    assert small_profile().reach_of("mangrove_distance") == 0
    with pytest.raises(ValueError, match=r"^salinity is not a distance and has no reach\.$"):
        small_profile().reach_of("salinity")


def test_a_changed_weight_is_a_changed_copy():
    profile = small_profile()
    heavier = profile.with_weight("salinity", 9)
    assert [factor.name for factor in heavier.factors] == ["salinity", "water_depth", "seagrass_cover"]
    assert profile.factors[-1].weight == 1
    assert heavier.with_weight("salinity", 1) == profile
    assert profile.with_weight("vessels", 0).pressures[-1].weight == 0
    with pytest.raises(FrozenInstanceError):
        profile.title = "other"


def test_a_changed_curve_is_a_changed_copy():
    curve, fade = SuitabilityCurve((0, 1), (1, 0)), Fade(0, 50, "gaussian")
    profile = small_profile().with_curve("salinity", curve).with_curve("nets", fade)
    assert profile.factors[-1].curve == curve
    assert profile.pressures[1].exposure == fade


@pytest.mark.parametrize(
    ("name", "weight", "sentence"),
    [
        ("salinity", -1, "the weight of salinity must be 0 or more, got -1."),
        ("salinity", float("nan"), "the weight of salinity must be 0 or more, got nan."),
        ("vessels", 1.5, "the weight of the pressure vessels must lie between 0 and 1, got 1.5."),
    ],
)
def test_a_weight_that_makes_no_sense_is_refused(name, weight, sentence):
    with pytest.raises(ValueError) as error:
        small_profile().with_weight(name, weight)
    assert str(error.value) == sentence


def test_the_last_weight_cannot_be_taken_away():
    with pytest.raises(ValueError, match=r"^at least one factor needs a weight above 0\.$"):
        small_profile(factors=FACTORS[:1]).with_weight("water_depth", 0)
    with pytest.raises(KeyError):
        small_profile().with_weight("sunshine", 1)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"\xff\xfe", "p.toml: 1 problem\n  line 1: "),
        (b'title = "Ba\xeda"', "p.toml: 1 problem\n  line 1: "),
        (b"", "p.toml: "),
    ],
)
def test_a_file_that_is_no_profile_is_refused_with_its_name(tmp_path, content, sentence):
    path = tmp_path / "p.toml"
    path.write_bytes(content)
    with pytest.raises(ProfileError) as error:
        read_profile(path)
    assert str(error.value).startswith(sentence)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "p.toml"
    path.write_bytes(b"\xef\xbb\xbf" + WHOLE.read_bytes())
    assert read_profile(path) == read_profile(WHOLE)


def test_a_profile_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(ProfileError) as error:
        read_profile("marine")
    assert str(error.value) == (
        'marine: 1 problem\n  the profile: no profile is called "marine". '
        "Give a .toml file, or one of: estuarine_grazer, marine_seagrass_grazer."
    )
    with pytest.raises(ProfileError, match="there is no file"):
        read_profile(tmp_path / "gone.toml")


def test_a_profile_is_written_whole_and_not_over_another_unasked(tmp_path):
    path = tmp_path / "mine.toml"
    profile = read_profile(WHOLE).with_weight("ground", 0.5)
    write_profile(profile, path)
    assert read_profile(path) == profile
    with pytest.raises(RecordError, match="exists already"):
        write_profile(read_profile(WHOLE), path)
    assert read_profile(path) == profile
    write_profile(read_profile(WHOLE), path, overwrite=True)
    assert read_profile(path) == read_profile(WHOLE)
    assert [entry.name for entry in tmp_path.iterdir()] == ["mine.toml"]


def test_pressures_may_be_none():
    assert small_profile(pressures=()).layers_needed == ("water_depth", "seagrass_cover", "salinity")
    assert small_profile(pressures=PRESSURES[::-1]) == small_profile()
