"""The layers of the small site, against what can be worked out from its plan by hand."""

from importlib import import_module

import numpy as np
import pandas as pd
import pytest
from pytest import approx

from layers import quantity as q
from layers.amount import Amount
from layers.derivation import Derivation, Settings
from layers.grid import Grid
from layers.inputs import read_inputs
from layers.recipe import RECIPES, build_layers
from layers.shore import disagreements
from layers.water import mean_water_column
from tests.sites import COLUMNS, LAND_COLUMNS, ROWS, TABLES, bed, site_text, write_small_site

REACH = {name: 1500.0 for name in q.LAYERS if q.LAYERS[name].saturates}
NUMBERS = {
    "light.water": (0.3, "1/m"),
    "light.per_chlorophyll": (0.02, "m2/mg"),
    "light.per_solids": (0.1, "m2/g"),
    "light.chlorophyll_per_nitrogen": (20.0, "ug/mg"),
    "light.requirement": (0.24, "1"),
    "striking.depth": (1.5, "m"),
    "striking.share_when_deep": (0.5, "1"),
}
AMOUNTS = {
    key: Amount(value=value, units=units, source="expert judgement", file="profile.toml")
    for key, (value, units) in NUMBERS.items()
}
SETTINGS = Settings(wanted=tuple(q.LAYERS), feeding_depth=(0.5, 3.0), reach=REACH, amounts=AMOUNTS)
OPEN = slice(LAND_COLUMNS, None)


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    return read_inputs(write_small_site(tmp_path_factory.mktemp("site")))


@pytest.fixture(scope="module")
def layers(inputs):
    return build_layers(inputs, SETTINGS)


def test_every_layer_of_the_catalogue_is_made_on_the_one_grid(layers, inputs):
    assert set(q.LAYERS) == set(RECIPES)
    # three stations are too few to tell how wrong what they say is
    errors = {f"{name}_error" for name in layers.data_vars if "too few to tell" in layers[name].attrs["method"]}
    assert errors == {name for name in q.LAYERS if name.endswith("_error")} - {"bed_elevation_error"}
    assert set(layers.data_vars) == set(q.LAYERS) - errors
    assert Grid.of(layers) == inputs.site.grid
    for name, layer in layers.data_vars.items():
        assert layer.shape[-2:] == (ROWS, COLUMNS)
        assert layer.dtype == (np.uint8 if name == "surface" else np.float32), name
        assert layer.attrs["long_name"] == q.LAYERS[name].label
        for key in ("method", "files", "source", "licence", "credit", "date"):
            assert layer.attrs[key], f"{name} lost its {key}"


def test_land_is_no_data_in_every_layer(layers):
    for name, layer in layers.data_vars.items():
        if name not in ("surface", "bed_elevation"):
            assert bool(layer[..., :LAND_COLUMNS].isnull().all()), name


def test_surface_by_hand(layers):
    # the tide never reaches beyond 0.5 + 0.2 m; the bed is -0.5 m in column 10 and -0.75 m in column 11
    row = [q.LAND] * 10 + [q.INTERTIDAL] + [q.WATER] * 29
    np.testing.assert_array_equal(layers["surface"], np.tile(row, (ROWS, 1)))


def test_depth_is_the_mean_level_less_the_bed(layers):
    np.testing.assert_allclose(layers["water_depth"][:, OPEN], -bed()[:, OPEN], atol=1e-3)


def test_feeding_time_is_whole_where_no_tide_leaves_the_feeding_depth(layers):
    # depth 1.25 m at mean water, tide within 0.7 m: always 0.5 to 3 m
    assert float(layers["feeding_time"][0, 13]) == 1.0
    assert float(layers["feeding_time"][0, 39]) == 0.0
    assert float(layers["wet_time"][0, 11]) == 1.0
    assert 0.5 < float(layers["wet_time"][0, 10]) < 1.0


def test_salinity_at_a_station_is_its_mean_in_that_season(layers):
    salinity = layers["salinity"]
    assert list(salinity["season"].values) == ["wet", "dry"]
    assert float(salinity.sel(season="wet")[23, 12]) == approx(26.0, abs=1e-4)
    assert float(salinity.sel(season="dry")[23, 12]) == approx(30.0, abs=1e-4)
    np.testing.assert_allclose(
        salinity.sel(season="dry") - salinity.sel(season="wet"), 4.0 + 0 * salinity[0], atol=1e-4
    )


def test_percent_of_seagrass_becomes_a_share_of_the_cell(layers):
    expected = np.zeros((ROWS, COLUMNS))
    expected[10:20, 20:28] = 0.6
    np.testing.assert_allclose(layers["seagrass_cover"][:, OPEN], expected[:, OPEN], atol=1e-6)


def test_nitrogen_of_the_outlet_is_lost_in_the_water_or_leaves_it(layers, inputs):
    # 12 t a year against 5 % a day of what the water holds, and what spreads over the open eastern edge
    added = layers["nitrogen_concentration"].to_numpy().astype(float) - 0.1
    levels = Derivation(inputs, SETTINGS, RECIPES).levels(None).levels
    column = np.maximum(mean_water_column(bed().astype(float), levels), 0.3)
    held = np.nansum(added * column) * 50**2 / 1000  # kg
    lost = held * 0.05 * 365.25
    edge = np.nansum(5.0 * column[:, -1] * added[:, -1] * 2) * 365.25 * 86_400 / 1000  # half a cell to the edge
    assert lost + edge == approx(12_000, rel=1e-4)


def test_what_a_layer_is_made_from_is_noted(inputs):
    made = Derivation(inputs, SETTINGS, RECIPES)
    forage = made.layer("forage")
    assert made.trace("forage").layers == {"seagrass_cover", "bed_light", "surface"}
    assert forage.attrs["function"] == "layers.light.light_limited_cover"
    assert forage.attrs["made_from"] == "bed_light seagrass_cover surface"
    assert forage.attrs["numbers"] == "light.requirement = 0.24 (profile.toml; expert judgement)"
    assert {"chlorophyll", "suspended_solids", "dredge_solids"} <= made.trace("attenuation").layers
    assert "tide" in made.trace("bed_light").feeds
    assert made.layer("forage") is forage, "a layer is made once"


@pytest.mark.parametrize("name", RECIPES)
def test_the_function_a_recipe_names_is_there(name):
    module, _, function = RECIPES[name].function.rpartition(".")
    assert callable(getattr(import_module(module), function))


def test_distances_by_hand(layers):
    assert float(layers["dredging_distance"][20, 29]) == approx(25, abs=1e-3)
    assert float(layers["dredging_distance"][20, 30]) == 0.0
    assert float(layers["landing_distance"][19, 20]) == approx(500, abs=1e-3)
    assert float(layers["track_distance"][5, 10]) == approx(325, abs=1e-3)
    assert float(layers["track_distance"][5, 39]) == 1500.0, "at its reach a distance saturates"


def test_traffic_on_a_straight_route_is_its_chord_over_the_circle(layers):
    # the middle of the grid sees 600 m of route, 8 trips a day, in a circle of 300 m
    circle = np.pi * 0.3**2
    assert float(layers["vessel_density"][15, 31]) == approx(0.6 * 8 / circle, rel=0.05)


def test_stations_without_dates_give_one_field_for_the_year(tmp_path):
    path = write_small_site(tmp_path)
    table = pd.read_csv(tmp_path / "stations.csv").drop_duplicates("station")
    table.drop(columns="date").to_csv(tmp_path / "stations.csv", index=False)
    text = site_text({name: TABLES[name] for name in ("coast", "salinity")})
    path.write_text(text.replace('time = "date"\n', ""), encoding="utf-8")
    salinity = build_layers(read_inputs(path), Settings(wanted=("salinity",)))["salinity"]
    assert salinity.dims == ("y", "x")
    # January's values: 26, 28 and 30 at the three stations
    assert 25.9 < float(salinity.min()) < float(salinity.max()) < 30.1


def test_the_year_without_seasons_has_no_season_dimension(tmp_path):
    path = write_small_site(tmp_path)
    tables = {name: keys for name, keys in TABLES.items() if name in ("coast", "bed")}
    path.write_text(site_text(tables), encoding="utf-8")
    layers = build_layers(read_inputs(path), Settings(wanted=("water_depth", "salinity", "wet_time")))
    found = {"surface", "bed_elevation", "bed_elevation_error", "water_depth"}
    assert set(layers.data_vars) == found, "what no file feeds is absent, not filled in"
    assert layers["water_depth"].dims == ("y", "x")


def test_coast_and_bed_that_disagree_are_counted(tmp_path):
    path = write_small_site(tmp_path)
    tables = {name: keys for name, keys in TABLES.items() if name in ("coast", "bed", "tide")}
    path.write_text(
        site_text(tables).replace('positive = "up"\ndatum', 'positive = "up"\nrule = "nearest"\ndatum'), "utf-8"
    )
    inputs = read_inputs(path)
    made = Derivation(inputs, SETTINGS, RECIPES)
    (found,) = disagreements(inputs, made.bed.to_numpy(), made.levels(None))
    # land columns 0 to 9 have beds from 2 m to -0.25 m: none lies below the lowest water
    assert (found.dry_in_other, found.wet_in_other, found.cells) == (0, 0, ROWS * COLUMNS)
    lowered = made.bed.to_numpy() - 1.0  # now -0.75 m (column 7) and beyond lie below it
    (found,) = disagreements(inputs, lowered, made.levels(None))
    assert found.wet_in_other == 3 * ROWS
    raised = made.bed.to_numpy() + 2.0  # now column 10 to 14 lie above 0.7 m
    (found,) = disagreements(inputs, raised, made.levels(None))
    assert found.dry_in_other == 4 * ROWS
    assert str(found).startswith("coast.gpkg and bed.tif disagree on what is water in 120 of 1,200 cells (10.0 %)")


def test_a_finer_grid_keeps_the_total_load(tmp_path):
    inputs = read_inputs(write_small_site(tmp_path), cell=25)
    layers = build_layers(inputs, Settings(wanted=("nitrogen_concentration",)))
    assert layers["nitrogen_concentration"].shape == (2 * ROWS, 2 * COLUMNS)
    assert "12,000 kg a year of 1 outlets" in layers["nitrogen_concentration"].attrs["method"]
