"""What the invented site says of itself: its name, its site file and the text that goes with it."""

from __future__ import annotations

from importlib.resources import files
from string import Template

from layers.demo import cast, catchment, tide

TITLE = "Tessamure Lagoon"

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
outlets.geojson           nitrogen of two outfalls, a year's rate in the wet and in the dry season [kg/year]
terrain.tif               elevation of the land west of the lagoon [m]
land_cover.tif, land_cover.csv    codes of land cover, and what each stands for in the published tables
soil.tif, soil.csv        codes of soil, and the hydrologic soil group and erodibility of each
rain_daily.csv            rain of each day of eight years [mm]
soundings_1998.csv        depth_ft: feet below chart datum, by lead line
soundings_2021.csv        depth_m: metres below chart datum, by echo sounder
dredging.gpkg             footprints of the ferry channel that are dredged each dry season, and how
vessel_routes.gpkg        trips [1/day], draft_m [m]
landings.geojson, nets.gpkg, roads.zip    where people land, fish and drive
wind.csv                  share of the time the wind blows from each direction
zones.gpkg                three management zones
sightings.csv             animals seen from the air, Darwin Core terms; sensitive: not for publication
survey_tracks.gpkg        the lines flown; hours, half_width_m searched to each side

Not named in site.toml:
weight_judgements.csv     three people compare what an animal needs, two by two; one makes a slip
farms.gpkg                fields along the river

proposals/marina.gpkg     a marina with a dredged channel
proposals/farm.geojson    a prawn farm that drains its ponds in the wet season
proposals/road.zip        a strip of mangrove cleared for a road

Everything in this folder is dedicated to the public domain (CC0-1.0).
"""


def site_text(cell: float) -> str:
    """The site file for cells of `cell` metres."""
    template = Template(files("layers.demo").joinpath("site.toml").read_text(encoding="utf-8"))
    return template.substitute(
        title=TITLE,
        crs=cast.CRS,
        west=cast.WEST,
        south=cast.SOUTH,
        east=cast.EAST,
        north=cast.NORTH,
        cell=f"{cell:g}",
        chart_datum=tide.CHART_DATUM,
        told=TOLD,
        catchment_west=f"{cast.WEST + 1000 * catchment.WEST:g}",
        catchment_east=f"{cast.WEST + 1000 * catchment.EAST:g}",
        erosivity=f"{catchment.EROSIVITY:g}",
        slope_length=f"{catchment.SLOPE_LENGTH:g}",
        delivery_ratio=f"{catchment.DELIVERY_RATIO:g}",
    )
