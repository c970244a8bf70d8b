"""Points of measurement stand where they are, in the colours they should have."""

from types import SimpleNamespace

import geopandas as gpd
import holoviews as hv
import numpy as np
import pytest

from habitat.colours import scale_of
from habitat.view.doubt_cards import NO_ERROR, error_layer, error_words, points_legend, value_words
from habitat.view.measured import MOST_SOUNDINGS, measured_of, station_marks, station_names, survey_dots
from layers.quantity import SALINITY_ERROR
from tests.sites import SIGHTINGS

hv.extension("bokeh")

STATIONS = {"A": (500_625, 7_770_325), "B": (501_025, 7_770_825), "C": (501_725, 7_771_225)}


def places_of(element):
    return {(round(x), round(y)) for x, y in zip(element.dimension_values(0), element.dimension_values(1), strict=True)}


def sounded(*counts):
    """Surveys of so many soundings each, on a line."""
    names = [f"survey_{number}" for number in range(len(counts))]
    features = {
        name: gpd.GeoDataFrame(
            {"value": np.zeros(count)}, geometry=gpd.points_from_xy(np.arange(count), np.ones(count))
        )
        for name, count in zip(names, counts, strict=True)
    }
    entries = tuple(
        SimpleNamespace(name=name, path=SimpleNamespace(name=f"{name}.csv"), sensitive=False) for name in names
    )
    inputs = SimpleNamespace(features=features, having=lambda feeds: entries if feeds == "sounding" else ())
    return measured_of(SimpleNamespace(inputs=inputs), {"bed_elevation": None})["bed_elevation"]


def test_what_was_measured_at_stations_is_offered_and_rasters_are_not(chain):
    assert list(chain.measured) == ["salinity", "water_temperature", "suspended_solids", "chlorophyll", "secchi_depth"]


@pytest.mark.parametrize("season", ["wet", "dry"])
def test_stations_stand_where_they_are_filled_with_their_own_mean(chain, season):
    found = chain.measured["salinity"]
    marks, names = station_marks(found, season, filled=True), station_names(found)
    assert places_of(marks) == places_of(names) == set(STATIONS.values())
    assert dict(zip(names["station"], names.dimension_values(0).round(), strict=True)) == {
        name: place[0] for name, place in STATIONS.items()
    }
    # 30, 32 and 34, and 4 less in the wet months, as the file was written
    means = 30 + 2 * np.arange(3) - 4 * (season == "wet")
    assert found.means(season) == pytest.approx(means)
    assert list(marks["colour"]) == [scale_of("salinity").colour(mean) for mean in means]
    assert set(station_marks(found, season, filled=False)["colour"]) == {"#ffffff"}
    assert len(survey_dots(found)) == 0


def test_soundings_are_dots_in_the_colour_of_their_survey():
    found = sounded(3, 5)
    dots = survey_dots(found)
    assert len(dots) == 8
    (first, _), (second, _) = found.surveys.values()
    assert first != second
    assert list(dots["colour"]) == [first] * 3 + [second] * 5
    assert places_of(dots) == {(x, 1) for x in range(5)}
    assert len(station_marks(found, None, filled=True)) == len(station_names(found)) == 0
    assert "3 soundings of survey_0.csv" in points_legend(found)


def test_very_many_soundings_are_thinned_and_the_legend_says_so():
    found = sounded(2 * MOST_SOUNDINGS, 100)
    assert found.thinned == 3
    assert len(survey_dots(found)) <= MOST_SOUNDINGS
    legend = points_legend(found)
    assert f"{2 * MOST_SOUNDINGS:,} soundings" in legend
    assert "one in 3 is drawn" in legend


def test_no_sighting_is_a_point_of_measurement(chain):
    for found in chain.measured.values():
        drawn = found.points[["x", "y"]].to_numpy()
        for place in SIGHTINGS:
            assert np.hypot(*(drawn - place).T).min() > 1


def test_where_there_is_an_error_its_meaning_range_and_method_are_said(chain):
    from dataclasses import replace

    grid = chain.site_map.inputs.site.grid
    values = np.linspace(0.25, 1.75, grid.shape[0] * grid.shape[1], dtype=np.float32).reshape(grid.shape)
    error = grid.label(values, SALINITY_ERROR, method="as a test says it")
    said = error_words(replace(chain, layers={**chain.layers, "salinity_error": error}), "salinity", "wet")
    assert "about two times in three" in said
    assert "from 0.25 to 1.75, mean 1.00." in said
    assert "How honest: as a test says it." in said


def test_where_there_is_no_error_that_is_said_and_the_map_is_of_no_data(chain):
    from dataclasses import replace

    layers = {name: layer for name, layer in chain.layers.items() if not name.endswith("_error")}
    without = replace(chain, layers=layers)
    assert NO_ERROR in error_words(without, "salinity", "wet")
    assert error_layer(without, "salinity", "wet").isnull().all()
    assert error_layer(without, "salinity", "wet").shape == chain.layer("salinity", "wet").shape
    assert "3 stations" in value_words(without, "salinity", "wet")
