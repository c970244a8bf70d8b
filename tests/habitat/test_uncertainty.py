"""Doubt of cells on their grid, and of conclusions, beside the tables that the rest of the project makes."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from habitat.assessment import assess
from habitat.draws import layers_of_draw, profile_of_draw
from habitat.uncertainty import SPARED, UNITS, sentences, uncertainty
from habitat.zones import hectares_by_class
from tests.doubting import everything_doubtful
from tests.grids import SEASONS

NUMBER = 30


@pytest.fixture(scope="module")
def found():
    layers, ends, profile, _ = everything_doubtful()
    return uncertainty(layers, profile, ends, number=NUMBER, seed=6), layers, ends, profile


def test_cells_stand_on_the_grid_with_labels_and_units(found):
    cells, layers = found[0].cells, found[1]
    assert list(cells["season"].values) == list(SEASONS)
    for name in cells.data_vars:
        assert cells[name].dims == ("season", "y", "x") and "long_name" in cells[name].attrs
    assert cells["suitability_mean"].shape[1:] == layers["surface"].shape
    land = layers["surface"].to_numpy() < 2
    assert cells["suitability_mean"].isnull().to_numpy()[:, land].all()
    assert (cells["likeliest_class"].to_numpy()[:, land] == 0).all()


def test_the_likeliest_class_is_that_of_the_greatest_chance(found):
    cells = found[0].cells
    chances = np.stack([cells[f"chance_{name}"] for name in ("poor", "fair", "good")])
    known = np.isfinite(chances[0])
    best = cells["likeliest_class"].to_numpy()
    assert ((best > 0) == known).all()
    picked = np.take_along_axis(chances, np.maximum(best, 1)[None].astype(int) - 1, axis=0)[0]
    np.testing.assert_array_equal(picked[known], chances.max(axis=0)[known])
    np.testing.assert_array_equal(cells["confidence"].to_numpy()[known], picked[known])
    np.testing.assert_allclose(cells["chance_fair_or_better"], chances[1] + chances[2], atol=1e-6)


def test_quantiles_rise(found):
    cells = found[0].cells
    low, middle, high = (cells[f"suitability_quantile_{share}"].to_numpy() for share in (5, 50, 95))
    known = np.isfinite(low)
    assert (low <= middle)[known].all() and (middle <= high)[known].all()


def test_conclusions_are_those_of_the_tables_by_class(found):
    result, layers, ends, profile = found
    table = result.conclusions.set_index(["season", "kind", "class"])
    draws = result.draws
    runs = [
        assess(layers_of_draw(layers, ends, profile, draws, k), profile_of_draw(profile, draws, k))
        for k in range(NUMBER)
    ]
    plain = hectares_by_class(assess(layers, profile)).set_index(["season", "kind", "class"])["hectares"]
    assert table.loc[plain.index, "taken"].to_numpy() == approx(plain.to_numpy())
    many = [hectares_by_class(run).set_index(["season", "kind", "class"])["hectares"] for run in runs]
    for share, column in ((0.05, "low"), (0.5, "median"), (0.95, "high")):
        wanted = np.quantile([one.loc[plain.index] for one in many], share, axis=0)
        # a cell of a hectare a rounding away from a break
        assert table.loc[plain.index, column].to_numpy() == approx(wanted, abs=1.0)
    for season in SEASONS:
        cells = [run.sel(season=season) for run in runs]
        worth = [float((one["suitability"].astype(float)).sum()) for one in cells]
        left = [float((one["suitability"].astype(float) * (1 - one["threat"])).sum()) for one in cells]
        for name, values in ((UNITS, worth), (SPARED, left)):
            row = table.loc[(season, "units", name)]
            assert row[["low", "median", "high"]].to_list() == approx(np.quantile(values, (0.05, 0.5, 0.95)), rel=1e-4)


def test_the_words_tell_the_range_and_what_was_taken_as_exact(found):
    said = " ".join(sentences(found[0]))
    assert "In the wet season" in said and "nine draws in ten lie between" in said
    assert "the same everywhere at once, which gives the widest interval of totals" in said
    assert "No doubt is stated of, and so taken as exact:" in said and "where classes are cut" in said


def test_seeds_and_threads(found):
    result, layers, ends, profile = found
    again = uncertainty(layers, profile, ends, number=NUMBER, seed=6, workers=3)
    assert again.cells.identical(result.cells) and again.conclusions.equals(result.conclusions)
    other = uncertainty(layers, profile, ends, number=NUMBER, seed=7)
    assert not other.conclusions.equals(result.conclusions)


@pytest.mark.parametrize("quantiles", [(), (0.0, 0.5), (0.5, 1.2)])
def test_quantiles_that_are_none_are_refused(found, quantiles):
    with pytest.raises(ValueError, match="Give one or more between 0 and 1"):
        uncertainty(found[1], found[3], quantiles=quantiles)
