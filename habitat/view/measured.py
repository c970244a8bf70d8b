"""What was measured at places: soundings and stations, drawn where they are, over the map made from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import holoviews as hv
import numpy as np
import pandas as pd
import xarray as xr

from habitat.colours import INK, PAGE, class_colours, scale_of
from habitat.view import maps

if TYPE_CHECKING:
    from layers.derivation import Derivation

# layer, and the feeds whose points it is made from
MEASURED = {
    "bed_elevation": ("sounding",),
    "salinity": ("salinity", "conductivity", "specific_conductance"),
    "water_temperature": ("water_temperature",),
    "suspended_solids": ("suspended_solids",),
    "chlorophyll": ("chlorophyll",),
    "secchi_depth": ("secchi_depth",),
}
MOST_SOUNDINGS = 4000  # dots that a map draws
LONGEST_NAME = 16  # letters of a station's label
_SURVEY_CODES = (2, 6, 1, 10)  # of the palette without an order: those that stand off the blue of the depth


# without a printed form: the drawing library asks for it again and again, and it would print every layer
@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Measured:
    """Points of one quantity. Soundings: columns x, y, survey. Stations: x, y, station and a mean for each season."""

    layer: str
    points: pd.DataFrame
    surveys: dict[str, tuple[str, int]]  # of soundings: colour and number of each file; empty for stations
    files: tuple[str, ...]
    thinned: int = 1  # every so many soundings are drawn

    @property
    def is_soundings(self) -> bool:
        """Whether these are soundings rather than stations."""
        return bool(self.surveys)

    def means(self, season: str | None) -> np.ndarray:
        """Mean of each station in a season; NaN where it was not sampled."""
        columns = [column for column in self.points.columns if column not in ("x", "y", "station")]
        return self.points[season if season in columns else columns[0]].to_numpy(float)


def measured_of(made: Derivation, layers: Mapping[str, xr.DataArray]) -> dict[str, Measured]:
    """The points of each layer that was made from points; sensitive files are never among them."""
    found = {}
    for layer, feeds in MEASURED.items():
        entries = [entry for name in feeds for entry in made.inputs.having(name)]
        entries = [entry for entry in entries if entry.name in made.inputs.features and not entry.sensitive]
        if entries and layer in layers:
            found[layer] = (_soundings if feeds == ("sounding",) else _stations)(made, layer, entries)
    return found


def _soundings(made: Derivation, layer: str, entries: list) -> Measured:
    tables = [(entry.path.name, made.inputs.features[entry.name].geometry) for entry in entries]
    step = -(-sum(len(places) for _, places in tables) // MOST_SOUNDINGS)
    parts = [
        pd.DataFrame({"x": places.x.to_numpy()[::step], "y": places.y.to_numpy()[::step], "survey": file})
        for file, places in tables
    ]
    palette = class_colours("limiting_factor", 12)
    colours = [palette[_SURVEY_CODES[number % len(_SURVEY_CODES)]] for number in range(len(tables))]
    return Measured(
        layer=layer,
        points=pd.concat(parts, ignore_index=True),
        surveys={file: (colour, len(places)) for (file, places), colour in zip(tables, colours, strict=True)},
        files=tuple(file for file, _ in tables),
        thinned=step,
    )


def _stations(made: Derivation, layer: str, entries: list) -> Measured:
    from layers.season import station_means

    tables = [made.inputs.features[entry.name] for entry in entries]
    timed = all(table["time"].notna().all() for table in tables)
    seasons = tuple(made.site.seasons) if made.site.seasons and timed else (None,)
    means = station_means(tables, made.site, seasons)
    points = pd.DataFrame({"x": means.geometry.x, "y": means.geometry.y, "station": means["station"].astype(str)})
    for season in seasons:
        points[season] = means[season].to_numpy(float)
    return Measured(
        layer=layer, points=points, surveys={}, files=tuple(dict.fromkeys(entry.path.name for entry in entries))
    )


def survey_dots(measured: Measured) -> hv.Points:
    """Soundings as dots in the colour of their survey; empty for stations."""
    shown = measured.points if measured.is_soundings else measured.points.iloc[:0].assign(survey="")
    colour = [measured.surveys[survey][0] for survey in shown["survey"]]
    points = hv.Points((shown["x"], shown["y"], colour), [maps.EAST, maps.NORTH], ["colour"])
    return points.opts(size=3, color="colour", line_color=PAGE, line_width=0.3, apply_ranges=False)


def station_marks(measured: Measured, season: str | None, *, filled: bool) -> hv.Points:
    """Stations as discs, `filled` with the colour of their own mean or white; empty for soundings."""
    shown = measured.points.iloc[:0] if measured.is_soundings else measured.points
    values = np.empty(0) if measured.is_soundings else measured.means(season)
    scale = scale_of(measured.layer)
    colour = [scale.colour(value) if filled else PAGE for value in values]
    points = hv.Points((shown["x"], shown["y"], colour), [maps.EAST, maps.NORTH], ["colour"])
    return points.opts(size=11, color="colour", line_color=INK, line_width=1.8, apply_ranges=False)


def station_names(measured: Measured) -> hv.Labels:
    """The names of the stations over their markers."""
    shown = measured.points.iloc[:0].assign(station="") if measured.is_soundings else measured.points
    names = [name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "…" for name in shown["station"]]
    labels = hv.Labels((shown["x"], shown["y"], names), [maps.EAST, maps.NORTH], ["station"])
    return labels.opts(
        text_color=INK,
        text_font_size="8.5pt",
        text_font_style="bold",
        text_align="center",
        text_baseline="bottom",
        apply_ranges=False,
        hooks=[_above],
    )


def _above(plot: object, element: object) -> None:
    """Labels stand over their marker at every zoom, on a pale ground so that they read over any colour."""
    plot.handles["glyph"].update(
        y_offset=-9,
        text_font={"value": "system-ui, sans-serif"},
        background_fill_color=PAGE,
        background_fill_alpha=0.78,
        border_radius=3,
        padding=2,
    )
