from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat import kernel
from habitat.cells import STRIP, score_cells
from habitat.combine import RULES
from habitat.curve import SuitabilityCurve
from habitat.plain import plain_scores
from habitat.pressure import Fade
from habitat.profile import read_profile, shipped_profiles
from tests.scoring import FACTORS, PRESSURES, factor, pressure, random_layers, small_grid, small_profile

NAN = np.float32(np.nan)


def _flat(layers, profile):
    values = {name: layers[name].to_numpy().reshape(1, -1) for name in profile.layers_needed if name in layers}
    return values, layers["surface"].to_numpy().ravel()


def _assert_twins(profile, layers):
    values, surface = _flat(layers, profile)
    stored = score_cells(values, surface, profile)
    plain = plain_scores({name: rows[0] for name, rows in values.items()}, surface, profile)
    assert stored.keys() == plain.keys()
    for name, rows in stored.items():
        assert rows.dtype == plain[name].dtype, name
        if rows.dtype == np.float32:
            np.testing.assert_allclose(rows[0], plain[name], rtol=0, atol=1e-5, err_msg=name)
            np.testing.assert_array_equal(rows[0] == 0, plain[name] == 0, err_msg=name)
        elif "class" not in name and name != "concern":  # a score that differs by 1e-7 may fall across a break
            np.testing.assert_array_equal(rows[0], plain[name], err_msg=name)
        else:
            assert (rows[0] != plain[name]).mean() < 1e-3, name
    return stored


@pytest.mark.parametrize("name", shipped_profiles())
def test_kernels_and_numpy_agree_on_a_shipped_profile(name):
    profile = read_profile(name)
    stored = _assert_twins(profile, random_layers(small_grid(150, 200), profile))
    assert (stored["suitability"] > 0).any()
    assert (stored["suitability"] == 0).any()
    assert np.isnan(stored["suitability"]).any()


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("absent", [(), ("salinity",), ("water_depth",), ("salinity", "seagrass_cover")])
def test_kernels_and_numpy_agree_whatever_the_rule_and_whatever_is_missing(rule, absent):
    weightless = factor("fetch", 0, [(0, 1), (1000, 0)], veto=True)
    profile = small_profile(rule=rule, factors=(*FACTORS, weightless), may_lack=2, threat_may_lack=1)
    layers = random_layers(small_grid(60, 80), profile).drop_vars(absent)
    stored = _assert_twins(profile, layers)
    assert np.isnan(stored["suitability"]).all() == ("water_depth" in absent)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from([0, 1e-6, 0.1, 0.999, 1, np.nan]), st.floats(0.01, 50)), min_size=1, max_size=6),
    st.sampled_from(list(RULES)),
    st.integers(0, 3),
)
def test_a_stored_score_is_the_formula_of_its_numbers(parts, rule, may_lack):
    """float = grid: one cell, its numbers put through the formulas one by one."""
    names = ("water_depth", "seagrass_cover", "salinity", "fetch", "wet_time", "feeding_time")
    factors = tuple(factor(name, weight, [(0, 0), (1, 1)]) for name, (_, weight) in zip(names, parts, strict=False))
    profile = small_profile(rule=rule, factors=factors, essential=(), may_lack=may_lack, pressures=())
    cell = {name: np.full((1, 1), value, np.float32) for name, (value, _) in zip(names, parts, strict=False)}
    stored = float(score_cells(cell, np.full(1, 3, np.uint8), profile)["suitability"][0, 0])
    indices = [float(cell[part.layer][0, 0]) for part in profile.factors]
    weights = [part.weight for part in profile.factors]
    missing = sum(np.isnan(indices))
    expected = RULES[rule](indices, weights) if missing <= may_lack else np.nan
    assert stored == pytest.approx(expected, abs=1e-6, nan_ok=True)
    assert (stored == 0) == (expected == 0)


@pytest.mark.parametrize("exponent", [0.1, 0.01])
def test_just_inside_a_foot_a_small_exponent_costs_no_accuracy(exponent):
    """Breakpoints kept in single precision are wrong by up to 0.14 here."""
    foot, shoulder = 0.3, 2.7
    steep = factor("fetch", exponent, [(foot, 0), (shoulder, 1), (7.1, 1), (9.3, 0)])
    flat = factor("wet_time", 1 - exponent, [(0, 1), (1, 1)])
    profile = small_profile(factors=(steep, flat), essential=(), pressures=())
    values = np.float32(foot) + np.arange(1, 200, dtype=np.float32) * np.float32(3e-8)
    values = np.concatenate([values, np.float32(9.3) - values + np.float32(foot)])
    stored = score_cells(
        {"fetch": values[None], "wet_time": np.ones((1, values.size), np.float32)},
        np.full(values.size, 3, np.uint8),
        profile,
    )["suitability"][0]
    exact = values.astype(np.float64)
    index = np.minimum((exact - foot) / (shoulder - foot), (9.3 - exact) / (9.3 - 7.1)).clip(0, 1)
    np.testing.assert_allclose(stored, index**exponent, rtol=0, atol=1e-5)


@pytest.mark.parametrize("rule", RULES)
def test_a_veto_is_exactly_0_whatever_its_weight(rule):
    depth = factor("water_depth", 0.001, [(0, 0), (1, 1)], veto=True)
    profile = small_profile(rule=rule, factors=(depth, factor("salinity", 1000, [(0, 1), (40, 1)])), pressures=())
    cells = {"water_depth": np.array([[-1, 0, 1e-6, 5]], np.float32), "salinity": np.full((1, 4), 10, np.float32)}
    score = score_cells(cells, np.full(4, 3, np.uint8), profile)["suitability"][0]
    assert (score == 0).tolist() == [True, True, False, False]


@pytest.mark.parametrize("cells", [1, 7, kernel.BLOCK, kernel.BLOCK + 1, STRIP, 2 * STRIP + 4321])
@pytest.mark.parametrize("workers", [2, 5])
def test_the_number_of_threads_changes_no_bit(cells, workers):
    tracks = pressure("tracks", "track_distance", 0.2, Fade(0, 900, "exponential"))
    profile = small_profile(pressures=(*PRESSURES, tracks))
    values, surface = _flat(random_layers(small_grid(1, cells), profile, seed=cells), profile)
    one = score_cells(values, surface, profile, workers=1)
    many = score_cells(values, surface, profile, workers=workers)
    for name in one:
        np.testing.assert_array_equal(one[name].view(np.uint8), many[name].view(np.uint8), err_msg=name)


@pytest.mark.parametrize("size", [1, 13, 1000, kernel.BLOCK - 1])
def test_the_size_of_blocks_changes_no_bit(size):
    profile = read_profile("estuarine_grazer")
    values, surface = _flat(random_layers(small_grid(1, 3 * size + 5), profile, seed=size), profile)
    whole = score_cells(values, surface, profile)
    for start in range(0, surface.size, size):
        part = slice(start, start + size)
        alone = score_cells({name: rows[:, part] for name, rows in values.items()}, surface[part], profile)
        for name in whole:
            np.testing.assert_array_equal(alone[name], whole[name][:, part], err_msg=name)


def test_nothing_is_scored_on_land_and_unknown_ground():
    profile = small_profile()
    layers = random_layers(small_grid(40, 50), profile)
    values, surface = _flat(layers, profile)
    for name, rows in score_cells(values, surface, profile).items():
        dry = rows[:, surface < 2]
        assert np.isnan(dry).all() if rows.dtype == np.float32 else (dry == 0).all(), name


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([part.name for part in PRESSURES]), st.floats(0, 1))
def test_more_exposure_never_lowers_a_stored_threat(seed, which, nearer):
    profile = small_profile(threat_may_lack=2)
    values, surface = _flat(random_layers(small_grid(1, 300), profile, seed=seed), profile)
    before = score_cells(values, surface, profile)["threat"]
    layer = next(part.layer for part in PRESSURES if part.name == which)
    rows = values[layer]
    worse = rows * np.float32(1 + nearer) if layer == "vessel_density" else rows * np.float32(nearer)
    after = score_cells({**values, layer: worse}, surface, profile)["threat"]
    assert ((after >= before) | np.isnan(before)).all()
    np.testing.assert_array_equal(np.isnan(after), np.isnan(before))


@pytest.mark.parametrize("power", [-7, 5])
def test_scaling_all_weights_by_a_power_of_two_changes_no_bit(power):
    profile = small_profile()
    scaled = replace(profile, factors=tuple(replace(f, weight=f.weight * 2.0**power) for f in profile.factors))
    values, surface = _flat(random_layers(small_grid(30, 40), profile), profile)
    before, after = score_cells(values, surface, profile), score_cells(values, surface, scaled)
    for name in before:
        np.testing.assert_array_equal(before[name], after[name], err_msg=name)


def test_scaling_all_weights_changes_nothing():
    profile = small_profile()
    scaled = replace(profile, factors=tuple(replace(f, weight=f.weight * 0.3) for f in profile.factors))
    values, surface = _flat(random_layers(small_grid(30, 40), profile), profile)
    before, after = (score_cells(values, surface, one)["suitability"] for one in (profile, scaled))
    np.testing.assert_allclose(before, after, rtol=1e-6)


def test_the_rules_keep_their_order_in_stored_scores():
    values, surface = _flat(random_layers(small_grid(60, 80), small_profile()), small_profile())
    geometric, arithmetic, lowest = (
        score_cells(values, surface, small_profile(rule=rule))["suitability"]
        for rule in ("weighted geometric mean", "weighted arithmetic mean", "limiting factor")
    )
    known = ~np.isnan(geometric)
    assert known.any()
    assert (lowest[known] <= geometric[known]).all()
    assert (geometric[known] <= arithmetic[known] + 1e-6).all()


def test_no_pressure_at_all_is_no_threat_known():
    profile = small_profile(pressures=())
    values, surface = _flat(random_layers(small_grid(5, 6), profile), profile)
    scores = score_cells(values, surface, profile)
    assert np.isnan(scores["threat"]).all()
    assert not scores["concern"].any()


def test_a_layer_with_seasons_is_scored_once_a_season_and_one_without_once():
    profile = small_profile()
    layers = random_layers(small_grid(20, 30), profile, seasonal=("salinity", "vessel_density"))
    surface = layers["surface"].to_numpy().ravel()
    values = {name: layers[name].to_numpy().reshape(-1, surface.size) for name in profile.layers_needed}
    both = score_cells(values, surface, profile, seasons=2)
    assert both["index_salinity"].shape == both["exposure_vessels"].shape == both["threat"].shape == (2, surface.size)
    assert both["index_water_depth"].shape == both["exposure_dredging"].shape == (1, surface.size)
    for s in range(2):
        alone = score_cells({name: rows[[min(s, len(rows) - 1)]] for name, rows in values.items()}, surface, profile)
        for name in alone:
            np.testing.assert_array_equal(both[name][min(s, len(both[name]) - 1)], alone[name][0], err_msg=name)


def test_a_curve_with_a_step_is_scored_like_its_formula():
    step = SuitabilityCurve((0, 1, 1, 2, 2), (0.2, 0.2, 0.9, 0.9, 0))
    profile = small_profile(
        factors=(replace(FACTORS[0], curve=step, veto=False),), essential=(), may_lack=0, pressures=()
    )
    depths = np.array([[0.5, 1, 1.5, 2, np.nextafter(np.float32(2), np.float32(3)), NAN]], np.float32)
    index = score_cells({"water_depth": depths}, np.full(6, 3, np.uint8), profile)["index_water_depth"]
    np.testing.assert_array_equal(index, step(depths))
    np.testing.assert_array_equal(index, np.array([[0.2, 0.9, 0.9, 0.9, 0, NAN]], np.float32))
