"""The bed of the small site from soundings of its own plane, so that what comes back is known."""

from __future__ import annotations

import numpy as np
import pytest

from layers.derivation import Derivation, Settings
from layers.fault import LayerError
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from tests.sites import CELL, COLUMNS, LAND_COLUMNS, SOUTH, TABLES, WEST, bed, site_text, write_small_site

FOOT = 0.3048  # m, exactly
CHART_DATUM = -1.2  # m above mean sea level
SURVEY = (
    'feeds = "sounding"\nfile = "{name}.csv"\ncrs = "EPSG:32745"\nx = "x"\ny = "y"\ncolumn = "depth"\n'
    'units = "{units}"\npositive = "down"\ndatum = "{datum}"\nerror = {error}\n'
)
INNER = [(WEST + x, SOUTH + y) for y in range(75, 1500, 150) for x in range(525, 1100, 100)]
EVERYWHERE = [(WEST + x, SOUTH + y) for y in range(75, 1500, 200) for x in range(525, 2000, 200)]
OPEN = np.s_[:, LAND_COLUMNS:]


def plane(x):
    """Elevation of the small site's bed at eastings, above mean sea level. [m]"""
    return 2.0 - 0.25 * ((np.asarray(x) - WEST) / CELL - 0.5)


def survey(folder, name, places, *, deeper=0.0, units="m", datum="mean sea level", error=0.1, dates=None):
    """Write soundings of the plane bed; returns the table of the site file."""
    below = CHART_DATUM if datum == "chart datum" else 0.0
    rows = ["x,y,depth,day"]
    for number, (x, y) in enumerate(places):
        depth = (below - plane(x) + deeper) / (FOOT if units == "ft" else 1.0)
        rows.append(f"{x},{y},{depth:.6f},{dates[number] if dates else ''}")
    (folder / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    table = SURVEY.format(name=name, units=units, datum=datum, error=error)
    return table + ('time = "day"\n' if dates else "")


def made_of(path, tables, *, reach=2000, more=""):
    """The derivation of a site with these tables."""
    text = site_text({name: keys for name, keys in tables.items()})
    text = text.replace("soundings = 2000", f"soundings = {reach}")
    text += f'\n[datums]\n"mean sea level" = 0.0\n"chart datum" = {CHART_DATUM}\n{more}'
    path.write_text(text, encoding="utf-8")
    return Derivation(read_inputs(path), Settings(wanted=()), RECIPES)


@pytest.fixture
def path(tmp_path):
    return write_small_site(tmp_path / "site")


def of_site(*names):
    return {name: TABLES[name] for name in names}


def test_soundings_of_a_plane_give_the_plane_back_in_the_water(path):
    made = made_of(path, of_site("coast") | {"survey": survey(path.parent, "survey", EVERYWHERE)})
    found = made.layer("bed_elevation").to_numpy()
    np.testing.assert_allclose(found[OPEN], bed()[OPEN], atol=2e-3)
    assert np.isnan(found[:, :LAND_COLUMNS]).all()
    assert made.layer("bed_elevation").dtype == np.float32
    error = made.layer("bed_elevation_error").to_numpy()[OPEN]
    assert (error > 0).all() and (error < 0.11).all(), "about that of a sounding, 0.1 m, or less"


def test_feet_below_chart_datum_are_metres_above_the_datum_of_the_bed(path):
    table = survey(path.parent, "survey", EVERYWHERE, units="ft", datum="chart datum", error=0.3)
    alone = made_of(path, of_site("coast", "tide") | {"survey": table})
    assert alone.bed_datum == "chart datum"
    np.testing.assert_allclose(alone.layer("bed_elevation").to_numpy()[OPEN], bed()[OPEN] - CHART_DATUM, atol=2e-3)
    # the tide stands about mean sea level, 1.2 m above the datum of this bed: the depth of the water is the same
    np.testing.assert_allclose(alone.layer("water_depth").to_numpy()[OPEN], -bed()[OPEN], atol=4e-3)
    beside = made_of(path, of_site("coast", "bed") | {"survey": table})
    assert beside.bed_datum == "mean sea level"
    np.testing.assert_allclose(beside.layer("bed_elevation").to_numpy()[OPEN], bed()[OPEN], atol=2e-3)


def test_a_raster_is_corrected_by_what_soundings_differ_from_it_and_no_farther(path):
    # all soundings lie 0.3 m below the raster, in the inner water; the outer water is beyond their reach
    table = survey(path.parent, "survey", INNER, deeper=0.3)
    made = made_of(path, of_site("coast", "bed") | {"survey": table}, reach=300)
    change = made.layer("bed_elevation").to_numpy() - bed()
    easting = WEST + CELL * (np.arange(COLUMNS) + 0.5)
    near, far = (easting > WEST + 500) & (easting < WEST + 1300), easting > WEST + 1400
    np.testing.assert_allclose(change[:, near], -0.3, atol=1e-3)
    np.testing.assert_array_equal(change[:, far], 0.0)
    np.testing.assert_array_equal(change[:, :LAND_COLUMNS], 0.0)
    error = made.layer("bed_elevation_error").to_numpy()
    assert (error[:, near] < 0.2).all()
    np.testing.assert_allclose(error[:, far], 0.2, rtol=1e-6)  # as the site file states it for the raster
    said = made.layer("bed_elevation").attrs["method"]
    assert "-0.30 m from the raster on the mean" in said and f"{len(INNER)} of survey.csv" in said
    assert "0.20 m beyond the reach of soundings" in made.layer("bed_elevation_error").attrs["method"]


def test_without_a_stated_error_the_raster_is_as_wrong_as_the_soundings_find_it(path):
    tables = of_site("coast", "bed")
    tables["bed"] = tables["bed"].replace("error = 0.2\n", "")
    made = made_of(path, tables | {"survey": survey(path.parent, "survey", INNER, deeper=0.3)}, reach=300)
    error = made.layer("bed_elevation_error").to_numpy()
    np.testing.assert_allclose(error[:, -8:], 0.3, atol=1e-4)  # root mean square of a constant 0.3 m


def test_an_error_stated_for_a_raster_in_feet_is_told_in_metres(path):
    tables = of_site("coast", "bed")
    tables["bed"] = tables["bed"].replace('units = "m"', 'units = "ft"').replace("error = 0.2", "error = 1")
    made = made_of(path, tables)
    np.testing.assert_allclose(made.layer("bed_elevation").to_numpy(), FOOT * bed(), rtol=1e-6)
    np.testing.assert_allclose(made.layer("bed_elevation_error").to_numpy()[OPEN], FOOT, rtol=1e-6)


def test_an_old_survey_gives_way_to_a_new_one(path):
    # at the same places the bed lay 1 m higher 25 years before; it moves by 0.2 m a year, so that 1998 is out by
    # sqrt(0.1**2 + 0.2**2 * 25) = 1.005 m, and weighs 1/102 of 2023 where both were sounded
    old = survey(path.parent, "old", EVERYWHERE, deeper=-1.0, dates=["1998-06-01"] * len(EVERYWHERE))
    new = survey(path.parent, "new", EVERYWHERE, dates=["2023-06-01"] * len(EVERYWHERE))
    change = '\n[bed]\nyearly_change = { value = 0.2, units = "m", source = "a test" }\n'
    made = made_of(path, of_site("coast") | {"old": old, "new": new}, more=change)
    weight_of_old = (1 / (0.1**2 + 0.2**2 * 25)) / (1 / (0.1**2 + 0.2**2 * 25) + 1 / 0.1**2)
    difference = made.layer("bed_elevation").to_numpy()[OPEN] - bed()[OPEN]
    np.testing.assert_allclose(difference, weight_of_old, atol=3e-3)
    said = made.layer("bed_elevation").attrs["method"]
    assert "old.csv (standard error 1.00 m" in said and "new.csv (standard error 0.10 m" in said
    assert "bed.yearly_change = 0.2 m (site.toml; a test)" in made.layer("bed_elevation").attrs["numbers"]


def test_soundings_too_few_in_the_water_are_refused_in_the_name_of_their_table(path):
    ashore = [(WEST + 25.0, SOUTH + y) for y in range(75, 1500, 100)]
    made = made_of(path, of_site("coast") | {"survey": survey(path.parent, "survey", INNER[:9] + ashore)})
    with pytest.raises(LayerError, match=r"files\.survey: soundings: found 9 in or beside the water, and 15 on land"):
        made.layer("bed_elevation")


def test_the_error_of_the_bed_is_absent_where_nobody_states_one(path):
    tables = of_site("coast", "bed")
    tables["bed"] = tables["bed"].replace("error = 0.2\n", "")
    assert made_of(path, tables).layer("bed_elevation_error") is None
