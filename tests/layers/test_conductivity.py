"""Salinity from files of conductivity, against the check values of the practical salinity scale."""

from __future__ import annotations

import gsw
import pytest
from pytest import approx

from layers.conductivity import read_conductivity, read_specific_conductance
from layers.site import parse_site
from tests.files import CRS, entry_for, write_text
from tests.sites import TABLES, site_text

KEYS = {
    "feeds": "conductivity",
    "crs": CRS,
    "x": "x",
    "y": "y",
    "column": "conductivity",
    "units": "mS/cm",
    "temperature": "warmth",
    "temperature_scale": "ITS-90",
}
CHECKS = {  # ratio of conductivity to 42.9140 mS/cm, degrees on IPTS-68: practical salinity at the surface
    (1.0, 15.0): 35.0,
    (0.6990725, 0.0): 36.2864,
    (0.6990725, 10.0): 26.8609,
    (0.6990725, 20.0): 20.8085,
}


def site_in(folder):
    """A site on the grid of the small one."""
    return parse_site(write_text(folder / "site.toml", site_text({"coast": TABLES["coast"]})), [])


def read(tmp_path, *rows, reader=read_conductivity, **keys):
    """The points of a file with these readings, what was refused and what was remarked."""
    text = "x,y,conductivity,warmth\n" + "".join(f"{500_010 + 10 * n},7770010,{row}\n" for n, row in enumerate(rows))
    path = write_text(tmp_path / "meter.csv", text)
    faults, remarks = [], []
    points = reader(entry_for(path, **(KEYS | keys)), site_in(tmp_path), faults, remarks)
    return points, [str(fault) for fault in faults], remarks


def test_the_check_values_of_the_scale_come_back_through_a_file(tmp_path):
    # Fofonoff & Millard 1983, UNESCO Technical Papers in Marine Science 44, seen in public copies of its table;
    # its temperatures are on IPTS-68. Printed to four decimals, 36.28645 cut short: hence 6e-5
    rows = [f"{42.9140 * ratio:.9f},{temperature}" for ratio, temperature in CHECKS]
    points, faults, remarks = read(tmp_path, *rows, temperature_scale="IPTS-68")
    assert faults == [] and remarks == []
    assert points["value"].tolist() == approx(list(CHECKS.values()), abs=6e-5)


def test_on_the_newer_scale_the_same_readings_give_another_salinity(tmp_path):
    # on ITS-90 the water at "15 degrees" is 0.0036 degrees warmer: 42.9140 mS/cm is then less than a salinity of 35
    newer = read(tmp_path, "42.9140,15.0")[0]["value"].iloc[0]
    assert newer == approx(gsw.SP_from_C(42.9140, 15.0, 0.0), abs=1e-9)
    assert 35.0 - newer == approx(0.0032, abs=2e-4)


@pytest.mark.parametrize(("units", "scale"), [("mS/cm", 1.0), ("S/m", 0.1), ("uS/cm", 1000.0), ("mS/m", 100.0)])
def test_units_of_conductivity_are_converted(tmp_path, units, scale):
    # gsw.SP_from_C(30, 20, 0) = 20.80612, computed with the reference library
    points, faults, _ = read(tmp_path, f"{30 * scale},20.0", units=units)
    assert faults == []
    assert points["value"].iloc[0] == approx(20.80612, abs=1e-5)


def test_conductivity_brought_to_25_degrees_needs_no_temperature(tmp_path):
    # gsw.C_from_SP(35, 25, 0) = 53.0710 mS/cm; gsw.SP_from_C(20, 25, 0) = 11.91500
    points, faults, _ = read(
        tmp_path, "53.0710,", "20,", reader=read_specific_conductance, temperature=None, temperature_scale=None
    )
    assert faults == []
    assert points["value"].tolist() == approx([35.0, 11.915], abs=5e-5)


def test_rows_without_a_temperature_are_left_out_and_counted(tmp_path):
    text = "x,y,conductivity,warmth,day\n500010,7770010,30,20,2024-01-01\n500010,7770010,30,,2024-02-01\n"
    path = write_text(tmp_path / "meter.csv", text)
    faults, remarks = [], []
    points = read_conductivity(entry_for(path, **KEYS, time="day"), site_in(tmp_path), faults, remarks)
    assert faults == []
    assert points["value"].tolist() == approx([20.80612], abs=1e-5)
    assert "meter.csv: 1 row left out for want of a temperature." in remarks


def test_what_lies_beside_the_scale_is_remarked_and_kept(tmp_path):
    # 0.5 mS/cm at 25 degrees is 0.24038 by the low salinity extension (gsw); 85 mS/cm at 25 degrees is saltier than 42
    points, faults, remarks = read(tmp_path, "0.5,25", "85,25", "45,25")
    assert faults == []
    assert points["value"].iloc[0] == approx(0.24038, abs=1e-5)
    assert points["value"].iloc[1] == approx(gsw.SP_from_C(85.0, 25.0, 0.0), abs=1e-9)
    assert [remark.split(": ")[1].split(" salinities")[0] for remark in remarks] == ["1 of 3", "1 of 3"]


def test_the_column_of_temperatures_is_named_by_its_own_key(tmp_path):
    _, faults, _ = read(tmp_path, "45,24", temperature="temp")
    assert faults == [
        'files.data.temperature: meter.csv has no column "temp". Columns there: x, y, conductivity, warmth.'
    ]


def test_temperatures_in_degrees_fahrenheit_are_refused_by_what_they_would_be(tmp_path):
    _, faults, _ = read(tmp_path, "45,75.2", "46,77")
    assert len(faults) == 1
    assert "plausible if they were in degrees Fahrenheit. Temperatures beside a conductivity" in faults[0]


def test_every_fault_of_the_two_columns_is_told_once(tmp_path):
    _, faults, _ = read(tmp_path, "salty,warm", "-5,24")
    assert [fault.split(": ")[0] for fault in faults] == [
        "meter.csv, row 2, column conductivity",
        "meter.csv, column conductivity",
        "meter.csv, row 2, column warmth",
    ]
