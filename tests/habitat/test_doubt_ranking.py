"""Which doubts matter for hectares: where the answer is known beforehand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx
from scipy.stats import norm

from habitat.doubt_ranking import doubt_ranking, sentences
from habitat.profile import PartDoubt
from habitat.uncertainty import uncertainty
from tests.doubting import doubtful_layers, doubtful_profile
from tests.scoring import MADE_UP, factor, layers_of, small_grid, small_profile


@pytest.fixture(scope="module")
def straight():
    """Good hectares that follow the threshold of one factor in a straight line, a second factor that is always 1."""
    cover = replace(factor("seagrass_cover", 1, [(0.1, 0), (0.9, 1)]), doubt=PartDoubt(threshold=0.03, source=MADE_UP))
    depth = replace(factor("water_depth", 1, [(0, 0), (1, 1)]), doubt=PartDoubt(threshold=0.1, source=MADE_UP))
    profile = small_profile(factors=(cover, depth), essential=(), may_lack=0, pressures=(), rule="limiting factor")
    values = np.linspace(0, 1, 4000).reshape(40, 100)
    layers = layers_of(small_grid(40, 100), seagrass_cover=values, water_depth=np.full((40, 100), 5.0))
    return layers, profile


def test_the_only_doubt_that_moves_anything_explains_everything(straight):
    layers, profile = straight
    found = doubt_ranking(layers, profile, base=64)
    good = found.table[found.table["conclusion"] == "good"]
    assert good["key"].to_list() == ["threshold seagrass_cover"], "the other is screened out"
    assert good["first_order"].iloc[0] == approx(1, abs=0.02) and good["total"].iloc[0] == approx(1, abs=0.02)
    # a step of a screening goes two thirds of the way, from one end of a normal cut at three deviations; 4000 cells
    # stand in a span of 1, and an effect is told for the whole way
    size = found.screened.query("conclusion == 'good' and key == 'threshold seagrass_cover'")["size"].iloc[0]
    two_thirds = norm.ppf(norm.cdf(-3) + 2 / 3 * (norm.cdf(3) - norm.cdf(-3)))
    assert size == approx((two_thirds + 3) * 0.03 * 3999 * 3 / 2, rel=0.005)
    assert (
        "1. Of the doubt in the hectares of good habitat, where the curve of seagrass cover stands"
        in sentences(found)[0]
    )


def test_a_sample_along_the_classes_is_near_the_whole(straight):
    layers, profile = straight
    found = doubt_ranking(layers, profile, base=16, most_cells=500)
    assert (found.cells, found.water_cells) == (500, 4000)
    # every eighth cell along the classes: a class is off by less than one cell of the sample
    assert (found.sample["sample"] - found.sample["whole"]).abs().max() <= 8
    assert "500 of 4,000 cells of water" in sentences(found)[-1]


def test_the_same_seed_gives_the_same_ranking():
    profile = doubtful_profile()
    layers = doubtful_layers(profile)
    first, second = (doubt_ranking(layers, profile, base=16, trajectories=4, seed=3, workers=w) for w in (1, 3))
    assert first.table.equals(second.table) and first.screened.equals(second.screened)
    assert set(first.table["season"]) == {"wet", "dry"}
    assert (first.table.groupby(["season", "conclusion"])["total"].diff().dropna() <= 0).all(), "the largest first"


def test_where_nothing_is_in_doubt_nothing_is_ranked(straight):
    layers, profile = straight
    certain = replace(profile, factors=tuple(replace(part, doubt=None) for part in profile.factors))
    found = doubt_ranking(layers, certain)
    assert not len(found.table) and found.doubts.items == ()
    assert uncertainty(layers, certain, number=3).conclusions.eval("high - low").abs().max() == 0
