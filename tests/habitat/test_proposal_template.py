"""Templates: what is written can be read back as a proposal, lies where the site lies, and explains itself."""

from __future__ import annotations

import json

import pytest
import shapely

from habitat.proposal import additions_of, read_proposal
from habitat.proposal_kinds import COMMON, KINDS
from habitat.proposal_template import template_text, write_template
from layers.derivation import Derivation, Settings
from layers.fault import RecordError
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from tests.layers.test_recipes_loads import made_of
from tests.sites import EAST, NORTH, SOUTH, TABLES, WEST, site_text, write_small_site


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    return read_inputs(write_small_site(tmp_path_factory.mktemp("site") / "site"))


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "land use"])
def test_a_template_is_a_proposal_in_the_water_of_the_site(tmp_path, inputs, kind):
    path = tmp_path / "template.geojson"
    write_template(kind, path, inputs)
    proposal = read_proposal(path, inputs)
    assert [feature.kind for feature in proposal.features] == [kind]
    shape = proposal.features[0].shape
    middle = shapely.Point((WEST + EAST) / 2, (SOUTH + NORTH) / 2)
    assert shape.centroid.distance(middle) < 50, "the middle of the small site is water"
    assert additions_of(proposal, inputs)[0]
    assert not any("nothing is made of" in remark for remark in proposal.remarks)


def test_the_template_of_a_land_use_takes_a_cover_of_the_site(tmp_path):
    made = made_of(tmp_path, seasons=False)
    path = tmp_path / "template.geojson"
    write_template("land use", path, made.inputs)
    proposal = read_proposal(path, made.inputs)
    assert proposal.features[0].get("cover") == "row crops"
    west, south, east, north = made.site.catchment.grid.bounds
    assert proposal.features[0].shape.centroid.distance(shapely.Point((west + east) / 2, (south + north) / 2)) < 1


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_attribute_is_there_and_explained(inputs, kind):
    (feature,) = json.loads(template_text(kind.name, inputs))["features"]
    said = feature["properties"]
    assert set(said) == {"kind", "_help", *(one.column for one in (*kind.attributes, *COMMON))}
    for attribute in kind.attributes:
        must = "needed" if attribute.required else "may be left out"
        assert f"{attribute.column} ({must}): {attribute.means}" in said["_help"]
        if attribute.required and attribute.column != "cover":
            assert said[attribute.column] == attribute.example
    for column, word in (("season", "wet"), ("equipment", "cutter suction dredge")):
        assert said.get(column, word) == word


def test_where_the_middle_is_land_the_nearest_water_is_taken(tmp_path):
    path = write_small_site(tmp_path / "site")
    text = site_text({name: TABLES[name] for name in ("coast", "bed", "tide")}).replace(
        "east = 502000", "east = 500600"
    )
    path.write_text(text, encoding="utf-8")  # now ten of twelve columns are land
    inputs = read_inputs(path)
    write_template("outfall", tmp_path / "template.geojson", inputs)
    at = read_proposal(tmp_path / "template.geojson", inputs).features[0].shape
    row, column = inputs.site.grid.cell_at(at.x, at.y)
    assert Derivation(inputs, Settings(wanted=()), RECIPES).is_swum[row, column] and column == 10


def test_nothing_is_overwritten_and_other_names_are_refused(tmp_path, inputs):
    path = tmp_path / "mine.geojson"
    path.write_text("mine")
    with pytest.raises(RecordError) as refusal:
        write_template("outfall", path, inputs)
    assert (
        str(refusal.value)
        == "mine.geojson: 1 problem\n  mine.geojson: exists already. Choose another name, or move it away."
    )
    with pytest.raises(RecordError) as refusal:
        write_template("outfall", tmp_path / "mine.gpkg", inputs)
    assert str(refusal.value).endswith(
        "mine.gpkg: a template is written as GeoJSON. Give it a name that ends in .geojson."
    )
    assert [one.name for one in tmp_path.iterdir()] == ["mine.geojson"] and path.read_text() == "mine"
    with pytest.raises(ValueError) as unknown:
        template_text("outfal", inputs)
    assert str(unknown.value).startswith(
        '"outfal" is not a kind of feature. Did you mean "outfall"? Known kinds: dredged '
    )
