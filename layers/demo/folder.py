"""The invented site as a folder of real files: written beside its place, then moved there in one step."""

from __future__ import annotations

import os
import shutil
import tempfile
import uuid
import zipfile
from importlib.resources import files
from pathlib import Path
from string import Template

import geopandas
import numpy as np
import pandas as pd
from scipy import ndimage

from layers.demo import cast, nature, people, proposals, survey, tide, water
from layers.demo.noise import fractal_noise
from layers.demo.terrain import STEP, Terrain, terrain
from layers.fault import Fault, RecordError
from layers.step import OnStep, Step, ignore

TITLE = "Tessamure Lagoon"
NO_DATA = -9999.0
FINEST, COARSEST = 5.0, 200.0  # cells the site can be written with [m]

TOLD = '''source = "invented for demonstration"
licence = "CC0-1.0"
credit = "Shallows, invented site"'''

README = """Tessamure Lagoon
================

THIS PLACE IS INVENTED. No land lies at its coordinates, which are in the open ocean, and nothing here was
measured anywhere: shores, water, seagrass, animals, boats, names and numbers were made by a program from one
seed, to show what the software does. Draw no conclusion about any real place or animal from them.

A lagoon lies between a low mainland and a barrier of sand with two inlets. The Quorvane River comes in at its
head, past farms. Seagrass grows on the sandbars, mangrove along the sheltered shores. Boats leave the village
of Jessimble, whose ferry channel is dredged. The closed northern end is shallow and hot.

site.toml                 what each file feeds, with its unit, datum, season and date
land.gpkg                 land above mean high water
bed.tif                   elevation of bed and land, metres above mean sea level; no data where uncharted
tide_constituents.csv     amplitude [m], Greenwich phase lag [degrees]
tide_gauge.csv            level at the village, metres above chart datum, UTC, every 15 minutes for 60 days
stations.csv              12 stations over 8 years, with gaps; "<" in a flag column: below the limit of
                          detection, which then stands as the value
water_temperature.tif     band 1 wet season, band 2 dry season [degree Celsius]
seagrass.zip              shapefile; cover_pct [percent]
mangrove.gpkg             stands of mangrove
springs.geojson           two springs of fresh water
river.gpkg                the fresh reach of the river
outlets.geojson           nitrogen at outlets, a year's rate in the wet and in the dry season [kg/year]
dredging.gpkg             dredged footprints of the ferry channel
vessel_routes.gpkg        trips [1/day]
landings.geojson, nets.gpkg, roads.zip    where people land, fish and drive
wind.csv                  share of the time the wind blows from each direction
zones.gpkg                three management zones
sightings.csv             animals seen from the air, Darwin Core terms; sensitive: not for publication

Not named in site.toml:
survey_tracks.gpkg        the lines flown
soundings_1998.csv        depth_ft: feet below chart datum, by lead line
soundings_2021.csv        depth_m: metres below chart datum, by echo sounder
farms.gpkg                fields along the river

proposals/marina.gpkg     a marina with a dredged channel
proposals/farm.geojson    more cane upstream
proposals/road.zip        a strip of mangrove cleared for a road

Everything in this folder is dedicated to the public domain (CC0-1.0).
"""


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
        If the folder exists already or cannot be made.
    ValueError
        If `cell` is not from 5 to 200 m.
    """
    if not FINEST <= cell <= COARSEST:
        raise ValueError(f"cell: {cell:g} m was given. The invented site can have cells of {FINEST:g} to {COARSEST:g} m.")
    folder = Path(os.path.abspath(folder))
    _refuse(folder)
    beside = folder.parent / f".{folder.name}.{uuid.uuid4().hex[:8]}"
    try:
        beside.mkdir()
    except OSError as error:
        raise RecordError(
            str(folder), [Fault("folder", f"It cannot be made: {error.strerror}.", "Choose a place you may write to.")]
        ) from error
    try:
        _write_files(beside, cell, on_step)
        _refuse(folder)
        beside.rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return folder / "site.toml"


def _refuse(folder):
    if os.path.lexists(folder):
        raise RecordError(str(folder), [Fault("folder", "It exists already.", "Name a folder that does not exist yet.")])
    if not folder.parent.is_dir():
        raise RecordError(
            str(folder), [Fault("folder", f"There is no folder {folder.parent}.", "Make that folder first.")]
        )


def _write_files(folder, cell, on_step):
    def step(number, label):
        on_step(Step(number, 6, label))

    step(1, "the bed")
    ground = terrain()
    _write_bed(folder / "bed.tif", ground, cell)
    step(2, "land, seagrass, mangrove and fresh water")
    potential = nature.seagrass_potential(ground)
    stands = nature.mangrove(ground)
    _write(nature.land(ground), folder / "land.gpkg")
    _write(nature.seagrass(ground, potential), folder / "seagrass.zip")
    _write(stands, folder / "mangrove.gpkg")
    _write(nature.springs(ground), folder / "springs.geojson")
    _write(nature.fresh_reach(ground), folder / "river.gpkg")
    step(3, "tide, stations and temperature")
    _write_table(tide.constituents(), folder / "tide_constituents.csv")
    _write_table(tide.gauge(), folder / "tide_gauge.csv")
    _write_table(water.records(ground), folder / "stations.csv")
    _write_temperature(folder / "water_temperature.tif", ground)
    step(4, "people")
    _write(people.outlets(ground), folder / "outlets.geojson")
    _write(people.farms(ground), folder / "farms.gpkg")
    _write(people.dredging(), folder / "dredging.gpkg")
    _write(people.routes(), folder / "vessel_routes.gpkg")
    _write(people.landings(ground), folder / "landings.geojson")
    _write(people.nets(), folder / "nets.gpkg")
    _write(people.roads(), folder / "roads.zip")
    _write(people.zones(), folder / "zones.gpkg")
    _write_table(people.wind(), folder / "wind.csv")
    step(5, "surveys")
    _write(survey.tracks(), folder / "survey_tracks.gpkg")
    _write_table(survey.sightings(ground, potential), folder / "sightings.csv")
    old, new = survey.soundings(ground)
    _write_table(old, folder / "soundings_1998.csv")
    _write_table(new, folder / "soundings_2021.csv")
    step(6, "proposals and site file")
    (folder / "proposals").mkdir()
    _write(proposals.marina(), folder / "proposals" / "marina.gpkg")
    _write(proposals.farm(ground), folder / "proposals" / "farm.geojson")
    _write(proposals.road(stands), folder / "proposals" / "road.zip")
    (folder / "README.txt").write_text(README, encoding="utf-8")
    (folder / "site.toml").write_text(_site_text(cell), encoding="utf-8")


def _site_text(cell):
    template = Template(files("layers.demo").joinpath("site.toml").read_text(encoding="utf-8"))
    return template.substitute(
        title=TITLE, crs=cast.CRS, west=cast.WEST, south=cast.SOUTH, east=cast.EAST, north=cast.NORTH,
        cell=f"{cell:g}", chart_datum=tide.CHART_DATUM, told=TOLD,
    )


def _write_bed(path, ground: Terrain, cell):
    from affine import Affine

    count = int(np.ceil((cast.EAST - cast.WEST) / cell - 1e-9))
    centres = cell / 1000 * (np.arange(count) + 0.5)
    east, north = np.meshgrid(centres, (cast.NORTH - cast.SOUTH) / 1000 - centres)
    smooth = ndimage.uniform_filter(ground.bed, max(1, round(cell / 1000 / STEP) - 1))
    bed = ground.sample(smooth, east, north)
    # nobody has sounded the sea's far corner
    edge = fractal_noise("uncharted", ground.bed.shape, STEP, longest=1.5, roughness=2.2)
    bed[0.8 * east + 0.6 * north + 0.12 * ground.sample(edge, east, north) > 26.5] = NO_DATA
    names = [("bed elevation", "m")]
    _write_raster(path, bed[np.newaxis], Affine(cell, 0, cast.WEST, 0, -cell, cast.NORTH), cast.CRS, names)


def _write_temperature(path, ground):
    from affine import Affine

    bands, (west, north, side) = water.satellite_temperature(ground)
    names = [("water temperature, wet season", "degree_Celsius"), ("water temperature, dry season", "degree_Celsius")]
    bands = np.where(np.isnan(bands), NO_DATA, bands.round(2))
    _write_raster(path, bands, Affine(side, 0, west, 0, -side, north), "EPSG:4326", names)


def _write_raster(path, bands, transform, crs, names):
    import rasterio

    profile = {"driver": "GTiff", "dtype": "float32", "nodata": NO_DATA, "crs": crs, "transform": transform,
               "count": len(bands), "height": bands.shape[1], "width": bands.shape[2],
               "compress": "deflate", "predictor": 3, "tiled": True, "blockxsize": 256, "blockysize": 256}
    with rasterio.open(path, "w", **profile) as out:
        out.write(bands.astype(np.float32))
        for band, (name, units) in enumerate(names, start=1):
            out.set_band_description(band, name)
            out.set_band_unit(band, units)


def _write(features: geopandas.GeoDataFrame, path: Path):
    """GeoPackage, GeoJSON (in degrees, as its standard asks) or zipped shapefile, by the ending of the name."""
    if path.suffix == ".gpkg":
        features.to_file(path, layer=path.stem, driver="GPKG", engine="pyogrio")
    elif path.suffix == ".geojson":
        degrees = features.to_crs("EPSG:4326")
        degrees.to_file(path, driver="GeoJSON", engine="pyogrio", COORDINATE_PRECISION=7, RFC7946="YES")
    else:
        with tempfile.TemporaryDirectory(dir=path.parent) as unpacked:
            features.to_file(Path(unpacked) / f"{path.stem}.shp", engine="pyogrio", encoding="utf-8")
            with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
                for part in sorted(Path(unpacked).iterdir()):
                    # a fixed date: the archive holds nothing of when it was made
                    archive.writestr(zipfile.ZipInfo(part.name, (2021, 6, 1, 0, 0, 0)), part.read_bytes(),
                                     zipfile.ZIP_DEFLATED)


def _write_table(table: pd.DataFrame, path: Path):
    table.to_csv(path, index=False, lineterminator="\n")
