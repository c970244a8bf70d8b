"""Slips with coordinates: each one is told from the others, and a file in its place is left alone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer

from layers.grid import Grid
from layers.place import SLIPS_IN_DEGREES, SLIPS_IN_METRES, crs_name, inside, known_crs, misplacement, slipped
from tests.files import entry_for

DEGREES, SOUTH, NORTH = CRS.from_epsg(4326), "EPSG:32745", "EPSG:32617"
SITES = {
    "south and east": Grid.from_bounds(SOUTH, 500_000, 7_770_000, 520_000, 7_790_000, 100),
    "north and west": Grid.from_bounds(NORTH, 480_000, 2_980_000, 500_000, 3_000_000, 100),
    "south and west": Grid.from_bounds("EPSG:32722", 480_000, 7_770_000, 500_000, 7_790_000, 100),
}


def box_in_degrees(grid, mend=lambda x, y: (x, y)):
    """Bounds of the site in degrees after a slip."""
    turn = Transformer.from_crs(grid.crs, 4326, always_xy=True)
    west, south, east, north = turn.transform_bounds(*grid.bounds)
    x, y = mend(np.array([west, east]), np.array([south, north]))
    return x.min(), y.min(), x.max(), y.max()


@pytest.mark.parametrize("site", SITES)
def test_a_file_in_its_place_has_no_fault(site):
    grid = SITES[site]
    assert misplacement("f", box_in_degrees(grid), DEGREES, grid) is None
    assert misplacement("f", grid.bounds, grid.crs, grid) is None
    assert misplacement("f", (-180, -90, 180, 90), DEGREES, grid) is None
    assert misplacement("f", (-180.25, -90.25, 179.75, 90.25), DEGREES, grid) is None  # cells centred on the poles
    assert misplacement("f", (0, -90, 360, 90), DEGREES, grid) is None


# what the file holds for a place (x, y), and how the fault begins; each undoes one slip
SPOILT = {
    "swapped": (lambda x, y: (y, x), "longitude and latitude are swapped", tuple(SITES)),
    "west": (lambda x, y: (-x, y), "longitudes are west of Greenwich", ("north and west", "south and west")),
    "south": (lambda x, y: (x, -y), "latitudes are south of the equator", ("south and east", "south and west")),
    "both": (lambda x, y: (-x, -y), "longitudes and latitudes have the wrong sign", tuple(SITES)),
}


@pytest.mark.parametrize("slip, site", [(slip, site) for slip, (_, _, sites) in SPOILT.items() for site in sites])
def test_each_slip_in_degrees_is_named(slip, site):
    mend, begin, _ = SPOILT[slip]
    fault = misplacement("f", box_in_degrees(SITES[site], mend), DEGREES, SITES[site])
    assert fault.found.startswith(begin)


def test_signs_are_named_as_they_are():
    # eastern longitudes written with a minus sign are not "west without a sign"
    grid = SITES["south and east"]
    fault = misplacement("f", box_in_degrees(grid, lambda x, y: (-x, y)), DEGREES, grid)
    assert fault.found.startswith("longitudes are east of Greenwich but have a minus sign")
    grid = SITES["north and west"]
    fault = misplacement("f", box_in_degrees(grid, lambda x, y: (x, -y)), DEGREES, grid)
    assert fault.found.startswith("latitudes are north of the equator but have a minus sign")


@settings(max_examples=50, deadline=None)
@given(st.floats(-179, 179), st.floats(-70, 70), st.sampled_from([*SLIPS_IN_DEGREES]))
def test_a_slip_is_only_named_if_it_brings_the_place_into_the_site(x, y, slip):
    grid = SITES["south and east"]
    there = np.array([x]), np.array([y])
    found = slipped(*there, DEGREES, grid)
    if found:
        named, those = found
        turn = Transformer.from_crs(4326, grid.crs, always_xy=True)
        assert those.all()
        assert inside(*turn.transform(*named.mended(*there)), grid).all()


def test_every_slip_says_what_it_is_and_what_to_do():
    for slip in (*SLIPS_IN_DEGREES, *SLIPS_IN_METRES):
        assert slip.found[0].islower() and not slip.found.endswith(".")
        assert slip.remedy.endswith(".")


def test_extents_are_given_in_degrees_where_they_can_be_had():
    grid = SITES["south and east"]
    fault = misplacement("bed.tif", (100.0, 10.0, 101.5, 11.25), DEGREES, grid)
    assert str(fault) == (
        "bed.tif: the file does not overlap the site. The file covers longitude 100.000 to 101.500, latitude 10.000 to "
        "11.250; the site covers longitude 87.000 to 87.191, latitude -20.167 to -19.987. Check the CRS and the "
        "coordinates of the file, and the bounds of the grid."
    )


def test_a_crs_that_cannot_be_turned_into_the_sites_is_refused():
    local = CRS.from_wkt('LOCAL_CS["Harbour grid",UNIT["metre",1]]')
    fault = misplacement("bed.tif", (0, 0, 1_000, 1_000), local, SITES["south and east"])
    assert str(fault) == "bed.tif: the CRS Harbour grid cannot be turned into the site's. Reproject the file first."


def test_a_crs_is_known_from_the_file_or_from_the_site_file(tmp_path):
    faults = []
    assert known_crs(entry_for(tmp_path / "a.tif"), "EPSG:4326", faults).to_epsg() == 4326
    assert known_crs(entry_for(tmp_path / "a.tif", crs="EPSG:4326"), None, faults).to_epsg() == 4326
    assert known_crs(entry_for(tmp_path / "a.tif", crs="EPSG:4326"), "EPSG:4326", faults).to_epsg() == 4326
    assert faults == []
    assert crs_name(CRS.from_epsg(32745)) == "EPSG:32745"
