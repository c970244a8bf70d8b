"""The numbers behind one cell, from the nitrogen that reaches it to the seagrass it keeps: a rung for each step."""

from __future__ import annotations

import math
from dataclasses import dataclass

from habitat.colours import class_colours
from habitat.lineage import Ancestor
from habitat.view.chain import Chain
from habitat.view.words import measure, percent

_PALETTE = class_colours("limiting_factor", 12)
SEA, OUTLETS, GREEN, SOLIDS, DREDGES = (_PALETTE[code] for code in (3, 4, 10, 11, 6))


@dataclass(frozen=True, kw_only=True)
class Part:
    """A summand of a rung's value."""

    label: str
    value: float
    colour: str


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One step at one place."""

    layer: str
    label: str
    value: float
    units: str
    said: str
    error: float = math.nan  # standard error [as `units`]
    parts: tuple[Part, ...] = ()  # they add up to the value, or to `whole` where it is given
    whole: float = math.nan
    needed: float = math.nan  # what the value has to reach
    told: tuple[Ancestor, ...] = ()  # how the layer was made, itself first
    files: tuple[str, ...] = ()  # behind it, those that matter most first


def ladder(chain: Chain, season: str | None, place: tuple[float, float] | None) -> list[Rung]:
    """The rungs at a place; steps that the site cannot give are left out.

    Parameters
    ----------
    chain : Chain
        Of the site.
    season : str or None
        The season.
    place : pair of float, or None
        Easting and northing. [m]

    Returns
    -------
    list of Rung
        Empty outside the site.
    """
    cell = None if place is None else chain.site_map.inputs.site.grid.cell_at(*place)
    if cell is None:
        return []
    rungs = [make(chain, season, cell) for make in (_depth, _nitrogen, _green, _solids, _fading, _light, _forage)]
    return [rung for rung in rungs if rung is not None]


def attenuation_parts(chain: Chain, season: str | None, cell: tuple[int, int]) -> tuple[Part, ...]:
    """What water, chlorophyll, solids and the solids of dredges add to the attenuation of a cell. [1/m]

    None of it where the attenuation comes from Secchi depth, or is not known.
    """
    numbers = [chain.number(f"light.{key}") for key in ("water", "per_chlorophyll", "per_solids")]
    green, solids = (chain.value(name, season, cell) for name in ("chlorophyll", "suspended_solids"))
    if any(number is None for number in numbers) or math.isnan(green) or math.isnan(solids):
        return ()
    water, per_green, per_solids = numbers
    dredged = chain.value("dredge_solids", season, cell)
    parts = (
        Part(label="water itself", value=water, colour=SEA),
        Part(label="chlorophyll", value=per_green * green, colour=GREEN),
        Part(label="solids", value=per_solids * solids, colour=SOLIDS),
        Part(label="dredges", value=0.0 if math.isnan(dredged) else per_solids * dredged, colour=DREDGES),
    )
    return parts if chain.works else parts[:3]


def _rung(chain: Chain, layer: str, label: str, season: str | None, cell: tuple[int, int], said: str, **more) -> Rung:
    return Rung(
        layer=layer,
        label=label,
        value=chain.value(layer, season, cell),
        units=chain.layers[layer].attrs.get("units", "1"),
        said=said,
        told=chain.told[layer],
        files=_files(chain, layer),
        **more,
    )


def _files(chain: Chain, layer: str) -> tuple[str, ...]:
    """Every file in the lineage of a layer, in the order in which the layer itself names them."""
    known = list(dict.fromkeys(name for ancestor in chain.told[layer] for name, _, _ in ancestor.files))
    named = [name for name in chain.layers[layer].attrs.get("files", "").split("; ") if name in known]
    return tuple(dict.fromkeys([*named, *known]))


def _depth(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "water_depth" not in chain.layers:
        return None
    limit, said = chain.value("depth_limit", season, cell), "Below the mean water level."
    if not math.isnan(limit):
        said += f" By the light alone, rooted plants could live down to {measure(limit, 'm')} here."
    error = chain.value("bed_elevation_error", season, cell)
    return _rung(chain, "water_depth", "Depth", season, cell, said, error=error)


def _nitrogen(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    sea = chain.number("background.nitrogen")
    if "nitrogen_concentration" not in chain.layers or sea is None:
        return None
    value = chain.value("nitrogen_concentration", season, cell)
    parts = (
        Part(label="the sea", value=sea, colour=SEA),
        Part(label="outlets", value=max(value - sea, 0.0), colour=OUTLETS),
    )
    said = "What the sea holds, and what all outlets add after mixing and loss."
    return _rung(
        chain,
        "nitrogen_concentration",
        "Nitrogen",
        season,
        cell,
        said,
        parts=() if math.isnan(value) else parts,
    )


def _green(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "chlorophyll" not in chain.layers:
        return None
    value, sea = chain.value("chlorophyll", season, cell), chain.number("background.chlorophyll")
    fed = chain.number("light.chlorophyll_per_nitrogen")
    if chain.site_map.inputs.having("chlorophyll"):
        return _rung(
            chain,
            "chlorophyll",
            "Chlorophyll",
            season,
            cell,
            "Measured, not worked out from the nitrogen.",
            error=chain.value("chlorophyll_error", season, cell),
        )
    if "nitrogen_concentration" not in chain.layers or fed is None:
        return _rung(
            chain, "chlorophyll", "Chlorophyll", season, cell, "Not measured: taken to be the same everywhere."
        )
    parts = (
        Part(label="the sea", value=sea, colour=SEA),
        Part(label="fed by outlets", value=max(value - sea, 0.0), colour=GREEN),
    )
    said = f"Not measured: {fed:g} µg for each mg of nitrogen that the outlets add, on top of the sea's."
    shown = () if math.isnan(value) else parts
    return _rung(chain, "chlorophyll", "Chlorophyll", season, cell, said, parts=shown)


def _solids(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "suspended_solids" not in chain.layers:
        return None
    dredged = chain.value("dredge_solids", season, cell)
    on_top = f" Dredges add {measure(dredged, 'mg/L')} on top, mean of the season." if dredged > 0 else ""
    if chain.site_map.inputs.having("suspended_solids"):
        said, error = "Measured.", chain.value("suspended_solids_error", season, cell)
        return _rung(chain, "suspended_solids", "Suspended solids", season, cell, said + on_top, error=error)
    value, sea = chain.value("suspended_solids", season, cell), chain.number("background.suspended_solids")
    parts = (
        Part(label="the sea", value=sea, colour=SEA),
        Part(label="outlets", value=max(value - sea, 0.0), colour=SOLIDS),
    )
    said = "Not measured: what the sea holds and the outlets add."
    shown = () if math.isnan(value) else parts
    return _rung(chain, "suspended_solids", "Suspended solids", season, cell, said + on_top, parts=shown)


def _fading(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "attenuation" not in chain.layers:
        return None
    parts = attenuation_parts(chain, season, cell)
    said = "How much of the light is lost in each metre, as a sum." if parts else "How fast the light fades."
    secchi, product = chain.value("secchi_depth", season, cell), chain.number("light.secchi_product")
    if not parts and not math.isnan(secchi) and product is not None:
        said = f"From the Secchi depth: {product:g} over {measure(secchi, 'm')}."
    return _rung(chain, "attenuation", "Attenuation", season, cell, said, parts=parts)


def _light(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "bed_light" not in chain.layers:
        return None
    needed, value = chain.number("light.requirement"), chain.value("bed_light", season, cell)
    if needed is None or math.isnan(value):
        return _rung(chain, "bed_light", "Light at the bed", season, cell, "Share of the light, mean over the tide.")
    compared = "enough" if value >= needed else "too little"
    said = f"Seagrass is taken to need {percent(needed)}: {compared} here, mean over the tide."
    return _rung(chain, "bed_light", "Light at the bed", season, cell, said, needed=needed)


def _forage(chain: Chain, season: str | None, cell: tuple[int, int]) -> Rung | None:
    if "forage" not in chain.layers:
        return None
    cover, kept = (chain.value(name, season, cell) for name in ("seagrass_cover", "forage"))
    light, needed = chain.value("bed_light", season, cell), chain.number("light.requirement")
    if math.isnan(cover) or math.isnan(kept):
        return _rung(chain, "forage", "Forage", season, cell, "Cover as mapped, where the light can keep it.")
    said = f"{percent(cover)} cover mapped"
    if cover > 0 and needed is not None and not math.isnan(light):
        is_short = light < needed
        said += f", times {light:.3g} over {needed:g}" if is_short else ", and light enough to keep all of it"
    parts = (
        Part(label="kept", value=kept, colour=GREEN),
        Part(label="mapped, but short of light", value=max(cover - kept, 0.0), colour=OUTLETS),
    )
    return _rung(chain, "forage", "Forage", season, cell, said + ".", parts=parts, whole=1.0)
