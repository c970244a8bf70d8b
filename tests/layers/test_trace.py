"""What a layer was made from: the note of it is whole, and what is not in it cannot touch the layer."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from layers import quantity as q
from layers.amount import Amount
from layers.derivation import Derivation, Settings
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from layers.trace import Trace
from tests.files import write_shapes
from tests.sites import TABLES, site_text, write_small_site

NUMBERS = {
    "light.water": (0.3, "1/m"),
    "light.per_chlorophyll": (0.02, "m2/mg"),
    "light.per_solids": (0.1, "m2/g"),
    "light.chlorophyll_per_nitrogen": (20.0, "ug/mg"),
    "light.requirement": (0.24, "1"),
    "light.secchi_product": (1.45, "1"),
    "striking.depth": (1.5, "m"),
    "striking.share_when_deep": (0.5, "1"),
}
SETTINGS = Settings(
    wanted=(),
    feeding_depth=(0.5, 3.0),
    reach={name: 1500.0 for name in q.LAYERS if q.LAYERS[name].saturates},
    amounts={
        key: Amount(value=value, units=units, source="a test", file="profile.toml")
        for key, (value, units) in NUMBERS.items()
    },
)


FILES = ("coast", "bed", "tide", "seagrass", "outlets", "works", "ferry", "nets", "wind")


def written(folder):
    """The folder of the small site with some of its files: those of stations take long."""
    path = write_small_site(folder / "site")
    path.write_text(site_text({name: TABLES[name] for name in FILES}), encoding="utf-8")
    return path.parent


def derived(place):
    """Every layer of the site at `place`, and how they were made."""
    made = Derivation(read_inputs(place), SETTINGS, RECIPES)
    return made, {name: made.layer(name) for name in RECIPES}


def same(one, other):
    """Whether two layers hold the same bytes."""
    if one is None or other is None:
        return one is other
    return one.dims == other.dims and one.to_numpy().tobytes() == other.to_numpy().tobytes()


def behind(made, name):
    """Every feed asked for by a layer, or by one on the way to it."""
    trace = made.trace(name)
    return set(trace.feeds).union(*(behind(made, layer) for layer in trace.layers))


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    place = written(tmp_path_factory.mktemp("before"))
    return place, *derived(place)


def changed_by(spoil, before, folder):
    """Names of the layers whose bytes differ once a file is changed."""
    place = written(folder)
    spoil(place)
    _, after = derived(place)
    return {name for name in RECIPES if not same(before[2][name], after[name])}


def column_times(file, column, factor):
    """Multiply a column of a CSV."""

    def spoil(place):
        table = pd.read_csv(place / file)
        table[column] = table[column] * factor
        table.to_csv(place / file, index=False)

    return spoil


def moved_nets(place):
    (place / "nets.gpkg").unlink()
    write_shapes(place / "nets.gpkg", [Point(501_525, 7_771_225)])


def thinner_seagrass(place):
    table = gpd.read_file(place / "seagrass.gpkg")
    (place / "seagrass.gpkg").unlink()
    table.assign(cover=30.0).to_file(place / "seagrass.gpkg")


def longer_work(place):
    table = gpd.read_file(place / "channel.zip")
    (place / "channel.zip").unlink()
    table.assign(volume_m3=72_000.0).to_file(place / "channel.shp.zip")
    (place / "channel.shp.zip").rename(place / "channel.zip")


CHANGES = {
    "net": (moved_nets, {"net_distance"}),
    "seagrass": (thinner_seagrass, {"seagrass_cover", "forage"}),
    "wind": (column_times("wind.csv", "share", [0.4, 0.1, 0.1, 0.4] / np.array([0.1, 0.4, 0.4, 0.1])), {"fetch"}),
    # twice the volume takes twice the time: there is more of it, and no thicker plume
    "dredge_work": (
        longer_work,
        {"dredge_solids", "dredge_deposit", "attenuation", "bed_light", "depth_limit", "forage"},
    ),
}


@pytest.mark.parametrize("feeds", CHANGES)
def test_a_changed_file_changes_the_layers_that_note_it_and_leaves_the_rest_to_the_byte(feeds, before, tmp_path):
    spoil, expected = CHANGES[feeds]
    changed = changed_by(spoil, before, tmp_path)
    assert changed == expected
    for name in RECIPES:
        assert name not in changed or feeds in behind(before[1], name), f"{name} changed and does not note {feeds}"
    assert "net" not in behind(before[1], "forage")


def test_the_tide_touches_no_layer_that_does_not_note_it(before, tmp_path):
    changed = changed_by(column_times("tide.csv", "amplitude", 1.2), before, tmp_path)
    unnoted = {name for name in changed if "tide" not in behind(before[1], name)}
    assert unnoted == set()
    assert {"wet_time", "bed_light", "nitrogen_concentration", "dredge_plume", "keel_clearance"} <= changed
    assert not changed & {"net_distance", "seagrass_cover", "vessel_density", "track_distance"}


def test_what_was_asked_for_in_vain_is_noted_too(tmp_path):
    path = write_small_site(tmp_path)
    path.write_text(site_text({name: TABLES[name] for name in ("coast", "bed", "seagrass")}), encoding="utf-8")
    made, layers = derived(path)
    assert layers["salinity"] is None
    # a gauge, a tide or a dredge would change the forage, were they there
    assert {"seagrass", "tide", "water_level", "dredge_work", "suspended_solids"} <= behind(made, "forage")


def test_a_number_is_noted_with_its_unit_and_where_it_stands(before):
    made = before[1]
    assert made.trace("forage").numbers == {"light.requirement": "0.24 (profile.toml; a test)"}
    noted = made.trace("nitrogen_concentration").numbers
    assert noted["mixing.dispersion"] == "5 m2/s (site.toml; expert judgement)"
    assert noted["mixing.nitrogen_loss"] == "0.05 1/day (site.toml; expert judgement)"
    assert made.trace("fetch").numbers == {"reach.fetch": "1500 m (profile)"}


def test_what_several_layers_share_is_noted_by_each_of_them(before):
    made = before[1]
    for name in ("dredge_plume", "dredge_solids", "dredge_deposit"):
        assert {"dredge_work", "bed_elevation", "tide"} <= behind(made, name)
        assert "mixing.least_depth" in made.trace(name).numbers, f"{name} was made second and notes nothing"


def test_traces_join_and_tell_themselves_as_attributes():
    one = Trace(feeds={"tide"}, numbers={"bed.yearly_change": "0.1 m (site.toml; a test)"})
    one.add(Trace(feeds={"net"}, numbers={"light.water": "0.3 1/m (profile.toml; a test)"}))
    assert one.feeds == {"tide", "net"}
    assert one.attributes() == {
        "numbers": "bed.yearly_change = 0.1 m (site.toml; a test); light.water = 0.3 1/m (profile.toml; a test)"
    }
    assert Trace().attributes() == {}
