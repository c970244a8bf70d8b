"""Recipes of the light under water, and of the plants it lets live: from solids and chlorophyll to forage."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation
from layers.provenance import joined
from layers.quantity import Quantity
from layers.recipes import mixed
from layers.recipes.fields import measured

if TYPE_CHECKING:
    from layers.attenuation import AttenuationCoefficients

NUMBERS = ("light.water", "light.per_chlorophyll", "light.per_solids")


def chlorophyll(made: Derivation) -> xr.DataArray | None:
    """Chlorophyll as measured, else what the sea holds and the nitrogen of the outlets feeds."""
    found = measured(made, q.CHLOROPHYLL, q.CHLOROPHYLL_ERROR)
    if found is not None:
        return found.field
    held = made.number("background.chlorophyll")
    nitrogen, fed = made.layer("nitrogen_concentration"), made.number("light.chlorophyll_per_nitrogen")
    if held is None or nitrogen is None or fed is None:
        return _background(made, q.CHLOROPHYLL, "background.chlorophyll")
    from_sea = made.number("background.nitrogen")

    def of_season(season: str | None, nitrogen: xr.DataArray) -> xr.DataArray:
        values = (held + fed * np.maximum(nitrogen.to_numpy() - from_sea, 0)).astype(np.float32)
        method = f"{held:g} ug/L of the sea, and {fed:g} ug for each mg of nitrogen that the outlets add"
        return _from_layers(made, values, q.CHLOROPHYLL, method, nitrogen)

    return made.by_seasons_of({"nitrogen": nitrogen}, of_season)


def suspended_solids(made: Derivation) -> xr.DataArray | None:
    """Suspended solids as measured, else what the sea holds and the outlets add. Those of dredges are apart."""
    found = measured(made, q.SUSPENDED_SOLIDS, q.SUSPENDED_SOLIDS_ERROR)
    if found is not None:
        return found.field
    added = mixed.outlet_solids(made)
    return _background(made, q.SUSPENDED_SOLIDS, "background.suspended_solids") if added is None else added


def attenuation(made: Derivation) -> xr.DataArray | None:
    """How fast light fades: from solids and chlorophyll, else from Secchi depth; the fines of dredges on top."""
    from layers.attenuation import attenuation_from_secchi, attenuation_from_water_quality

    coefficients = _coefficients(made)
    if coefficients is None:
        return None
    solids, green = made.layer("suspended_solids"), made.layer("chlorophyll")
    dredged = made.layer("dredge_solids")
    secchi = made.layer("secchi_depth") if solids is None or green is None else None
    product = made.number("light.secchi_product") if secchi is not None else None

    def of_season(season, solids, green, secchi, dredged) -> xr.DataArray | None:
        if solids is not None and green is not None:
            values = attenuation_from_water_quality(solids.to_numpy(), green.to_numpy(), coefficients)
            said = (
                f"{coefficients.water:g} of the water, {coefficients.per_chlorophyll:g} for each ug/L of chlorophyll, "
                f"{coefficients.per_solids:g} for each mg/L of solids"
            )
        elif secchi is not None and product is not None:
            seen = secchi.to_numpy()
            values = attenuation_from_secchi(np.where(seen > 0, seen, np.nan), _secchi_product(product))
            said = f"{product:g} over the Secchi depth"
        else:
            return None
        if dredged is not None:
            values = values + coefficients.per_solids * dredged.to_numpy()
            said += ", with the solids of dredges"
        used = [layer for layer in (solids, green, secchi, dredged) if layer is not None]
        return _from_layers(made, values, q.ATTENUATION, said, *used)

    parts = {"solids": solids, "green": green, "secchi": secchi, "dredged": dredged}
    return made.by_seasons_of(parts, of_season)


def bed_light(made: Derivation) -> xr.DataArray | None:
    """Share of the light that reaches the bed, mean over the tide."""
    from layers.light import mean_bed_light

    fading, bed = made.layer("attenuation"), made.bed
    if fading is None or bed is None:
        return None

    def of_season(season: str | None, fading: xr.DataArray, depth: xr.DataArray) -> xr.DataArray:
        levels = made.levels(season)
        heights = levels.levels if levels else np.zeros(1)
        values = mean_bed_light(bed.to_numpy(), heights, fading.to_numpy())
        said = f"mean over {levels.method if levels else 'the datum, for want of a tide'} of what attenuation leaves"
        return _from_layers(made, values, q.BED_LIGHT, said, fading, bed)

    # the depth is asked for so that seasons of the level count as well as those of the attenuation
    return made.by_seasons_of({"fading": fading, "depth": made.layer("water_depth")}, of_season)


def depth_limit(made: Derivation) -> xr.DataArray | None:
    """Depth at which the light is what rooted plants need."""
    from layers.light import light_depth_limit

    fading, needed = made.layer("attenuation"), made.number("light.requirement")
    if fading is None or needed is None:
        return None

    def of_season(season: str | None, fading: xr.DataArray) -> xr.DataArray:
        method = f"depth at which {100 * needed:g} % of the light is left (not the regression of depth limits)"
        values = light_depth_limit(fading.to_numpy(), needed)
        return _from_layers(made, values, q.DEPTH_LIMIT, method, fading)

    return made.by_seasons_of({"fading": fading}, of_season)


def forage(made: Derivation) -> xr.DataArray | None:
    """Seagrass cover, less where the light is short of what it needs; the cover itself where no light is known."""
    from layers.light import light_limited_cover

    cover = made.layer("seagrass_cover")
    if cover is None:
        return None
    light, needed = made.layer("bed_light"), made.number("light.requirement")
    if light is None or needed is None:
        kept = cover.copy()
        kept.attrs["method"] += "; nothing is known of the light, so none of it is taken off"
        return q.describe(kept, q.FORAGE, **{k: v for k, v in kept.attrs.items() if k not in ("long_name", "units")})

    def of_season(season: str | None, cover: xr.DataArray, light: xr.DataArray) -> xr.DataArray:
        values = light_limited_cover(cover.to_numpy(), light.to_numpy(), needed)
        short = int(np.count_nonzero((cover.to_numpy() > 0) & (light.to_numpy() < needed)))
        method = (
            f"cover, times light over {100 * needed:g} % where the bed gets less; it does on "
            f"{short * made.grid.cell_hectares:,.0f} ha where seagrass was mapped: there the light, the need or "
            "the map is in doubt"
        )
        return _from_layers(made, values, q.FORAGE, method, cover, light)

    return made.by_seasons_of({"cover": cover, "light": light}, of_season)


def _background(made: Derivation, quantity: Quantity, key: str) -> xr.DataArray | None:
    held = made.number(key)
    if held is None:
        return None
    values = np.where(made.is_swum, np.float32(held), np.float32(np.nan))
    return made.label(values, quantity, (), f"{held:g} {quantity.units} everywhere, as {key} of the site file says")


def _coefficients(made: Derivation) -> AttenuationCoefficients | None:
    from layers.attenuation import AttenuationCoefficients

    numbers = [made.number(key) for key in NUMBERS]
    if any(number is None for number in numbers):
        return None
    water, per_chlorophyll, per_solids = numbers
    source = made.settings.amounts["light.water"].source
    return AttenuationCoefficients(
        water=water, per_chlorophyll=per_chlorophyll, per_solids=per_solids, region="as the profile says", source=source
    )


def _secchi_product(product: float):
    from layers.attenuation import SecchiProduct

    return SecchiProduct(product=product, region="as the profile says", source="profile")


def _from_layers(
    made: Derivation, values: np.ndarray, quantity: Quantity, method: str, *layers: xr.DataArray
) -> xr.DataArray:
    """A layer with what those it is made from carry along."""
    carried = {
        key: joined(part for layer in layers for part in layer.attrs.get(key, "").split("; "))
        for key in ("files", "source", "licence", "credit", "date")
    }
    return made.grid.label(made.on_water(values), quantity, **carried, method=method)
