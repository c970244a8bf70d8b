"""What outlets and dredges put into the water of the small site: nothing is lost on the way from file to layer."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from pytest import approx
from shapely.geometry import Point

from layers.derivation import Derivation, Settings
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from layers.water import mean_water_column
from tests.sites import CELL, CRS, LAND_COLUMNS, TABLES, bed, site_text, write_small_site

SECONDS_A_YEAR = 365.25 * 86_400
DISPERSION = 5.0  # m2/s, of the small site
HELD = 0.1  # mg/L of nitrogen in its sea
OPEN = np.s_[..., LAND_COLUMNS:]
WATER = ("coast", "bed", "tide")
OUTLETS = {"north": Point(500_525, 7_771_025), "south": Point(500_775, 7_770_275)}
# the work of the small site: 500 m3/h of a bed of 800 kg/m3, 0.30 of it fines, of which a cutter suction dredge loses
# 0.02: 500 / 3600 * 800 * 0.30 * 0.02 kg/s, worked out by hand; 36,000 m3 take 72 hours
LOST = 0.66667  # kg/s
HOURS = 72


def made_of(folder, *names, more=None):
    """The derivation of the small site with these of its tables, and others in the place of their like."""
    path = write_small_site(folder / "site")
    tables = {name: TABLES[name] for name in (*WATER, *names)} | (more or {})
    path.write_text(site_text(tables), encoding="utf-8")
    return path, lambda: Derivation(read_inputs(path), Settings(wanted=()), RECIPES)


def write_outlets(folder, name, *, outlets, **loads):
    """Outlets with a column for each load. [t/year]"""
    table = gpd.GeoDataFrame(loads, geometry=[OUTLETS[outlet] for outlet in outlets], crs=CRS)
    table.to_crs(4326).to_file(folder / name)


def of_outlets(file, column="load", season=None, feeds="nitrogen_load"):
    when = f'season = "{season}"\n' if season else ""
    return f'feeds = "{feeds}"\nfile = "{file}"\ncolumn = "{column}"\nunits = "t/year"\n{when}'


def mixed_depth(made):
    """Mean column of water over the tide, no less than the site's least depth. [m]"""
    return np.maximum(mean_water_column(bed().astype(float), made.levels(None).levels), 0.3)


def over_the_edge(made, added):
    """What spreads over the open eastern edge, half a cell from the last centres. [g/s]"""
    return np.nansum(DISPERSION * mixed_depth(made)[:, -1] * CELL * added[:, -1] / (CELL / 2))


@pytest.fixture(scope="module")
def works(tmp_path_factory):
    return made_of(tmp_path_factory.mktemp("works"), "works")[1]()


def test_what_a_work_releases_settles_or_leaves_over_the_open_edge(works):
    released = LOST * 3600 * HOURS  # 172,800 kg
    deposit = works.layer("dredge_deposit").sel(season="dry").to_numpy().astype(float)
    settled = np.nansum(deposit) * CELL**2
    plume = works.layer("dredge_plume").sel(season="dry").to_numpy().astype(float)
    left = over_the_edge(works, plume) / 1000 * 3600 * HOURS
    assert settled + left == approx(released, rel=1e-4)
    assert 0.05 < settled / released < 0.95, "both ways are tried"


def test_the_mean_of_the_season_is_the_plume_for_the_share_of_the_time_that_it_lasts(works):
    plume, mean = (works.layer(name).sel(season="dry").to_numpy() for name in ("dredge_plume", "dredge_solids"))
    share = HOURS / (24 * 184)  # of May to October
    np.testing.assert_allclose(mean[OPEN], share * plume[OPEN], rtol=1e-5)


@pytest.mark.parametrize("name", ["dredge_plume", "dredge_solids", "dredge_deposit"])
def test_a_work_of_the_dry_season_is_nothing_in_the_wet(works, name):
    layer = works.layer(name)
    assert list(layer["season"].values) == ["wet", "dry"]
    assert (layer.sel(season="wet").to_numpy()[OPEN] == 0).all()
    dry = layer.sel(season="dry").to_numpy()
    assert np.isfinite(dry[OPEN]).all() and (dry[OPEN] >= 0).all()
    assert np.isnan(dry[:, :LAND_COLUMNS]).all()
    row, column = np.unravel_index(np.nanargmax(dry), dry.shape)
    assert column in (30, 31) and row >= 14, "the most is in the footprint"


def test_the_words_of_a_plume_say_what_it_rests_on(works):
    said = works.layer("dredge_plume").attrs["method"]
    assert "the channel, cutter suction dredge, 36,000 m3 in 7 days, 0.02 of the fines lost" in said
    assert "0.667 kg/s" in said and "(0.01 to 0.03 published)" in said
    assert "mixing.dispersion = 5 m2/s (site.toml; expert judgement)" in works.layer("dredge_plume").attrs["numbers"]


def test_two_outlets_add_up(tmp_path):
    path, derive = made_of(tmp_path, more={"outlets": of_outlets("loads.gpkg")})
    added = {}
    for outlets, loads in ((("north",), [12.0]), (("south",), [30.0]), (("north", "south"), [12.0, 30.0])):
        (path.parent / "loads.gpkg").unlink(missing_ok=True)
        write_outlets(path.parent, "loads.gpkg", outlets=outlets, load=loads)
        found = derive().layer("nitrogen_concentration")
        assert found.dims == ("y", "x"), "a load of the year has no seasons"
        added[outlets] = found.to_numpy().astype(float)[OPEN] - HELD
    north, south, both = added.values()
    np.testing.assert_allclose(north + south, both, atol=3e-6 * both.max())
    assert min(south.max(), north.max()) > 0.05
    # they stand apart: each is highest beside its own outlet
    assert np.argmax(north) // north.shape[1] == 9 and np.argmax(south) // south.shape[1] == 24


def test_each_season_has_its_own_load_and_a_load_of_the_year_is_in_all(tmp_path):
    more = {
        "wet": of_outlets("loads.gpkg", "wet", "wet"),
        "dry": of_outlets("loads.gpkg", "dry", "dry"),
        "steady": of_outlets("loads.gpkg", "steady", feeds="phosphorus_load"),
    }
    path, derive = made_of(tmp_path, more=more)
    write_outlets(path.parent, "loads.gpkg", outlets=("north",), wet=[40.0], dry=[10.0], steady=[2.0])
    made = derive()
    nitrogen = made.layer("nitrogen_concentration")
    wet, dry = (nitrogen.sel(season=season).to_numpy().astype(float)[OPEN] - HELD for season in ("wet", "dry"))
    np.testing.assert_allclose(wet, 4 * dry, atol=3e-6 * wet.max())
    assert made.layer("phosphorus_concentration").dims == ("y", "x")


def test_a_load_in_other_units_is_the_same_load(tmp_path):
    path, derive = made_of(tmp_path, more={"outlets": of_outlets("loads.gpkg")})
    write_outlets(path.parent, "loads.gpkg", outlets=("north",), load=[36.525])
    tonnes = derive().layer("nitrogen_concentration").to_numpy()
    path.write_text(path.read_text(encoding="utf-8").replace('"t/year"', '"kg/day"'), encoding="utf-8")
    (path.parent / "loads.gpkg").unlink()
    write_outlets(path.parent, "loads.gpkg", outlets=("north",), load=[100.0])  # 36,525 kg in a year of 365.25 days
    np.testing.assert_allclose(derive().layer("nitrogen_concentration").to_numpy(), tonnes, rtol=1e-6)


def test_sediment_of_outlets_settles_or_leaves(tmp_path):
    path, derive = made_of(tmp_path, more={"mud": of_outlets("loads.gpkg", feeds="sediment_load")})
    write_outlets(path.parent, "loads.gpkg", outlets=("north",), load=[500.0])
    text = path.read_text(encoding="utf-8")
    speed = 1e-4  # m/s
    settling = f'[mixing]\nsediment_settling = {{ value = {speed}, units = "m/s", source = "a test" }}\n'
    path.write_text(text.replace("[mixing]\n", settling), encoding="utf-8")
    made = derive()
    added = made.layer("suspended_solids").to_numpy().astype(float) - 5.0  # what the small site's sea holds
    settled = np.nansum(added) * speed * CELL**2  # g/s: what falls on a cell is its concentration times the speed
    assert settled + over_the_edge(made, added) == approx(500e6 / SECONDS_A_YEAR, rel=1e-4)


def test_an_even_current_carries_the_load_down_stream(tmp_path):
    from tests.files import write_raster
    from tests.sites import COLUMNS, NORTH, ROWS, WEST

    path, derive = made_of(tmp_path, more={"outlets": of_outlets("loads.gpkg")})
    write_outlets(path.parent, "loads.gpkg", outlets=("south",), load=[30.0])
    text = path.read_text(encoding="utf-8").replace('open_edges = ["east"]', 'open_edges = ["north", "east", "south"]')
    path.write_text(text, encoding="utf-8")
    still = derive().layer("nitrogen_concentration").to_numpy()
    for way, speed in (("east", 0.0), ("north", 0.05)):
        values = np.full((ROWS, COLUMNS), speed, np.float32)
        write_raster(path.parent / f"{way}.tif", values, west=WEST, north=NORTH, cell=CELL)
        text += f'\n[files.current_{way}]\nfeeds = "current_{way}"\nfile = "{way}.tif"\nunits = "m/s"\n'
        text += 'date = "2024"\nsource = "a test"\nlicence = "CC0-1.0"\ncredit = "nobody"\n'
    path.write_text(text, encoding="utf-8")
    flowing = derive().layer("nitrogen_concentration").to_numpy()
    upstream, downstream = np.s_[28, 15], np.s_[20, 15]  # four rows from the outlet, south and north of it
    assert flowing[downstream] - HELD > 3 * (flowing[upstream] - HELD) > 0
    assert still[downstream] == approx(still[upstream], rel=0.3)
