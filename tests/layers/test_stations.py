"""Stations, gauge series and plain tables, and each thing that can be wrong with one."""

import numpy as np
import pandas as pd
import pytest
from pyproj import Transformer
from shapely.geometry import MultiPoint, Point

from layers.quantity import SALINITY, WATER_LEVEL, WATER_TEMPERATURE
from layers.stations import read_points, read_series, read_table
from tests.files import (
    CRS,
    GRID,
    WEST_OF_GREENWICH,
    entry_for,
    sentences,
    site_in,
    write_raster,
    write_shapes,
    write_text,
)

KEYS = {"crs": CRS, "x": "x", "y": "y", "column": "salinity", "units": "1", "station": "name", "time": "date"}
GOOD = """name,x,y,date,salinity
A,500010,7770010,2021-01-05,30
A,500010,7770010,2021-02-05,31.5
B,500110,7770110,2021-01-05,33
"""


def faults_of(path, keys, grid=GRID, quantity=SALINITY):
    faults = []
    assert read_points(entry_for(path, **(KEYS | keys)), site_in(path.parent, grid), quantity, faults) is None
    return [str(fault) for fault in faults]


def series_faults_of(path, keys):
    faults = []
    keys = {"time": "time", "column": "level", "units": "m"} | keys
    assert read_series(entry_for(path, **keys), site_in(path.parent), WATER_LEVEL, faults) is None
    return [str(fault) for fault in faults]


def with_line(number, line, text=GOOD):
    """The good table with its line `number` (the header is 1) replaced."""
    lines = text.splitlines()
    lines[number - 1] = line
    return "\n".join(lines) + "\n"


def in_degrees(mend, grid=GRID):
    west, south, east, north = grid.bounds
    turn = Transformer.from_crs(grid.crs, 4326, always_xy=True)
    places = [turn.transform(west + share * (east - west), south + share * (north - south)) for share in (0.2, 0.7)]
    rows = [
        f"{name},{x:.6f},{y:.6f},2021-01-05,30" for name, (x, y) in zip("AB", (mend(*p) for p in places), strict=True)
    ]
    return "\n".join(["name,x,y,date,salinity", *rows]) + "\n"


FIVE = "name,x,y,date,salinity\n" + "".join(f"S{n},500010,7770010,2021-01-05,n/a\n" for n in range(5))
CASES = {
    "nothing": ("", {}),
    "blank": ("\n\n", {}),
    "header only": ("name,x,y,date,salinity\n", {}),
    "semicolons": (GOOD.replace(",", ";"), {}),
    "tabs": (GOOD.replace(",", "\t"), {}),
    "commas, not semicolons": (GOOD, {"delimiter": ";"}),
    "no x, no y": (GOOD.replace("x,y", "easting,northing"), {}),
    "x not named": (GOOD, {"x": None}),
    "no column": (GOOD, {"column": "sal"}),
    "no time column": (GOOD, {"time": "when"}),
    "no crs": (GOOD, {"crs": None}),
    "unknown crs": (GOOD, {"crs": "UTM 45"}),
    "same name twice": (with_line(1, "name,x,y,x,salinity"), {}),
    "nameless column": (with_line(1, "name,x,y,,salinity"), {}),
    "decimal comma": (with_line(3, 'A,500010,7770010,2021-02-05,"31,5"'), {}),
    "decimal comma unquoted": (with_line(3, "A,500010,7770010,2021-02-05,31,5"), {}),
    "decimal point": (GOOD.replace(",", ";"), {"delimiter": ";", "decimal": ","}),
    "Latin-1": (with_line(3, "Río,500010,7770010,2021-02-05,31.5").encode("latin-1"), {}),
    "UTF-16": (GOOD.encode("utf-16"), {}),
    "workbook": (b"PK\x03\x04....", {}),
    "null bytes": (GOOD.encode() + b"\x00\x00", {}),
    "empty row": (GOOD.replace("A,500010,7770010,2021-02-05", "\nA,500010,7770010,2021-02-05"), {}),
    "row of commas": (with_line(3, ",,,,"), {}),
    "short row": (with_line(4, "B,500110,77"), {}),
    "open quotation": (with_line(3, 'A,500010,7770010,"2021-02-05,31.5'), {}),
    "empty x": (with_line(3, "A,,7770010,2021-02-05,31.5"), {}),
    "empty value": (GOOD.replace(",33", ","), {"time": None, "station": None}),
    "text": (with_line(3, "A,500010,7770010,2021-02-05,n/a"), {}),
    "text in five rows": (FIVE, {}),
    "text in y": (with_line(3, "A,500010,20 S,2021-02-05,30"), {}),
    "below detection": (with_line(3, "A,500010,7770010,2021-02-05,<0.1"), {}),
    "only gaps": (GOOD.replace(",30\n", ",\n").replace(",31.5", ",").replace(",33", ","), {}),
    "infinite value": (with_line(3, "A,500010,7770010,2021-02-05,inf"), {}),
    "infinite place": (with_line(3, "A,inf,7770010,2021-02-05,30"), {}),
    "out of range": (with_line(3, "A,500010,7770010,2021-02-05,3150"), {}),
    "mark": (with_line(3, "A,500010,7770010,2021-02-05,-9999"), {}),
    "salt content": (GOOD, {"units": "g/kg"}),
    "ppt": (GOOD, {"units": "ppt"}),
    "conductivity": (GOOD, {"units": "mS/cm"}),
    "no salinity unit": (GOOD, {"units": None}),
    "other salinity unit": (GOOD, {"units": "psi"}),
    "ambiguous date": (with_line(3, "A,500010,7770010,03/04/2021,31.5"), {}),
    "day first": (with_line(3, "A,500010,7770010,25/04/2021,31.5"), {}),
    "no such day": (with_line(3, "A,500010,7770010,2021-02-30,31.5"), {}),
    "spreadsheet day number": (with_line(3, "A,500010,7770010,44232,31.5"), {}),
    "no date": (with_line(3, "A,500010,7770010,,31.5"), {}),
    "some offsets": (with_line(3, "A,500010,7770010,2021-02-05T10:00+10:00,31.5"), {}),
    "no station": (with_line(3, ",500010,7770010,2021-02-05,31.5"), {}),
    "same station and time": (with_line(3, "A,500010,7770010,2021-01-05,31.5"), {}),
    "same station, no times": (GOOD, {"time": None}),
    "station moves": (with_line(3, "A,500090,7770070,2021-02-05,31.5"), {}),
    "times run both ways": (GOOD + "B,500110,7770110,2021-03-05,33\nB,500110,7770110,2021-02-05,33\n", {}),
    "degrees under a metric code": (in_degrees(lambda x, y: (x, y)), {}),
    "metres under a code in degrees": (GOOD, {"crs": "EPSG:4326"}),
    "swapped": (in_degrees(lambda x, y: (y, x)), {"crs": "EPSG:4326"}),
    "swapped metres": (GOOD, {"x": "y", "y": "x"}),
    "south without sign": (in_degrees(lambda x, y: (x, -y)), {"crs": "EPSG:4326"}),
    "negative northing": (
        GOOD.replace(",7770", ",-2229").replace("-2229010", "-2229990").replace("-2229110", "-2229890"),
        {},
    ),
    "northing sign": (GOOD.replace(",7770", ",-7770"), {}),
    "elsewhere": (GOOD.replace(",5001", ",6001").replace(",5000", ",6000"), {}),
    "one row swapped": (GOOD + "C,7770010,500010,2021-01-05,30\n", {}),
    "where": (GOOD, {"where": {"name": "Z"}}),
}
WESTERN = {
    "west without sign": (in_degrees(lambda x, y: (-x, y), WEST_OF_GREENWICH), {"crs": "EPSG:4326"}),
    "both signs": (in_degrees(lambda x, y: (-x, -y), WEST_OF_GREENWICH), {"crs": "EPSG:4326"}),
    "southern northings": ("name,x,y,date,salinity\nA,500010,13000010,2021-01-05,30\n", {"crs": "EPSG:32617"}),
}
LEVELS = "time,level\n2021-01-01T00:00,0.1\n2021-01-01T01:00,0.5\n2021-01-01T02:00,0.3\n"
SERIES = {
    "out of order": (with_line(4, "2021-01-01T00:30,0.3", LEVELS), {}),
    "same time": (with_line(4, "2021-01-01T01:00,0.3", LEVELS), {}),
    "no columns": (LEVELS, {"time": "date", "column": "height"}),
    "no unit": (LEVELS, {"units": None}),
    "another dimension": (LEVELS, {"units": "mbar"}),
    "out of range": (with_line(3, "2021-01-01T01:00,500", LEVELS), {}),
    "no values": ("time,level\n2021-01-01T00:00,\n2021-01-01T01:00,\n", {}),
    "millimetres": ("time,level\n2021-01-01T00:00,100\n2021-01-01T01:00,2500\n", {}),
    "text": (with_line(3, "2021-01-01T01:00,flood", LEVELS), {}),
    "date": (with_line(3, "1.1.2021 01:00,0.5", LEVELS), {}),
}
POINTS, WESTERN_POINTS, SERIES_SENTENCES = (sentences(part) for part in ("points", "western points", "series"))


def test_every_sentence_has_its_file():
    assert list(POINTS) == list(CASES)
    assert list(WESTERN_POINTS) == list(WESTERN)
    assert list(SERIES_SENTENCES) == list(SERIES)


@pytest.mark.parametrize("case", CASES)
def test_what_is_wrong_with_stations_is_said(case, tmp_path):
    text, keys = CASES[case]
    assert faults_of(write_text(tmp_path / "stations.csv", text), keys) == POINTS[case]


@pytest.mark.parametrize("case", WESTERN)
def test_what_is_wrong_west_of_greenwich_is_said(case, tmp_path):
    text, keys = WESTERN[case]
    assert faults_of(write_text(tmp_path / "stations.csv", text), keys, WEST_OF_GREENWICH) == WESTERN_POINTS[case]


@pytest.mark.parametrize("case", SERIES)
def test_what_is_wrong_with_a_series_is_said(case, tmp_path):
    text, keys = SERIES[case]
    assert series_faults_of(write_text(tmp_path / "gauge.csv", text), keys) == SERIES_SENTENCES[case]


def test_a_raster_in_place_of_stations_is_refused(tmp_path):
    path = write_raster(tmp_path / "stations.tif", np.ones((3, 4), np.float32))
    assert faults_of(path, {}) == [
        "files.data.file: stations.tif is a raster, and a vector file is needed here. Name a vector file."
    ]


def test_faults_of_values_places_and_times_are_said_in_one_round(tmp_path):
    text = with_line(2, "A,500010,?,2021-01-05,30")
    text = with_line(3, "A,500010,7770010,01/02/2021,30", text)
    text = with_line(4, "B,500110,7770110,2021-01-05,n/a", text)
    found = faults_of(write_text(tmp_path / "stations.csv", text), {"units": "oz"})
    assert [fault.split(":")[0] for fault in found] == [
        "stations.csv, row 2, column y",
        "files.data.units",
        "stations.csv, row 4, column salinity",
        "stations.csv, row 3, column date",
    ]


def read(path, grid=GRID, quantity=SALINITY, **keys):
    faults, remarks = [], []
    points = read_points(
        entry_for(path, **(KEYS | keys)), site_in(path.parent, grid), quantity, faults, remarks=remarks
    )
    assert faults == []
    return points, remarks


def test_stations_come_with_name_time_value_and_place(tmp_path):
    points, remarks = read(write_text(tmp_path / "stations.csv", GOOD))
    assert list(points.columns) == ["station", "time", "value", "geometry"]
    assert list(points["station"]) == ["A", "A", "B"]
    assert list(points["value"]) == [30, 31.5, 33]
    assert points["time"].iloc[1] == pd.Timestamp("2021-02-05")
    assert (points.geometry.x.iloc[2], points.geometry.y.iloc[2]) == (500_110, 7_770_110)
    assert points.crs.equals(GRID.crs, ignore_axis_order=True)
    assert remarks == []


@pytest.mark.parametrize(
    "text",
    [
        GOOD.encode("utf-8-sig"),
        GOOD.replace("\n", "\r\n"),
        GOOD + "\n\n,,,,\n",
        GOOD.rstrip(),
        GOOD.replace("A,", '"A",').replace("31.5", " 31.5 "),
        "\n".join(line + ",," for line in GOOD.splitlines()),
    ],
    ids=["byte order mark", "Windows lines", "blank end", "no last line end", "quotes and spaces", "empty columns"],
)
def test_what_spreadsheets_add_is_passed_over(text, tmp_path):
    assert list(read(write_text(tmp_path / "stations.csv", text))[0]["value"]) == [30, 31.5, 33]


def test_a_spreadsheet_with_decimal_commas_is_read_when_it_is_said(tmp_path):
    text = GOOD.replace(",", ";").replace("31.5", "31,5")
    points, _ = read(write_text(tmp_path / "stations.csv", text), delimiter=";", decimal=",")
    assert list(points["value"]) == [30, 31.5, 33]


def test_stations_in_degrees_are_projected(tmp_path):
    points, _ = read(write_text(tmp_path / "stations.csv", in_degrees(lambda x, y: (x, y))), crs="EPSG:4326")
    np.testing.assert_allclose(points.geometry.x, [500_040, 500_140], atol=0.1)  # six decimals are 0.11 m
    np.testing.assert_allclose(points.geometry.y, [7_770_030, 7_770_105], atol=0.1)


def test_longitudes_from_0_to_360_mean_the_same_place(tmp_path):
    text = in_degrees(lambda x, y: (x + 360, y), WEST_OF_GREENWICH)
    points, _ = read(write_text(tmp_path / "stations.csv", text), WEST_OF_GREENWICH, crs="EPSG:4326")
    np.testing.assert_allclose(points.geometry.x, [500_040, 500_140], atol=0.1)


def test_points_outside_the_site_are_left_out_and_remarked(tmp_path):
    path = write_text(tmp_path / "stations.csv", GOOD + "C,600000,7770010,2021-01-05,30\n")
    points, remarks = read(path)
    assert list(points["station"]) == ["A", "A", "B"]
    assert remarks == ["stations.csv: 1 of 4 rows lies outside the site."]


def test_gaps_in_a_record_are_left_out_and_remarked(tmp_path):
    points, remarks = read(write_text(tmp_path / "stations.csv", with_line(3, "A,500010,7770010,2021-02-05,")))
    assert list(points["value"]) == [30, 33]
    assert remarks == ["stations.csv, column salinity: 1 of 3 rows has no value and is left out."]


def test_rows_that_repeat_others_are_remarked_where_there_are_no_stations(tmp_path):
    path = write_text(tmp_path / "stations.csv", GOOD + "B,500110,7770110,2021-01-05,33\n")
    assert read(path, station=None)[1] == ["stations.csv: 1 row repeats another exactly."]


def test_where_picks_rows_before_they_are_judged(tmp_path):
    path = write_text(tmp_path / "stations.csv", GOOD + "C,?,?,?,?\n")
    assert list(read(path, where={"name": "A"})[0]["value"]) == [30, 31.5]


def test_fahrenheit_becomes_celsius(tmp_path):
    text = GOOD.replace(",30\n", ",32\n").replace("31.5", "86").replace(",33\n", ",104\n")
    points, _ = read(write_text(tmp_path / "t.csv", text), quantity=WATER_TEMPERATURE, units="degF")
    np.testing.assert_allclose(points["value"], [0, 30, 40], atol=1e-9)


def test_points_of_a_vector_file_are_stations_too(tmp_path):
    path = write_shapes(
        tmp_path / "stations.gpkg",
        [MultiPoint([(500_010, 7_770_010)]), Point(500_110, 7_770_110)],
        name=["A", "B"],
        date=["2021-01-05", "2021-01-06"],
        salinity=[30.0, 31.0],
    )
    points, _ = read(path)
    assert set(points.geom_type) == {"Point"}
    assert list(points["station"]) == ["A", "B"]
    assert list(points["value"]) == [30, 31]


def test_a_series_comes_in_metres_and_in_order_of_time(tmp_path):
    faults, remarks = [], []
    path = write_text(tmp_path / "gauge.csv", LEVELS.replace("0.5", ""))
    entry = entry_for(path, time="time", column="level", units="cm")
    series = read_series(entry, site_in(tmp_path), WATER_LEVEL, faults, remarks=remarks)
    assert faults == []
    np.testing.assert_allclose(series["value"], [0.001, 0.003])
    assert series["time"].is_monotonic_increasing
    assert remarks == ["gauge.csv, column level: 1 of 3 rows has no value and is left out."]


def test_times_with_an_offset_become_universal_time(tmp_path):
    faults = []
    path = write_text(tmp_path / "gauge.csv", "time,level\n2021-01-01T10:00+10:00,1\n2021-01-01T01:00Z,2\n")
    series = read_series(
        entry_for(path, time="time", column="level", units="m"), site_in(tmp_path), WATER_LEVEL, faults
    )
    assert faults == []
    assert list(series["time"]) == [pd.Timestamp("2021-01-01 00:00"), pd.Timestamp("2021-01-01 01:00")]


def test_a_plain_table_is_read_and_refused_by_column(tmp_path):
    faults = []
    path = write_text(tmp_path / "tide.csv", "name,amplitude\nM2,0.5\nS2,0.2\n")
    table = read_table(entry_for(path), {"name": str, "amplitude": float}, faults)
    assert faults == []
    assert list(table["name"]) == ["M2", "S2"]
    assert list(table["amplitude"]) == [0.5, 0.2]
    assert read_table(entry_for(path), {"name": str, "phase": float}, faults) is None
    assert read_table(entry_for(tmp_path / "wind.csv"), {"share": float}, faults) is None
    assert read_table(entry_for(path), {"name": float}, faults) is None
    assert [str(fault) for fault in faults] == [
        'tide.csv: the file has no column "phase". Columns there: name, amplitude.',
        'files.data.file: there is no file "wind.csv". Correct the name or add the file. '
        "Files of that kind there: tide.csv.",
        'tide.csv, column name: 2 rows hold text that is not a number: "M2" in row 2, "S2" in row 3. '
        "Write a number, or remove the row.",
    ]
