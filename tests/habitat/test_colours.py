"""Colours against the CIE formulas of an outside library and the contrast of WCAG 2.

Lightness, the simulation of colour-blind sight and the distance of colours are those of colorspacious (CIE L*a*b*,
CAM02-UCS of Luo, Cui and Li 2006, dichromats of Machado, Oliveira and Fernandes 2009 at severity 100). How far apart
two colours have to be is common practice, no source: 5 units of CAM02-UCS are seen at a glance.
"""

import numpy as np
import pytest
from colorspacious import cspace_convert
from hypothesis import given
from hypothesis import strategies as st

from habitat import colours
from layers.quantity import LAYERS

FAMILIES = sorted(colours._FAMILIES)
SIGHTS = [None, "deuteranomaly", "protanomaly", "tritanomaly"]
SCALED = sorted(name for name, quantity in LAYERS.items() if not quantity.categories)


def test_there_is_a_scale_for_every_layer_of_the_catalogue():
    assert {name: colours.scale_of(name).low < colours.scale_of(name).high for name in SCALED} == dict.fromkeys(
        SCALED, True
    )


@pytest.mark.parametrize("family", FAMILIES)
def test_the_lightness_of_a_scale_runs_in_even_steps(family):
    light = lightness(family_colours(family))
    steps = np.diff(light[::17])  # 16 spans; one colour of 8 bits is good to about 0.3 of lightness
    assert np.abs(steps - steps.mean()).max() < 0.6
    assert abs(light[-1] - light[0]) > 60


@pytest.mark.parametrize("family", FAMILIES)
def test_a_scale_is_monotone_in_grey(family):
    assert len(set(np.sign(np.diff(lightness(family_colours(family))[::4])))) == 1


@pytest.mark.parametrize("family", FAMILIES)
def test_no_step_of_a_scale_looks_twice_as_large_as_another(family):
    seen = appearance(family_colours(family)[::17])
    steps = np.linalg.norm(np.diff(seen, axis=0), axis=1)
    assert steps.max() < 2 * steps.min()


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("family", FAMILIES)
def test_eight_values_of_a_scale_are_told_apart_by_every_eye(family, sight):
    assert nearest_pair(family_colours(family)[:: 255 // 7], sight) > 5


def test_suitability_and_threat_share_no_scale_with_anything():
    owners = {}
    for name in [*SCALED, "suitability", "threat"]:
        owners.setdefault(colours.scale_of(name).name, []).append(name)
    assert (owners["suitability"], owners["threat"]) == (["suitability"], ["threat"])
    assert colours.scale_of("index_salinity") is colours.scale_of("suitability")
    assert colours.scale_of("exposure_dredging") is colours.scale_of("threat")


@pytest.mark.parametrize("sight", SIGHTS)
def test_the_dark_ends_of_suitability_and_threat_are_told_apart_by_every_eye(sight):
    pair = (colours.scale_of("suitability").colours[-60], colours.scale_of("threat").colours[-60])
    assert nearest_pair(pair, sight) > 15


@pytest.mark.parametrize("sight", SIGHTS)
def test_the_nine_classes_of_concern_are_told_apart_by_every_eye(sight):
    assert nearest_pair(tuple(colours.class_colours("concern").values()), sight) > 5


def test_the_nine_classes_of_concern_are_told_apart_in_grey_and_darken_with_suitability_and_with_threat():
    light = lightness(tuple(colours.class_colours("concern").values())).reshape(3, 3)
    assert np.diff(np.sort(light.ravel())).min() > 5
    assert (np.diff(light, axis=0) < 0).all() and (np.diff(light, axis=1) < 0).all()


def test_concern_leans_to_the_hue_of_suitability_one_way_and_of_threat_the_other():
    nine = colours.class_colours("concern")
    teal = hue(colours.scale_of("suitability").colours[-40])
    rust = hue(colours.scale_of("threat").colours[-40])
    assert abs(hue(nine[7]) - teal) < 25  # high suitability, low threat
    assert abs(hue(nine[3]) - rust) < 25  # low suitability, high threat


@pytest.mark.parametrize("sight", [None, "deuteranomaly", "protanomaly"])
def test_eight_limiting_factors_are_told_apart_by_every_eye(sight):
    assert nearest_pair(tuple(colours.class_colours("limiting_factor", 8).values()), sight) > 12


@pytest.mark.parametrize("family", FAMILIES)
def test_land_is_no_colour_of_a_scale(family):
    seen = appearance((*family_colours(family), colours.LAND))
    assert np.linalg.norm(seen[:-1] - seen[-1], axis=1).min() > 7


# WCAG 2.1: pairs computed from the definition in the standard; 4.5:1 is the limit of SC 1.4.3, 3:1 of SC 1.4.11
@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),
        ("#767676", "#ffffff", 4.542),
        ("#777777", "#ffffff", 4.478),
        ("#949494", "#ffffff", 3.033),
        ("#959595", "#ffffff", 2.995),
        ("#0000ff", "#ffffff", 8.59),
        ("#595959", "#ffffff", 7.005),
        ("#d7191c", "#1a9641", 1.355),
    ],
)
def test_contrast_gives_the_closed_form_values_of_wcag(one, other, ratio):
    half_a_digit = 0.5 * 10 ** -len(str(ratio).partition(".")[2])
    assert colours.contrast(one, other) == pytest.approx(ratio, abs=half_a_digit)
    assert colours.contrast(other, one) == colours.contrast(one, other)


@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        (colours.INK, colours.PAGE),
        (colours.MUTED_INK, colours.PAGE),
        (colours.PAGE, colours.ALERT),
        (colours.INK, colours.LAND),
    ],
)
def test_text_has_the_contrast_of_wcag_success_criterion_1_4_3(ink, ground):
    assert colours.contrast(ink, ground) >= 4.5


@pytest.mark.parametrize("ground", [colours.PAGE, colours.LAND, colours.NO_DATA, "#e2d3a4", "#9fc3dc"])
def test_outlines_have_the_contrast_of_wcag_success_criterion_1_4_11(ground):
    assert colours.contrast(colours.INK, ground) >= 3


def test_no_data_is_drawn_by_lines_that_stand_out_from_their_ground():
    assert colours.contrast(colours.NO_DATA_HATCH, colours.NO_DATA) >= 3


@pytest.mark.parametrize("family", FAMILIES)
def test_the_ends_of_a_scale_stand_out_from_each_other_as_graphics_must(family):
    scale = family_colours(family)
    assert colours.contrast(scale[0], scale[-1]) >= 3


@pytest.mark.parametrize("name", ["suitability_class", "threat_class"])
def test_low_and_high_classes_stand_out_from_each_other_as_graphics_must(name):
    low, _, high = colours.class_colours(name).values()
    assert colours.contrast(low, high) >= 3


def test_a_value_beyond_the_range_takes_the_colour_of_the_nearer_end():
    depth = colours.scale_of("water_depth")
    assert (depth.colour(-1), depth.colour(25)) == (depth.colours[0], depth.colours[-1])


def test_no_data_takes_no_colour_of_the_scale():
    suitability = colours.scale_of("suitability")
    assert suitability.colour(np.nan) == colours.NO_DATA
    assert (suitability.pixels(np.array([np.nan], np.float32))[0] == colours.rgb(colours.NO_DATA)).all()
    assert colours.NO_DATA not in suitability.colours


@given(st.floats(-5, 45, width=32))
def test_pixels_and_single_colours_agree(value):
    salinity = colours.scale_of("salinity")
    pixel = salinity.pixels(np.array([value], np.float64))[0]
    assert (pixel == colours.rgb(salinity.colour(value))).all()


def test_what_has_no_colours_is_refused():
    with pytest.raises(ValueError, match=r"^mood has no colour scale\. Known: attenuation, "):
        colours.scale_of("mood")
    with pytest.raises(ValueError, match=r"^mood has no colours of classes\.$"):
        colours.class_colours("mood")


def family_colours(family):
    return colours._scale(family, 0, 1).colours


def srgb(hexes):
    return np.array([colours.rgb(colour) for colour in hexes]) / 255


def lightness(hexes):
    return cspace_convert(srgb(hexes), "sRGB1", "CIELab")[:, 0]


def hue(colour):
    return cspace_convert(srgb([colour]), "sRGB1", "CIELCh")[0, 2]


def appearance(hexes, sight=None):
    if sight is None:
        return cspace_convert(srgb(hexes), "sRGB1", "CAM02-UCS")
    as_seen = cspace_convert(srgb(hexes), {"name": "sRGB1+CVD", "cvd_type": sight, "severity": 100}, "sRGB1")
    return cspace_convert(np.clip(as_seen, 0, 1), "sRGB1", "CAM02-UCS")


def nearest_pair(hexes, sight):
    seen = appearance(hexes, sight)
    apart = np.linalg.norm(seen[:, None] - seen[None], axis=-1)
    return apart[np.triu_indices(len(hexes), 1)].min()
