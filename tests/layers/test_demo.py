"""The invented site: real files that agree with each other and tell the story they are meant to tell.

The files are read back with rasterio, pyogrio (through geopandas) and pandas, the tide is analysed with utide,
and distances along the water are left to the tests of their own modules.
"""

from __future__ import annotations

import tomllib
import zipfile

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely
import utide
from rasterio.features import rasterize
from scipy import ndimage

from layers.demo import write_demo
from layers.demo.folder import charted_bed
from layers.demo.terrain import terrain
from layers.demo.tide import tide_level
from layers.fault import RecordError
from layers.step import Step

CELL = 100
BOUNDS = (500_000, 7_770_000, 520_000, 7_790_000)
CRS = "EPSG:32745"
WET_MONTHS = (11, 12, 1, 2, 3, 4)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """The folder of the invented site, on 100 m cells to be quick."""
    return write_demo(tmp_path_factory.mktemp("demo") / "lagoon", cell=CELL).parent


@pytest.fixture(scope="module")
def told(place):
    """The site file as written."""
    return tomllib.loads((place / "site.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def bed(place):
    with rasterio.open(place / "bed.tif") as raster:
        return raster.read(1, masked=True).filled(np.nan)


@pytest.fixture(scope="module")
def land(place):
    """True where the centre of a cell lies on land, by GDAL's rasteriser."""
    return _land(place, CELL)


@pytest.fixture(scope="module")
def stations(place):
    table = pd.read_csv(place / "stations.csv", parse_dates=["date"], keep_default_na=True)
    table["wet"] = table["date"].dt.month.isin(WET_MONTHS)
    return table


def _features(place, name):
    return geopandas.read_file(place / name).to_crs(CRS)


def _land(place, cell):
    rows = round((BOUNDS[3] - BOUNDS[1]) / cell)
    corner = rasterio.transform.from_origin(BOUNDS[0], BOUNDS[3], cell, cell)
    return rasterize(geopandas.read_file(place / "land.gpkg").geometry, (rows, rows), transform=corner) == 1


def _at(field, geometry):
    """Values of the cells that hold the points of `geometry`."""
    row = ((BOUNDS[3] - geometry.y) // CELL).astype(int)
    column = ((geometry.x - BOUNDS[0]) // CELL).astype(int)
    return field[row, column]


# the folder


def test_every_file_the_site_names_is_there_and_says_where_it_is_from(place, told):
    assert told["format"] == 1 and told["invented"] is True
    assert len(told["files"]) >= 20
    for name, entry in told["files"].items():
        assert (place / entry["file"]).is_file(), name
        assert entry["source"] == "invented for demonstration", name
        assert entry["licence"] == "CC0-1.0", name
        assert entry["credit"] and entry["date"], name
    assert told["files"]["sightings"]["sensitive"] is True


def test_all_three_proposals_carry_a_kind_a_name_and_a_note(place):
    kinds = {}
    for path in sorted((place / "proposals").iterdir()):
        features = geopandas.read_file(path)
        assert features["kind"].str.len().gt(0).all() and features["note"].str.len().gt(0).all()
        assert features["name"].str.len().gt(0).all() and features.crs is not None
        kinds[path.name] = set(features["kind"])
    assert kinds == {
        "farm.geojson": {"outfall"},
        "marina.gpkg": {"dredged area", "moorings", "vessel route"},
        "road.zip": {"mangrove cleared", "structure"},
    }


def test_the_read_me_says_that_the_place_is_invented(place):
    assert "THIS PLACE IS INVENTED" in (place / "README.txt").read_text(encoding="utf-8")


def test_the_read_me_lists_every_file(place):
    text = (place / "README.txt").read_text(encoding="utf-8")
    files = [path.relative_to(place).as_posix() for path in place.rglob("*") if path.is_file()]
    assert [name for name in files if name != "README.txt" and name not in text] == []


def test_the_formats_are_those_people_have(place):
    with rasterio.open(place / "bed.tif") as raster:
        assert (raster.driver, raster.dtypes, raster.nodata) == ("GTiff", ("float32",), -9999.0)
        assert raster.crs.to_epsg() == 32745 and tuple(raster.bounds) == BOUNDS
        assert raster.units == ("m",)
    with rasterio.open(place / "water_temperature.tif") as raster:
        assert raster.count == 2 and raster.crs.to_epsg() == 4326
    assert zipfile.is_zipfile(place / "seagrass.zip")
    assert _features(place, "zones.gpkg")["name"].tolist() == [
        "Ambrel Flats",
        "Quorvane Reach",
        "Tessamure Sound",
    ]
    assert geopandas.read_file(place / "outlets.geojson").crs.to_epsg() == 4326


def test_all_shapes_are_valid_and_reach_into_the_site(place):
    inside = shapely.box(*BOUNDS)
    paths = [path for path in place.rglob("*") if path.suffix in (".gpkg", ".geojson", ".zip")]
    assert len(paths) >= 15
    for path in paths:
        features = geopandas.read_file(path).to_crs(CRS)
        assert features.is_valid.all() and not features.is_empty.any(), path.name
        assert features.intersects(inside).all(), path.name


def test_the_same_values_are_written_every_time_step_by_step(place, tmp_path):
    steps = []
    again = write_demo(tmp_path / "again", cell=CELL, on_step=steps.append).parent
    assert [step.number for step in steps] == list(range(1, steps[0].of + 1))
    for path in sorted(place.rglob("*")):
        other = again / path.relative_to(place)
        if path.suffix in (".csv", ".txt", ".toml", ".geojson", ".tif", ".zip"):
            assert path.read_bytes() == other.read_bytes(), path.name
        elif path.suffix == ".gpkg":  # its bytes hold the time of writing
            geopandas.testing.assert_geodataframe_equal(geopandas.read_file(path), geopandas.read_file(other))


def test_a_folder_that_exists_is_refused_and_left_as_it_is(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(RecordError, match="exists already"):
        write_demo(tmp_path / "mine")
    assert [path.name for path in tmp_path.rglob("*")] == ["mine", "notes.txt"]


def test_a_place_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(RecordError, match="no such folder"):
        write_demo(tmp_path / "nowhere" / "lagoon")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("cell", [0, -40, 3, 30, 1000, float("nan")])
def test_a_cell_that_does_not_divide_the_site_is_refused(tmp_path, cell):
    with pytest.raises(ValueError, match=r"cell: .* m was given, .*such as 10, 20, 40 or 100\.$"):
        write_demo(tmp_path / "lagoon", cell=cell)
    assert list(tmp_path.iterdir()) == []


def test_a_stop_half_way_leaves_nothing_behind(tmp_path):
    def stop(step: Step) -> None:
        if step.number == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_demo(tmp_path / "lagoon", cell=CELL, on_step=stop)
    assert list(tmp_path.iterdir()) == []


# the coast


def test_land_and_bed_agree_on_more_than_99_cells_in_100(bed, land):
    charted = ~np.isnan(bed)
    high = np.where(charted, bed, 0) > 0.75  # mean high water of the tide below
    assert np.mean((high != land)[charted]) < 0.01


def test_a_quarter_to_a_third_of_the_site_is_land_and_a_tenth_dries(bed, land):
    assert 0.25 < land.mean() < 0.35
    assert 0.05 < np.mean((bed > -0.75) & (bed < 0.75)) < 0.15


def test_all_water_hangs_together_but_only_through_two_inlets(place):
    land = _land(place, 40)  # the coarse grid: creeks are still whole on it
    _, bodies = ndimage.label(~land)  # cells that share a side
    assert bodies == 1
    for north in (6_100, 14_300):  # a dam 2 km long and 700 m wide across each inlet
        row = int((20_000 - north) / 40)
        land[row - 25 : row + 26, 318:336] = True
    dammed, _ = ndimage.label(~land)
    lagoon, sea = dammed[int(10_000 / 40), int(11_300 / 40)], dammed[int(10_000 / 40), int(17_000 / 40)]
    assert lagoon > 0 and sea > 0 and lagoon != sea


def test_the_far_corner_of_the_sea_is_uncharted(bed):
    assert np.isnan(bed[0, -1])
    assert 0 < np.isnan(bed).mean() < 0.02


def test_coarse_and_fine_cells_lie_on_the_same_ground(bed):
    fine = charted_bed(terrain(), CELL / 5)
    rows = bed.shape[0]
    mean = fine.reshape(rows, 5, rows, 5).mean(axis=(1, 3))
    both = ~np.isnan(mean) & ~np.isnan(bed)
    assert np.abs(mean - bed)[both].mean() < 0.05
    assert np.mean(np.isnan(mean) != np.isnan(bed)) < 0.001


def test_the_dredged_channel_is_deeper_than_the_ground_beside_it(place):
    middle = _features(place, "dredging.gpkg").set_index("name").geometry["middle reach"]  # across the shoals
    beside = middle.buffer(300).difference(middle.buffer(120))
    with rasterio.open(place / "bed.tif") as raster:
        shape, transform, values = raster.shape, raster.transform, raster.read(1)
    dredged, natural = (rasterize([part], shape, transform=transform) == 1 for part in (middle, beside))
    assert np.median(values[dredged]) < np.median(values[natural]) - 0.7


# the tide and the gauge


def test_an_independent_analysis_of_the_gauge_finds_the_constituents(place):
    given = pd.read_csv(place / "tide_constituents.csv").set_index("constituent")
    gauge = pd.read_csv(place / "tide_gauge.csv", parse_dates=["time"])
    found = utide.solve(
        gauge["time"], gauge["level"], lat=-20.08, constit=list(given.index), trend=False, verbose=False
    )
    assert set(found.name) == set(given.index)
    for name, amplitude, phase in zip(found.name, found.A, found.g, strict=True):
        assert amplitude == pytest.approx(given.loc[name, "amplitude"], abs=0.01), name
        turn = (phase - given.loc[name, "phase"] + 180) % 360 - 180
        assert abs(turn) < 12, name


def test_the_gauge_runs_for_sixty_days_with_one_gap_above_chart_datum(place, told):
    gauge = pd.read_csv(place / "tide_gauge.csv", parse_dates=["time"])
    steps = gauge["time"].diff().dropna()
    assert (steps > pd.Timedelta("15min")).sum() == 1 and steps.min() == pd.Timedelta("15min")
    assert gauge["time"].iloc[-1] - gauge["time"].iloc[0] > pd.Timedelta("59D")
    assert gauge["level"].mean() == pytest.approx(-told["datums"]["chart datum"], abs=0.05)


def test_the_mean_range_is_a_metre_and_a_half():
    level = tide_level(pd.date_range("2021-01-01", "2021-12-31", freq="10min"))
    inner = level[1:-1]
    high = inner[(inner > level[:-2]) & (inner >= level[2:])].mean()
    low = inner[(inner < level[:-2]) & (inner <= level[2:])].mean()
    assert high - low == pytest.approx(1.5, abs=0.05)
    assert high == pytest.approx(0.75, abs=0.02)  # where land begins


# the stations


def test_twelve_stations_report_for_eight_years_with_gaps(stations, bed):
    assert stations["station"].nunique() == 12
    assert stations["date"].dt.year.nunique() == 8
    visits = stations.groupby("station")["date"].count()
    assert (visits < 96).all() and visits.sum() < 12 * 96
    assert stations["salinity"].isna().any()
    assert stations.groupby("station")["date"].apply(lambda dates: dates.is_monotonic_increasing).all()
    assert not stations.duplicated(["station", "date"]).any()


def test_stations_lie_in_the_water_of_the_site(stations, land):
    places = stations.drop_duplicates("station")
    points = geopandas.GeoSeries.from_xy(places["longitude"], places["latitude"], crs="EPSG:4326").to_crs(CRS)
    assert points.within(shapely.box(*BOUNDS)).all()
    assert not _at(land, points).any()


def test_values_below_detection_stand_as_the_limit_beside_a_flag(stations):
    flagged = stations[stations["nitrate_flag"] == "<"]
    assert 3 <= len(flagged) <= 60
    assert (flagged["nitrate_mg_per_l"] == 0.01).all()
    assert stations["nitrate_mg_per_l"].min() == 0.01
    assert stations.select_dtypes("number").columns.tolist() == [
        "longitude",
        "latitude",
        "salinity",
        "temperature_c",
        "nitrate_mg_per_l",
        "chlorophyll_ug_per_l",
        "suspended_solids_mg_per_l",
        "secchi_m",
    ]


def test_the_wet_season_freshens_the_river_mouth_and_not_the_sea(stations):
    mean = stations.groupby(["station", "wet"])["salinity"].mean().unstack()
    assert mean.loc["TL02", True] < mean.loc["TL02", False] - 8
    assert mean.loc["TL03", True] < mean.loc["TL03", False] - 5
    assert abs(mean.loc["TL12", True] - mean.loc["TL12", False]) < 1
    assert mean.loc["TL01", True] < mean.loc["TL02", True] < mean.loc["TL03", True] < mean.loc["TL06", True]


def test_the_river_grows_richer_in_nitrate(stations):
    yearly = stations[stations["station"] == "TL02"].groupby(stations["date"].dt.year)["nitrate_mg_per_l"].mean()
    assert np.polyfit(yearly.index, np.log(yearly), 1)[0] > 0


def test_the_northern_corner_is_hot_and_shallow_in_the_wet_season_only(place, bed):
    x, y = 508_600, 7_787_300
    longitude, latitude = geopandas.GeoSeries.from_xy([x], [y], crs=CRS).to_crs("EPSG:4326").iloc[0].coords[0]
    with rasterio.open(place / "water_temperature.tif") as raster:
        wet, dry = next(raster.sample([(longitude, latitude)]))
    assert wet > 32 and dry < 30
    assert -1.6 < bed[(7_790_000 - y) // CELL, (x - 500_000) // CELL] < -0.3


# what grows


def test_seagrass_grows_in_beds_of_different_cover_below_low_water(place, bed, land):
    beds = _features(place, "seagrass.zip")
    assert beds["cover_pct"].between(5, 100).all() and beds["cover_pct"].nunique() > 10
    assert (beds.area > 500_000).sum() >= 4
    shares = rasterize(
        beds.geometry, bed.shape, transform=rasterio.transform.from_origin(500_000, 7_790_000, CELL, CELL)
    )
    assert np.mean(land[shares == 1]) < 0.005
    assert np.nanmedian(bed[shares == 1]) == pytest.approx(-1.5, abs=0.6)


def test_beds_of_seagrass_do_not_lie_over_each_other(place):
    beds = _features(place, "seagrass.zip")
    assert beds.union_all().area == pytest.approx(beds.area.sum(), rel=0.005)


def test_mangrove_stands_between_the_tides_and_behind_the_barrier(place, bed):
    stands = _features(place, "mangrove.gpkg")
    mask = rasterize(
        stands.geometry, bed.shape, transform=rasterio.transform.from_origin(500_000, 7_790_000, CELL, CELL)
    )
    assert np.mean(bed[mask == 1] > -0.3) > 0.97 and np.mean(bed[mask == 1] < 1.5) > 0.97
    assert stands.bounds["maxx"].max() < 514_200


def test_springs_and_landing_places_lie_in_the_water(place, land):
    for name, count in (("springs.geojson", 2), ("landings.geojson", 4), ("outlets.geojson", 2)):
        points = _features(place, name).geometry
        assert len(points) == count
        near = _at(ndimage.binary_erosion(land, np.ones((3, 3))), points)
        assert not near.any(), name


def test_vessels_keep_to_the_water(place):
    routes = _features(place, "vessel_routes.gpkg")
    land = _features(place, "land.gpkg").union_all()
    on_land = routes.intersection(land).length / routes.length
    assert (on_land < 0.01).all(), dict(zip(routes["name"], on_land, strict=True))
    assert routes["trips"].gt(0).all()


def test_outlets_shed_most_of_their_nitrogen_in_the_wet_season(place):
    outlets = _features(place, "outlets.geojson")
    farms = outlets[outlets["kind"] == "farm"]
    assert (farms["wet_kg_per_year"] > 5 * farms["dry_kg_per_year"]).all()


def test_the_wind_table_adds_up(place):
    wind = pd.read_csv(place / "wind.csv")
    assert wind["share"].sum() == pytest.approx(1) and len(wind) == 16
    assert wind.loc[wind["share"].idxmax(), "direction"] == 135  # the trades of that latitude


# what was seen


def test_sightings_are_a_few_dozen_in_darwin_core_terms(place):
    # terms of the Darwin Core standard (TDWG, dwc.tdwg.org/terms), from memory
    seen = pd.read_csv(place / "sightings.csv")
    assert 24 <= len(seen) <= 60 and seen["occurrenceID"].is_unique
    assert set(seen["occurrenceStatus"]) == {"present", "absent"}
    assert (seen["individualCount"] > 0).equals(seen["occurrenceStatus"] == "present")
    assert {
        "basisOfRecord",
        "eventID",
        "eventDate",
        "decimalLatitude",
        "decimalLongitude",
        "geodeticDatum",
        "coordinateUncertaintyInMeters",
        "samplingProtocol",
        "scientificName",
    } <= set(seen)


def test_sightings_lie_near_their_survey_track_and_mostly_over_seagrass(place):
    seen = pd.read_csv(place / "sightings.csv")
    seen = seen[seen["occurrenceStatus"] == "present"]
    points = geopandas.GeoSeries.from_xy(
        seen["decimalLongitude"], seen["decimalLatitude"], crs="EPSG:4326", index=seen.index
    ).to_crs(CRS)
    assert points.within(shapely.box(*BOUNDS)).all()
    tracks = _features(place, "survey_tracks.gpkg").set_index("event").geometry
    assert points.distance(tracks.loc[seen["eventID"]], align=False).max() < 600
    beds = _features(place, "seagrass.zip").union_all()
    assert points.within(beds).mean() > 0.7


def test_soundings_of_two_surveys_agree_with_the_bed_away_from_the_inlets(place, told):
    datum = told["datums"]["chart datum"]
    with rasterio.open(place / "bed.tif") as raster:
        for name, column, metre in (
            ("soundings_1998.csv", "depth_ft", 0.3048),
            ("soundings_2021.csv", "depth_m", 1),
        ):
            table = pd.read_csv(place / name)
            assert len(table) > 500 and table["date"].nunique() == 1
            bed = np.array([value[0] for value in raster.sample(table[["x", "y"]].to_numpy())])
            charted = bed > -9999
            error = datum - metre * table[column].to_numpy() - bed
            assert abs(np.median(error[charted])) < 0.2, name


# the proposals


def test_the_marina_channel_cuts_dense_seagrass_and_the_road_none(place):
    beds = _features(place, "seagrass.zip")
    dense = beds[beds["cover_pct"] >= 60].union_all()
    channel = _features(place, "proposals/marina.gpkg").set_index("name").geometry["Pellowick marina channel"]
    assert channel.intersection(dense).area > 50_000
    road = _features(place, "proposals/road.zip")
    assert road.distance(dense).min() > 1000
    assert 5_000 < road.area.iloc[0] < 50_000


def test_the_farm_drains_its_ponds_in_the_wet_season(place):
    outlet = _features(place, "proposals/farm.geojson").iloc[0]
    assert outlet["season"] == "wet" and outlet["n_kg_year"] > 20 * 2_100, "far more than the cannery outfall"
