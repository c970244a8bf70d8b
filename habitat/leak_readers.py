"""Openers: what lies inside a piece of a file, one function for each way of packing.

Each takes bytes and gives the parts it finds in them, or nothing; it never fails on bytes that are something else.
"""

from __future__ import annotations

import base64
import binascii
import bz2
import dataclasses
import io
import lzma
import re
import sqlite3
import struct
import warnings
import zlib
from collections.abc import Callable, Iterator

import numpy as np

from habitat.leak_forms import Part, Raster

MOST = 1 << 29  # bytes of one opened piece; a larger one is reported as not read
_BASE64 = re.compile(rb"[A-Za-z0-9+/_-]{24,}={0,2}")
_HEXADECIMAL = re.compile(rb"(?:[0-9a-fA-F]{2}){16,}")
_WIDE = re.compile(rb"(?:[\t\n\r -~]\0){6,}")


class TooLargeError(Exception):
    """A piece unpacks to more than can be read."""


def zip_members(data: bytes, where: str) -> Iterator[Part]:
    """Members of a zip file by their own headers, so also those that its list leaves out."""
    for spot in _spots(data, b"PK\x03\x04"):
        if len(data) < spot + 30:
            continue
        method, name, extra = (struct.unpack_from("<H", data, spot + at)[0] for at in (8, 26, 28))
        title = data[spot + 30 : spot + 30 + name].decode("utf-8", "replace")
        if method == 8:
            yield from _inflated(data, spot + 30 + name + extra, -15, f"{where} > {title}")


def gzip_streams(data: bytes, where: str) -> Iterator[Part]:
    """gzip streams, wherever they begin."""
    for spot in _spots(data, b"\x1f\x8b\x08"):
        yield from _inflated(data, spot, 31, f"{where} > gzip")


def zlib_streams(data: bytes, where: str) -> Iterator[Part]:
    """zlib streams, wherever they begin: pictures, PDF streams, tiles of rasters."""
    for match in re.finditer(rb"\x78[\x01\x5e\x9c\xda]", data):
        yield from _inflated(data, match.start(), 15, f"{where} > zlib")


def deflate_stream(data: bytes, where: str) -> Iterator[Part]:
    """A bare deflate stream that fills the piece."""
    yield from _inflated(data, 0, -15, f"{where} > deflate")


def bzip2_streams(data: bytes, where: str) -> Iterator[Part]:
    """bzip2 streams, wherever they begin."""
    for spot in _spots(data, b"BZh"):
        yield from _unpacked(bz2.BZ2Decompressor(), data, spot, f"{where} > bzip2")


def xz_streams(data: bytes, where: str) -> Iterator[Part]:
    """xz streams, wherever they begin."""
    for spot in _spots(data, b"\xfd7zXZ\0"):
        yield from _unpacked(lzma.LZMADecompressor(), data, spot, f"{where} > xz")


def base64_runs(data: bytes, where: str) -> Iterator[Part]:
    """Bytes written as base 64, in pages above all; those of one length may be columns of numbers."""
    columns = []
    for match in _BASE64.finditer(data):
        word = match[0].rstrip(b"=").translate(bytes.maketrans(b"-_", b"+/"))
        try:
            found = base64.b64decode(word + b"=" * (-len(word) % 4))
        except binascii.Error:
            continue
        yield Part(f"{where} > base64", found)
        columns += [np.frombuffer(found, kind) for kind in ("<f8", "<f4") if len(found) % 8 == 0]
    yield Part(f"{where} > base64 columns", b"", arrays=tuple(columns))


def hexadecimal_runs(data: bytes, where: str) -> Iterator[Part]:
    """Bytes written in hexadecimal digits, as shapes in text tables are."""
    for match in _HEXADECIMAL.finditer(data):
        yield Part(f"{where} > hexadecimal", bytes.fromhex(match[0].decode("ascii")))


def wide_text(data: bytes, where: str) -> Iterator[Part]:
    """Text in UTF-16 of either order."""
    runs = [match[0].replace(b"\0", b"") for match in _WIDE.finditer(data)]
    if runs:
        yield Part(f"{where} > UTF-16", b"\n".join(runs))


def picture_places(data: bytes, where: str) -> Iterator[Part]:
    """The place that a camera or a program noted in a picture (EXIF)."""
    if data[:4] not in (b"\x89PNG", b"II*\0", b"MM\0*") and data[:3] != b"\xff\xd8\xff":
        return
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data)) as picture:
                noted = picture.getexif().get_ifd(0x8825)
    except (OSError, ValueError, SyntaxError, struct.error, Image.DecompressionBombError):
        return
    triples = [tuple(map(float, value)) for value in noted.values() if isinstance(value, tuple) and len(value) == 3]
    words = [f"{d + m / 60 + s / 3600:.7f}" for d, m, s in triples if d == d]
    if words:
        yield Part(f"{where} > EXIF", " ".join(words).encode())


def raster_cells(data: bytes, where: str) -> Iterator[Part]:
    """Cells and tags of a GeoTIFF, whatever it is packed with."""
    if data[:4] not in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return
    import rasterio
    from rasterio.errors import RasterioError

    try:
        with warnings.catch_warnings(), rasterio.MemoryFile(data) as memory, memory.open() as raster:
            warnings.simplefilter("ignore")
            tags = [raster.tags(ns=space) for space in raster.tag_namespaces() or []] + [raster.tags()]
            yield Part(f"{where} > tags", "\n".join(f"{k}: {v}" for one in tags for k, v in one.items()).encode())
            for band in range(1, raster.count + 1):
                cells = raster.read(band)
                whole = _array(f"{where} > band {band}", cells)
                yield dataclasses.replace(whole, rasters=(Raster(cells, raster.transform),))
    except RasterioError:
        return


def scientific_arrays(data: bytes, where: str) -> Iterator[Part]:
    """Arrays, tables and attributes of HDF5 and NetCDF 4."""
    if data[:8] != b"\x89HDF\r\n\x1a\n":
        return
    import h5py

    columns, words, parts, grids = [], [], [], []

    def look(name: str, held: object) -> None:
        words.extend(
            f"{key}: {value}" for key, value in held.attrs.items() if isinstance(value, (str, bytes, np.ndarray))
        )
        if not isinstance(held, h5py.Dataset) or held.dtype.kind not in "fiuVSO":
            return
        values = held[()]
        if np.asarray(values).dtype.kind in "SO":
            words.append("\n".join(map(str, np.ravel(values))))
        elif held.dtype.names:
            columns.extend(values[field] for field in held.dtype.names if values[field].dtype.kind in "fiu")
        elif held.dtype.kind in "fiu":
            parts.append(_array(f"{where} > {name}", np.asarray(values)))
            if np.ndim(values) in (2, 3):
                grids.append(values)
            if np.ndim(values) == 1:
                columns.append(values)
            elif np.ndim(values) == 2 and 2 in np.shape(values):
                columns.extend(values if np.shape(values)[0] == 2 else values.T)

    try:
        with h5py.File(io.BytesIO(data), "r") as file:
            file.visititems(look)
            look("file", file)
    except (OSError, RuntimeError):
        return
    yield from parts
    rasters = tuple(_placed(grids, [column for column in columns if np.ndim(column) == 1]))
    yield Part(f"{where} > arrays", "\n".join(words).encode(), arrays=tuple(columns), rasters=rasters)


def database_rows(data: bytes, where: str) -> Iterator[Part]:
    """Rows of SQLite and GeoPackage as text; the bytes of the file itself, free pages too, are read in any case."""
    if data[:16] != b"SQLite format 3\0":
        return
    database = sqlite3.connect(":memory:")
    try:
        database.deserialize(data)
        names = [row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        for name in names:
            quoted = name.replace('"', '""')
            try:
                rows = database.execute(f'SELECT * FROM "{quoted}"').fetchall()
            except sqlite3.Error:  # an index of shapes that needs a library
                continue
            lines = [" | ".join("" if isinstance(one, bytes) else str(one) for one in row) for row in rows]
            yield Part(f"{where} > {name}", "\n".join(lines).encode())
    except sqlite3.Error:
        return
    finally:
        database.close()


def table_columns(data: bytes, where: str) -> Iterator[Part]:
    """Rows of a Parquet file."""
    if data[:4] != b"PAR1":
        return
    import pyarrow.lib
    import pyarrow.parquet

    try:
        table = pyarrow.parquet.read_table(io.BytesIO(data)).to_pandas()
    except (OSError, pyarrow.lib.ArrowException):
        return
    yield Part(f"{where} > rows", table.to_csv().encode())


def printed_text(data: bytes, where: str) -> Iterator[Part]:
    """Text, facts, notes and attached files of a PDF."""
    if b"%PDF-" not in data[:1024]:
        return
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        reader = PdfReader(io.BytesIO(data))
        words = [str(value) for value in (reader.metadata or {}).values()]
        for page in reader.pages:
            words.append(page.extract_text())
            words += [str(note.get_object().get("/Contents", "")) for note in page.get("/Annots", [])]
        yield Part(f"{where} > text", "\n".join(words).encode("utf-8", "replace"))
        for name, files in reader.attachments.items():
            for content in files:
                yield Part(f"{where} > {name}", content)
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError):
        return


Opener = Callable[[bytes, str], Iterator[Part]]
OPENERS: dict[str, Opener] = {
    "zip": zip_members,
    "gzip": gzip_streams,
    "zlib": zlib_streams,
    "deflate": deflate_stream,
    "bzip2": bzip2_streams,
    "xz": xz_streams,
    "base64": base64_runs,
    "hexadecimal": hexadecimal_runs,
    "UTF-16": wide_text,
    "EXIF": picture_places,
    "GeoTIFF": raster_cells,
    "HDF5": scientific_arrays,
    "SQLite": database_rows,
    "Parquet": table_columns,
    "PDF": printed_text,
}


def _array(where: str, values: np.ndarray) -> Part:
    kind = values.dtype.newbyteorder("<")
    return Part(where, values.astype(kind, copy=False).tobytes())


def _placed(grids: list[np.ndarray], axes: list[np.ndarray]) -> Iterator[Raster]:
    """Grids as rasters, wherever two even columns of numbers fit their sides."""
    from affine import Affine

    even = [
        axis for axis in axes if len(axis) > 2 and axis[1] != axis[0] and np.allclose(np.diff(axis), axis[1] - axis[0])
    ]
    for cells in grids:
        rows, columns = cells.shape[-2:]
        for x, y in ((x, y) for x in even for y in even if x is not y and (len(y), len(x)) == (rows, columns)):
            wide, high = float(x[1] - x[0]), float(y[1] - y[0])
            corner = Affine(wide, 0, float(x[0]) - wide / 2, 0, high, float(y[0]) - high / 2)
            yield from (Raster(one, corner) for one in cells.reshape(-1, rows, columns))


def _spots(data: bytes, mark: bytes) -> Iterator[int]:
    spot = data.find(mark)
    while spot >= 0:
        yield spot
        spot = data.find(mark, spot + 1)


def _inflated(data: bytes, spot: int, bits: int, where: str) -> Iterator[Part]:
    yield from _unpacked(zlib.decompressobj(bits), data, spot, where)


def _unpacked(machine: object, data: bytes, spot: int, where: str) -> Iterator[Part]:
    try:
        found = machine.decompress(memoryview(data)[spot:], MOST)
    except (zlib.error, lzma.LZMAError, OSError, EOFError, ValueError):
        return
    if len(found) >= MOST:
        raise TooLargeError(where)
    if len(found) >= 6:
        yield Part(where, found)
