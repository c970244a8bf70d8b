"""The shape of `site.toml`: which keys stand where, and the rules between them that need no other file."""

from __future__ import annotations

import datetime
import difflib
import math
import re
from pathlib import PurePath
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from layers.amount import amount_field
from layers.feeds import FEEDS, is_raster
from layers.textfile import Table

RULES = ("nearest", "bilinear", "area mean", "area sum", "area fraction")
_DATE = re.compile(r"\d{4}(-\d{2}(-\d{2})?)?(/\d{4}(-\d{2}(-\d{2})?)?)?")


def _date_text(value: object) -> object:
    return value.isoformat() if isinstance(value, datetime.date) else value


class GridTable(Table):
    """`[grid]`: one projection in metres, one extent, one cell size."""

    crs: str
    west: float
    south: float
    east: float
    north: float
    cell: float

    @model_validator(mode="after")
    def _is_an_extent(self) -> GridTable:
        require_extent(self)
        return self


def require_extent(extent: Table) -> None:
    """Pass an extent of whole square cells, not too many of them."""
    if not extent.west < extent.east:
        raise ValueError(f"west is {extent.west:g} and east is {extent.east:g}. | West must be less than east.")
    if not extent.south < extent.north:
        raise ValueError(f"south is {extent.south:g} and north is {extent.north:g}. | South must be less than north.")
    if not extent.cell > 0:
        raise ValueError(f"cell is {extent.cell:g} m. | A cell must be greater than 0 m.")
    sides = (extent.east - extent.west) / extent.cell, (extent.north - extent.south) / extent.cell
    if any(abs(side - round(side)) > 1e-6 for side in sides):
        raise ValueError(
            f"{extent.east - extent.west:g} m by {extent.north - extent.south:g} m is not a whole number of "
            f"{extent.cell:g} m cells. | Choose a cell that divides both sides, or move an edge."
        )
    if math.prod(sides) > 100_000_000:
        raise ValueError(
            f"{math.prod(sides):,.0f} cells are too many. | Keep below 100 million: larger cells, or less ground."
        )


class WaterTable(Table):
    """`[water]`: which file says what is water."""

    decided_by: str


class ReachTable(Table):
    """`[reach]`: how far from its place a thing is felt or a value is carried."""

    units: Literal["m"]
    source: str
    stations: Annotated[float, Field(gt=0)] | None = None
    soundings: Annotated[float, Field(gt=0)] | None = None
    vessels: Annotated[float, Field(gt=0)] | None = None
    ashore: Annotated[float, Field(ge=0)] | None = None


class BedTable(Table):
    """`[bed]`: what soundings of different years are worth."""

    yearly_change: amount_field("m") | None = None


class MixingTable(Table):
    """`[mixing]`: how what is released in the water spreads, settles and is lost."""

    open_edges: list[Literal["north", "east", "south", "west"]] = []
    dispersion: amount_field("m2/s", above=True, most=10_000) | None = None
    least_depth: amount_field("m", above=True, most=100) | None = None
    unknown_depth: amount_field("m", above=True, most=11_000) | None = None
    nitrogen_loss: amount_field("1/day", most=100) | None = None
    phosphorus_loss: amount_field("1/day", most=100) | None = None
    sediment_settling: amount_field("m/s", above=True, most=0.5) | None = None


class VesselsTable(Table):
    """`[vessels]`: which recorded positions belong to one track."""

    longest_gap: amount_field("hour", above=True, most=240)
    greatest_speed: amount_field("m/s", above=True, most=40)
    least_speed: amount_field("m/s", most=5)
    days: amount_field("day", above=True, most=10_000) | None = None


class BackgroundTable(Table):
    """`[background]`: what the water holds away from outlets and works."""

    nitrogen: amount_field("mg/L", most=1000) | None = None
    phosphorus: amount_field("mg/L", most=1000) | None = None
    suspended_solids: amount_field("mg/L", most=50_000) | None = None
    chlorophyll: amount_field("ug/L", most=2000) | None = None


class CatchmentTable(Table):
    """`[catchment]`: the grid of the land that drains to the water, and how its loads are told."""

    west: float
    south: float
    east: float
    north: float
    cell: float
    nitrogen: Literal["export coefficient", "event-mean concentration"] = "export coefficient"
    phosphorus: Literal["export coefficient", "event-mean concentration"] = "export coefficient"
    least_outlet: amount_field("ha") | None = None
    erosivity: amount_field("MJ*mm/ha/hour/year", most=100_000) | None = None
    slope_length: amount_field("m", above=True, most=1000) | None = None
    delivery_ratio: amount_field("1", most=1) | None = None

    @model_validator(mode="after")
    def _is_an_extent(self) -> CatchmentTable:
        require_extent(self)
        return self


class FileTable(Table):
    """One table under `[files]`."""

    feeds: str
    file: str
    band: Annotated[int, Field(ge=1)] = 1
    layer: str | None = None
    column: str | None = None
    units: str | None = None
    positive: Literal["up", "down"] | None = None
    datum: str | None = None
    rule: Literal[RULES] | None = None
    season: str | None = None
    date: Annotated[str, BeforeValidator(_date_text)]
    source: str
    licence: str
    credit: str
    sensitive: bool | None = None
    nodata: float | None = None
    crs: str | None = None
    x: str | None = None
    y: str | None = None
    time: str | None = None
    station: str | None = None
    constituent: str | None = None
    phase: str | None = None
    temperature: str | None = None
    temperature_scale: Literal["ITS-90", "IPTS-68"] | None = None
    draft: str | None = None
    vessel: str | None = None
    error: Annotated[float, Field(gt=0)] | None = None
    decimal: Literal[".", ","] = "."
    delimiter: Literal[",", ";", "\t", "|"] = ","
    where: dict[str, str] = {}
    columns: dict[str, str] = {}
    plausible: list[float] | None = None

    @field_validator("file", "source", "licence", "credit")
    @classmethod
    def _says_something(cls, text: str) -> str:
        if not text.strip():
            raise ValueError('this is empty. | Say it, or say "unknown".')
        return text

    @field_validator("file")
    @classmethod
    def _lies_in_the_site(cls, text: str) -> str:
        if "\\" in text or not text.isprintable():
            raise ValueError("the path is written with backslashes. | Write it with `/`, on Windows too.")
        path = PurePath(text)
        if path.is_absolute() or ".." in path.parts:
            raise ValueError(f'"{text}" lies outside the folder of the site. | Copy it into the folder.')
        return text

    @field_validator("date")
    @classmethod
    def _is_a_date(cls, text: str) -> str:
        if not _DATE.fullmatch(text):
            raise ValueError(f'"{text}" is not a date. | Write "2021", "2021-03", "2021-03-05" or a span "2015/2022".')
        for day in text.split("/"):
            try:
                datetime.date.fromisoformat((day + "-01-01")[:10])
            except ValueError:
                raise ValueError(f'there is no "{day}" in the calendar. | Write year-month-day.') from None
        return text

    @field_validator("plausible")
    @classmethod
    def _is_a_range(cls, pair: list[float] | None) -> list[float] | None:
        if pair is not None and not (len(pair) == 2 and pair[0] < pair[1]):
            shown = ", ".join(f"{number:g}" for number in pair)
            raise ValueError(f"[{shown}] is not a range. | Write [lowest, highest].")
        return pair

    @model_validator(mode="after")
    def _suits_its_feed(self) -> FileTable:
        feed = FEEDS.get(self.feeds)
        if feed is None:
            near = difflib.get_close_matches(self.feeds, FEEDS, 1)
            remedy = f'Did you mean "{near[0]}"?' if near else f"Use one of: {', '.join(FEEDS)}."
            raise ValueError(f'nothing is fed by "{self.feeds}". | {remedy}')
        missing = [key for key in feed.needs if getattr(self, key) is None]
        if self.column is not None and feed.quantity is not None and self.units is None and "units" not in missing:
            missing.append("units")
        if is_raster(self.suffix) and "raster" in feed.forms and feed.quantity and self.units is None:
            missing = sorted({*missing, "units"}, key=[*feed.needs, "units"].index)
        if not is_raster(self.suffix) and feed.forms == ("raster", "points") and self.column is None:
            missing.append("column")
        if missing:
            keys = ", ".join(f"`{key}`" for key in missing)
            raise ValueError(f"{feed.label} cannot be read without {keys}. | Add {keys} to this table.")
        unknown = [term for term in self.columns if term not in feed.terms]
        if unknown:
            known = f"Known here: {', '.join(feed.terms)}." if feed.terms else "Remove `columns`."
            raise ValueError(f'`columns` names "{unknown[0]}", which is no term of {feed.label}. | {known}')
        if self.suffix == ".csv" and feed.forms[0] not in ("series", "table"):
            missing = [key for key in ("crs", "x", "y") if getattr(self, key) is None]
            if missing:
                keys = ", ".join(f"`{key}`" for key in missing)
                raise ValueError(
                    f"places in a CSV cannot be read without {keys}. | Name the columns of x and y and their CRS."
                )
        return self

    @property
    def suffix(self) -> str:
        """The file's suffix, in lower case."""
        return "." + self.file.rpartition(".")[2].lower()


class SiteTable(Table):
    """The whole file but for `[files]`, whose tables are validated one by one."""

    format: Literal[1]
    title: str
    author: str = ""
    invented: bool = False
    grid: GridTable
    seasons: dict[str, list[int]] = {}
    water: WaterTable | None = None
    datums: dict[str, float] = {}
    reach: ReachTable | None = None
    bed: BedTable | None = None
    mixing: MixingTable | None = None
    background: BackgroundTable | None = None
    vessels: VesselsTable | None = None
    catchment: CatchmentTable | None = None
    files: dict[str, object]

    @field_validator("seasons")
    @classmethod
    def _share_out_the_year(cls, seasons: dict[str, list[int]]) -> dict[str, list[int]]:
        months = [month for listed in seasons.values() for month in listed]
        if not seasons or sorted(months) == list(range(1, 13)):
            return seasons
        wrong = {
            "no month": sorted({month for month in months if not 1 <= month <= 12}),
            "in no season": [month for month in range(1, 13) if month not in months],
            "in more than one place": sorted({month for month in months if months.count(month) > 1}),
        }
        found = "; ".join(f"{', '.join(map(str, listed))} {what}" for what, listed in wrong.items() if listed)
        raise ValueError(f"of the months: {found}. | Each month, 1 to 12, must stand in one season.")
