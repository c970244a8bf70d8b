"""Areas on the page: hectares by class and zone in a table, and what a single layer holds in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import panel as pn
import xarray as xr

from habitat.colours import INK, MUTED_INK
from habitat.result import NO_DATA, SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.site_map import SiteMap
from habitat.view import summary
from habitat.view.session import Picture, Session
from habitat.view.theme import LINE
from habitat.view.words import hectares, measure
from habitat.zones import WHOLE_SITE, hectares_by_class
from layers.grid import Grid

TABLE_CSS = f"""
.tabulator {{ font: 0.92rem/1.4 system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", sans-serif; border: none;
  background: transparent; font-variant-numeric: tabular-nums; }}
.tabulator .tabulator-header, .tabulator .tabulator-header .tabulator-col, .tabulator .tabulator-row {{
  background: transparent !important; border-color: {LINE}; }}
.tabulator .tabulator-header .tabulator-col .tabulator-col-title {{ white-space: normal; color: {MUTED_INK};
  font-size: 0.82rem; font-weight: 600; }}
.tabulator .tabulator-header .tabulator-col, .tabulator .tabulator-row .tabulator-cell {{ border-right: none; }}
.tabulator .tabulator-row {{ border-bottom: 1px solid {LINE}; color: {INK}; }}
"""


_UNKNOWN = {"suitability": "Habitat not known, ha", "threat": "Threat not known, ha"}


def hectares_table(session: Session) -> pn.widgets.Tabulator:
    """The live table of hectares: a row for each zone, a column for each class."""
    from bokeh.models.widgets.tables import NumberFormatter

    areas = class_areas(session.picture, zones_of(session.site_map))
    table = pn.widgets.Tabulator(
        areas,
        show_index=False,
        disabled=True,
        layout="fit_columns",
        widths={"Zone": 150},
        configuration={"columnDefaults": {"headerWordWrap": True, "minWidth": 96}},
        formatters={name: NumberFormatter(format="0,0", nan_format="no data") for name in areas.columns[1:]},
        text_align={name: "right" for name in areas.columns[1:]},
        header_align={name: "right" for name in areas.columns[1:]},
        sizing_mode="stretch_width",
        margin=0,
        stylesheets=[TABLE_CSS],
    )
    session.param.watch(
        lambda event: table.param.update(value=class_areas(event.new, zones_of(session.site_map))), "picture"
    )
    return table


def class_areas(picture: Picture, zones: object | None) -> pd.DataFrame:
    """Hectares of each class of suitability and threat, and of the most pressed habitat, by zone.

    Parameters
    ----------
    picture : Picture
        What the maps draw from.
    zones : GeoDataFrame or None
        Zones of the site with a column `name`.

    Returns
    -------
    DataFrame
        The whole site first. Column names are the printed heads. NaN where nothing of that kind is known in the
        zone. [ha]
    """
    table = hectares_by_class(picture.assessment, picture.season)
    if zones is not None:
        table = pd.concat([table, hectares_by_class(picture.assessment, picture.season, zones)])
    wanted = [("suitability", name) for name in SUITABILITY_CLASSES[:0:-1]]
    wanted += [("threat", name) for name in THREAT_CLASSES[:0:-1]]
    wanted += [("concern", summary.GOOD_UNDER_HIGH)]
    rows = []
    for zone in dict.fromkeys(table["zone"]):
        row = {"Zone": zone.capitalize() if zone == WHOLE_SITE else zone}
        for kind, name in wanted:
            known = summary.is_scored(table, kind, zone)
            row[f"{name.capitalize()}, ha"] = summary.areas(table, kind, zone)[name] if known else np.nan
        for kind, head in _UNKNOWN.items():
            row[head] = summary.areas(table, kind, zone)[NO_DATA]
        rows.append(row)
    return pd.DataFrame(rows)


def layer_words(layer: xr.DataArray) -> str:
    """What a layer holds, in words: its range, its mean and where it came from."""
    values = layer.to_numpy()
    if "flag_meanings" in layer.attrs:
        return _class_words(layer, values)
    known = ~np.isnan(values)
    if not known.any():
        return "No cell has data."
    unit = layer.attrs.get("units", "1")
    area = hectares(float(known.sum()) * Grid.of(layer).cell_hectares)
    words = (
        f"From {measure(float(values[known].min()), unit)} to {measure(float(values[known].max()), unit)}, "
        f"mean {measure(float(values[known].mean(dtype=np.float64)), unit)}, over {area}."
    )
    method, files = layer.attrs.get("method"), layer.attrs.get("files")
    return words + (f" Made by: {method}." if method else "") + (f" From {files}." if files else "")


def zones_of(site_map: SiteMap) -> object | None:
    """Zone polygons of the site, or None."""
    inputs = site_map.inputs
    entries = inputs.having("zone")
    return inputs.features[entries[0].name] if entries else None


def _class_words(layer: xr.DataArray, values: np.ndarray) -> str:
    hectare = Grid.of(layer).cell_hectares
    counts = np.bincount(values.ravel().astype(int), minlength=1)
    parts = [
        f"{word.replace('_', ' ')} {hectares(float(counts[code]) * hectare)}"
        for code, word in enumerate(layer.attrs["flag_meanings"].split())
        if code < counts.size and counts[code]
    ]
    return f"{'; '.join(parts)}.".capitalize()
