"""Two readings of one site: what changed class."""

import dataclasses

import numpy as np

from habitat.assessment import assess
from habitat.view.comparison import changed_area, changes_table, class_changes
from habitat.view.session import Picture
from tests.view.places import small_picture, small_site_map


def reweighed():
    site_map = small_site_map()
    profile = site_map.profile.with_weight("salinity", 30.0)
    return Picture(layers=site_map.layers, profile=profile, assessment=assess(site_map.layers, profile), season="wet")


def test_the_same_reading_changes_nothing():
    assert changed_area(small_picture(), small_picture(), "suitability_class") == 0
    table = class_changes(small_picture(), small_picture())
    assert (table["before"] == table["now"]).all()


def test_cells_that_change_class_are_counted_one_by_one():
    before, now = small_picture(), reweighed()
    differs = before.layer("suitability_class").to_numpy() != now.layer("suitability_class").to_numpy()
    assert differs.sum() > 0
    assert changed_area(before, now, "suitability_class") == differs.sum()  # cells of one hectare
    assert changed_area(before, now, "threat_class") == 0


def test_no_hectare_is_won_or_lost_by_other_weights():
    table = class_changes(small_picture(), reweighed())
    habitat = table[table["class"].str.endswith("habitat")]
    assert np.isclose(habitat["before"].sum(), habitat["now"].sum())


def test_the_words_name_the_area_that_changed():
    said = changes_table(small_site_map(), reweighed())
    area = changed_area(small_picture(), reweighed(), "suitability_class")
    assert f"{area:,.0f} ha</strong> change their class of habitat" in said
    same = changes_table(small_site_map(), dataclasses.replace(small_picture(), season="dry"))
    assert "<strong class='figure'>0 ha</strong> change their class of habitat" in same
