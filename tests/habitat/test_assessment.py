from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from habitat.assessment import assess
from habitat.profile import read_profile
from layers.grid import Grid
from layers.quantity import INTERTIDAL, LAND, UNKNOWN, WATER
from layers.step import Step
from tests.scoring import layers_of, random_layers, small_grid, small_profile

NAN = np.nan


@pytest.fixture
def hand():
    """Two by three cells: water, flat, and no depth; land, unknown, and water too deep."""
    return layers_of(
        small_grid(2, 3),
        surface=[[WATER, INTERTIDAL, WATER], [LAND, UNKNOWN, WATER]],
        water_depth=[[2, 0.5, NAN], [2, 2, 12]],
        seagrass_cover=[[0.5, NAN, 0.5], [0.5, 0.5, 0.5]],
        salinity=[[40, 40, 0], [0, 0, 0]],
        dredging_distance=[[100, 1050, 5000], [0, 0, 2000]],
        net_distance=[[9000, 9000, 9000], [0, 0, 9000]],
        vessel_density=[[0, 5, 0], [9, 9, NAN]],
    )


def test_an_assessment_by_hand(hand):
    done = assess(hand, small_profile())
    # indices: depth 1, 0.5, -, 0; seagrass 1, -, 1, 1; salinity 0.2, 0.2, 1, 1; weights 3, 2, 1
    first, second = 0.2 ** (1 / 6), (0.5**3 * 0.2) ** (1 / 4)
    np.testing.assert_allclose(done["suitability"], [[first, second, NAN], [NAN, NAN, 0]], atol=1e-6)
    assert done["suitability_class"].values.tolist() == [[3, 2, 0], [0, 0, 1]]
    assert done["limiting_factor"].values.tolist() == [[3, 3, 0], [0, 0, 1]]
    assert done["missing_factors"].values.tolist() == [[0, 1, 1], [0, 0, 0]]
    # exposures: dredging 1, 0.5, 0, 0; vessels 0, 0.5, 0, -; weights 0.8 and 0.4
    np.testing.assert_allclose(done["threat"], [[0.8, 1 - 0.6 * 0.8, 0], [NAN, NAN, NAN]], atol=1e-6)
    assert done["threat_class"].values.tolist() == [[3, 2, 1], [0, 0, 0]]
    assert done["missing_pressures"].values.tolist() == [[0, 0, 0], [0, 0, 1]]
    assert done["concern"].values.tolist() == [[9, 5, 0], [0, 0, 0]]
    np.testing.assert_array_equal(done["index_seagrass_cover"], np.float32([[1, NAN, 1], [NAN, NAN, 1]]))
    np.testing.assert_array_equal(done["exposure_dredging"], np.float32([[1, 0.5, 0], [NAN, NAN, 0]]))


def test_missing_data_stays_missing(hand):
    """What is taken away is never turned into a low threat or a good habitat."""
    for name in ("water_depth", "vessel_density"):
        done = assess(hand.drop_vars(name), small_profile())
        score, code = ("suitability", "suitability_class") if name == "water_depth" else ("threat", "threat_class")
        assert np.isnan(done[score]).all()
        assert not done[code].any()
        assert not done["concern"].any()


def test_a_score_may_lack_as_many_factors_as_the_profile_says(hand):
    lacking = hand.drop_vars(["seagrass_cover", "salinity"])
    assert np.isnan(assess(lacking, small_profile(may_lack=1))["suitability"]).all()
    done = assess(lacking, small_profile(may_lack=2))
    np.testing.assert_array_equal(done["suitability"], np.float32([[1, 0.5, NAN], [NAN, NAN, 0]]))
    assert done["missing_factors"].values.tolist() == [[2, 2, 3], [0, 0, 2]]
    assert done["limiting_factor"].values.tolist() == [[0, 1, 0], [0, 0, 1]], "nothing limits an ideal cell"
    assert np.isnan(done["index_salinity"]).all()


def test_of_equal_indices_the_first_in_the_profile_s_order_limits():
    layers = layers_of(small_grid(1, 1), water_depth=[[5.8]], seagrass_cover=[[0.5]], salinity=[[20]])
    profile = small_profile()
    assert [factor.name for factor in profile.factors] == ["water_depth", "seagrass_cover", "salinity"]
    depth, _, salinity = profile.factors
    level = replace(depth, curve=salinity.curve, layer="salinity")
    done = assess(layers, small_profile(factors=(salinity, level)))
    assert done.attrs["factors"] == ["water_depth", "salinity"]
    assert float(done["index_water_depth"][0, 0]) == float(done["index_salinity"][0, 0])
    assert int(done["limiting_factor"][0, 0]) == 1


def test_the_order_of_layers_and_of_tables_changes_no_bit():
    profile = read_profile("estuarine_grazer")
    shuffled = replace(profile, factors=profile.factors[::-1], pressures=profile.pressures[::-1])
    layers = random_layers(small_grid(30, 40), profile, seasonal=("salinity",))
    turned = layers[list(layers.data_vars)[::-1]]
    xr.testing.assert_identical(assess(layers, profile), assess(turned, shuffled))


@pytest.mark.parametrize("chunks", [{"y": 7, "x": 11}, {"y": 1, "x": -1}, {"y": -1, "x": 5, "season": 1}])
@pytest.mark.parametrize("seasonal", [(), ("salinity", "vessel_density")])
def test_dask_gives_the_same_bits_and_nothing_early(chunks, seasonal):
    profile = read_profile("marine_seagrass_grazer")
    layers = random_layers(small_grid(23, 31), profile, seasonal=seasonal)
    chunks = {dim: size for dim, size in chunks.items() if dim in layers.dims}
    lazy = assess(layers.chunk(chunks), profile)
    assert all(layer.chunks is not None for layer in lazy.data_vars.values())
    xr.testing.assert_identical(lazy.compute(), assess(layers, profile))


def test_a_single_layer_on_dask_is_enough_to_wait():
    profile = small_profile()
    layers = random_layers(small_grid(12, 13), profile)
    mixed = layers.assign(salinity=layers["salinity"].chunk(x=4))
    lazy = assess(mixed, profile)
    assert lazy["suitability"].chunks is not None
    xr.testing.assert_identical(lazy.compute(), assess(layers, profile))


def test_a_part_has_a_season_only_where_its_layer_has_and_the_composites_where_any_has():
    profile = small_profile()
    layers = random_layers(small_grid(6, 7), profile, seasonal=("salinity",))
    done = assess(layers, profile)
    seasonal = {name for name, layer in done.data_vars.items() if "season" in layer.dims}
    composites = {name for name in done.data_vars if not name.startswith(("index_", "exposure_"))}
    assert seasonal == composites | {"index_salinity"}
    assert done["season"].values.tolist() == ["wet", "dry"]
    for season in ("wet", "dry"):
        alone = assess(layers.sel(season=season, drop=True), profile)
        xr.testing.assert_equal(done.sel(season=season, drop=True), alone)


def test_a_season_that_no_used_layer_has_is_not_in_the_result():
    profile = small_profile()
    layers = random_layers(small_grid(4, 4), profile)
    other = random_layers(small_grid(4, 4), read_profile("marine_seagrass_grazer"), seasonal=("fetch",))
    done = assess(layers.assign(fetch=other["fetch"]), profile)
    assert "season" not in done.coords
    assert done["suitability"].dims == ("y", "x")


def test_results_lie_on_the_grid_of_the_layers_and_say_what_they_are():
    profile = small_profile()
    grid = small_grid(5, 6)
    layers = random_layers(grid, profile)
    layers.attrs = {"title": "Nowhere", "invented": "true"}
    done = assess(layers, profile)
    assert Grid.of(done).bounds == grid.bounds
    assert done.attrs == {
        "title": "Nowhere",
        "invented": "true",
        "profile_title": "Test grazer",
        "factors": ["water_depth", "seagrass_cover", "salinity"],
        "pressures": ["dredging", "nets", "vessels"],
    }
    assert done["suitability"].attrs["files"] == "water_depth.tif; seagrass_cover.tif; salinity.tif"
    assert done["suitability"].attrs["units"] == "1"
    assert done["exposure_vessels"].attrs["source"] == "survey of vessel_density"
    assert done["limiting_factor"].attrs["flag_meanings"] == "none water_depth seagrass_cover salinity"
    assert done["concern"].attrs["flag_meanings"].split()[9] == "good_habitat_under_high_threat"
    assert all(layer.encoding["grid_mapping"] == "spatial_ref" for layer in done.data_vars.values())
    assert {layer.dtype for name, layer in done.data_vars.items()} == {np.dtype("float32"), np.dtype("uint8")}


def test_layers_are_left_as_they_were():
    profile = small_profile()
    layers = random_layers(small_grid(9, 9), profile, seasonal=("salinity",))
    before = layers.copy(deep=True)
    assess(layers, profile)
    xr.testing.assert_identical(layers, before)


def test_a_thinned_window_is_scored_like_the_whole():
    profile = small_profile()
    layers = random_layers(small_grid(40, 50), profile)
    thin = {"y": slice(3, 40, 4), "x": slice(1, 50, 3)}
    xr.testing.assert_equal(assess(layers.isel(thin), profile), assess(layers, profile).isel(thin))


def test_a_saturating_layer_made_for_a_shorter_reach_is_refused(hand):
    hand["dredging_distance"].attrs["reach"] = "1500"
    with pytest.raises(ValueError) as error:
        assess(hand, small_profile())
    assert str(error.value) == (
        "dredging_distance saturates at 1500 m, but the profile looks as far as 2000 m. "
        "Make the layer with the profile's reach."
    )
    hand["dredging_distance"].attrs["reach"] = "2000"
    assert assess(hand, small_profile())["threat"].notnull().any()


def test_layers_that_do_not_fit_are_refused(hand):
    with pytest.raises(ValueError, match=r"^layers must hold `surface` with dimensions \(y, x\)"):
        assess(hand.drop_vars("surface"), small_profile())
    with pytest.raises(ValueError, match=r"^salinity has dimensions \('x', 'y'\); a layer has \(y, x\)"):
        assess(hand.assign(salinity=hand["salinity"].transpose("x", "y")), small_profile())
    hand["water_depth"].attrs["units"] = "ft"
    with pytest.raises(ValueError, match=r'^water_depth is in "ft"; its unit is "m"\.$'):
        assess(hand, small_profile())


def test_progress_is_told():
    steps = []
    assess(random_layers(small_grid(3, 4), small_profile()), small_profile(), on_step=steps.append)
    assert steps == [Step(1, 1, "scoring 12 cells for Test grazer")]
