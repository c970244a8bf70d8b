"""A site of one-hectare cells for the tests of the pages, scored by the real assessment."""

from types import SimpleNamespace

import geopandas as gpd
from shapely.geometry import box

from habitat.assessment import assess
from habitat.site_map import SiteMap
from habitat.view.session import Picture
from layers.grid import Grid
from tests.scoring import random_layers, small_grid, small_profile


def small_site_map(rows: int = 12, columns: int = 16) -> SiteMap:
    """Random layers with land and holes, salinity of two seasons, one land polygon and two zones."""
    grid, profile = small_grid(rows, columns), small_profile()
    layers = random_layers(grid, profile, seasonal=("salinity",))
    west, south, east, north = grid.bounds
    middle = (west + east) / 2
    features = {
        "coast": gpd.GeoDataFrame(geometry=[box(west - 500, south, west + 250, north)], crs=grid.crs),
        "parts": gpd.GeoDataFrame(
            {"name": ["West", "East"]},
            geometry=[box(west, south, middle, north), box(middle, south, east, north)],
            crs=grid.crs,
        ),
    }
    entries = {"land": "coast", "zone": "parts"}
    inputs = SimpleNamespace(
        site=SimpleNamespace(
            grid=grid,
            title="Small coast",
            invented=True,
            files=(SimpleNamespace(name="coast", feeds="land"),),
            decided_by="coast",
        ),
        features=features,
        having=lambda feeds: (SimpleNamespace(name=entries[feeds]),) if feeds in entries else (),
    )
    return SiteMap(
        inputs=inputs,
        layers=layers,
        profile=profile,
        assessment=assess(layers, profile),
        disagreements=(),
        derivation=None,  # these layers are drawn at random, so nothing tells how they were made
    )


def small_picture(season: str = "wet", **size: int) -> Picture:
    """What the maps of one season draw from."""
    site_map = small_site_map(**size)
    return Picture(layers=site_map.layers, profile=site_map.profile, assessment=site_map.assessment, season=season)


def grid_of(picture: Picture) -> Grid:
    """The grid of a picture."""
    return Grid.of(picture.assessment)
