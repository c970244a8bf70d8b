"""Invented places, hidden in every form and packing that the check knows, and searched for."""

import base64
import bz2
import gzip
import io
import json
import lzma
import sqlite3
import struct
import zipfile
import zlib

import geopandas as gpd
import h5py
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.PngImagePlugin import PngInfo
from pyproj import Transformer

from habitat.leak_check import FORMS, leaks, searched_places
from habitat.leak_codes import geohash, grid_square
from habitat.leak_readers import OPENERS
from layers.grid import Grid

CRS = "EPSG:32745"
GRID = Grid.from_bounds(CRS, 500_000, 7_770_000, 520_000, 7_790_000, 100)
BACK = Transformer.from_crs(CRS, 4326, always_xy=True)
MERCATOR = Transformer.from_crs(CRS, 3857, always_xy=True)


def searched(x, y):
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy([x, 511_111.1], [y, 7_771_112.2]), crs=CRS)
    return searched_places(points, allowed=0.1, crs=CRS, grid=GRID)


def dms(value):
    minutes, seconds = divmod(abs(value) * 3600, 60)
    degrees, minutes = divmod(int(minutes), 60)
    return degrees, minutes, seconds


def seconds(value):
    degrees, minutes, rest = dms(value)
    return f"{degrees}°{minutes:02d}'{int(rest * 10) / 10:04.1f}\""


def minutes(value):
    degrees, whole, rest = dms(value)
    return f"{degrees}° {int((whole + rest / 60) * 1000) / 1000:06.3f}'"


def mercator(x, y, step, whole):
    """In Web Mercator, where no rounded number is an edge of the map's cells; y is south, so cut upwards."""
    return tuple(whole(one // step if whole is int else one / step) for one in MERCATOR.transform(x, y))


def nmea(value):
    degrees, whole, rest = dms(value)
    return f"{degrees:02d}{whole + rest / 60:07.4f}"


def reference(lon, lat, digits, gap=""):
    name, east, north = grid_square(lon, lat)
    words = (f"{int(value):05d}"[:digits] for value in (east, north))
    return gap.join([name, *words])


def text_of(lon, lat):
    return f"seen at {lat:.5f} {lon:.5f} by a boat"


def zipped(name, data):
    store = io.BytesIO()
    with zipfile.ZipFile(store, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr(name, data)
    return store.getvalue()


def picture(**keys):
    store = io.BytesIO()
    Image.new("L", (8, 8)).save(store, "PNG", **keys)
    return store.getvalue()


def png_text(lon, lat, x, y):
    notes = PngInfo()
    notes.add_text("Comment", text_of(lon, lat), zip=True)
    return picture(pnginfo=notes)


def exif(lon, lat, x, y):
    noted = Image.Exif()
    noted[0x8825] = {1: "S", 2: dms(lat), 3: "E", 4: dms(lon)}
    return picture(exif=noted)


def hdf5(*arrays, **keys):
    store = io.BytesIO()
    with h5py.File(store, "w") as file:
        for number, array in enumerate(arrays):
            file.create_dataset(f"a{number}", data=array, **keys)
    return store.getvalue()


def geotiff(lon, lat, x, y):
    cells = np.zeros((16, 16))
    cells[3, 4:6] = lon, lat
    form = {"driver": "GTiff", "width": 16, "height": 16, "count": 1, "dtype": "float64", "crs": CRS}
    form["transform"] = rasterio.Affine(100, 0, 5e5, 0, -100, 7.79e6)
    with rasterio.MemoryFile() as memory:
        with memory.open(**form, compress="LZW") as file:
            file.write(cells, 1)
        return bytes(memory.getbuffer())


def database(tmp, statements):
    path = tmp / "d.sqlite"
    path.unlink(missing_ok=True)
    with sqlite3.connect(path) as file:
        for words, values in statements:
            file.execute(words, values)
    file.close()
    return path.read_bytes()


def whole_metres(lon, lat, x, y, tmp):
    return database(
        tmp, [("CREATE TABLE t (x INTEGER, y INTEGER)", ()), ("INSERT INTO t VALUES (?, ?)", (round(x), round(y)))]
    )


def free_page(lon, lat, x, y, tmp):
    row = (lon, lat)
    return database(
        tmp,
        [
            ("PRAGMA secure_delete = OFF", ()),
            ("CREATE TABLE t (x REAL, y REAL)", ()),
            ("INSERT INTO t VALUES (?, ?)", row),
            ("DROP TABLE t", ()),
        ],
    )


def parquet(lon, lat, x, y):
    store = io.BytesIO()
    words = np.random.default_rng(2).bytes(400).hex()  # so that the columns lie apart
    table = pd.DataFrame({"a": [lon] * 99, "note": words, "b": [lat] * 99})
    table.to_parquet(store, compression="zstd", write_statistics=False)
    return store.getvalue()


def pdf(lon, lat, x, y, **keys):
    import typst

    return typst.compile(f"seen at {lat:.5f} {lon:.5f}".encode(), format="pdf", ignore_system_fonts=True)


def attached(lon, lat, x, y):
    from pypdf import PdfWriter

    writer, store = PdfWriter(), io.BytesIO()
    writer.add_blank_page(72, 72)
    writer.add_metadata({"/Subject": text_of(lon, lat)})
    writer.add_attachment("a.csv", text_of(lon, lat).encode())
    writer.write(store)
    return store.getvalue()


def raw_deflate(data):
    machine = zlib.compressobj(wbits=-15)
    return machine.compress(data) + machine.flush()


NOISE = np.random.default_rng(1).uniform(1, 2, 40)
# what is hidden, and which detector it takes to find it
PLANTS = {
    "CSV": (lambda lon, lat, x, y: f"a,b,c\n1,{lon:.6f},seen,{lat:.6f}\n".encode(), {"decimal text"}),
    "few decimals": (lambda lon, lat, x, y: f'{{"lat": {lat:.3f}, "lon": {lon:.3f}}}'.encode(), {"decimal text"}),
    "two decimals cut": (
        lambda lon, lat, x, y: f"{int(lon * 100) / 100:.2f} {int(lat * 100) / 100:.2f}".encode(),
        {"decimal text"},
    ),
    "zeros after": (lambda lon, lat, x, y: f"{lon:.2f}0000 {lat:.2f}0000".encode(), {"decimal text"}),
    "WKT": (lambda lon, lat, x, y: f"POINT ({x:.2f} {y:.2f})".encode(), {"decimal text"}),
    "whole metres": (lambda lon, lat, x, y: f"E{x:.0f} N{y:.0f}".encode(), {"decimal text"}),
    "Mercator": (lambda lon, lat, x, y: "{:.1f};{:.1f}".format(*MERCATOR.transform(x, y)).encode(), {"decimal text"}),
    "hemispheres": (lambda lon, lat, x, y: f"S{-lat:.4f} E{lon:.4f}".encode(), {"decimal text"}),
    "exponent": (lambda lon, lat, x, y: f"{lon:.9e} {lat:.9e}".encode(), {"decimal text"}),
    "comma": (lambda lon, lat, x, y: f"{lat:.5f}; {lon:.5f}".replace(".", ",").encode(), {"decimal comma"}),
    "cut to 10 m": (lambda lon, lat, x, y: "E{}0 N{}0".format(*mercator(x, y, 10, int)).encode(), {"rounded metres"}),
    "rounded to 100 m": (
        lambda lon, lat, x, y: "{}00, {}00".format(*mercator(x, y, 100, round)).encode(),
        {"rounded metres"},
    ),
    "rounded to 1 km": (
        lambda lon, lat, x, y: '{{"x": {}000.0, "y": {}000.0}}'.format(*mercator(x, y, 1000, round)).encode(),
        {"rounded metres"},
    ),
    "rounded doubles in metres": (
        lambda lon, lat, x, y: struct.pack("<2d", *(100.0 * one for one in mercator(x, y, 100, round))),
        {"double, little-endian"},
    ),
    "geohash": (lambda lon, lat, x, y: f"seen in {geohash(lon, lat, 7).upper()}.".encode(), {"geohash"}),
    "short geohash": (lambda lon, lat, x, y: f"g={geohash(lon, lat, 5)}".encode(), {"geohash"}),
    "grid reference": (lambda lon, lat, x, y: reference(lon, lat, 5).encode(), {"grid reference"}),
    "short grid reference": (lambda lon, lat, x, y: reference(lon, lat, 2, " ").lower().encode(), {"grid reference"}),
    "receiver": (lambda lon, lat, x, y: f"$GPGGA,051200,{nmea(lat)},S,{nmea(lon)},E,1".encode(), {"ddmm.mmmm"}),
    "seconds": (lambda lon, lat, x, y: f"{seconds(lat)}S {seconds(lon)}E".encode(), {"degrees, minutes and seconds"}),
    "minutes": (lambda lon, lat, x, y: f"{minutes(lat)}S {minutes(lon)}E".encode("latin-1"), {"degrees and minutes"}),
    "JSON columns": (
        lambda lon, lat, x, y: json.dumps({"x": [*NOISE, lon], "n": "a" * 999, "y": [*NOISE, lat]}).encode(),
        {"columns in text"},
    ),
    "doubles": (lambda lon, lat, x, y: b"ab" + struct.pack("<2d", lat, lon), {"double, little-endian"}),
    "WKB": (
        lambda lon, lat, x, y: b"GP\0" + shapely.to_wkb(shapely.Point(x, y), byte_order=1),
        {"double, little-endian"},
    ),
    "rounded doubles": (
        lambda lon, lat, x, y: struct.pack("<2d", round(lon, 2), round(lat, 2)),
        {"double, little-endian"},
    ),
    "big doubles": (lambda lon, lat, x, y: b"a" + struct.pack(">2d", x, y), {"double, big-endian"}),
    "singles": (lambda lon, lat, x, y: b"abc" + struct.pack("<2f", lon, lat), {"single, little-endian"}),
    "big singles": (lambda lon, lat, x, y: b"abc" + struct.pack(">2f", lon, lat), {"single, big-endian"}),
    "integers": (lambda lon, lat, x, y: struct.pack("<2i", round(lat * 1e7), round(lon * 1e7)), {"scaled integers"}),
    "nested zip": (lambda lon, lat, x, y: zipped("a.zip", zipped("b.txt", text_of(lon, lat))), {"zip"}),
    "gzip": (lambda lon, lat, x, y: b"ab" + gzip.compress(text_of(lon, lat).encode()), {"gzip"}),
    "zlib": (lambda lon, lat, x, y: b"ab" + zlib.compress(text_of(lon, lat).encode()), {"zlib"}),
    "deflate": (lambda lon, lat, x, y: raw_deflate(text_of(lon, lat).encode() * 9), {"deflate"}),
    "bzip2": (lambda lon, lat, x, y: bz2.compress(text_of(lon, lat).encode()), {"bzip2"}),
    "xz": (lambda lon, lat, x, y: lzma.compress(b"about " * 40 + text_of(lon, lat).encode()), {"xz"}),
    "page": (
        lambda lon, lat, x, y: (
            b'<img src="data:text/plain;base64,' + base64.b64encode(text_of(lon, lat).encode()) + b'">'
        ),
        {"base64"},
    ),
    "typed arrays": (
        lambda lon, lat, x, y: b" ".join(base64.b64encode(np.array([*NOISE, one]).tobytes()) for one in (x, y)),
        {"base64", "columns of numbers"},
    ),
    "hexadecimal": (lambda lon, lat, x, y: shapely.Point(lon, lat).wkb_hex.encode(), {"hexadecimal"}),
    "UTF-16": (lambda lon, lat, x, y: text_of(lon, lat).encode("utf-16-be"), {"UTF-16"}),
    "text of a PNG": (png_text, {"zlib"}),
    "EXIF": (exif, {"EXIF"}),
    "GeoTIFF": (geotiff, {"GeoTIFF"}),
    "HDF5 columns": (
        lambda lon, lat, x, y: hdf5([*NOISE, lon], [*NOISE, lat], compression="lzf", shuffle=True),
        {"HDF5", "columns of numbers"},
    ),
    "HDF5 packed": (
        lambda lon, lat, x, y: hdf5(np.tile([lon, lat, 5.0], (9, 3)), compression="lzf", shuffle=True),
        {"HDF5"},
    ),
    "whole metres in SQLite": (whole_metres, {"SQLite"}),
    "free page of SQLite": (free_page, {"double, big-endian"}),
    "Parquet": (parquet, {"Parquet"}),
    "attached to a PDF": (attached, {"decimal text"}),
}
SLOW = {"printed in a PDF": (pdf, {"PDF"})}


def made(name, x, y, tmp):
    function = (PLANTS | SLOW)[name][0]
    lon, lat = BACK.transform(x, y)
    needs_disk = function in (whole_metres, free_page)
    return function(lon, lat, x, y, tmp) if needs_disk else function(lon, lat, x, y)


def found_in(data, x, y, tmp, *, openers=OPENERS, forms=FORMS):
    folder = tmp / "public"
    folder.mkdir(exist_ok=True)
    (folder / "file").write_bytes(data)
    return {leak.sighting for leak in leaks(folder, searched(x, y), openers=openers, forms=forms)}


@settings(max_examples=2)
@given(st.integers(0, 2**31))
def test_a_place_planted_at_random_is_found_in_every_form(tmp_path_factory, seed):
    tmp = tmp_path_factory.mktemp("planted")
    random = np.random.default_rng(seed)
    for name in PLANTS:
        x, y = random.uniform(500_500, 519_500), random.uniform(7_770_500, 7_789_500)
        assert 0 in found_in(made(name, x, y, tmp), x, y, tmp), (name, x, y)


@pytest.mark.parametrize("name", PLANTS | SLOW)
def test_a_place_is_found_by_the_detector_of_its_form_and_by_no_other(name, tmp_path):
    x, y = 507_654.321, 7_781_234.567
    data = made(name, x, y, tmp_path)
    assert found_in(data, x, y, tmp_path) == {0}
    for detector in (PLANTS | SLOW)[name][1]:
        openers, forms = ({key: one for key, one in table.items() if key != detector} for table in (OPENERS, FORMS))
        assert found_in(data, x, y, tmp_path, openers=openers, forms=forms) == set(), detector


def test_every_detector_is_needed_by_some_plant():
    needed = {one for _, some in (PLANTS | SLOW).values() for one in some}
    assert needed | {"marked cells"} == set(OPENERS) | set(FORMS)  # the marked cells have tests of their own, below


def raster_of(cells, how, tmp):
    if how == "GeoTIFF":
        form = {"driver": "GTiff", "width": 200, "height": 200, "count": 1, "dtype": "uint8", "crs": CRS}
        with rasterio.MemoryFile() as memory:
            with memory.open(**form, transform=GRID.transform, compress="DEFLATE") as file:
                file.write(cells, 1)
            return bytes(memory.getbuffer())
    store = io.BytesIO()
    with h5py.File(store, "w") as file:
        for name, values in {"x": GRID.x, "y": GRID.y, "seen": cells}.items():
            file.create_dataset(name, data=values, compression="gzip")
    return store.getvalue()


@pytest.mark.parametrize("how", ["GeoTIFF", "HDF5"])
def test_cells_marked_where_the_sightings_are_give_them_away(how, tmp_path):
    random = np.random.default_rng(3)
    xy = np.column_stack([random.uniform(500_500, 519_500, 8), random.uniform(7_770_500, 7_789_500, 8)])
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy(*xy.T), crs=CRS)
    places = searched_places(points, allowed=0.1, crs=CRS, grid=GRID)
    row, column = ((7_790_000 - xy[:, 1]) // 100).astype(int), ((xy[:, 0] - 500_000) // 100).astype(int)
    cells = np.full((200, 200), 3, np.uint8)
    cells[row[:6], column[:6]] = 1
    cells[5:8, 7] = 2  # and a few others
    folder = tmp_path / "public"
    folder.mkdir()
    (folder / "a").write_bytes(raster_of(cells, how, tmp_path))
    assert {leak.sighting for leak in leaks(folder, places)} == set(range(6))
    assert leaks(folder, places, forms={k: v for k, v in FORMS.items() if k != "marked cells"}) == ()
    assert leaks(folder, places, openers={k: v for k, v in OPENERS.items() if k != how}) == ()
    cells[100:180] = 1  # a class of the map that also holds them is no mark
    (folder / "a").write_bytes(raster_of(cells, how, tmp_path))
    assert leaks(folder, places) == ()


def test_a_geohash_is_the_published_one():
    assert geohash(-5.6, 42.6, 5) == "ezs42"  # the worked example of the description of the code, from memory
    assert geohash(10.40744, 57.64911, 11) == "u4pruydqqvj"  # the other one, from memory


def test_a_grid_reference_is_the_published_one():
    # worked example of the encyclopaedia article "Military Grid Reference System" (Wikipedia): 4Q FJ 1234 6789
    name, east, north = grid_square(-(157 + 54 / 60 + 57.89102787 / 3600), 21 + 24 / 60 + 35.43062452 / 3600)
    assert (name, int(east // 10), int(north // 10)) == ("4QFJ", 1234, 6789)


def test_a_code_as_coarse_as_what_is_told_is_no_leak(tmp_path):
    x, y = 507_654.321, 7_781_234.567
    lon, lat = BACK.transform(x, y)
    name = grid_square(lon, lat)[0]
    words = f"{geohash(lon, lat, 4)} {name} {round(x, -4):.0f} {round(y, -4):.0f} {lat:.1f} {lon:.1f}"
    assert found_in(words.encode(), x, y, tmp_path) == set()


def test_rounded_metres_on_the_grid_count_where_they_are_no_list_of_cells(tmp_path):
    xy = np.array([[507_654.3, 7_781_234.6], [511_111.1, 7_771_112.2], [503_333.3, 7_776_543.2]])
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy(*xy.T), crs=CRS)
    places = searched_places(points, allowed=0.1, crs=CRS, grid=GRID)
    rounded = [f"{x:.0f} {y:.0f}" for x, y in xy.round(-2)]  # to 100 m they are corners of the map's cells
    folder = tmp_path / "public"
    folder.mkdir()
    (folder / "a.txt").write_text("\n".join(rounded))
    assert {leak.sighting for leak in leaks(folder, places)} == {0, 1, 2}
    corners = [f"{507_000 + 100 * i} 7781200" for i in range(20)]
    (folder / "a.txt").write_text("\n".join([*rounded, *corners]))
    assert leaks(folder, places) == ()


def test_a_square_told_of_one_species_is_no_leak_of_a_stricter_one(tmp_path):
    x, y = 507_654.321, 7_781_234.567
    lon, lat = BACK.transform(x, y)
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy([x], [y]), crs=CRS)
    (tmp_path / "a.csv").write_text(f"{lat:.1f},{lon:.1f}\n")
    assert leaks(tmp_path, searched_places(points, allowed=1.0, crs=CRS))
    told = np.array([[round(lon, 1), round(lat, 1)]])
    assert leaks(tmp_path, searched_places(points, allowed=1.0, crs=CRS, told=told)) == ()
    (tmp_path / "b.csv").write_text(f"{lat:.2f},{lon:.2f}\n")
    assert {leak.where for leak in leaks(tmp_path, searched_places(points, allowed=1.0, crs=CRS, told=told))} == {
        "b.csv"
    }


def test_the_grid_of_the_map_and_a_released_place_are_no_leak(tmp_path):
    x, y = 507_650.3, 7_781_249.8  # within a metre of the middle of a cell
    folder = tmp_path / "public"
    folder.mkdir()
    middles = [(GRID.x[column], GRID.y[row]) for row in range(80, 100) for column in range(60, 90)]
    table = pd.DataFrame(middles, columns=["x", "y"])
    table.to_csv(folder / "cells.csv", index=False)
    table.to_parquet(folder / "cells.parquet")
    gpd.GeoDataFrame(geometry=shapely.box(*(np.array(middles).T - 50), *(np.array(middles).T + 50)), crs=CRS).to_file(
        folder / "cells.gpkg"
    )
    lon, lat = BACK.transform(x, y)
    (folder / "public.csv").write_text(f"decimalLatitude,decimalLongitude\n{lat:.1f},{lon:.1f}\n{lat:.1f},{lon:.1f}\n")
    assert leaks(folder, searched(x, y)) == ()
    (folder / "more.csv").write_text(f"{lat:.2f},{lon:.2f}\n")
    assert {leak.sighting for leak in leaks(folder, searched(x, y))} == {0}


def test_a_leak_is_told_without_the_place(tmp_path):
    lon, lat = BACK.transform(507_654.321, 7_781_234.567)
    (tmp_path / "a.zip").write_bytes(zipped("b.txt", text_of(lon, lat)))
    (found,) = leaks(tmp_path, searched(507_654.321, 7_781_234.567))
    assert str(found) == "a.zip > b.txt: decimal text (WGS 84), sighting 1"


def test_the_name_of_a_file_is_read_too(tmp_path):
    lon, lat = BACK.transform(507_654.321, 7_781_234.567)
    (tmp_path / f"photo {lat:.4f} {lon:.4f}.jpg").write_bytes(b"")
    assert leaks(tmp_path, searched(507_654.321, 7_781_234.567))


def test_a_packing_too_deep_to_be_read_is_not_passed(tmp_path):
    data = b"nothing at all " * 9
    for _ in range(9):
        data = gzip.compress(b"about " * 40 + data)
    (tmp_path / "a").write_bytes(data)
    (found,) = leaks(tmp_path, searched(507_654.321, 7_781_234.567))
    assert found.form == "not read whole"
