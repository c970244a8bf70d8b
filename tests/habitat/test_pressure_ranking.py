"""Which pressures matter most, by hand on a few cells of one hectare."""

import numpy as np
import pytest
import xarray as xr

from habitat.assessment import assess
from habitat.pressure_ranking import pressures_ranked
from habitat.profile import read_profile
from layers import quantity as q
from tests.scoring import layers_of, small_grid, small_profile

NAN = np.nan


def scored(suitability, **exposures) -> xr.Dataset:
    grid = small_grid(*np.shape(suitability)[-2:])
    surface = layers_of(grid)["surface"]
    whole = xr.Dataset({"suitability": surface.copy(data=np.asarray(suitability, np.float32))})
    for name, values in exposures.items():
        whole[f"exposure_{name}"] = surface.copy(data=np.asarray(values, np.float32))
    return whole


# weights of the small profile: dredging 0.8, nets 0.5, vessels 0.4
BY_HAND = scored(
    [[1.0, 0.5, NAN, 0.0]],
    dredging=[[0.0, 0.5, 1.0, NAN]],
    nets=[[1.0, 0.5, 0.0, NAN]],
    vessels=[[0.0, 0.0, 0.0, NAN]],
)


def test_pressures_are_ranked_by_the_habitat_they_weigh_on():
    table = pressures_ranked(BY_HAND, small_profile()).set_index("pressure")
    # nets: 1.0 x 0.5 x 1.0 + 0.5 x 0.5 x 0.5; dredging: 0.5 x 0.8 x 0.5; one hectare a cell
    assert table.index.tolist() == ["nets", "dredging", "vessels"]
    assert table["habitat_units"].tolist() == pytest.approx([0.625, 0.2, 0.0])
    assert table["hectares_reached"].tolist() == [2, 2, 0]
    assert table["hectares_heaviest"].tolist() == [1, 2, 0]


def test_cells_without_data_count_for_nothing():
    table = pressures_ranked(BY_HAND, small_profile())
    assert table["hectares_heaviest"].sum() == 3  # the fourth cell has no exposure at all
    assert not table.isna().any().any()


def test_of_equal_pressures_the_first_of_the_profile_is_the_heaviest():
    even = scored([[1.0]], dredging=[[0.5]], nets=[[0.5]], vessels=[[0.5]])
    profile = small_profile()
    for name in ("dredging", "nets", "vessels"):
        profile = profile.with_weight(name, 0.5)
    table = pressures_ranked(even, profile).set_index("pressure")
    assert table["hectares_heaviest"].to_dict() == {"dredging": 1, "nets": 0, "vessels": 0}


def test_a_profile_without_pressures_gives_an_empty_table_with_its_columns():
    table = pressures_ranked(scored([[1.0]]), small_profile(pressures=()))
    assert table.empty
    assert "habitat_units" in table


def test_a_season_must_be_named_where_there_are_seasons():
    from habitat.assessment import assess
    from tests.scoring import random_layers

    profile = small_profile()
    layers = random_layers(small_grid(6, 6), profile, seasonal=("salinity",))
    with pytest.raises(ValueError, match=r"a season is needed, one of: wet, dry\."):
        pressures_ranked(assess(layers, profile), profile)
    both = [pressures_ranked(assess(layers, profile), profile, season=season) for season in ("wet", "dry")]
    assert both[0]["hectares_reached"].tolist() == both[1]["hectares_reached"].tolist()  # no pressure has seasons
    assert both[0]["habitat_units"].tolist() != both[1]["habitat_units"].tolist()


def test_a_pressure_without_data_is_not_known_to_be_slight():
    grid = small_grid(1, 2)
    layers = layers_of(grid, surface=[[q.WATER] * 2], water_depth=[[2, 2]], seagrass_cover=[[0.5, 0.5]])
    profile = read_profile("marine_seagrass_grazer")
    ranked = pressures_ranked(assess(layers, profile), profile)
    assert len(ranked) == len(profile.pressures)
    assert ranked[["habitat_units", "hectares_reached", "hectares_heaviest"]].isna().all().all()
