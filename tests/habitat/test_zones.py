import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from pytest import approx

from habitat.assessment import assess
from habitat.zones import centre_within, hectares_by_class
from layers.quantity import LAND, WATER
from tests.scoring import factor, layers_of, random_layers, small_grid, small_profile

NAN = float("nan")
PLAIN = small_profile(factors=(factor("seagrass_cover", 1, [(0, 0), (1, 1)]),), essential=(), may_lack=0)


def _assessed(profile=PLAIN, **values):
    rows = np.shape(values["seagrass_cover"])[-2:]
    return assess(layers_of(small_grid(*rows), **values), profile)


def _zones(grid, **polygons):
    return geopandas.GeoDataFrame({"name": list(polygons)}, geometry=list(polygons.values()), crs=grid.crs)


def _row(table, kind, label, **where):
    for key, value in where.items():
        table = table[table[key] == value]
    chosen = table[(table["kind"] == kind) & (table["class"] == label)]
    assert len(chosen) == 1
    return chosen.iloc[0]


def test_habitat_units_of_the_raster_worked_out_by_hand():
    """Eight cells of 1 ha with a score: habitat units 4.0; 0 is kept and no data left out."""
    done = _assessed(seagrass_cover=[[0.2, 0.5, 0.9], [0, 0.7, 1], [NAN, 0.4, 0.3]])
    table = hectares_by_class(done)
    scored = table[(table["kind"] == "suitability") & (table["class"] != "no data")]
    assert scored["hectares"].sum() == 8
    assert scored["habitat_units"].sum() == approx(4.0, abs=1e-6)
    assert scored["habitat_units"].sum() / scored["hectares"].sum() == approx(0.5, abs=1e-7)
    # breaks 0.35 and 0.65: 0.2 0 0.3 | 0.5 0.4 | 0.9 0.7 1
    assert scored["hectares"].tolist() == [3, 2, 3]
    assert scored["share"].tolist() == approx([3 / 9, 2 / 9, 3 / 9])
    lacking = _row(table, "suitability", "no data")
    assert lacking["hectares"] == 1
    assert np.isnan(lacking["habitat_units"])


def test_land_counts_nowhere():
    done = _assessed(seagrass_cover=[[0.5, 0.5], [NAN, 0.5]], surface=[[WATER, LAND], [LAND, WATER]])
    table = hectares_by_class(done)
    assert table.groupby("kind")["hectares"].sum().to_dict() == {"suitability": 2, "threat": 2, "concern": 2}
    assert _row(table, "threat", "no data")["hectares"] == 2


def test_every_class_has_a_row_even_where_no_cell_is_in_it():
    table = hectares_by_class(_assessed(seagrass_cover=[[0.5]]))
    assert table.columns.tolist() == ["zone", "kind", "class", "hectares", "share", "habitat_units", "season"]
    assert table.groupby("kind", sort=False)["class"].size().to_dict() == {"suitability": 4, "threat": 4, "concern": 10}
    assert set(table["zone"]) == {"whole site"}
    assert set(table["season"]) == {""}
    assert table.attrs["rule"] == "whole grid"


def test_a_zone_counts_the_exact_share_of_each_cell_and_centres_only_on_request():
    done = _assessed(seagrass_cover=[[1, 0.5], [0, 0.5]])
    grid = small_grid(2, 2)
    # the north-west cell whole, a fifth of the north-east one
    zones = _zones(grid, reserve=shapely.box(500_000, 7_000_100, 500_120, 7_000_200))
    exact, centres = (hectares_by_class(done, zones=zones, coverage=rule) for rule in (None, centre_within))
    assert _row(exact, "suitability", "good habitat")["hectares"] == 1
    assert _row(exact, "suitability", "fair habitat")["hectares"] == approx(0.2, abs=1e-6)
    assert _row(exact, "suitability", "fair habitat")["habitat_units"] == approx(0.1, abs=1e-6)
    assert exact.attrs["rule"] == "cover fraction"
    assert _row(centres, "suitability", "good habitat")["hectares"] == 1
    assert _row(centres, "suitability", "fair habitat")["hectares"] == 0
    assert centres.attrs["rule"] == "centre within"


def test_polygons_of_one_name_are_one_zone_and_zones_may_overlap():
    done = _assessed(seagrass_cover=[[1, 1, 1]])
    grid = small_grid(1, 3)
    left = shapely.box(500_000, 7_000_000, 500_100, 7_000_100)
    right = shapely.box(500_200, 7_000_000, 500_300, 7_000_100)
    polygons = [left, right, shapely.box(*grid.bounds)]
    zones = geopandas.GeoDataFrame({"name": ["ends", "ends", "all"]}, geometry=polygons, crs=grid.crs)
    table = hectares_by_class(done, zones=zones)
    hectares = table[table["kind"] == "suitability"].groupby("zone", sort=False)["hectares"].sum()
    assert hectares.to_dict() == approx({"ends": 2, "all": 3})


def test_a_zone_outside_the_grid_or_on_land_has_no_hectares():
    done = _assessed(seagrass_cover=[[1, 1]], surface=[[WATER, LAND]])
    zones = _zones(
        small_grid(1, 2),
        away=shapely.box(0, 0, 100, 100),
        land=shapely.box(500_100, 7_000_000, 500_200, 7_000_100),
    )
    table = hectares_by_class(done, zones=zones)
    assert (table["hectares"] == 0).all()
    assert table["share"].isna().all()


def test_zonal_sums_are_those_of_exactextract():
    exactextract = pytest.importorskip("exactextract")
    from rasterio.io import MemoryFile

    profile = small_profile()
    grid = small_grid(60, 80)
    done = assess(random_layers(grid, profile), profile)
    random = np.random.default_rng(3)
    centres = random.uniform(grid.bounds[:2], grid.bounds[2:], (6, 2))
    blobs = {f"zone {i}": shapely.Point(*centre).buffer(700 + 300 * i) for i, centre in enumerate(centres)}
    zones = _zones(grid, **blobs)
    table = hectares_by_class(done, zones=zones)

    classes = done["suitability_class"].to_numpy()
    score = np.nan_to_num(done["suitability"].to_numpy())
    place = {"height": 60, "width": 80, "crs": grid.crs.to_wkt(), "transform": grid.transform}
    for code, label in ((1, "poor habitat"), (2, "fair habitat"), (3, "good habitat")):
        inside = (classes == code).astype(np.float64)
        for column, field in (("hectares", inside), ("habitat_units", inside * score)):
            with MemoryFile() as memory:
                with memory.open(driver="GTiff", count=1, dtype="float64", **place) as raster:
                    raster.write(field, 1)
                sums = exactextract.exact_extract(memory.name, zones, ["sum"], include_cols="name", output="pandas")
            ours = [_row(table, "suitability", label, zone=name)[column] for name in blobs]
            # exactextract keeps shares as float32 too
            np.testing.assert_allclose(ours, sums["sum"], rtol=1e-5, atol=1e-4)


def test_sums_over_the_whole_site_are_those_of_pandas():
    profile = small_profile()
    done = assess(random_layers(small_grid(50, 40), profile), profile)
    cells = pd.DataFrame({name: done[name].to_numpy().ravel() for name in ("concern", "suitability", "threat_class")})
    cells = cells.astype({"suitability": float})
    table = hectares_by_class(done)
    by_concern = cells[cells["concern"] > 0].groupby("concern")["suitability"].agg(["size", "sum"])
    ours = table[(table["kind"] == "concern") & (table["hectares"] > 0) & (table["class"] != "no data")]
    assert ours["hectares"].tolist() == by_concern["size"].tolist()
    assert ours["habitat_units"].tolist() == approx(by_concern["sum"].tolist(), rel=1e-12)
    by_threat = cells[cells["threat_class"] > 0].groupby("threat_class")["suitability"].sum()
    threat = table[(table["kind"] == "threat") & (table["class"] != "no data")]
    assert threat["habitat_units"].tolist() == approx(by_threat.tolist(), rel=1e-12)


def test_seasons_come_one_by_one_or_all_in_turn():
    profile = small_profile()
    done = assess(random_layers(small_grid(8, 9), profile, seasonal=("salinity",)), profile)
    both = hectares_by_class(done)
    assert both["season"].unique().tolist() == ["wet", "dry"]
    dry = hectares_by_class(done, "dry")
    pd.testing.assert_frame_equal(both[both["season"] == "dry"].reset_index(drop=True), dry)
    with pytest.raises(ValueError, match=r"^season 'spring' is not one of: wet, dry\.$"):
        hectares_by_class(done, "spring")


def test_zones_that_cannot_be_placed_are_refused():
    done = _assessed(seagrass_cover=[[1.0]])
    box = shapely.box(500_000, 7_000_000, 500_100, 7_000_100)
    with pytest.raises(ValueError, match=r"^zones must have a column `name`\.$"):
        hectares_by_class(done, zones=geopandas.GeoDataFrame(geometry=[box], crs="EPSG:32745"))
    with pytest.raises(ValueError, match=r"^zones must be in the CRS of the grid\.$"):
        hectares_by_class(done, zones=geopandas.GeoDataFrame({"name": ["a"]}, geometry=[box], crs="EPSG:32746"))
