"""Positions of vessels as files give them."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point

from layers.fix_table import read_fixes
from layers.site import parse_site
from tests.files import CRS, entry_for, write_shapes, write_text
from tests.sites import TABLES, site_text

ROWS = (
    "ferry,500600,7770100,2024-01-01T10:00",
    "ferry,500700,7770100,2024-01-01T10:05",
    "tug,501000,7770900,2024-01-01T11:00",
)
KEYS = {"feeds": "vessel_fix", "vessel": "who", "time": "when"}
PLACES = [(500_600.0, 7_770_100.0), (500_700.0, 7_770_100.0), (501_000.0, 7_770_900.0)]


def site_in(folder):
    """A site on the grid of the small one."""
    return parse_site(write_text(folder / "site.toml", site_text({"coast": TABLES["coast"]})), [])


def read(tmp_path, *rows, **keys):
    path, faults, remarks = write_text(tmp_path / "fixes.csv", "\n".join(["who,x,y,when", *rows, ""])), [], []
    entry = entry_for(path, **(KEYS | {"crs": CRS, "x": "x", "y": "y"} | keys))
    return read_fixes(entry, site_in(tmp_path), faults, remarks), [str(fault) for fault in faults], remarks


def places(table):
    return list(zip(table.geometry.x, table.geometry.y, strict=True))


def test_each_position_keeps_its_vessel_and_its_time(tmp_path):
    # an index of rows that starts at 2 once moved every place two rows on
    table, faults, _ = read(tmp_path, *ROWS)
    assert faults == []
    assert table["vessel"].tolist() == ["ferry", "ferry", "tug"]
    assert table["time"].tolist() == [np.datetime64(row.rpartition(",")[2]) for row in ROWS]
    assert places(table) == PLACES
    assert table.index.tolist() == [2, 3, 4]


def test_positions_of_a_vector_file_are_read_alike(tmp_path):
    path = tmp_path / "fixes.gpkg"
    write_shapes(
        path,
        [Point(place) for place in PLACES],
        who=[219_000_001, 219_000_001, 219_000_002],
        when=[row.rpartition(",")[2] for row in ROWS],
    )
    faults = []
    table = read_fixes(entry_for(path, **KEYS), site_in(tmp_path), faults, [])
    assert faults == []
    assert table["vessel"].tolist() == ["219000001", "219000001", "219000002"]
    assert places(table) == PLACES
    assert table["time"].iloc[2] == np.datetime64("2024-01-01T11:00")


@pytest.mark.parametrize(
    ("rows", "keys", "said"),
    [
        (
            (",500600,7770100,2024-01-01",),
            {},
            "fixes.csv, row 2, column who: the row names no vessel. Name it, or remove it.",
        ),
        (
            ROWS,
            {"vessel": "mmsi"},
            'files.data.vessel: fixes.csv has no column "mmsi". Columns there: who, x, y, when.',
        ),
        (
            ("ferry,500600,7770100,noon",),
            {},
            'fixes.csv, row 2, column when: the row holds a date that cannot be read: "noon". Write dates as '
            "year-month-day, such as 2021-04-03 or 2021-04-03T14:30.",
        ),
    ],
)
def test_positions_without_a_vessel_or_a_time_are_refused(tmp_path, rows, keys, said):
    table, faults, _ = read(tmp_path, *rows, **keys)
    assert table is None
    assert faults == [said]


def test_both_are_told_at_once(tmp_path):
    _, faults, _ = read(tmp_path, ",500600,7770100,2024-01-01", "ferry,500600,7770100,soon")
    assert [fault.split(": ")[0] for fault in faults] == [
        "fixes.csv, row 3, column when",
        "fixes.csv, row 2, column who",
    ]
