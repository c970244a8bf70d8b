"""Legends: every colour has its word."""

import re

from habitat.colours import class_colours
from habitat.view.controls import layer_choices
from habitat.view.legends import class_legend, concern_legend, score_legend, suitability_legend, threat_legend
from tests.view.places import small_picture


def test_a_scale_shows_its_ends_its_breaks_and_its_classes():
    legend = suitability_legend(small_picture())
    assert re.findall(r"<span[^>]*>([^<]+)</span>", legend)[:4] == ["0", "0.35", "0.65", "1"]
    for words in ("poor habitat below 0.35", "fair habitat from 0.35", "good habitat from 0.65", "no data", "land"):
        assert words in legend


def test_the_legend_of_threat_has_the_breaks_of_its_profile():
    legend = threat_legend(small_picture())
    assert "high threat from 0.6" in legend
    assert 'style="left:25.0%"' in legend


def test_a_layer_with_a_unit_says_so_and_that_the_scale_goes_on():
    assert "10+ m" in score_legend(small_picture().layer("water_depth"))


def test_the_square_of_concern_names_all_nine_meetings():
    legend = concern_legend()
    for code, colour in class_colours("concern").items():
        assert colour in legend, code
    assert len(re.findall(r'aria-label="(?:poor|fair|good) habitat, (?:low|moderate|high) threat"', legend)) == 9


def test_a_layer_of_codes_has_a_swatch_for_each_but_no_data():
    legend = class_legend(small_picture().layer("surface"))
    assert re.findall(r"</i>([^<]+)</span>", legend) == ["land", "intertidal", "water", "no data", "land"]


def test_everything_that_can_be_drawn_is_offered_once():
    picture = small_picture()
    offered = [name for kind in layer_choices(picture).values() for name in kind.values()]
    assert len(offered) == len(set(offered))
    assert set(picture.layers.data_vars) <= set(offered)
    assert {"index_salinity", "exposure_nets", "suitability", "threat", "limiting_factor"} <= set(offered)
