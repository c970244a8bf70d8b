"""CSV files as spreadsheets spoil them."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import (
    STATION_PLACE,
    STATIONS,
    STATIONS_HEADER,
    all_of,
    edited,
    recoded,
    site,
    stations,
    written,
)

REFUSALS = (
    Refusal(
        kind="a table is not there",
        tables=("coast", "salinity"),
        spoil=site('file = "stations.csv"', 'file = "Stations.csv"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.salinity.file: there is no file "Stations.csv". Correct the name or add the file. '
            "Files of that kind there: jetty.csv, seen.csv, stations.csv, tide.csv, wind.csv.\n"
        ),
    ),
    Refusal(
        kind="a table has no such column",
        tables=("coast", "salinity"),
        spoil=site('column = "salinity"', 'column = "salt"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.salinity.column: stations.csv has no column "salt". Columns there: station, '
            "longitude, latitude, date, salinity, temperature, green, solids, secchi.\n"
        ),
    ),
    Refusal(
        kind="a table has only a header",
        tables=("coast", "salinity"),
        spoil=stations(),
        says=("site.toml: 1 problem\n  stations.csv: the file has a header and no rows below it. Export it again.\n"),
    ),
    Refusal(
        kind="a table is a workbook",
        tables=("coast", "salinity"),
        spoil=written(STATIONS, b"PK\x03\x04\x14\x00\x06\x00\x08\x00 and so on"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv: the file is a workbook or an archive, not text. Save the sheet as CSV in UTF-8.\n"
        ),
    ),
    Refusal(
        kind="a table is in Latin-1",
        tables=("coast", "salinity"),
        spoil=all_of(stations(f"Baía,{STATION_PLACE},2023-01-15,30,24"), recoded(STATIONS, "latin-1")),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2: the text is not UTF-8. Read as Latin-1 the row is "
            '"Baía,87.006,-20.164,2023-01-15,30,24". Save the file in UTF-8.\n'
        ),
    ),
    Refusal(
        kind="a table is in UTF-16",
        tables=("coast", "salinity"),
        spoil=recoded(STATIONS, "utf-16"),
        says=("site.toml: 1 problem\n  stations.csv: the file is in UTF-16. Save it as CSV in UTF-8.\n"),
    ),
    Refusal(
        kind="the columns are parted by semicolons",
        tables=("coast", "salinity"),
        spoil=stations("A;87.006;-20.164;2023-01-15;30;24", header=STATIONS_HEADER.replace(",", ";")),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 1: the columns are parted by semicolons, not by commas. Write delimiter "
            '= ";" in files.salinity.\n'
        ),
    ),
    Refusal(
        kind="numbers have a decimal comma",
        tables=("coast", "salinity"),
        spoil=stations(f'A,{STATION_PLACE},2023-01-15,"30,5",24', f'A,{STATION_PLACE},2023-02-15,"31,5",24'),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, column salinity: 2 rows hold a number with a decimal comma: "30,5" in row '
            '2, "31,5" in row 3. Write `decimal = ","` in files.salinity if the whole file is written '
            "so, or mend the row.\n"
        ),
    ),
    Refusal(
        kind="a row is empty",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", ",,,,,", f"A,{STATION_PLACE},2023-03-15,31,24"),
        says=("site.toml: 1 problem\n  stations.csv, row 3: the row is empty. Remove it.\n"),
    ),
    Refusal(
        kind="a row is too short",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", f"A,{STATION_PLACE},2023-02"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 3: the row has 4 values, the header 6. The file may be cut short: "
            "export it again, or mend the row.\n"
        ),
    ),
    Refusal(
        kind="a row is too long",
        tables=("coast", "salinity"),
        spoil=stations(f"A, the jetty,{STATION_PLACE},2023-01-15,30,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2: the row has 7 values, the header 6. Look for a decimal comma, or a "
            "comma in a text, and put quotation marks around that value.\n"
        ),
    ),
    Refusal(
        kind="a quotation mark is never closed",
        tables=("coast", "salinity"),
        spoil=stations(f'"A,{STATION_PLACE},2023-01-15,30,24', f"B,{STATION_PLACE},2023-01-15,30,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2: a quotation mark is opened and never closed. Close it, or remove it.\n"
        ),
    ),
    Refusal(
        kind="two columns have one name",
        tables=("coast", "salinity"),
        spoil=edited(STATIONS, "salinity,temperature", "salinity,salinity"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 1: columns have the same name: salinity. Give every column its own name.\n"
        ),
    ),
    Refusal(
        kind="a column has no name",
        tables=("coast", "salinity"),
        spoil=edited(STATIONS, "station,longitude", ",longitude"),
        says=("site.toml: 1 problem\n  stations.csv, row 1: column 1 has no name. Name it, or remove the column.\n"),
    ),
    Refusal(
        kind="a number is a word",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,salty,24"),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, row 2, column salinity: the row holds text that is not a number: "salty". '
            "Write a number, or remove the row.\n"
        ),
    ),
    Refusal(
        kind="a number is below the limit of detection",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,<0.1,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2, column salinity: the row holds a value below or above a limit of "
            'detection: "<0.1". Such values cannot be read yet: remove the row, or write a number and '
            "say in `source` how it was chosen.\n"
        ),
    ),
    Refusal(
        kind="a number is infinite",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,inf,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, column salinity: 1 row holds an infinite value, first at row 2. Replace "
            "infinite values with no data.\n"
        ),
    ),
    Refusal(
        kind="no value is -999 and nobody says so",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,-999,24", f"A,{STATION_PLACE},2023-02-15,31,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, column salinity: 1 row holds -999, which looks like a mark for no data that "
            "the file does not declare. Add `nodata = -999` to the table files.salinity, or mend the file.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
