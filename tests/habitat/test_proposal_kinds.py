"""The table of kinds: one meaning for each word, and an example for each attribute that would pass its own check."""

from __future__ import annotations

import dataclasses

import pytest

from habitat.proposal_feature import is_possible, with_article
from habitat.proposal_kinds import COMMON, KINDS, LINE, POINT, POLYGON, kind_called, nearest_kind
from layers.dredge_work import NUMBERS, OPTIONAL_NUMBERS, OPTIONAL_WORDS, WORDS
from layers.dredging import loss_fractions

EVERY = [(kind, attribute) for kind in KINDS.values() for attribute in kind.attributes]
NAMES = [f"{kind.name}, {attribute.column}" for kind, attribute in EVERY]
FROM_THE_SITE = ("season", "cover")  # whose words only a site knows


def test_the_kinds_are_those_that_a_proposal_may_hold():
    assert list(KINDS) == [
        "dredged area", "land claim", "structure", "outfall", "land use", "mangrove cleared", "mangrove planted",
        "seagrass cleared", "seagrass planted", "moorings", "vessel route",
    ]  # fmt: skip


def test_no_word_means_two_kinds():
    words = [word for kind in KINDS.values() for word in (kind.name, *kind.also_called)]
    assert len(words) == len(set(words))
    for kind in KINDS.values():
        for word in (kind.name, *kind.also_called):
            assert kind_called(f" {word.upper().replace(' ', '_')} ") is kind


@pytest.mark.parametrize(("kind", "attribute"), EVERY, ids=NAMES)
def test_a_column_fits_a_shapefile_and_its_example_is_possible(kind, attribute):
    assert len(attribute.column) <= 10 and attribute.column.isascii() and attribute.column.islower()
    assert attribute.means
    assert kind.attribute(attribute.column) is attribute
    if attribute.column in FROM_THE_SITE:
        assert attribute.example == ""
        return
    assert is_possible(attribute, attribute.example)
    if attribute.is_number:
        least, most = attribute.bounds
        assert not is_possible(attribute, most * 1.001 + 1) and not is_possible(attribute, least - 1)
        assert is_possible(attribute, least) is not attribute.above
        assert not is_possible(attribute, float("nan")) and not is_possible(attribute, "3")
    else:
        assert not is_possible(attribute, " ") and not is_possible(attribute, 3.0)


def test_columns_of_a_kind_are_different():
    for kind in KINDS.values():
        columns = [attribute.column for attribute in (*kind.attributes, *COMMON)]
        assert len(columns) == len(set(columns)) and "kind" not in columns


def test_a_dredged_area_says_what_a_work_of_a_dredge_needs():
    kind = KINDS["dredged area"]
    columns = {attribute.column: attribute for attribute in (*kind.attributes, *COMMON)}
    assert columns.keys() >= {*NUMBERS, *OPTIONAL_NUMBERS, *WORDS, *OPTIONAL_WORDS}
    assert {column for column in NUMBERS if not columns[column].required} == set()
    assert columns["equipment"].example in loss_fractions()


def test_what_is_drawn_how():
    forms = {kind.name: kind.drawn_as for kind in KINDS.values()}
    assert forms.pop("outfall") == (POINT,) and forms.pop("vessel route") == (LINE,)
    assert forms.pop("moorings") == (POINT, POLYGON) and forms.pop("structure") == (LINE, POLYGON)
    assert set(forms.values()) == {(POLYGON,)}


def test_the_nearest_kind_is_found_through_a_slip_of_the_pen():
    assert nearest_kind("sea grass planted").name == "seagrass planted"
    assert nearest_kind("vessel rout").name == "vessel route"
    assert nearest_kind("qauy").name == "structure"
    assert nearest_kind("xyzzy") is None


def test_what_is_wanted_is_said_with_its_unit():
    said = {attribute.column: attribute.wanted for _, attribute in EVERY}
    assert said["depth_m"] == "a number of m, from -10 to 100"
    assert said["volume_m3"] == "a number of m3, above 0, at most 1,000,000,000"
    assert said["share"] == "a share, above 0, at most 1"
    assert said["bars"] == '"yes" or "no"'


def test_kinds_are_frozen_and_read_in_a_sentence():
    with pytest.raises(dataclasses.FrozenInstanceError):
        KINDS["outfall"].name = "pipe"
    assert [with_article(KINDS[name]) for name in ("outfall", "land use", "moorings", "seagrass planted")] == [
        "an outfall", "a land use", "moorings", "seagrass planted"
    ]  # fmt: skip
