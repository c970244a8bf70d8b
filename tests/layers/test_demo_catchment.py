"""The invented catchment agrees with the invented site and sends the lagoon loads of the size its outlets tell."""

import numpy as np
import pandas as pd
import pytest
import shapely

from layers.catchment import catchment_of_drainage
from layers.catchment_load import Wanted, catchment_load
from layers.cover_table import cover_table
from layers.demo import cast, catchment, people
from layers.demo.terrain import channel_line, terrain
from layers.drainage import drainage

SEASONS = {"wet": (11, 12, 1, 2, 3, 4), "dry": (5, 6, 7, 8, 9, 10)}
NITROGEN = Wanted(substance="nitrogen", method="export coefficient")


@pytest.fixture(scope="module")
def ground():
    return terrain()


@pytest.fixture(scope="module")
def land(ground):
    return catchment.land(ground)


@pytest.fixture(scope="module")
def drained(land):
    return drainage(land.terrain, land.grid, land.water)


@pytest.fixture(scope="module")
def rain():
    table = catchment.rain()
    return pd.Series(table["rain_mm"].to_numpy(), pd.to_datetime(table["date"]))


@pytest.fixture(scope="module")
def loads(land, drained, rain):
    table = cover_table(catchment.land_cover(), land_cover=land.land_cover)
    whole = catchment_of_drainage(drained)
    return catchment_load(
        whole, land.land_cover, table, [NITROGEN], seasons=SEASONS, rain=rain, soil_group=land.soil_group
    )


def test_the_land_meets_the_sites_ground_at_the_shore(ground, land):
    e, n = np.meshgrid((land.grid.x - cast.WEST) / 1000, (land.grid.y - cast.SOUTH) / 1000)
    within = (e > 1) & np.isfinite(land.terrain)
    apart = np.abs(land.terrain - ground.sample(ground.bed, e, n))[within]
    assert np.median(apart) < 0.3  # all but the valleys of creeks
    assert np.isfinite(land.terrain[:, e[0] < 0]).all()


def test_the_main_stream_meets_the_river_where_it_enters_the_site(land, drained):
    river = channel_line(cast.RIVER)
    entry = river[np.argmin(np.abs(river[:, 0]))]
    place = (drained.outlets_xy[0] - (cast.WEST, cast.SOUTH)) / 1000
    assert np.hypot(*(place - entry)) < 0.3  # three cells
    assert drained.areas[0] > 5000e4
    assert 20 <= len(drained.areas) <= 200


def test_creeks_come_down_to_the_creeks_of_the_site(drained):
    places = (drained.outlets_xy - (cast.WEST, cast.SOUTH)) / 1000
    for creek, least in (((1.7, 1.9), 1000e4), ((1.5, 13.9), 1000e4), ((3.5, 18.4), 1000e4), ((2.7, 5.0), 200e4)):
        near = np.hypot(*(places - creek).T) < 0.4
        assert drained.areas[near].max() > least, creek


def test_little_ground_is_lost_over_the_edge(land, drained):
    assert drained.lost_area < 0.06 * np.isfinite(land.terrain).sum() * 1e4


def test_the_fields_of_the_farms_are_on_the_map(land):
    farms = people.farms()
    codes = {"cane": catchment.CANE, "maize": catchment.MAIZE, "orchard": catchment.ORCHARD}
    hits = []
    for crop, field in zip(farms["crop"], farms.geometry, strict=True):
        x, y = np.meshgrid(land.grid.x, land.grid.y)
        inside = shapely.contains_xy(field.buffer(-71), x, y)  # cells wholly within
        hits += (land.land_cover[inside & np.isfinite(land.land_cover)] == codes[crop]).tolist()
    assert len(hits) > 20 and np.mean(hits) > 0.9


def test_every_code_of_the_maps_is_told(land):
    for codes, table in ((land.land_cover, catchment.land_cover()), (land.soil_group, catchment.soils())):
        np.testing.assert_array_equal(np.unique(codes[np.isfinite(codes)]), table["code"])
        np.testing.assert_array_equal(np.isnan(codes), np.isnan(land.terrain))


def test_it_rains_most_from_november_to_april(rain):
    assert len(rain) == 2922 and rain.index[0] == pd.Timestamp("2014-01-01")
    yearly = rain.groupby(rain.index.year).sum()
    assert 700 < yearly.min() and yearly.max() < 2200
    assert rain[rain.index.month.isin(SEASONS["wet"])].sum() > 0.75 * rain.sum()
    assert (rain >= 0).all() and 60 < rain.max() < 250


def test_the_land_sends_far_more_than_the_village_in_the_wet_season_and_about_as_much_in_the_dry(loads):
    # yearly rates of nitrogen: the outfalls of the story against the catchment
    *_, wet, dry = zip(*people.OUTLETS, strict=True)
    table = loads.outlets
    assert table["nitrogen_wet_median_kg_per_year"].sum() > 10 * sum(wet)
    # streams fed by groundwater are not in it
    assert 0.3 < table["nitrogen_dry_median_kg_per_year"].sum() / sum(dry) < 3
    per_hectare = table["nitrogen_median_kg_per_year"].sum() / table["area_ha"].sum()
    assert 2.46 < per_hectare < 9.0  # between all forest and all row crops
    assert (table["known_share"] == 1).all()


def test_it_is_the_same_every_time(ground, land):
    again = catchment.land(ground)
    for name in ("terrain", "land_cover", "soil_group", "water"):
        np.testing.assert_array_equal(getattr(again, name), getattr(land, name))
    pd.testing.assert_frame_equal(catchment.rain(), catchment.rain())
