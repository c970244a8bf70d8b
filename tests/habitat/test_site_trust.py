"""Doubt, sightings and people's weights of one site: joined rightly, told without a place, written whole or not."""

import datetime
import struct
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import rasterio

from habitat.assessment import assess
from habitat.doubt_folder import MAPS, README, doubt_text, write_doubt
from habitat.draws import layers_of_draw, profile_of_draw
from habitat.pairwise_file import read_judgements
from habitat.pairwise_weights import with_judged_weights
from habitat.result import SUITABILITY_CLASSES
from habitat.site_doubt import conclusion, place_doubt, site_doubt, site_ranking
from habitat.site_evidence import (
    NO_EFFORT,
    WITHHELD,
    MovablePoint,
    evidence_text,
    movable_points,
    proposed_point,
    site_evidence,
)
from habitat.site_map import map_site
from habitat.site_weights import (
    ANYBODYS,
    EXACT,
    STATED,
    judgements_file,
    spread_sentence,
    weighed_people,
    weight_spread,
    weights_of_people,
)
from layers.demo.judgements import TABLE
from layers.fault import LayerError, RecordError
from tests.sites import SIGHTINGS, degrees, write_small_site

AS_OF = datetime.date(2026, 1, 1)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    path = write_small_site(tmp_path_factory.mktemp("trust") / "site")
    (path.parent / "weight_judgements.csv").write_text(TABLE, encoding="utf-8")
    return map_site(path)


@pytest.fixture(scope="module")
def doubt(site):
    return site_doubt(site, number=24, seed=3)


@pytest.fixture(scope="module")
def cell(doubt):
    """Row and column of the cell whose class is least sure in the dry season."""
    confidence = doubt.found.cells["confidence"].sel(season="dry").to_numpy()
    return tuple(map(int, np.unravel_index(np.nanargmin(confidence), confidence.shape)))


@pytest.fixture(scope="module")
def ranking(doubt):
    return site_ranking(doubt, points=8)


@pytest.fixture(scope="module")
def judgements(site):
    return read_judgements(judgements_file(site.inputs.site.path.parent))


def place_of(site, cell):
    grid = site.inputs.site.grid
    return float(grid.x[cell[1]]), float(grid.y[cell[0]])


def test_the_chances_of_a_place_are_those_of_each_draw_assessed_in_full(site, doubt, cell):
    # every draw made into a profile and layers of its own, and the whole site assessed with them
    codes, scores = [], []
    for k in range(len(doubt.found.draws)):
        layers = layers_of_draw(site.layers, doubt.ends, site.profile, doubt.found.draws, k)
        drawn = assess(layers, profile_of_draw(site.profile, doubt.found.draws, k)).sel(season="dry")
        codes.append(int(drawn["suitability_class"][cell]))
        scores.append(float(drawn["suitability"][cell]))
    found = place_doubt(doubt, *place_of(site, cell), "dry")
    shares = {name: codes.count(code) / len(codes) for code, name in enumerate(SUITABILITY_CLASSES) if code}
    assert found.chances == pytest.approx(shares)
    assert len(set(codes)) > 1, "every draw agrees, so nothing is tested"
    low, median, high = np.quantile(scores, (0.05, 0.5, 0.95))
    assert (found.low, found.median, found.high) == pytest.approx((low, median, high), abs=1e-5)
    assert found.likeliest == max(shares, key=shares.get)
    whole = doubt.found.cells.sel(season="dry")
    assert float(whole["chance_good"][cell]) == pytest.approx(shares[SUITABILITY_CLASSES[3]])


def test_what_moves_a_place_is_ranked_and_land_has_no_chance(site, doubt, cell):
    found = place_doubt(doubt, *place_of(site, cell), "wet")
    assert sorted(found.moves["name"]) == sorted(one.label for one in doubt.found.doubts.items)
    # 24 draws are too few for a share, and so none is told
    assert found.moves["first_order"].isna().all()
    assert place_doubt(doubt, *place_of(site, (14, 2)), "wet").chances == {}
    assert place_doubt(doubt, 0.0, 0.0, "wet") is None


def test_a_point_can_be_asked_about_halfway_to_the_points_beside_it(site):
    points = movable_points(site.profile)
    depth = [one for one in points if one.factor == "water_depth"]
    curve = next(part.curve for part in site.profile.factors if part.name == "water_depth")
    assert [one.expert for one in depth] == list(curve.values[1:-1])
    for one in depth:
        before, after = curve.values[one.point - 1], curve.values[one.point + 1]
        assert (one.least, one.most) == ((before + one.expert) / 2, (one.expert + after) / 2)
    assert depth[1].label == "water depth at 1 m (index 1)"


def test_few_sightings_are_counted_and_their_figures_withheld(site):
    found = site_evidence(site, as_of=AS_OF, draws=50)
    assert (found.sightings, found.none_seen, found.effort) == (2, 0, None)
    assert found.flags.values.tolist() == [["unknown uncertainty of its place", 2, 0]]
    assert [part.season for part in found.seasons] == ["wet", "dry", "all seasons"]
    text = evidence_text(found)
    assert NO_EFFORT in text and text.count(WITHHELD) == 3
    assert "area under the curve" not in text
    assert found.proposed_break.proposed is None
    for score in found.whole.comparison.seen:
        assert f"{score:.2f}" not in text
    for x, y in SIGHTINGS:
        for number in (x, y, *degrees(x, y)):
            assert str(int(number)) not in text and f"{number:.3f}" not in text


def test_a_point_is_not_proposed_from_two_sightings(site):
    asked = MovablePoint(factor="water_depth", point=3, label="depth", expert=5.0, least=3.0, most=7.5)
    found = proposed_point(site, asked, as_of=AS_OF, candidates=3, draws=20)
    assert found.proposed is None and "too few sightings" in found.sentences[0]


def test_a_record_from_the_future_is_refused_and_a_site_without_sightings_gives_nothing(site):
    with pytest.raises(LayerError, match="dated after 2020-01-01"):
        site_evidence(site, as_of=datetime.date(2020, 1, 1))
    kept = tuple(entry for entry in site.inputs.site.files if entry.feeds != "sighting")
    inputs = replace(site.inputs, site=replace(site.inputs.site, files=kept))
    assert site_evidence(replace(site, inputs=inputs), as_of=AS_OF) is None


def test_who_contradicts_himself_is_left_out_until_a_reason_is_given(judgements):
    people = weighed_people(judgements)
    assert people.left_out == ("ranger",)
    assert list(people.used.people.index) == ["ecologist", "fisher"]
    assert list(people.everybody.people.index) == ["ecologist", "fisher", "ranger"]
    # the slip that the table of the demo says it has
    odd = people.everybody.odd["ranger"]
    assert (odd.first, odd.second, odd.given) == ("forage", "shelter", 0.2)
    assert weighed_people(judgements, {"ranger": " "}).left_out == ("ranger",)
    reasoned = weighed_people(judgements, {"ranger": "nobody else knows the flats"})
    assert reasoned.left_out == () and len(reasoned.used.people) == 3
    only = replace(judgements, people={"ranger": judgements.people["ranger"]})
    assert weighed_people(only).used is None


def test_peoples_weights_share_out_what_the_profile_gives_those_factors(site, judgements):
    used = weighed_people(judgements).used
    table = weights_of_people(site.profile, used)
    given = sum(factor.weight for factor in site.profile.factors if factor.name in used.names)
    assert table.sum(axis=1).tolist() == pytest.approx([given, given])
    fitted = with_judged_weights(site.profile, used)
    assert sum(factor.weight for factor in fitted.factors if factor.name in used.names) == pytest.approx(
        given, abs=0.01
    )


def test_people_who_say_the_same_widen_nothing(doubt, judgements):
    pairs = judgements.people["ecologist"]
    same = weighed_people(replace(judgements, people={"one": pairs, "other": pairs})).used
    found = weight_spread(doubt, same)
    exact, anybodys = (
        found.table[found.table["weights"] == name].drop(columns="weights").reset_index(drop=True)
        for name in (EXACT, ANYBODYS)
    )
    pd.testing.assert_frame_equal(exact, anybodys)
    assert exact["high"].max() > exact["low"].max(), "else there is nothing that people could widen"
    assert "hardly matters" in spread_sentence(found, "wet")
    stated = found.row("wet", STATED)
    assert stated.high == conclusion(doubt, "suitability", SUITABILITY_CLASSES[3], "wet").high


def test_people_who_differ_are_told_with_both_ranges(doubt, judgements):
    found = weight_spread(doubt, weighed_people(judgements).used)
    said = spread_sentence(found, "dry")
    for weights in (EXACT, ANYBODYS):
        row = found.row("dry", weights)
        assert f"between {row.low:,.0f} and" in said and f"{row.high:,.0f}" in said
    alone = weighed_people(replace(judgements, people={"one": judgements.people["fisher"]})).used
    assert "One person judged" in spread_sentence(weight_spread(doubt, alone), "dry")


def test_the_folder_holds_the_same_tables_and_cells_and_no_sighting(doubt, ranking, tmp_path):
    folder = tmp_path / "sure"
    write_doubt(folder, doubt, ranking)
    table = pd.read_csv(folder / "conclusions.csv", keep_default_na=False)
    assert table["low_ha"].tolist() == pytest.approx(doubt.found.conclusions["low"].tolist())
    assert (folder / README).read_text("utf-8") == doubt_text(doubt, ranking) + "\n"
    exact = pd.read_csv(folder / "taken_as_exact.csv")["taken_as_exact"]
    assert exact.tolist() == list(doubt.found.doubts.exact)
    for name in MAPS:
        for season in ("wet", "dry"):
            with rasterio.open(folder / f"{name}_{season}.tif") as read:
                np.testing.assert_array_equal(read.read(1), doubt.found.cells[name].sel(season=season).to_numpy())
                assert read.tags()["seed"] == "3"
    held = b"".join(path.read_bytes() for path in folder.iterdir())
    for x, y in SIGHTINGS:
        for number in (x, y, *degrees(x, y)):
            assert struct.pack("<d", number) not in held and f"{number:.4f}".encode() not in held
    with pytest.raises(RecordError, match="exists already"):
        write_doubt(folder, doubt, ranking)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sure"]


def test_a_folder_that_fails_half_way_leaves_nothing(doubt, ranking, tmp_path):
    def stop(step):
        if step.number == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_doubt(tmp_path / "sure", doubt, ranking, on_step=stop)
    assert list(tmp_path.iterdir()) == []
