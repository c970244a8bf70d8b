"""Sightings against a map: planted sites whose answer is known, and what is said of them."""

import datetime
import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from habitat.evidence import ALL_SEASONS, TOO_FEW, evidence, evidence_table
from habitat.evidence_comparison import AVAILABLE, NOT_SEEN, SEARCHED
from habitat.evidence_places import NO_SCORE, NOT_SEARCHED, UNSURE, circle_shares, comparison_of, gathered
from habitat.evidence_suggestion import BOYCE, propose_break, propose_point
from habitat.result import SUITABILITY
from layers.feeds import EFFORT
from layers.grid import Grid
from layers.sightings import Sightings

CELL, SIDE = 100, 1000
GRID = Grid.from_bounds("EPSG:32745", 500_000, 7_000_000, 506_000, 7_005_000, CELL)
BREAKS = {"fair habitat": 0.35, "good habitat": 0.65}
DAY = datetime.date(2024, 1, 1)


def score(values):
    return GRID.label(np.asarray(values, np.float32), SUITABILITY)


def hours(values):
    return GRID.label(np.asarray(values, np.float32), EFFORT)


def records(x, y, *, seen=True, uncertainty=0.0, month=2):
    count = len(x)
    return gpd.GeoDataFrame(
        {
            "file": "made up",
            "row": range(2, count + 2),
            "month": np.broadcast_to(month, count),
            "seen": np.broadcast_to(seen, count),
            "uncertainty": np.broadcast_to(np.float64(uncertainty), count),
            "used": True,
        },
        geometry=shapely.points(x, y),
        crs=GRID.crs,
    )


def of(*tables):
    flags = pd.DataFrame(columns=["file", "row", "flag", "note", "used"])
    return Sightings(records=pd.concat(tables, ignore_index=True), flags=flags)


def planted(count, seed=0, *, power=2.0, **columns):
    """A random map and sightings as likely as their cell's score to a power."""
    random = np.random.default_rng(seed)
    values = random.random(GRID.shape)
    values[:, :5] = np.nan
    chance = np.nan_to_num(values).ravel() ** power * ~np.isnan(values).ravel()
    cells = random.choice(values.size, count, p=chance / chance.sum())
    row, column = np.unravel_index(cells, GRID.shape)
    return score(values), of(records(GRID.x[column], GRID.y[row], **columns))


@pytest.fixture(scope="module")
def good():
    suitability, sightings = planted(40)
    return evidence(suitability, sightings, breaks=BREAKS, side=SIDE, seed=1, draws=300)[0]


def test_a_map_that_sightings_follow_is_told_better_than_chance(good):
    # closed form: of density 3 s^2 against an even one the area is E[s] = 3/4
    assert good.area.low <= 0.75 <= good.area.high and good.verdict == "better than chance"
    assert good.boyce.value > 0.5
    said = " ".join(good.sentences)
    assert "40 sightings in" in said and "better than chance at saying where animals are seen" in said
    assert "Nobody recorded where people looked" in said  # held against all water
    assert good.comparison.against == AVAILABLE


def test_kappa_is_told_with_its_trap(good):
    said = " ".join(good.sentences)
    assert "Do not judge the map by kappa" in said
    kappas = [part.skill.kappa for part in good.breaks]
    assert max(kappas) < 0.1 and all(part.skill.at_prevalence(0.5).kappa > 0.2 for part in good.breaks)


def test_no_sentence_and_no_table_tells_a_place(good):
    told = f"{good.sentences} {evidence_table([good]).to_csv()} {good!r} {good.comparison!r}"
    assert not re.search(r"50\d{4}|700\d{4}", told)


def test_a_few_sightings_are_too_few_to_tell_however_good_they_look():
    suitability, sightings = planted(6, power=30)
    found = evidence(suitability, sightings, breaks=BREAKS, side=SIDE, seed=1, draws=100)[0]
    assert found.area.value > 0.9 and not found.area.has_interval and found.verdict == TOO_FEW
    assert TOO_FEW in " ".join(found.sentences)
    nobody = evidence(suitability, of(records([], [])), breaks=BREAKS, side=SIDE, seed=1, draws=20)[0]
    assert nobody.verdict == TOO_FEW and "Nothing was seen" in " ".join(nobody.sentences)


def test_one_crowded_bay_is_too_few_blocks_to_tell():
    suitability, _ = planted(1)
    x = 503_000 + 10.0 * np.arange(40)
    found = evidence(suitability, of(records(x, x * 0 + 7_002_050)), breaks=BREAKS, side=SIDE, seed=1, draws=100)[0]
    assert found.comparison.independent == 1 and found.verdict == TOO_FEW


def test_effort_turns_a_false_finding_round():
    """People searched only where the map is high, and animals were as frequent anywhere: the map knows nothing."""
    random = np.random.default_rng(3)
    values = random.random(GRID.shape)
    searched = np.where(values > 0.5, 1.0, 0.0)
    row, column = (part[:40] for part in map(random.permutation, np.nonzero(searched)))
    row, column = np.unravel_index(random.choice(np.flatnonzero(searched), 40), GRID.shape)
    sightings = of(records(GRID.x[column], GRID.y[row]))
    options = {"breaks": BREAKS, "side": SIDE, "seed": 1, "draws": 200}
    blind = evidence(score(values), sightings, **options)[0]
    fair = evidence(score(values), sightings, effort={None: hours(searched)}, **options)[0]
    assert blind.verdict == "better than chance" and blind.comparison.against == AVAILABLE
    assert fair.area.low < 0.5 < fair.area.high and fair.verdict == TOO_FEW and fair.comparison.against == SEARCHED
    assert "Nobody recorded" not in " ".join(fair.sentences)


def test_hours_count_and_unsearched_water_does_not():
    # by hand: one sighting at 0.6; 3 hours at 0.2, 1 hour at 0.8; 0.9 never searched
    values = np.full(GRID.shape, np.nan)
    values[0, :4] = [0.2, 0.6, 0.8, 0.9]
    effort = np.zeros(GRID.shape)
    effort[0, :3] = [3, 0.5, 1]
    sightings = of(records(GRID.x[[1, 3]], GRID.y[[0, 0]]))
    part = gathered(score(values), sightings, side=SIDE, effort=hours(effort))
    assert part.left_out == {NOT_SEARCHED: 1}
    area = comparison_of(part, side=SIDE).area(seed=0, draws=10).value
    assert area == pytest.approx((3 + 0.25) / 4.5)


def test_records_of_looking_and_seeing_none_are_what_sightings_are_held_against():
    values = np.full(GRID.shape, np.nan)
    values[0, :3] = [0.2, 0.6, 0.9]
    both = of(records(GRID.x[[1]], GRID.y[[0]]), records(GRID.x[[0, 2, 0]], GRID.y[[0, 0, 0]], seen=False))
    part = gathered(score(values), both, side=SIDE)
    assert part.against == NOT_SEEN
    assert comparison_of(part, side=SIDE).area(seed=0, draws=10).value == pytest.approx(2 / 3)


def test_an_unsure_place_is_shared_out_over_its_circle():
    row, column, areas = circle_shares(503_000.0, 7_002_000.0, 150.0, GRID)
    assert areas.sum() == pytest.approx(np.pi * 150**2, rel=1e-3)
    exact = shapely.Point(503_000, 7_002_000).buffer(150, quad_segs=500)
    box = shapely.box(GRID.x[column[0]] - 50, GRID.y[row[0]] - 50, GRID.x[column[0]] + 50, GRID.y[row[0]] + 50)
    assert areas[0] == pytest.approx(exact.intersection(box).area, rel=0.01)
    values = np.full(GRID.shape, np.nan)
    values[:, 30:] = 0.8  # east of 503 000
    values[:25, 30:] = 0.2  # its northern half
    middle = of(records([503_000.0], [GRID.y[24] - 50], uncertainty=150.0))
    part = gathered(score(values), middle, side=SIDE)
    comparison = comparison_of(part, side=SIDE)
    assert comparison.sightings == 1
    assert comparison.skill(0.5).sensitivity == pytest.approx(0.5)
    assert comparison.seen @ comparison.seen_weights == pytest.approx(0.5)  # the mean over its circle


def test_what_cannot_be_used_is_counted():
    values = np.full(GRID.shape, 0.5)
    values[:, :5] = np.nan
    table = of(
        records([500_100.0], [7_002_000.0]),
        records([503_000.0], [7_002_000.0], uncertainty=600.0),
        records([503_000.0], [7_002_000.0], uncertainty=np.nan),
    )
    part = gathered(score(values), table, side=SIDE)
    assert part.left_out == {NO_SCORE: 1, UNSURE: 1}


def test_each_season_is_held_against_its_own_map_and_all_together():
    suitability, wet = planted(30, month=2)
    _, dry = planted(30, seed=0, month=8)
    upside_down = 1 - suitability.to_numpy()
    both = np.stack([suitability.to_numpy(), upside_down])
    layers = suitability.expand_dims(season=["wet", "dry"]).copy(data=both)
    undated = records(wet.records.geometry.x[:5], wet.records.geometry.y[:5], month=0)
    sightings = of(wet.records, dry.records, undated)
    options = {"breaks": BREAKS, "side": SIDE, "seed": 1, "draws": 200}
    found = evidence(layers, sightings, seasons={"wet": [1, 2, 3], "dry": [7, 8]}, **options)
    assert [part.season for part in found] == ["wet", "dry", ALL_SEASONS]
    assert [part.comparison.sightings for part in found] == [30, 30, 60]
    assert found[0].verdict == "better than chance" and found[1].verdict == "worse than chance"
    assert found[0].area.value == pytest.approx(1 - found[1].area.value)
    with pytest.raises(ValueError, match="the season wet"):
        evidence(layers, sightings, **options)


def test_a_better_break_is_proposed_and_the_experts_is_left_alone():
    """Animals are seen only above 0.5; the expert says 0.8."""
    random = np.random.default_rng(4)
    values = random.random(GRID.shape)
    row, column = np.unravel_index(random.choice(np.flatnonzero(values > 0.5), 60), GRID.shape)
    part = gathered(score(values), of(records(GRID.x[column], GRID.y[row])), side=SIDE)
    comparison = comparison_of(part, side=SIDE)
    options = {"name": "Break of good habitat", "least": 0.2, "most": 0.9, "seed": 2, "draws": 200}
    found = propose_break(comparison, expert=0.8, **options)
    assert found.proposed == pytest.approx(0.5, abs=0.04) and found.expert == 0.8
    assert found.gain.low > 0 and found.gain.value <= found.of_proposed - found.of_expert + 1e-9
    assert found.folds["sightings"].sum() == pytest.approx(60) and len(found.folds) == 5
    said = " ".join(found.sentences)
    assert "more than chance would give" in said and "0.8, stays until somebody changes it" in said
    best = propose_break(comparison, expert=found.proposed, **options)
    assert best.proposed is None and "no value from 0.2 to 0.9 agrees better" in best.sentences[0]


def test_a_gain_on_the_sightings_that_chose_it_is_not_believed():
    """A map that knows nothing: some break always looks better, and on blocks kept aside it is not."""
    gains = []
    for seed in range(6):
        random = np.random.default_rng(seed)
        part = gathered(
            score(random.random(GRID.shape)),
            of(records(500_000 + 6000 * random.random(30), 7_000_000 + 5000 * random.random(30))),
            side=SIDE,
        )
        found = propose_break(
            comparison_of(part, side=SIDE), name="Break", expert=0.5, least=0.1, most=0.9, seed=seed, draws=100
        )
        assert found.of_proposed >= found.of_expert
        assert not found.gain.low > 0
        gains.append((found.of_proposed - found.of_expert, found.gain.value))
    apparent, honest = np.mean(gains, axis=0)
    assert honest < apparent - 0.05


def test_a_point_of_a_curve_is_proposed_by_scoring_the_map_again():
    """Animals keep to water of 1 to 2 m; the expert's curve is best at 4 m."""
    random = np.random.default_rng(5)
    depth = 5 * random.random(GRID.shape)
    row, column = np.unravel_index(random.choice(np.flatnonzero((depth > 1) & (depth < 2)), 50), GRID.shape)
    sightings = of(records(GRID.x[column], GRID.y[row]))

    def comparison_at(best):
        suitability = np.clip(1 - np.abs(depth - best) / 2, 0, 1)
        return comparison_of(gathered(score(suitability), sightings, side=SIDE), side=SIDE)

    options = {"name": "Best depth", "expert": 4.0, "least": 0.5, "most": 4.5, "seed": 1, "draws": 60, "candidates": 9}
    found = propose_point(comparison_at, **options)
    assert found.measure == BOYCE and 1 <= found.proposed <= 2 and found.gain.value > 0
    cut = propose_point(comparison_at, break_at=0.6, **options)
    assert 1 <= cut.proposed <= 2 and cut.gain.low > 0


def test_too_few_sightings_propose_nothing():
    suitability, sightings = planted(8)
    comparison = comparison_of(gathered(suitability, sightings, side=SIDE), side=SIDE)
    found = propose_break(comparison, name="Break", expert=0.5, least=0.1, most=0.9, seed=1, draws=20)
    assert found.proposed is None and "too few sightings to propose" in found.sentences[0]
    with pytest.raises(ValueError, match="The least must be below the most"):
        propose_break(comparison, name="Break", expert=0.5, least=0.9, most=0.1, seed=1)
