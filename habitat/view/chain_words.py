"""The steps from land to grazing in sentences, each with this site's own numbers from every cell."""

from __future__ import annotations

import numpy as np
import xarray as xr

from habitat.view.chain import Chain
from habitat.view.words import hectares, measure, percent
from layers.recipe import RECIPES

SEVERAL = 2.0  # times what the sea holds, from where nitrogen is called raised here
COVERS_NAMED = 3


def cover_sentence(chain: Chain) -> str:
    """What the land that drains here is covered by."""
    land = chain.land
    total = sum(land.hectares.values())
    if not total > 0:
        return f"No ground with a known cover drains to the {land.outlets} outlets."
    named = list(land.hectares.items())[:COVERS_NAMED]
    parts = ", ".join(f"{label} {percent(area / total)}" for label, area in named)
    rest = total - sum(area for _, area in named)
    others = f", other covers {percent(rest / total)}" if rest > 0 else ""
    return f"{hectares(total)} of mapped land drain to {land.outlets} outlets on the shore: {parts}{others}."


def load_sentence(chain: Chain, season: str | None) -> str:
    """How much nitrogen the outlets bring, and the largest of them."""
    loads = chain.loads_in(season)
    total = float(loads["tonnes"].sum())
    while_it_lasts = f" while the {season} season lasts" if season in chain.loads and season else ""
    if not total > 0:
        return f"{len(loads)} outlets, which bring no nitrogen{while_it_lasts}."
    largest = loads.loc[loads["tonnes"].idxmax()]
    outlets = "The one outlet brings" if len(loads) == 1 else f"The {len(loads)} outlets bring"
    most = (
        f" The largest, {largest['name']}, brings {percent(largest['tonnes'] / total)} of it." if len(loads) > 1 else ""
    )
    return f"{outlets} nitrogen at a rate of {tonnes(total)} a year{while_it_lasts}.{most}"


def plume_sentence(chain: Chain, season: str | None) -> str:
    """How far the nitrogen of the outlets is felt."""
    layer, sea = chain.layer("nitrogen_concentration", season), chain.number("background.nitrogen")
    known, area = _known(layer), _cell_hectares(chain)
    raised = float((known > SEVERAL * sea).sum()) * area
    return (
        f"The sea holds {measure(sea, 'mg/L')}. More than twice that stands over {hectares(raised)} "
        f"({percent(raised / (known.size * area))} of the water); the most is {measure(float(known.max()), 'mg/L')}."
    )


def light_sentence(chain: Chain, season: str | None) -> str:
    """How much of the bed gets the light that rooted plants need."""
    light, needed = chain.layer("bed_light", season), chain.number("light.requirement")
    known = _known(light)
    if needed is None:
        return f"On the mean {percent(float(known.mean(dtype=np.float64)))} of the light reaches the bed."
    enough = float((known >= needed).sum()) * _cell_hectares(chain)
    return (
        f"Seagrass is taken to need {percent(needed)} of the light. The bed gets that on {hectares(enough)}, "
        f"{percent(float((known >= needed).mean()))} of the water and flats."
    )


def attenuation_sentence(chain: Chain, season: str | None) -> str:
    """How fast light fades, and what that means for the depth plants can live at."""
    known = _known(chain.layer("attenuation", season))
    low, middle, high = (float(part) for part in (known.min(), np.median(known), known.max()))
    limit = chain.layer("depth_limit", season)
    said = f"Light fades by {low:.2f} to {high:.2f} per metre, in half of the water by no more than {middle:.2f}."
    if limit is None:
        return said
    return (
        said + f" Half of the water lets plants live down to {measure(float(np.median(_known(limit))), 'm')} or more."
    )


def forage_sentence(chain: Chain, season: str | None) -> str:
    """How much of the mapped seagrass the light can keep."""
    cover, kept, area = chain.layer("seagrass_cover", season), chain.layer("forage", season), _cell_hectares(chain)
    mapped, left = (float(np.nansum(layer.to_numpy(), dtype=np.float64)) * area for layer in (cover, kept))
    if not mapped > 0:
        return "No seagrass is mapped here."
    said = f"The seagrass mapped amounts to {hectares(mapped)} of full cover; the light can keep {hectares(left)} of it"
    light, needed = chain.layer("bed_light", season), chain.number("light.requirement")
    if light is None or needed is None:
        return f"{said}: nothing is known of the light, so none is taken off."
    short = float(((cover.to_numpy() > 0) & (light.to_numpy() < needed)).sum()) * area
    return (
        f"{said} ({percent(left / mapped)}). On {hectares(short)} with seagrass the bed gets less light than it needs: "
        "there the light, the need or the map is in doubt."
    )


def dredge_sentence(chain: Chain, season: str | None) -> str:
    """What stands in the water while the dredges of a season dig."""
    at_work = chain.works_in(season)
    if not at_work:
        return f"No dredge works in the {season} season." if season else "No dredge works."
    known, area = _known(chain.layer("dredge_plume", season)), _cell_hectares(chain)
    names = ", ".join(work.name for work in at_work)
    over = float((known >= 1).sum()) * area
    return (
        f"While {names} {'is' if len(at_work) == 1 else 'are'} dug, 1 mg/L or more of fines stand over "
        f"{hectares(over)}; the most is {measure(float(known.max()), 'mg/L')}, as a mean over the depth. Close to the "
        "cutter there is more."
    )


def absence_sentence(chain: Chain, layer: str) -> str:
    """Why a layer is not here, and what would give it."""
    if layer in chain.faults:
        return chain.faults[layer]
    if layer == "catchment":
        return (
            "This site has no catchment: its site file names no land cover. Loads then come from a table of outlets, "
            "where there is one."
        )
    if layer == "loads":
        return (
            "No file gives the nitrogen of an outlet, and there is no catchment to work it out from. Nothing is known "
            "of the loads; that does not mean there are none."
        )
    fed = " or ".join(f'"{feeds}"' for feeds in RECIPES[layer].feeds)
    name = layer.replace("_", " ")
    return f"This site cannot give {name}. It takes a file that feeds {fed}, and the numbers that go with it."


def method_in(layer: xr.DataArray, seasons: tuple[str, ...], season: str | None) -> str:
    """How a layer was made, of a season where that is told season by season.

    Parameters
    ----------
    layer : DataArray
        Its attribute `method` is read.
    seasons : tuple of str
        Those of the whole layer, in its order.
    """
    method = layer.attrs.get("method", "")
    starts = {name: 0 if method.startswith(f"{name}: ") else method.find(f"; {name}: ") for name in seasons}
    if season not in starts or 0 not in starts.values() or starts[season] < 0:
        return method
    begin = starts[season]
    ends = [at for at in starts.values() if at > begin]
    part = method[begin : min(ends) if ends else None]
    return part.removeprefix("; ").removeprefix(f"{season}: ")


def tonnes(mass: float) -> str:
    """A mass in tonnes.

    Examples
    --------
    >>> tonnes(233.4), tonnes(24.63), tonnes(1.2), tonnes(0.0312)
    ('233 t', '25 t', '1.2 t', '0.031 t')
    """
    if mass >= 10:
        return f"{mass:,.0f} t"
    return f"{mass:.2g} t"


def _known(layer: xr.DataArray) -> np.ndarray:
    values = layer.to_numpy()
    known = values[~np.isnan(values)]
    return known if known.size else np.zeros(1, np.float32)


def _cell_hectares(chain: Chain) -> float:
    return chain.site_map.inputs.site.grid.cell_hectares
