"""Scored again after a change, the site is what a full scoring gives, to the bit, whatever the changes were."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from habitat.assessment import assess
from habitat.combine import RULES
from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.rescoring import changed_parts, rescored
from tests.scoring import TRAFFIC, random_layers, small_grid, small_profile

FACTORS, PRESSURES = ("water_depth", "seagrass_cover", "salinity"), ("dredging", "nets", "vessels")
share = st.floats(0, 1)


class Tuning(RuleBasedStateMachine):
    """Any sequence of changes to any part of a profile."""

    @initialize(seed=st.integers(0, 50), seasonal=st.sampled_from([(), ("salinity",), ("salinity", "vessel_density")]))
    def begin(self, seed, seasonal):
        self.profile = small_profile()
        self.layers = random_layers(small_grid(5, 7), self.profile, seed, seasonal=seasonal)
        self.scored = assess(self.layers, self.profile, workers=1)

    def change(self, profile):
        self.scored = rescored(self.layers, profile, self.scored, self.profile, workers=1)
        self.profile = profile

    @rule(name=st.sampled_from(FACTORS), weight=st.floats(0.01, 20))
    def weigh_factor(self, name, weight):
        self.change(self.profile.with_weight(name, weight))

    @rule(name=st.sampled_from(PRESSURES), weight=share)
    def weigh_pressure(self, name, weight):
        self.change(self.profile.with_weight(name, weight))

    @rule(name=st.sampled_from((*FACTORS, "vessels")), low=st.floats(-1, 5), run=st.floats(0.5, 30), a=share, b=share)
    def bend(self, name, low, run, a, b):
        self.change(self.profile.with_curve(name, SuitabilityCurve((low, low + run), (a, b))))

    @rule(full=st.floats(0, 400), run=st.floats(10, 500), shape=st.sampled_from(["linear", "exponential", "gaussian"]))
    def fade(self, full, run, shape):
        self.change(self.profile.with_curve("nets", Fade(full, full + run, shape)))

    @rule(name=st.sampled_from(list(RULES)), may_lack=st.integers(0, 2), threat_may_lack=st.integers(0, 2))
    def combine(self, name, may_lack, threat_may_lack):
        self.change(replace(self.profile, rule=name, may_lack=may_lack, threat_may_lack=threat_may_lack))

    @rule(name=st.sampled_from(FACTORS), veto=st.booleans(), essential=st.sets(st.sampled_from(FACTORS)))
    def require(self, name, veto, essential):
        factors = tuple(replace(one, veto=veto) if one.name == name else one for one in self.profile.factors)
        self.change(replace(self.profile, factors=factors, essential=tuple(essential)))

    @rule(low=st.floats(0.01, 0.49), high=st.floats(0.5, 0.99), threat_low=st.floats(0.01, 0.49))
    def cut(self, low, high, threat_low):
        self.change(replace(self.profile, suitability_breaks=(low, high), threat_breaks=(threat_low, 0.6)))

    @rule()
    def go_back(self):
        self.change(small_profile())

    @rule(name=st.sampled_from(PRESSURES))
    def leave_out(self, name):
        pressures = tuple(one for one in self.profile.pressures if one.name != name)
        restored = {one.name: one for one in (*small_profile().pressures, *pressures)}
        self.change(replace(self.profile, pressures=pressures))
        self.change(replace(self.profile, pressures=tuple(restored.values())))

    @invariant()
    def is_what_a_full_scoring_gives(self):
        full = assess(self.layers, self.profile, workers=1)
        xr.testing.assert_identical(self.scored, full)
        for name in full.data_vars:
            assert self.scored[name].dtype == full[name].dtype
            assert self.scored[name].to_numpy().tobytes() == full[name].to_numpy().tobytes(), name


TestTuning = Tuning.TestCase
TestTuning.settings = settings(max_examples=12, stateful_step_count=8, deadline=None)


@pytest.fixture(scope="module")
def scored():
    profile = small_profile()
    layers = random_layers(small_grid(200, 190), profile, 3, seasonal=("salinity",))
    return layers, profile, assess(layers, profile)


def test_strips_and_threads_do_not_matter(scored):
    layers, profile, before = scored
    changed = profile.with_weight("salinity", 5).with_curve("vessels", SuitabilityCurve((0, 3), (0, 1)))
    assert layers["surface"].size > 2 * 16_384, "one strip would show nothing"
    for workers in (1, 2):
        xr.testing.assert_identical(
            rescored(layers, changed, before, profile, workers=workers), assess(layers, changed)
        )


def test_what_did_not_change_is_shared_and_what_was_before_is_left_alone(scored):
    layers, profile, before = scored
    kept = before.copy(deep=True)
    now = rescored(layers, profile.with_curve("salinity", SuitabilityCurve((0, 9), (1, 0))), before, profile)
    assert not np.shares_memory(now["index_salinity"], before["index_salinity"])
    for name in ("index_water_depth", "exposure_nets", "threat", "missing_pressures"):
        assert np.shares_memory(now[name], before[name]), name
    xr.testing.assert_identical(before, kept)
    weighed = rescored(layers, profile.with_weight("vessels", 0.9), before, profile)
    for name in ("index_salinity", "exposure_vessels", "suitability", "limiting_factor"):
        assert np.shares_memory(weighed[name], before[name]), name


def test_only_a_changed_curve_asks_for_an_index(scored):
    _, profile, _ = scored
    assert changed_parts(profile, profile.with_weight("salinity", 9)) == ()
    assert changed_parts(profile, profile.with_curve("vessels", TRAFFIC)) == ()
    assert changed_parts(profile, profile.with_curve("nets", Fade(0, 999))) == ("nets",)


def test_a_part_without_its_layer_stays_missing(scored):
    layers, profile, _ = scored
    without = layers.drop_vars("net_distance")
    before, changed = assess(without, profile), profile.with_curve("nets", Fade(0, 500))
    xr.testing.assert_identical(rescored(without, changed, before, profile), assess(without, changed))


def test_layers_that_end_nearer_than_the_profile_looks_are_refused_as_ever(scored):
    layers, profile, before = scored
    near = layers.assign(net_distance=layers["net_distance"].assign_attrs(reach=1000.0))
    with pytest.raises(ValueError, match="net_distance saturates at 1000 m"):
        rescored(near, profile.with_curve("nets", Fade(0, 1500)), before, profile)


def test_lazy_layers_and_another_number_of_seasons_are_scored_in_full(scored):
    layers, profile, before = scored
    changed = profile.with_weight("salinity", 5)
    lazy = rescored(layers.chunk({"y": 64}), changed, before, profile)
    assert lazy["suitability"].chunks
    xr.testing.assert_equal(lazy.compute(), assess(layers, changed))
    seasonless = replace(profile, factors=profile.factors[:2], essential=())
    xr.testing.assert_identical(rescored(layers, seasonless, before, profile), assess(layers, seasonless))
