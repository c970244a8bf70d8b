"""Text tables: rows keep their number in the file, and every row that cannot be read is named."""

import numpy as np
import pandas as pd
import pytest

from layers.column import numbers, times
from layers.table import has_columns, read_rows
from tests.files import entry_for, write_text


def rows_of(folder, text, **keys):
    faults = []
    return read_rows(entry_for(write_text(folder / "t.csv", text), **keys), faults), [str(fault) for fault in faults]


def test_rows_are_known_by_their_row_in_the_file(tmp_path):
    rows, faults = rows_of(tmp_path, 'a,b\n1,"two\nlines"\n2,x\n')
    assert faults == []
    assert list(rows.index) == [2, 4]  # the first record takes rows 2 and 3
    assert list(rows["b"]) == ["two\nlines", "x"]


def test_text_is_kept_as_text(tmp_path):
    rows, _ = rows_of(tmp_path, "a,b\n007,NA\n1e3,\n")
    assert rows.to_numpy().tolist() == [["007", "NA"], ["1e3", ""]]


def test_several_faults_of_rows_are_said_together(tmp_path):
    rows, faults = rows_of(tmp_path, "a,b\n1\n\n2,3,4\n,,\n5,6\n")
    assert rows is None
    assert faults == [
        "t.csv, row 3: 2 rows are empty: 3, 5. Remove them.",
        "t.csv, row 2: the row has 1 values, the header 2 (2 rows are like this). The file may be cut short: export it "
        "again, or mend the row.",
    ]


def column(*values):
    return pd.DataFrame({"v": values}, index=range(2, 2 + len(values)), dtype=object)


@pytest.mark.parametrize("text, value", [("1", 1), ("-2.50", -2.5), ("+3", 3), ("1e-3", 0.001), (".5", 0.5), ("7.", 7)])
def test_numbers_are_read_as_written(text, value, tmp_path):
    faults = []
    assert numbers(column(text), "v", entry_for(tmp_path / "t.csv"), faults) == [value]
    assert faults == []


@pytest.mark.parametrize(
    "text", ["1 000", "1,234.5", "12a", "--", "NA", "nan", "1_000", "0x10", "TRUE", "1/2", "<", "١"]
)
def test_what_is_not_plainly_a_number_is_not_made_one(text, tmp_path):
    faults = []
    assert np.isnan(numbers(column(text), "v", entry_for(tmp_path / "t.csv"), faults)).all()
    assert [fault.found for fault in faults] == [f'the row holds text that is not a number: "{text}".']


def test_empty_cells_are_gaps_only_where_gaps_are_allowed(tmp_path):
    entry, strict, lax = entry_for(tmp_path / "t.csv"), [], []
    numbers(column("1", ""), "v", entry, strict)
    numbers(column("1", ""), "v", entry, lax, gaps=True)
    assert [str(fault) for fault in strict] == [
        "t.csv, row 3, column v: the row has no value. Fill it in, or remove the row."
    ]
    assert lax == []


@pytest.mark.parametrize(
    "text, moment",
    [
        ("2021", "2021-01-01"),
        ("2021-03", "2021-03-01"),
        ("2021-03-05", "2021-03-05"),
        ("2021-03-05 14:30", "2021-03-05T14:30"),
        ("2021-03-05T14:30:15.5", "2021-03-05T14:30:15.5"),
        ("2021-03-05T14:30Z", "2021-03-05T14:30"),
        ("2021-03-05T14:30+10:00", "2021-03-05T04:30"),
    ],
)
def test_times_are_those_of_the_standard(text, moment, tmp_path):
    # ISO 8601, calendar dates and times of day; an offset is taken off
    faults = []
    assert times(column(text), "v", entry_for(tmp_path / "t.csv"), faults)[0] == np.datetime64(moment)
    assert faults == []


@pytest.mark.parametrize("text", ["03/04/2021", "3.4.21", "03-04-2021"])
def test_a_date_that_can_be_read_in_two_ways_is_refused(text, tmp_path):
    faults = []
    assert np.isnat(times(column(text), "v", entry_for(tmp_path / "t.csv"), faults)).all()
    assert "can be read in two ways" in faults[0].found


@pytest.mark.parametrize(
    "text", ["25/04/2021", "2021-02-30", "44232", "20210305", "March", "5 Mar 2021", "today", "now"]
)
def test_a_date_that_cannot_be_read_is_refused(text, tmp_path):
    faults = []
    assert np.isnat(times(column(text), "v", entry_for(tmp_path / "t.csv"), faults)).all()
    assert "cannot be read" in faults[0].found


def test_every_missing_column_is_named_with_those_there_are(tmp_path):
    faults = []
    frame, entry = pd.DataFrame({"a": [1], "b": [2]}), entry_for(tmp_path / "t.csv")
    assert has_columns(frame, {"x": "a"}, entry, faults)
    assert not has_columns(frame, {"x": "lon", "y": None}, entry, faults)
    assert [str(fault) for fault in faults] == [
        'files.data.x: t.csv has no column "lon". Columns there: a, b.',
        "files.data.y: the site file does not name this column. Columns of t.csv: a, b.",
    ]
