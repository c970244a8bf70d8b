"""Ways to spoil a file, each a function of the folder it lies in."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.files import write_raster
from tests.sites import CELL, NORTH, WEST

Spoil = Callable[[Path], object]
STATIONS = "site/stations.csv"
STATIONS_HEADER = "station,longitude,latitude,date,salinity,temperature\n"
STATION_PLACE = "87.006,-20.164"  # in the water
ABOUT = 'source = "written for a test"\nlicence = "CC0-1.0"\ncredit = "nobody"\n'


def nothing(folder: Path) -> None:
    """Leave the folder as it is: the command itself is at fault."""


def all_of(*spoils: Spoil) -> Spoil:
    """One after the other."""

    def spoil(folder: Path) -> None:
        for part in spoils:
            part(folder)

    return spoil


def edited(file: str, old: str, new: str) -> Spoil:
    """Replace a text that stands in the file exactly once."""

    def spoil(folder: Path) -> None:
        text = (folder / file).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        (folder / file).write_text(text.replace(old, new), encoding="utf-8")

    return spoil


def site(old: str, new: str) -> Spoil:
    """Replace a text of the site file that stands there exactly once."""
    return edited("site/site.toml", old, new)


def profile(old: str, new: str) -> Spoil:
    """Replace a text of the site's profile that stands there exactly once."""
    return edited("site/profile.toml", old, new)


def added(file: str, text: str) -> Spoil:
    """Write a text at the end of the file."""

    def spoil(folder: Path) -> None:
        with (folder / file).open("a", encoding="utf-8") as stream:
            stream.write(text)

    return spoil


def written(file: str, content: str | bytes) -> Spoil:
    """Put this content in the place of the file's."""

    def spoil(folder: Path) -> None:
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_bytes(content.encode() if isinstance(content, str) else content)

    return spoil


def recoded(file: str, encoding: str) -> Spoil:
    """Save the file in another encoding."""

    def spoil(folder: Path) -> None:
        (folder / file).write_bytes((folder / file).read_text(encoding="utf-8").encode(encoding))

    return spoil


def cut(file: str, share: float) -> Spoil:
    """Keep only this share of the file's bytes, from its beginning."""

    def spoil(folder: Path) -> None:
        content = (folder / file).read_bytes()
        (folder / file).write_bytes(content[: int(len(content) * share)])

    return spoil


def removed(path: str) -> Spoil:
    """Take away a file or a folder."""

    def spoil(folder: Path) -> None:
        shutil.rmtree(folder / path) if (folder / path).is_dir() else (folder / path).unlink()

    return spoil


def folder_at(path: str) -> Spoil:
    """Make a folder with one file in it."""
    return written(f"{path}/note.txt", "keep me\n")


def in_table(name: str, old: str, new: str) -> Spoil:
    """Replace a text that begins just one line of a table of the profile, or else stands in it just once."""

    def spoil(folder: Path) -> None:
        path = folder / "site" / "profile.toml"
        before, header, rest = path.read_text(encoding="utf-8").partition(f"[{name}]\n")
        assert header, f"no table {name}"
        table, bracket, after = rest.partition("\n[")
        lines = f"\n{table}"
        sought, put = (f"\n{old}", f"\n{new}") if lines.count(f"\n{old}") == 1 else (old, new)
        assert lines.count(sought) == 1, f"{old!r} stands {lines.count(sought)} times in {name}"
        path.write_text(before + header + lines.replace(sought, put)[1:] + bracket + after, encoding="utf-8")

    return spoil


def stations(*rows: str, header: str = STATIONS_HEADER) -> Spoil:
    """Put these rows in the place of the stations'."""
    return written(STATIONS, header + "".join(f"{row}\n" for row in rows))


def bed_raster(values: np.ndarray, **form: object) -> Spoil:
    """Put a raster of these values in the place of the bed's; `form` is what rasterio and `write_raster` take."""

    def spoil(folder: Path) -> None:
        write_raster(folder / "site" / "bed.tif", values, **({"west": WEST, "north": NORTH, "cell": CELL} | form))

    return spoil


def with_file(name: str, keys: str, date: str = "2024") -> Spoil:
    """Add a table to `[files]`."""
    return added("site/site.toml", f'\n[files.{name}]\n{keys}date = "{date}"\n{ABOUT}')


def mixing(old: str, new: str) -> Spoil:
    """Replace a text that stands exactly once in `[mixing]` of the site file."""

    def spoil(folder: Path) -> None:
        path = folder / "site" / "site.toml"
        before, header, rest = path.read_text(encoding="utf-8").partition("[mixing]\n")
        table, bracket, after = rest.partition("\n[")
        assert table.count(old) == 1, f"{old!r} stands {table.count(old)} times in mixing"
        path.write_text(before + header + table.replace(old, new) + bracket + after, encoding="utf-8")

    return spoil
