"""The numbers behind a cell are those of the layers, and add up."""

import math
from dataclasses import replace

import numpy as np
import pytest

from habitat.view.ladder import attenuation_parts, ladder
from habitat.view.ladder_chart import figure, ladder_chart
from layers.attenuation import AttenuationCoefficients, attenuation_from_water_quality
from layers.light import light_depth_limit, light_limited_cover

SEASONS = ("wet", "dry")
PLACE = (501_225.0, 7_770_725.0)  # in the seagrass, 0.5 m of it outside the dredged channel's reach


def cell_of(chain, place=PLACE):
    return chain.site_map.inputs.site.grid.cell_at(*place)


def rungs_of(chain, season, place=PLACE):
    return {rung.layer: rung for rung in ladder(chain, season, place)}


@pytest.mark.parametrize("season", SEASONS)
def test_each_rung_holds_the_value_of_its_layer_in_that_cell_and_season(chain, season):
    found, cell = rungs_of(chain, season), cell_of(chain)
    assert list(found) == [
        "water_depth",
        "nitrogen_concentration",
        "chlorophyll",
        "suspended_solids",
        "attenuation",
        "bed_light",
        "forage",
    ]
    for name, rung in found.items():
        layer = chain.site_map.derivation.layer(name)
        layer = layer.sel(season=season) if "season" in layer.dims else layer
        assert rung.value == float(layer.to_numpy()[cell])
    assert found["water_depth"].error == float(chain.layers["bed_elevation_error"].to_numpy()[cell])


@pytest.mark.parametrize("season", SEASONS)
def test_the_parts_of_the_attenuation_add_up_to_it_everywhere(chain, season):
    fading = chain.layer("attenuation", season).to_numpy()
    for row, column in np.argwhere(~np.isnan(fading))[::37]:
        parts = attenuation_parts(chain, season, (row, column))
        assert sum(part.value for part in parts) == pytest.approx(float(fading[row, column]), rel=1e-5)


def test_the_parts_of_the_attenuation_are_what_the_formula_gives_for_each_alone(chain):
    cell = cell_of(chain)
    solids, green = (chain.value(name, "dry", cell) for name in ("suspended_solids", "chlorophyll"))
    water, of_green, of_solids, of_dredges = (part.value for part in attenuation_parts(chain, "dry", cell))
    none = AttenuationCoefficients(water=0, per_chlorophyll=0, per_solids=0, region="", source="")
    numbers = {key: chain.number(f"light.{key}") for key in ("water", "per_chlorophyll", "per_solids")}
    assert water == numbers["water"]
    alone = replace(none, per_chlorophyll=numbers["per_chlorophyll"])
    assert of_green == pytest.approx(attenuation_from_water_quality(solids, green, alone))
    alone = replace(none, per_solids=numbers["per_solids"])
    assert of_solids == pytest.approx(attenuation_from_water_quality(solids, green, alone))
    dredged = chain.value("dredge_solids", "dry", cell)
    assert dredged > 0
    assert of_dredges == pytest.approx(attenuation_from_water_quality(dredged, green, alone))


def test_nitrogen_is_the_sea_and_the_outlets(chain):
    rung = rungs_of(chain, "wet")["nitrogen_concentration"]
    sea, outlets = rung.parts
    assert sea.value == 0.1  # as the site file says
    assert sea.value + outlets.value == pytest.approx(rung.value)


def test_the_light_is_beside_what_is_needed_and_the_depth_beside_its_limit(chain):
    found, cell = rungs_of(chain, "wet"), cell_of(chain)
    assert found["bed_light"].needed == 0.24
    assert "too little" in found["bed_light"].said
    limit = light_depth_limit(chain.value("attenuation", "wet", cell), 0.24)
    assert f"down to {limit:.2f} m" in found["water_depth"].said


def test_the_forage_is_the_cover_that_the_light_keeps(chain):
    found, cell = rungs_of(chain, "wet"), cell_of(chain)
    cover, light = (chain.value(name, "wet", cell) for name in ("seagrass_cover", "bed_light"))
    kept, lost = found["forage"].parts
    assert kept.value == pytest.approx(light_limited_cover(cover, light, 0.24), rel=1e-5)
    assert kept.value + lost.value == pytest.approx(0.6, rel=1e-5)


def test_measured_and_reckoned_are_told_apart(chain):
    assert rungs_of(chain, "wet")["chlorophyll"].said.startswith("Measured")
    having = chain.site_map.inputs.having
    inputs = _inputs_without(chain, "chlorophyll", having)
    reckoned = replace(chain, site_map=replace(chain.site_map, inputs=inputs))
    rung = rungs_of(reckoned, "wet")["chlorophyll"]
    assert rung.said.startswith("Not measured")
    assert sum(part.value for part in rung.parts) == pytest.approx(rung.value)


def test_each_rung_names_its_function_and_its_files(chain):
    for rung in ladder(chain, "wet", PLACE):
        layer = chain.layers[rung.layer]
        assert rung.told[0].function == layer.attrs["function"]
        assert set(layer.attrs["files"].split("; ")) <= set(rung.files)
    assert {"cover.tif", "cover.csv", "rain.csv"} <= set(rungs_of(chain, "wet")["nitrogen_concentration"].files)


def test_the_chart_prints_every_figure_and_every_function(chain):
    shown = str(ladder_chart(chain, "dry", PLACE))
    for rung in ladder(chain, "dry", PLACE):
        assert f"<b>{figure(rung)}</b>" in shown
        assert f"<code>{rung.told[0].function}</code>" in shown
        for name in rung.files:
            assert name in shown
    assert "in the dry season" in shown
    assert "standard error" in shown


def test_bars_are_as_wide_as_their_parts(chain):
    import re

    shown = str(ladder_chart(chain, "dry", PLACE))
    bar = re.search(r'data-layer="attenuation".*?<div class="sum"[^>]*>(.*?)</div>', shown)[1]
    widths = [float(width) for width in re.findall(r"width:([\d.]+)%", bar)]
    parts = attenuation_parts(chain, "dry", cell_of(chain))
    whole = sum(part.value for part in parts)
    assert widths == pytest.approx([100 * part.value / whole for part in parts], abs=0.006)
    assert sum(widths) == pytest.approx(100, abs=0.03)


@pytest.mark.parametrize("place", [None, (0.0, 0.0)])
def test_outside_the_site_the_chart_says_what_to_do(chain, place):
    assert ladder(chain, "wet", place) == []
    assert "Click a map of the water" in ladder_chart(chain, "wet", place)


def test_on_land_nothing_is_known_of_the_water(chain):
    # the bed has a value on land, but no depth stands on it
    place = (500_125.0, 7_770_725.0)
    assert all(math.isnan(rung.value) for rung in ladder(chain, "wet", place))
    assert "it is land" in ladder_chart(chain, "wet", place)


def test_rungs_that_the_site_cannot_give_are_left_out(chain):
    kept = {name: layer for name, layer in chain.layers.items() if name in ("water_depth", "seagrass_cover")}
    assert [rung.layer for rung in ladder(replace(chain, layers=kept), "wet", PLACE)] == ["water_depth"]


def _inputs_without(chain, feeds, having):
    from types import SimpleNamespace

    return SimpleNamespace(
        site=chain.site_map.inputs.site, having=lambda wanted: () if wanted == feeds else having(wanted)
    )
