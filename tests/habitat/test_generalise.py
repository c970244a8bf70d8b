from collections import Counter
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from habitat.darwin_core import RELEASED
from habitat.generalise import generalised, half_diagonal, pseudonym, rounded_degrees
from habitat.generalise_counts import CELL, enough_told
from habitat.publish_rules import read_rules
from layers.fault import RecordError

PUBLISHED = Path(__file__).parents[1] / "published"
RULES = replace(read_rules(), herd=30, minimum_count=5)
SECRETS = ("Old Jetty", "Ann Other", "calf by the", "04:12", "-20.0512345")


def sightings(places, *, uncertainty=25.0, species="Genus species"):
    count = len(places)
    return gpd.GeoDataFrame(
        {
            "occurrenceID": [f"Old Jetty {number}" for number in range(count)],
            "basisOfRecord": "HumanObservation",
            "scientificName": species,
            "eventDate": "2023-06-01T04:12:00",
            "individualCount": 1,
            "coordinateUncertaintyInMeters": uncertainty,
            "recordedBy": "Ann Other",
            "locality": "Old Jetty",
            "verbatimLatitude": "-20.0512345",
            "occurrenceRemarks": "calf by the jetty",
        },
        geometry=gpd.points_from_xy(*np.array(places, float).T),
        crs=4326,
    )


def spread(middle, count, seed=0):
    """Places within a 0.1 degree cell."""
    return np.array(middle) + np.random.default_rng(seed).uniform(-0.049, 0.049, (count, 2))


def test_coordinates_are_rounded_as_in_the_published_example():
    for row in pd.read_csv(PUBLISHED / "rounded_degrees.csv", comment="#").itertuples():
        assert rounded_degrees(row.latitude, row.degrees) == row.rounded_latitude
        assert rounded_degrees(row.longitude, row.degrees) == row.rounded_longitude


def test_twice_the_half_diagonal_is_the_published_diagonal():
    # printed values are scaled from the length of a degree; the far corner of a wide cell lies a little farther
    table = pd.read_csv(PUBLISHED / "degree_cells.csv", comment="#")
    for row in table.itertuples():
        found = 2 * half_diagonal(row.latitude, row.degrees)
        assert found == pytest.approx(row.diagonal_m, rel=1.1e-3)
        if row.degrees == 1:
            assert 2000 * half_diagonal(row.latitude, 0.001) == pytest.approx(row.diagonal_m, abs=1)


@given(st.floats(-179, 179), st.floats(-85, 85), st.sampled_from([1, 0.1, 0.01, 0.001]))
def test_the_circle_of_a_released_place_holds_the_true_one(longitude, latitude, step):
    middle = rounded_degrees(longitude, step), rounded_degrees(latitude, step)
    away = Geod(ellps="WGS84").inv(*middle, longitude, latitude)[2]
    assert away <= half_diagonal(middle[1], step) + 1e-3


def test_text_that_tells_place_person_or_hour_is_gone_and_what_is_withheld_is_said():
    table = generalised(sightings(spread((118.9, -20.0), 12)), RULES)
    text = table.to_csv()
    assert not [word for word in SECRETS if word in text]
    assert list(table) == list(RELEASED)
    assert set(table["decimalLatitude"]) == {-20.0}
    assert set(table["coordinatePrecision"]) == {0.1}
    assert set(table["eventDate"]) == {"2023"}
    assert set(table["coordinateUncertaintyInMeters"]) == {int(np.ceil(half_diagonal(-20.0, 0.1) + 25))}
    assert table["dataGeneralizations"].str.contains("held at 1e-06 degree").all()
    assert table["informationWithheld"].str.len().min() > 40
    assert (table["recordedBy"] == "").all()


def test_an_unknown_uncertainty_stays_empty():
    table = generalised(sightings(spread((118.9, -20.0), 12), uncertainty=np.nan), RULES)
    assert table["coordinateUncertaintyInMeters"].isna().all()


def test_a_recorder_has_one_pseudonym_under_one_key_and_another_under_another():
    # RFC 4231, test case 2
    assert pseudonym("what do ya want for nothing?", b"Jefe") == "5bdcc146bf60754e"
    first, second = (generalised(sightings(spread((118.9, -20.0), 12)), RULES, key=key) for key in (b"one", b"two"))
    assert first["recordedBy"].nunique() == 1
    assert set(first["recordedBy"]).isdisjoint(second["recordedBy"])


def test_a_small_cell_is_withheld_and_what_is_left_of_an_area_is_never_small():
    places = np.concatenate([spread((118.9, -20.0), 12), spread((119.0, -20.0), 7, 1), spread((119.1, -20.0), 2, 2)])
    table = generalised(sightings(places), RULES)
    # two withheld alone could be told from a known total, so the cell of seven goes with them
    assert Counter(table["decimalLongitude"]) == {118.9: 12}


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), max_size=80), st.integers(2, 8))
def test_no_released_cell_and_no_rest_of_an_area_is_below_the_minimum(cells, minimum):
    table = pd.DataFrame(
        [("Genus species", 118 + column / 10, -20 + row / 10, 0.1) for column, row in cells], columns=CELL
    )
    told = enough_told(table, minimum)
    assert all(count >= minimum for count in Counter(told.itertuples(index=False, name=None)).values())
    rest = table.loc[table.index.difference(told.index)]
    assert told.empty or len(rest) == 0 or len(rest) >= minimum

    def coarse(one):
        return Counter((rounded_degrees(x, 1), rounded_degrees(y, 1)) for x, y in one[CELL[1:3]].to_numpy())

    seen = coarse(told)
    assert all(count >= minimum for area, count in coarse(rest).items() if seen[area])


@settings(max_examples=15)
@given(st.integers(0, 14), st.integers(0, 14), st.integers(0, 14), st.integers(0, 3))
def test_no_difference_of_two_publications_holds_fewer_records_than_the_minimum(first, more, other, moved):
    old = np.concatenate([spread((118.9, -20.0), 8, 1), spread((119.0, -20.0), first, 2)])
    new = np.concatenate([old[moved:], spread((118.9, -20.0), more, 3), spread((119.0, -20.0), other, 4)])
    former = generalised(sightings(old), RULES)
    latest = generalised(sightings(new), RULES, former=former)
    before, after = (Counter(table[CELL].itertuples(index=False, name=None)) for table in (former, latest))
    for change in ((after - before), (before - after)):
        assert all(count >= RULES.minimum_count for count in change.values())


def test_a_former_table_read_back_from_its_file_is_the_same(tmp_path):
    made = generalised(sightings(spread((118.9, -20.0), 12)), RULES)
    made.to_csv(tmp_path / "table.csv", index=False)
    again = generalised(
        sightings(spread((118.9, -20.0), 14)),
        RULES,
        former=pd.read_csv(tmp_path / "table.csv", dtype={"eventDate": str}),
    )
    pd.testing.assert_frame_equal(made, again)


def test_another_step_than_the_former_one_is_refused():
    former = generalised(sightings(spread((118.9, -20.0), 12)), RULES)
    with pytest.raises(RecordError, match=r"former table has steps of 0\.1 degree, this one of 1"):
        generalised(sightings(spread((118.9, -20.0), 12)), replace(RULES, category="1"), former=former)


def test_a_cell_with_little_water_is_withheld():
    found = sightings(spread((118.9, -20.0), 12))
    assert generalised(found, RULES, water=lambda *cell: 10.0).empty
    assert len(generalised(found, RULES, water=lambda *cell: 5000.0)) == 12


@pytest.mark.parametrize(("herd", "words"), [(None, "nobody has said how many"), (19, "too few to hide among")])
def test_a_herd_too_small_or_not_said_is_refused(herd, words):
    with pytest.raises(RecordError, match=words):
        generalised(sightings(spread((118.9, -20.0), 12)), replace(RULES, herd=herd))


def test_a_species_of_the_withheld_category_is_not_told():
    assert generalised(sightings(spread((118.9, -20.0), 12)), replace(RULES, category="withheld")).empty


def test_a_record_without_a_name_is_held_as_strictly_as_the_strictest_species():
    rules = replace(RULES, species={"Genus rara": "withheld"})
    assert len(generalised(sightings(spread((118.9, -20.0), 12)), rules)) == 12
    assert generalised(sightings(spread((118.9, -20.0), 12), species="Genus rara"), rules).empty
    assert generalised(sightings(spread((118.9, -20.0), 12), species="a herd, east of 12.1"), rules).empty
