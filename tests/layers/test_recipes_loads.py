"""What land sends to the water, through real rasters, tables and a site file to the outlets on the shore."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pytest import approx
from shapely.geometry import Point, box

from layers.derivation import Derivation, Settings
from layers.fault import LayerError
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from layers.recipes.loads import catchment_result, outlet_loads
from tests.files import write_raster
from tests.sites import CRS, TABLES, site_text, write_small_site

ROWS, COLUMNS, CELL = 10, 50, 100  # of land: 500 cells of one hectare, then one column of the small site's water
WEST, SOUTH, EAST, NORTH = 495_500, 7_770_200, 500_600, 7_771_200
WET_SHARE = (30 + 31 + 31 + 28.25 + 31 + 30) / 365.25  # November to April
PLAN = f"\n[catchment]\nwest = {WEST}\nsouth = {SOUTH}\neast = {EAST}\nnorth = {NORTH}\ncell = {CELL}\n"
FILES = {
    "land_cover": 'feeds = "land_cover"\nfile = "land_cover.tif"\nunits = "1"\n',
    "covers": 'feeds = "cover_table"\nfile = "land_cover.csv"\n',
    "soil": 'feeds = "soil_group"\nfile = "soil.tif"\nunits = "1"\n',
    "soils": 'feeds = "soil_table"\nfile = "soil.csv"\n',
    "rain": 'feeds = "rain"\nfile = "rain.csv"\ntime = "date"\ncolumn = "rain"\nunits = "mm"\n',
}
TERRAIN = {"terrain": 'feeds = "terrain"\nfile = "terrain.tif"\nunits = "m"\n'}
DRAWN = {
    "basins": 'feeds = "catchment"\nfile = "basins.gpkg"\ncolumn = "name"\n',
    "mouths": 'feeds = "catchment_outlet"\nfile = "mouths.gpkg"\ncolumn = "name"\n',
}
COVERS = """code,label,curve_number_cover,export_cover,concentration_cover,cover_factor
1,row crops,"pasture, poor",row crops,nothing,0.2
2,forest,"woods, good",forest,nothing,0.2
3,town,commercial,urban,nothing,0.2
"""


def write_land(folder, *, slope=0.01, codes=None):
    """Land that falls eastwards to the water: 120 ha of row crops, 300 ha of forest and 80 ha of town."""
    codes = np.repeat([1.0, 2.0, 3.0], [120, 300, 80]) if codes is None else codes
    on_land = np.column_stack([np.reshape(codes, (ROWS, COLUMNS)), np.full(ROWS, np.nan)])
    form = {"west": WEST, "north": NORTH, "cell": CELL, "nodata": np.nan}
    fall = np.tile(slope * CELL * np.arange(COLUMNS, -1, -1.0), (ROWS, 1))
    write_raster(folder / "terrain.tif", fall.astype(np.float32), **form)
    write_raster(folder / "land_cover.tif", on_land.astype(np.float32), **form)
    write_raster(folder / "soil.tif", np.where(np.isnan(on_land), np.nan, 7).astype(np.float32), **form)
    (folder / "land_cover.csv").write_text(COVERS, encoding="utf-8")
    (folder / "soil.csv").write_text("code,soil_group,erodibility\n7,B,0.03\n", encoding="utf-8")
    days = pd.date_range("2021-01-01", "2022-12-31")
    # storms of 60 mm every tenth day of the wet months, of 30 mm of the others
    storms = np.where(np.arange(len(days)) % 10 == 0, np.where(days.month.isin([11, 12, 1, 2, 3, 4]), 60, 30), 0)
    rain = pd.DataFrame({"date": days.strftime("%Y-%m-%d"), "rain": storms})
    rain.to_csv(folder / "rain.csv", index=False)


def made_of(folder, *, tables=None, plan=PLAN, seasons=True, **land):
    """The derivation of the small site's water with this land behind it."""
    path = write_small_site(folder / "site")
    write_land(path.parent, **land)
    names = {name: TABLES[name] for name in ("coast", "bed")}
    text = site_text(names | FILES | (TERRAIN if tables is None else tables)) + plan
    if not seasons:
        text = text[: text.index("[seasons]")] + text[text.index("[water]") :]
    path.write_text(text, encoding="utf-8")
    return Derivation(read_inputs(path), Settings(wanted=()), RECIPES)


def total(made, substance, season=None):
    return outlet_loads(made, substance)[season].kilograms_a_year.sum()


def test_hectares_times_coefficients_come_through_rasters_and_site_file(tmp_path):
    # 120 ha * 9.0 + 300 ha * 2.46 + 80 ha * 5.5 kg/ha/year of nitrogen, 120 * 2.24 + 300 * 0.206 + 80 * 1.10 of
    # phosphorus: arithmetic, with the medians of Reckhow, Beaulac & Simpson 1980, EPA 440/5-80-011 (from memory)
    made = made_of(tmp_path, seasons=False)
    assert total(made, "nitrogen") == approx(2258.0, abs=0.05)
    assert total(made, "phosphorus") == approx(418.6, abs=0.05)
    assert catchment_result(made).catchment.hectares.sum() == approx(500)
    # each outlet stands in the column of water on the shore, or beside it
    assert (np.abs(outlet_loads(made, "nitrogen")[None].places[:, 0] - 500_500) <= CELL).all()


def test_seasons_weighed_by_their_length_add_up_to_the_year(tmp_path):
    made = made_of(tmp_path)
    assert set(outlet_loads(made, "nitrogen")) == {"wet", "dry"}
    wet, dry = total(made, "nitrogen", "wet"), total(made, "nitrogen", "dry")
    assert WET_SHARE * wet + (1 - WET_SHARE) * dry == approx(2258.0, rel=2e-3)
    assert wet > 2 * dry > 0, "twice the rain runs off more than twice"


def test_outlets_of_a_file_stand_beside_those_of_the_land(tmp_path):
    tables = TERRAIN | {
        "works": 'feeds = "nitrogen_load"\nfile = "outlets.geojson"\ncolumn = "nitrogen"\nunits = "t/year"\n'
    }
    made = made_of(tmp_path, tables=tables, seasons=False)
    loads = outlet_loads(made, "nitrogen")[None]
    assert loads.kilograms_a_year[0] == approx(12_000), "the outlet of the small site"
    assert total(made, "nitrogen") == approx(12_000 + 2258.0, abs=0.05)
    assert loads.told.startswith("1 outlets of outlets.geojson and ") and loads.told.endswith(
        "outlets of the catchment"
    )
    assert {entry.feeds for entry in loads.entries} >= {"nitrogen_load", "land_cover", "rain", "terrain"}


def test_the_land_raises_the_nitrogen_of_the_water(tmp_path):
    made = made_of(tmp_path, seasons=False)
    added = made.layer("nitrogen_concentration").to_numpy().astype(float) - 0.1
    assert np.nanmax(added) > 0.005
    assert np.unravel_index(np.nanargmax(added), added.shape)[1] in (10, 11, 12), "beside the shore"
    assert "2,258 kg a year" in made.layer("nitrogen_concentration").attrs["method"]


def test_drawn_catchments_send_the_load_of_their_own_land_to_their_own_outlet(tmp_path):
    path = write_small_site(tmp_path / "site")
    middle = 7_770_700
    named = {"north": box(WEST, middle, 500_500, NORTH), "south": box(WEST, SOUTH, 500_500, middle)}
    mouths = {"south": Point(500_525, SOUTH + 125), "north": Point(500_525, NORTH - 125)}  # in another order
    for file, shapes in (("basins.gpkg", named), ("mouths.gpkg", mouths)):
        gpd.GeoDataFrame({"name": list(shapes)}, geometry=list(shapes.values()), crs=CRS).to_file(path.parent / file)
    # forest north of the middle, row crops south of it
    made = made_of(tmp_path, tables=DRAWN, seasons=False, codes=np.repeat([2.0, 1.0], 250))
    loads = outlet_loads(made, "nitrogen")[None]
    by_row = {y: load for (_, y), load in zip(loads.places, loads.kilograms_a_year, strict=True)}
    assert by_row == {NORTH - 125: approx(250 * 2.46), SOUTH + 125: approx(250 * 9.0)}


def test_soil_is_washed_off_by_the_equation_and_a_share_of_it_delivered(tmp_path):
    # 8 % over 100 ft: LS = 0.991, computed from the equation of Wischmeier & Smith 1978, USDA Agriculture Handbook
    # 537, whose table 3 agrees (from memory). 2000 * 0.03 * 0.991 * 0.2 t/ha/year, a tenth of it to the water
    numbers = "".join(
        f'{key} = {{ value = {value}, units = "{units}", source = "a test" }}\n'
        for key, value, units in (
            ("erosivity", 2000, "MJ*mm/ha/hour/year"),
            ("slope_length", 100, "ft"),
            ("delivery_ratio", 10, "percent"),
        )
    )
    made = made_of(tmp_path, plan=PLAN + numbers, seasons=False, slope=0.08)
    assert total(made, "sediment") == approx(500 * 2000 * 0.03 * 0.991 * 0.2 * 0.1 * 1000, rel=0.01)


def test_without_the_numbers_of_soil_loss_sediment_is_runoff_times_concentration(tmp_path):
    # every cover of this table brings "nothing" by concentration
    assert total(made_of(tmp_path, seasons=False), "sediment") == 0


def test_ground_without_soil_sends_no_runoff_and_is_no_fault(tmp_path):
    path = write_small_site(tmp_path / "site")
    made = made_of(tmp_path, seasons=False)
    (path.parent / "soil.csv").write_text("code,soil_group\n7,\n", encoding="utf-8")
    bare = Derivation(read_inputs(path), Settings(wanted=()), RECIPES)
    runoff = catchment_result(bare).load.outlets["runoff_m3_per_year"]
    assert np.nansum(runoff) == 0 < catchment_result(made).load.outlets["runoff_m3_per_year"].sum()


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("land_cover.csv", "3,town", "4,town", "The map holds code 3, which has none"),
        ("soil.csv", "7,B", "8,B", "the map holds code 7, which is not listed"),
        ("rain.csv", "2021-03-05,0\n", "", "2021-03-06 follows 2021-03-04"),
    ],
)
def test_maps_tables_and_rain_that_do_not_go_together_are_refused(tmp_path, file, old, new, said):
    made_of(tmp_path)
    path = tmp_path / "site" / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    made = Derivation(read_inputs(path.parent), Settings(wanted=()), RECIPES)
    with pytest.raises(LayerError, match=said):
        made.layer("nitrogen_concentration")


def test_a_site_without_loads_has_none(tmp_path):
    path = write_small_site(tmp_path / "site")
    path.write_text(site_text({name: TABLES[name] for name in ("coast", "bed")}), encoding="utf-8")
    made = Derivation(read_inputs(path), Settings(wanted=()), RECIPES)
    assert outlet_loads(made, "nitrogen") == {} and catchment_result(made) is None
    assert made.layer("nitrogen_concentration") is None
