"""The reviewer's page: what the map is made from, by which versions, and how it is made again."""

from __future__ import annotations

import platform
from importlib.metadata import version

import panel as pn
from markupsafe import Markup

from habitat.inventory import inventory
from habitat.site_map import SiteMap
from habitat.view import theme
from habitat.view.frame import whole_page
from habitat.view.words import measure

LEAD = "What is this map made from, who may use it, and how is the same map made again?"
LIBRARIES = ("numpy", "xarray", "numba", "rasterio", "geopandas", "shapely", "pyproj", "odc-geo", "pint", "scipy")

SOURCES_CSS = f"""
:host {{ container-type: inline-size; }}
.wide {{ overflow-x: auto; }} .wide table {{ min-width: 720px; }} .wide td:last-child {{ min-width: 320px; }}
code.digest {{ font-size: 0.72rem; white-space: normal; overflow-wrap: anywhere; }}
li {{ margin: 0.3rem 0; max-width: 80ch; }}
details {{ border-bottom: 1px solid {theme.LINE}; padding: 10px 0; }}
summary {{ cursor: pointer; font-weight: 600; padding: 4px 0; }}
summary span {{ font-weight: 400; }}
dl {{ display: grid; grid-template-columns: minmax(5em, max-content) 1fr; gap: 2px 16px; margin: 8px 0 4px;
  font-size: 0.92rem; }}
dd {{ margin: 0; overflow-wrap: anywhere; }}
"""


def sources_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("sources", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    parts = (again, files_list, layers_list, profile_list, remarks_list)
    return [theme.card(theme.text(part(site_map), css=SOURCES_CSS)) for part in parts]


def files_list(site_map: SiteMap) -> Markup:
    """Every file of the site with its digest, source, licence and credit. Sensitive files are named, never shown."""
    rows = Markup("").join(
        Markup(
            "<details><summary>{file} <span class='quiet'>feeds {feeds}{held_back}</span></summary><dl>"
            "<dt>SHA-256</dt><dd><code class='digest'>{digest}</code></dd><dt>Date</dt><dd>{date}</dd>"
            "<dt>Source</dt><dd>{source}</dd><dt>Licence</dt><dd>{licence}</dd><dt>Credit</dt><dd>{credit}</dd>"
            "</dl></details>"
        ).format(
            file=entry.path.name,
            feeds=entry.feeds.replace("_", " "),
            held_back="; held back: exact places are never shown" if entry.sensitive else "",
            digest=site_map.inputs.digests.get(entry.name, "not read"),
            date=entry.date or "not given",
            source=entry.source,
            licence=entry.licence,
            credit=entry.credit,
        )
        for entry in site_map.inputs.site.files
    )
    return Markup("<h2>Files</h2><p class='quiet'>Open a line for its digest, source and licence.</p>{}").format(rows)


def layers_list(site_map: SiteMap) -> Markup:
    """Every layer with what it holds and how it was made."""
    rows = Markup("").join(
        Markup(
            "<tr><td><strong>{layer}</strong>{season}</td><td class='number'>{lowest}</td>"
            "<td class='number'>{mean}</td><td class='number'>{highest}</td><td class='number'>{missing:,}</td>"
            "<td>{method}<br><span class='quiet'>{files}</span></td></tr>"
        ).format(
            layer=row.layer.replace("_", " "),
            season=f", {row.season}" if row.season else "",
            lowest=measure(row.lowest, row.units),
            mean=measure(row.mean, row.units),
            highest=measure(row.highest, row.units),
            missing=row.missing,
            method=row.method,
            files=row.files,
        )
        for row in inventory(site_map).itertuples()
    )
    heads = "".join(
        f"<th scope='col' class='{kind}'>{head}</th>"
        for head, kind in {
            "Layer": "",
            "Lowest": "number",
            "Mean": "number",
            "Highest": "number",
            "Water cells missing": "number",
            "Made by, from": "",
        }.items()
    )
    return Markup(
        "<h2>Layers</h2><div class='wide' tabindex='0' role='region' aria-label='Table of layers'>"
        "<table><thead><tr>{}</tr></thead><tbody>{}</tbody></table></div>"
    ).format(Markup(heads), rows)


def profile_list(site_map: SiteMap) -> Markup:
    """Every need and pressure of the profile with the source of its numbers."""
    profile = site_map.profile
    rows = Markup("").join(
        Markup("<dt>{}</dt><dd>weight {:g}. {}</dd>").format(part.label, part.weight, part.source)
        for part in (*profile.factors, *profile.pressures)
    )
    return Markup("<h2>Profile: {}</h2><p>{} Needs combine by {}.</p><dl>{}</dl>").format(
        profile.title, profile.source, profile.rule, rows
    )


def remarks_list(site_map: SiteMap) -> Markup:
    """What the readers noticed and nobody has to mend."""
    said = (*site_map.inputs.remarks, *site_map.disagreements)
    items = Markup("").join(Markup("<li>{}</li>").format(remark) for remark in said)
    body = Markup("<ul>{}</ul>").format(items) if said else Markup("<p>Nothing was remarked.</p>")
    return Markup("<h2>Remarks on the files</h2>{}").format(body)


def again(site_map: SiteMap) -> Markup:
    """The command that makes this map again, and the versions that made it."""
    site = site_map.inputs.site
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    command = f"shallows map {site.path.parent.name} --out results"
    return Markup(
        "<h2>The same map again</h2><p>Beside the site's folder, with its own <code>profile.toml</code> or another "
        "named by <code>--profile</code>:</p><pre tabindex='0'>{command}</pre>"
        "<p>The folder <code>results</code> then holds every grid, table and picture, with the exact site file and "
        "profile used.</p><p class='quiet'>Shallows {shallows}, Python {python}, {versions}. Grid: {rows} by {columns} "
        "cells of {cell:g} m, {crs}.</p>"
    ).format(
        command=command,
        shallows=_own_version(),
        python=platform.python_version(),
        versions=versions,
        rows=site.grid.shape[0],
        columns=site.grid.shape[1],
        cell=site.grid.cell,
        crs=site.grid.crs.name,
    )


def _own_version() -> str:
    from layers import __version__

    return __version__
