"""Maps in sentences and tables."""

import pandas as pd
import pytest

from habitat.result import CONCERN_CLASSES, SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.view import summary
from habitat.view.areas import class_areas, layer_words, zones_of
from habitat.zones import hectares_by_class
from layers import quantity as q
from tests.scoring import layers_of, small_grid
from tests.view.places import small_picture, small_site_map


def table(**hectares):
    kinds = {"suitability": SUITABILITY_CLASSES, "threat": THREAT_CLASSES, "concern": CONCERN_CLASSES}
    return pd.DataFrame(
        {"zone": "whole site", "kind": kind, "class": name, "hectares": float(hectares.get(name.replace(" ", "_"), 0))}
        for kind, names in kinds.items()
        for name in names
    )


def test_the_sentences_give_hectares_and_shares_of_the_water_scored():
    areas = table(good_habitat=30, fair_habitat=20, poor_habitat=50, high_threat=25, low_threat=75)
    assert summary.suitability_sentence(areas) == (
        "30 ha of good habitat (30% of the water scored) and 20 ha of fair habitat."
    )
    assert summary.threat_sentence(areas) == (
        "25 ha under high threat (25% of the water scored) and 0 ha under moderate threat."
    )


def test_missing_data_is_said_and_is_no_part_of_the_share():
    said = summary.suitability_sentence(table(good_habitat=30, poor_habitat=30, no_data=60))
    assert "(50% of the water scored)" in said
    assert said.endswith("; 60 ha without data.")


def test_what_is_not_known_is_never_told_as_little():
    unknown = table(no_data=10)
    assert summary.suitability_sentence(unknown) == (
        "No water could be given a score; 10 ha without data: not known is neither good nor poor."
    )
    assert summary.threat_sentence(unknown) == "No threat is known anywhere; 10 ha without data: not known is not low."
    assert summary.concern_sentence(unknown) == ("Nothing can be said of the two together: nowhere are both known.")


def test_concern_says_how_much_good_habitat_is_pressed():
    areas = table(good_habitat_under_high_threat=12, good_habitat_under_low_threat=8)
    assert summary.concern_sentence(areas) == (
        "Of the good habitat, 12 ha is under high threat: act there first. 0 ha is under moderate and 8.0 ha under "
        "low threat."
    )


@pytest.mark.parametrize("season", ["wet", "dry"])
def test_the_table_of_zones_adds_up_to_the_whole_site(season):
    picture = small_picture(season)
    areas = class_areas(picture, zones_of(small_site_map())).set_index("Zone")
    assert areas.index.tolist() == ["Whole site", "West", "East"]
    whole = areas.loc["Whole site"].to_numpy()
    assert (areas.loc["West"] + areas.loc["East"]).to_numpy() == pytest.approx(whole, abs=1e-3)
    good = hectares_by_class(picture.assessment, season).query("kind == 'suitability' and `class` == 'good habitat'")
    assert areas.loc["Whole site", "Good habitat, ha"] == good["hectares"].item()


def test_a_site_without_zones_has_one_row():
    assert class_areas(small_picture(), None)["Zone"].tolist() == ["Whole site"]


def test_a_layer_is_told_by_its_range_its_mean_and_its_files():
    grid = small_grid(1, 4)
    layer = layers_of(grid, water_depth=[[1, 2, 3, float("nan")]])["water_depth"]
    assert layer_words(layer) == "From 1.00 m to 3.00 m, mean 2.00 m, over 3.0 ha. From water_depth.tif."
    surface = layers_of(grid, surface=[[q.LAND, q.WATER, q.WATER, q.WATER]])["surface"]
    assert layer_words(surface) == "Land 1.0 ha; water 3.0 ha."


def test_a_layer_without_data_says_so():
    layer = layers_of(small_grid(1, 2), water_depth=[[float("nan")] * 2])["water_depth"]
    assert layer_words(layer) == "No cell has data."
