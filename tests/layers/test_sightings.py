"""Records of animals: what is refused, what is merged, what is flagged, and that no text tells a place.

Terms and their meaning: Darwin Core (TDWG, dwc.tdwg.org/terms). The grid has 40 by
30 cells of 50 m, the ten western columns land.
"""

import datetime
import itertools
import re

import numpy as np
import pytest

from layers import quantity as q
from layers import sighting_flags as flags
from layers.fault import LayerError
from layers.sightings import checked_sightings, read_sightings
from layers.site import parse_site
from tests.sites import EAST, LAND_COLUMNS, NORTH, SITE, SOUTH, WEST, degrees

TODAY = datetime.date(2024, 6, 1)
ENTRY = (
    '\n[files.seen]\nfeeds = "sighting"\nfile = "seen.csv"\ncrs = "EPSG:4326"\nx = "decimalLongitude"\n'
    'y = "decimalLatitude"\ndate = "2023"\nsource = "made up"\nlicence = "CC0-1.0"\ncredit = "nobody"\n'
)
HEADER = "decimalLongitude,decimalLatitude,eventDate,individualCount,coordinateUncertaintyInMeters,occurrenceID"


def at(east, north):
    """Longitude and latitude, as written, of a place so many metres from the south-west corner."""
    longitude, latitude = degrees(WEST + east, SOUTH + north)
    return f"{longitude:.6f},{latitude:.6f}"


GOOD = [f"{at(900 + 100 * k, 400 + 70 * k)},2023-06-{k + 1:02d},1,60,id{k}" for k in range(10)]


@pytest.fixture
def read(tmp_path):
    """Reads lines of a file of sightings: the records (None if refused), and the faults."""

    def reading(lines, header=HEADER, keys="", name="seen.csv"):
        (tmp_path / name).write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
        (tmp_path / "site.toml").write_text(SITE + ENTRY + keys, encoding="utf-8")
        noted, faults = [], []
        site = parse_site(tmp_path / "site.toml", noted)
        entries = [entry for entry in site.files if entry.name == "seen"]
        assert entries, noted
        return read_sightings(entries[0], site, faults), faults

    return reading


@pytest.fixture(scope="module")
def surface(tmp_path_factory):
    path = tmp_path_factory.mktemp("grid") / "site.toml"
    path.write_text(SITE + ENTRY, encoding="utf-8")
    grid = parse_site(path, []).grid
    codes = np.full(grid.shape, q.WATER, np.uint8)
    codes[:, :LAND_COLUMNS] = q.LAND
    return grid.label(codes, q.SURFACE)


def checked(read, surface, lines, **keys):
    records, faults = read(lines, **keys)
    assert not faults, faults
    return checked_sightings([records], surface, as_of=TODAY)


def flag_rows(found, flag):
    return found.flags.loc[found.flags["flag"] == flag, "row"].tolist()


def test_a_sound_file_is_read_whole_with_its_rows(read, surface):
    found = checked(read, surface, GOOD)
    assert len(found.seen) == 10 and found.flags.empty
    assert found.records["row"].tolist() == list(range(2, 12))
    assert found.records["month"].eq(6).all() and found.records["uncertainty"].eq(60).all()
    assert found.records.geometry.x.iloc[0] == pytest.approx(WEST + 900, abs=0.2)
    assert len(found.in_months([6]).seen) == 10 and len(found.in_months([1, 2]).seen) == 0


def test_plain_columns_are_read_under_the_names_the_site_file_gives(read, surface):
    lines = [f"{line.rpartition(',')[0]},seen" for line in GOOD]
    keys = 'time = "day"\ncolumn = "animals"\nunits = "1"\ncolumns = { coordinateUncertaintyInMeters = "gps" }\n'
    found = checked(
        read, surface, lines, header="decimalLongitude,decimalLatitude,day,animals,gps,occurrenceStatus".replace(
            "occurrenceStatus", "remark"), keys=keys
    )  # fmt: skip
    assert found.records["uncertainty"].eq(60).all() and found.records["count"].eq(1).all()
    _, faults = read(lines, keys='columns = { eventDate = "when" }\n')
    assert any(fault.place == "files.seen.columns.eventDate" and 'no column "when"' in fault.found for fault in faults)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (f"{at(900, 400)},2023-13-01,1,60,x", "hold.* a date that cannot be read"),
        (f"{at(900, 400)},2023-02-30,1,60,x", "hold.* a date that cannot be read"),
        (f"{at(900, 400)},03/04/2023,1,60,x", "read in two ways"),
        (f"{at(900, 400)},2023-05-01,1.5,60,x", "no whole number of animals"),
        (f"{at(900, 400)},2023-05-01,1,-60,x", "uncertainty below 0"),
        ("0,0,2023-05-01,1,60,x", "coordinates are 0/0"),
        (",".join(reversed(at(900, 400).split(","))) + ",2023-05-01,1,60,x", "longitude and latitude are swapped"),
        (f"{at(900, 400).replace('-', '')},2023-05-01,1,60,x", "latitudes are south of the equator but have no minus"),
        (f"x{at(900, 400)},2023-05-01,1,60,x", "text that is not a number"),
    ],
)
def test_what_cannot_be_is_refused_by_its_row(read, line, said):
    records, faults = read([*GOOD, line])
    assert records is None
    assert any(re.search(said, fault.found) and "12" in f"{fault.place} {fault.found}" for fault in faults), faults


def test_all_faults_come_at_once(read):
    lines = [
        *GOOD,
        f"{at(900, 400)},2023-13-01,1,60,x",
        f"{at(900, 400)},2023-05-01,two,60,y",
        f"{at(900, 400)},2023-05-01,1,-60,z",
        "0,0,2023-05-01,1,60,w",
    ]
    _, faults = read(lines)
    assert len(faults) == 4


def test_no_fault_and_no_flag_tells_a_place(read, surface):
    place = at(900, 400)
    far = "151.234567,-33.456789"
    broken = {
        "text": [*GOOD, f"x{place},2023-05-01,1,60,x"],
        "swapped": [",".join(reversed(place.split(","))) + ",2023-05-01,1,60,x"],
        "elsewhere": [f"{far},2023-05-01,1,60,x"],
        "metres": ["500912.3,7770434.7,2023-05-01,1,60,x"],
        "infinite": [*GOOD, f"inf,{place.split(',')[1]},2023-05-01,1,60,x"],
        "comma": [*GOOD, '"87,005432",' + place.split(",")[1] + ",2023-05-01,1,60,x"],
    }
    for name, lines in broken.items():
        records, faults = read(lines)
        assert records is None and faults, name
        secrets = {number for line in lines for number in re.findall(r"\d+[.,]\d{3,}", line)}
        secrets |= {f"{float(number):.3f}" for number in re.findall(r"\d+\.\d{3,}", " ".join(lines))}
        secrets |= {number[:6] for number in secrets if len(number) >= 7}
        for secret, fault in itertools.product(secrets, faults):
            assert secret not in str(fault), name
    found = checked(read, surface, [*GOOD, f"{at(100, 700)},2023-05-01,1,20,x"])
    told = f"{found!r} {found.sentences} {found.flags.to_csv()}"
    assert not re.search(r"\d{3}\.\d|\d{6}", told)


def test_a_date_to_come_is_refused_against_the_day_given(read, surface):
    records, faults = read([*GOOD, f"{at(900, 400)},2024-06-02,1,60,x"])
    assert not faults
    with pytest.raises(LayerError, match="1 record is dated after 2024-06-01: row 12"):
        checked_sightings([records], surface, as_of=TODAY)
    assert len(checked_sightings([records], surface, as_of=datetime.date(2024, 6, 2)).seen) == 11


def test_duplicates_are_merged_and_it_is_said_by_what(read, surface):
    again = GOOD[2].rsplit(",", 1)[0] + ","
    found = checked(read, surface, [*GOOD, GOOD[4], again])
    assert len(found.seen) == 10
    assert flag_rows(found, flags.SAME_IDENTIFIER) == [12] and flag_rows(found, flags.SAME_RECORD) == [13]
    assert found.flags["note"].tolist() == ["merged into row 6 of seen.csv", "merged into row 4 of seen.csv"]


def test_one_identifier_for_two_records_is_refused(read, surface):
    records, _ = read([*GOOD, f"{at(1500, 200)},2023-06-01,1,60,id0"])
    with pytest.raises(LayerError, match=r"row 12: it has the identifier of row 2 of seen\.csv and another place"):
        checked_sightings([records], surface, as_of=TODAY)


def test_looking_twice_and_seeing_none_counts_twice(read, surface):
    none = [f"{at(900, 400)},2023-05-01,0,60,"] * 2
    found = checked(read, surface, [*GOOD, *none])
    assert len(found.none_seen) == 2 and len(found.seen) == 10


@pytest.mark.parametrize(
    ("east", "north", "radius", "flag", "used"),
    [
        (100, 700, 20, flags.ON_LAND, False),
        (100, 700, 450, None, True),  # water begins at 500 m
        (480, 700, 20, None, True),  # on the shore's own cell
        (-300, 700, 20, flags.OUTSIDE, False),
        (1300, 700, 0, flags.ZERO_UNCERTAINTY, True),
        (1300, 700, "", flags.NO_UNCERTAINTY, True),
    ],
)
def test_places_are_held_against_the_water_and_their_uncertainty(read, surface, east, north, radius, flag, used):
    found = checked(read, surface, [*GOOD, f"{at(east, north)},2023-05-01,1,{radius},x"])
    record = found.records[found.records["row"] == 12].iloc[0]
    assert record["used"] == used
    told = [word for word in found.flags.loc[found.flags["row"] == 12, "flag"] if word != flags.FAR_AWAY]
    assert told == ([flag] if flag else [])
    if flag:
        assert flag_rows(found, flag) == [12]
    assert np.isnan(record["uncertainty"]) == (radius in (0, ""))


def test_a_lone_place_and_a_huge_group_are_flagged_and_kept(read, surface):
    lines = [f"{at(900 + 10 * k, 400)},2023-06-{k + 1:02d},{1 + k % 2},60,id{k}" for k in range(12)]
    found = checked(
        read, surface, [*lines, f"{at(1900, 1400)},2023-05-01,1,60,x", f"{at(905, 405)},2023-05-02,40,60,y"]
    )
    assert flag_rows(found, flags.FAR_AWAY) == [14] and flag_rows(found, flags.MANY) == [15]
    assert found.records["used"].all()


@pytest.mark.parametrize(
    ("text", "month", "flag"),
    [
        ("2023-11", 11, None),
        ("2023", 0, flags.NO_MONTH),
        ("", 0, flags.NO_DATE),
        ("2023-04-03/2023-04-05", 4, None),
        ("2023-04-03/05", 4, None),
        ("2023-04-03/2023-06-05", 0, flags.NO_MONTH),
        ("2023-04-03T14:30", 4, None),
    ],
)
def test_dates_of_the_standard_give_a_month_only_where_they_hold_one(read, surface, text, month, flag):
    found = checked(read, surface, [*GOOD, f"{at(900, 1400)},{text},1,60,x"])
    assert found.records.loc[found.records["row"] == 12, "month"].item() == month
    assert [row["flag"] for _, row in found.flags.iterrows() if row["row"] == 12 and "sighting" not in row["flag"]] == (
        [flag] if flag else []
    )


def test_status_count_datum_basis_and_effort_are_heeded(read, surface):
    header = HEADER + ",occurrenceStatus,geodeticDatum,basisOfRecord,samplingEffort"
    lines = [line + ",detected,WGS84,HumanObservation,90 minutes" for line in GOOD]
    lines += [
        f"{at(900, 1400)},2023-05-01,0,60,a,notDetected,EPSG:4326,HumanObservation,2 h",
        f"{at(1000, 1400)},2023-05-01,1,60,b,present,,PreservedSpecimen,two mornings",
    ]
    found = checked(read, surface, lines, header=header)
    assert found.records["hours"].tolist()[:1] + found.records["hours"].tolist()[10:11] == [1.5, 2.0]
    assert len(found.none_seen) == 1 and len(found.seen) == 10
    assert {flags.NO_DATUM, flags.NOT_SEEN_ALIVE, flags.NO_HOURS} <= set(
        found.flags.loc[found.flags["row"] == 13, "flag"]
    )
    _, faults = read([GOOD[0] + ",maybe,EPSG:4283,,", GOOD[1] + ",absent,EPSG:4326,,"], header=header)
    said = " ".join(fault.found for fault in faults)
    assert "a status that is not known" in said and "a datum that is not that of the file" in said
    assert "the status of none seen beside a count of animals" in said


def test_the_grid_of_the_test_is_what_it_says():
    assert (EAST - WEST, NORTH - SOUTH) == (2000, 1500)
