"""The invented site as a folder of real files, which appears whole or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from affine import Affine
from scipy import ndimage

from layers.atomic import whole_folder
from layers.demo import cast, catchment, judgements, nature, people, proposals, story, survey, tide, water
from layers.demo.formats import write_features, write_raster, write_table
from layers.demo.noise import fractal_noise
from layers.demo.terrain import STEP, Terrain, terrain
from layers.fault import Fault, RecordError
from layers.step import OnStep, Step, ignore

FINEST, COARSEST = 5.0, 250.0  # cells the site can be written with [m]


def write_demo(folder: Path | str, *, cell: float = 40.0, on_step: OnStep = ignore) -> Path:
    """Path of the `site.toml` of the invented site, written into a new folder.

    Parameters
    ----------
    folder : path
        Folder to make; it must not exist, the folder it lies in must.
    cell : float
        Side of the cells of the bed and of the site's grid: 40 gives 250 000 cells, 10 gives 4 million. [m]
    on_step : callable
        Told of each step.

    Raises
    ------
    RecordError
        If `folder` exists already, the folder it lies in does not, or the site cannot be divided into such cells.
    """
    size = cast.EAST - cast.WEST
    if not FINEST <= cell <= COARSEST or abs(size / cell - round(size / cell)) > 1e-9:
        found = f"{cell:g} m was given, and the invented site is {size:,} m wide."
        remedy = f"Give a cell from {FINEST:g} to {COARSEST:g} m that divides it, such as 10, 20, 40 or 100."
        raise RecordError(Path(folder).name, [Fault("cell", found, remedy)])
    with whole_folder(folder) as unfinished:
        _write_files(unfinished, float(cell), on_step)
    return Path(folder) / "site.toml"


def charted_bed(ground: Terrain, cell: float) -> np.ndarray:
    """(M, N) elevation of bed and land on the site's grid, NaN in the corner that nobody has sounded. [m]"""
    count = round((cast.EAST - cast.WEST) / cell)
    centres = cell / 1000 * (np.arange(count) + 0.5)
    east, north = np.meshgrid(centres, (cast.NORTH - cast.SOUTH) / 1000 - centres)
    steps = round(cell / 1000 / STEP)
    # the mean of a cell's ground; an even number of steps is made up by sampling between them
    mean = ndimage.uniform_filter(ground.bed, max(1, steps - (steps + 1) % 2))
    bed = ground.sample(mean, east, north)
    edge = fractal_noise("uncharted", ground.bed.shape, STEP, longest=2.5, roughness=3.0)
    far_out = 0.8 * east + 0.6 * north + 0.12 * ground.sample(edge, east, north)
    return np.where(far_out > 26.5, np.nan, bed).astype(np.float32)


def _write_files(folder: Path, cell: float, on_step: OnStep) -> None:
    def step(number: int, label: str) -> None:
        on_step(Step(number, 6, label))

    step(1, "shaping the bed")
    ground = terrain()
    place = Affine(cell, 0, cast.WEST, 0, -cell, cast.NORTH)
    write_raster(folder / "bed.tif", charted_bed(ground, cell)[np.newaxis], place, cast.CRS, [("bed elevation", "m")])

    step(2, "growing seagrass and mangrove")
    potential = nature.seagrass_potential(ground)
    stands = nature.mangrove(ground)
    write_features(folder / "land.gpkg", nature.land(ground))
    write_features(folder / "seagrass.zip", nature.seagrass(ground, potential))
    write_features(folder / "mangrove.gpkg", stands)
    write_features(folder / "springs.geojson", nature.springs(ground))
    write_features(folder / "river.gpkg", nature.fresh_reach(ground))

    step(3, "gauging and sampling the water")
    write_table(folder / "tide_constituents.csv", tide.constituents())
    write_table(folder / "tide_gauge.csv", tide.gauge())
    write_table(folder / "stations.csv", water.records(ground))
    bands, (west, north, side) = water.satellite_temperature(ground)
    names = [(f"water temperature, {season} season", "degree_Celsius") for season in ("wet", "dry")]
    in_degrees = Affine(side, 0, west, 0, -side, north)
    write_raster(folder / "water_temperature.tif", bands.round(2), in_degrees, "EPSG:4326", names)

    step(4, "settling people")
    write_features(folder / "outlets.geojson", people.outlets(ground))
    write_features(folder / "farms.gpkg", people.farms())
    write_features(folder / "dredging.gpkg", people.dredging())
    write_features(folder / "vessel_routes.gpkg", people.routes())
    write_features(folder / "landings.geojson", people.landings(ground))
    write_features(folder / "nets.gpkg", people.nets())
    write_features(folder / "roads.zip", people.roads())
    write_features(folder / "zones.gpkg", people.zones())
    write_table(folder / "wind.csv", people.wind())
    _write_catchment(folder, ground)

    step(5, "surveying animals and depths")
    write_features(folder / "survey_tracks.gpkg", survey.tracks())
    write_table(folder / "sightings.csv", survey.sightings(ground, potential))
    old, new = survey.soundings(ground)
    write_table(folder / "soundings_1998.csv", old)
    write_table(folder / "soundings_2021.csv", new)

    step(6, "drawing up proposals and the site file")
    (folder / "proposals").mkdir()
    write_features(folder / "proposals" / "marina.gpkg", proposals.marina())
    write_features(folder / "proposals" / "farm.geojson", proposals.farm(ground))
    write_features(folder / "proposals" / "road.zip", proposals.road(stands))
    (folder / "weight_judgements.csv").write_text(judgements.TABLE, encoding="utf-8")
    (folder / "README.txt").write_text(story.README, encoding="utf-8")
    (folder / "site.toml").write_text(story.site_text(cell), encoding="utf-8")


def _write_catchment(folder: Path, ground: Terrain) -> None:
    land = catchment.land(ground)
    for name, values, band in (
        ("terrain", land.terrain, ("elevation of the ground", "m")),
        ("land_cover", land.land_cover, ("land cover code", "1")),
        ("soil", land.soil_group, ("soil code", "1")),
    ):
        write_raster(folder / f"{name}.tif", values[np.newaxis], land.transform, cast.CRS, [band])
    write_table(folder / "land_cover.csv", catchment.land_cover())
    write_table(folder / "soil.csv", catchment.soils())
    write_table(folder / "rain_daily.csv", catchment.rain())
