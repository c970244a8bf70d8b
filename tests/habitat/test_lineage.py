"""Where a layer comes from: every file with its digest, every number with its source, every layer before it."""

from __future__ import annotations

import hashlib
import importlib
import tomllib

import pytest

from habitat.lineage import WIDTH, lineage, lineage_text
from habitat.profile import read_profile
from habitat.site_map import map_site
from layers.fault import RecordError
from layers.quantity import LAYERS
from tests.sites import TABLES, site_text, write_small_site

FILES = ("coast", "bed", "tide", "seagrass", "outlets", "works", "channel", "nets")
BEHIND_FORAGE = {"coast.gpkg", "bed.tif", "tide.csv", "seagrass.gpkg", "outlets.geojson", "channel.zip"}
LIGHT = ("water", "per_chlorophyll", "per_solids", "chlorophyll_per_nitrogen", "requirement")


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = write_small_site(tmp_path_factory.mktemp("site") / "site")
    path.write_text(site_text({name: TABLES[name] for name in FILES}), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def found(path):
    return map_site(path)


@pytest.fixture(scope="module")
def forage(found):
    return lineage(found, "forage")


def test_the_layer_comes_first_and_each_of_its_ancestors_once(forage):
    names = [ancestor.name for ancestor in forage]
    assert names[0] == "forage" and len(set(names)) == len(names)
    assert [ancestor.generation for ancestor in forage] == sorted(ancestor.generation for ancestor in forage)
    assert {
        "seagrass_cover",
        "bed_light",
        "attenuation",
        "suspended_solids",
        "chlorophyll",
        "nitrogen_concentration",
        "dredge_solids",
        "bed_elevation",
        "water_depth",
        "surface",
    } <= set(names)
    assert not {"net_distance", "dredging_distance", "fetch"} & set(names)
    for ancestor in forage:
        assert set(ancestor.made_from) <= set(names), f"{ancestor.name} is made from a layer that is not told"


def test_every_file_behind_the_layer_is_named_with_the_digest_of_its_bytes(forage, path):
    told = {file: digest for ancestor in forage for file, _, digest in ancestor.files}
    assert set(told) == BEHIND_FORAGE
    for file, digest in told.items():
        assert digest == hashlib.sha256((path.parent / file).read_bytes()).hexdigest(), file
    assert {source for ancestor in forage for _, source, _ in ancestor.files} == {"written for a test"}


def test_every_number_behind_the_layer_is_told_with_its_unit_and_source(forage, path):
    told = {number for ancestor in forage for number in ancestor.numbers}
    light = tomllib.loads((path.parent / "profile.toml").read_text(encoding="utf-8"))["light"]
    for key in LIGHT:
        unit = "" if light[key]["units"] == "1" else f" {light[key]['units']}"
        assert f"light.{key} = {light[key]['value']:g}{unit} (the profile; {light[key]['source']})" in told
    site = tomllib.loads(path.read_text(encoding="utf-8"))
    for table, key in (
        ("mixing", "dispersion"),
        ("mixing", "least_depth"),
        ("mixing", "nitrogen_loss"),
        ("background", "nitrogen"),
        ("background", "chlorophyll"),
        ("background", "suspended_solids"),
    ):
        number = site[table][key]
        assert f"{table}.{key} = {number['value']:g} {number['units']} (site.toml; {number['source']})" in told
    assert not any(number.startswith(("striking", "mixing.phosphorus")) for number in told)


def test_each_ancestor_names_a_function_that_is_there(forage):
    for ancestor in forage:
        module, _, function = ancestor.function.rpartition(".")
        assert callable(getattr(importlib.import_module(module), function)), ancestor.function
        assert ancestor.label == LAYERS[ancestor.name].label
        assert ancestor.method


def test_seasons_are_told_where_a_layer_has_them(forage):
    by_name = {ancestor.name: ancestor for ancestor in forage}
    assert by_name["dredge_solids"].seasons == ("wet", "dry")
    assert by_name["bed_elevation"].seasons == ()


def test_the_text_holds_all_of_it_in_lines_that_fit(found, forage):
    text = lineage_text(found, "forage")
    assert all(len(line) <= WIDTH for line in text.splitlines())
    plain = " ".join(text.split())
    assert plain.startswith("forage: seagrass cover that the light can keep, by season (wet, dry)")
    for ancestor in forage:
        assert f"{ancestor.name}: {ancestor.label}" in plain
        for file, _, digest in ancestor.files:
            assert f"{file} (SHA-256 {digest[:16]}..." in plain
        for number in ancestor.numbers:
            assert " ".join(number.split()) in plain
    assert len(text.split("\n\n")) == len(forage)


def test_an_unused_file_leaves_the_text_the_same(found, path, tmp_path):
    other = write_small_site(tmp_path / "site")
    tables = {name: TABLES[name] for name in FILES if name != "nets"} | {"wind": TABLES["wind"]}
    other.write_text(site_text(tables), encoding="utf-8")
    for file in BEHIND_FORAGE:
        (other.parent / file).write_bytes((path.parent / file).read_bytes())  # a GeoPackage carries the time of day
    assert lineage_text(map_site(other), "forage") == lineage_text(found, "forage")


def refusal_of(found, layer):
    with pytest.raises(RecordError) as refused:
        lineage(found, layer)
    return str(refused.value).splitlines()[1].strip()


def test_a_layer_that_is_not_known_is_refused_with_one_like_it(found):
    assert refusal_of(found, "seagras_cover") == (
        '--layer: there is no layer "seagras_cover". Did you mean "seagrass_cover"?'
    )
    assert refusal_of(found, "moonlight").startswith('--layer: there is no layer "moonlight". ')
    assert refusal_of(found, "xyz").startswith('--layer: there is no layer "xyz". Layers: surface, bed_elevation,')


def test_a_layer_that_the_site_cannot_give_is_refused_with_what_it_needs(found):
    assert refusal_of(found, "salinity") == (
        "--layer: the site cannot give salinity. Add a file that feeds salinity or conductivity or "
        "specific_conductance, and the numbers it needs."
    )


def test_a_distance_that_the_profile_does_not_use_is_refused(found):
    assert "fresh_water_distance" not in read_profile("marine_seagrass_grazer").layers_needed
    assert refusal_of(found, "fresh_water_distance").startswith(
        "--layer: the profile does not use fresh_water_distance, so nothing says how far it reaches."
    )


def test_a_layer_nobody_asked_for_is_made_for_its_recipe(found):
    assert "dredge_deposit" not in found.layers
    assert lineage(found, "dredge_deposit")[0].function == "layers.deposition.deposition_rate"
