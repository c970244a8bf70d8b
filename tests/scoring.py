"""A small profile and random layers for the tests of scores."""

from dataclasses import replace

import numpy as np
import xarray as xr

from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure, Profile
from layers import quantity as q
from layers.grid import Grid

MADE_UP = "made up for a test"


def factor(name: str, weight: float, points, *, veto: bool = False) -> Factor:
    """A factor that looks at the layer of its name."""
    curve = SuitabilityCurve(*zip(*points, strict=True))
    return Factor(name=name, layer=name, weight=weight, veto=veto, curve=curve, source=MADE_UP)


def pressure(name: str, layer: str, weight: float, exposure) -> Pressure:
    """A pressure on a layer."""
    return Pressure(name=name, layer=layer, weight=weight, exposure=exposure, source=MADE_UP)


TRAFFIC = SuitabilityCurve((0, 10), (0, 1))
FACTORS = (
    factor("water_depth", 3, [(0, 0), (1, 1), (3, 1), (10, 0)], veto=True),
    factor("seagrass_cover", 2, [(0, 0.1), (0.5, 1)]),
    factor("salinity", 1, [(0, 1), (40, 0.2)]),
)
PRESSURES = (
    pressure("dredging", "dredging_distance", 0.8, Fade(100, 2000, "linear")),
    pressure("nets", "net_distance", 0.5, Fade(0, 1000, "gaussian")),
    pressure("vessels", "vessel_density", 0.4, TRAFFIC),
)


def small_profile(**changes) -> Profile:
    """Three factors, of which depth is essential and can veto, and three pressures; `changes` to its fields."""
    profile = Profile(
        title="Test grazer",
        source=MADE_UP,
        rule="weighted geometric mean",
        may_lack=1,
        essential=("water_depth",),
        suitability_source=MADE_UP,
        factors=FACTORS,
        threat_source=MADE_UP,
        pressures=PRESSURES,
        suitability_breaks=(0.35, 0.65),
        suitability_breaks_source=MADE_UP,
        threat_breaks=(0.25, 0.6),
        threat_breaks_source=MADE_UP,
    )
    return replace(profile, **changes)


def small_grid(rows: int, columns: int, cell: float = 100) -> Grid:
    """Cells of one hectare, somewhere in the ocean."""
    return Grid.from_bounds("EPSG:32745", 500_000, 7_000_000, 500_000 + columns * cell, 7_000_000 + rows * cell, cell)


def layers_of(grid: Grid, **values) -> xr.Dataset:
    """Layers by name from lists of rows, or lists of seasons of rows; water everywhere unless `surface` is given."""
    values = {"surface": np.full(grid.shape, q.WATER), **values}
    return xr.Dataset({name: _layer(name, np.asarray(rows), grid) for name, rows in values.items()})


def random_layers(grid: Grid, profile: Profile, seed: int = 0, *, seasonal: tuple[str, ...] = ()) -> xr.Dataset:
    """Every layer of a profile, from below the first point of its curve to past the last, with holes and land."""
    random = np.random.default_rng(seed)
    codes = [q.UNKNOWN, q.LAND, q.INTERTIDAL, q.WATER]
    values = {"surface": random.choice(codes, grid.shape, p=[0.05, 0.2, 0.25, 0.5])}
    for name in profile.layers_needed:
        low, high = _range(profile, name)
        shape = (2, *grid.shape) if name in seasonal else grid.shape
        field = random.uniform(low, high, shape).astype(np.float32)
        field[random.random(shape) < 0.1] = low  # many cells exactly on the end of a curve
        field[random.random(shape) < 0.1] = np.nan
        values[name] = field
    return layers_of(grid, **values)


def _range(profile: Profile, name: str) -> tuple[float, float]:
    curves = [part.curve for part in profile.factors if part.layer == name]
    curves += [part.exposure for part in profile.pressures if part.layer == name]
    first = min(curve.full if isinstance(curve, Fade) else curve.values[0] for curve in curves)
    return first, max(curve.last for curve in curves) * 1.1


def _layer(name: str, values: np.ndarray, grid: Grid) -> xr.DataArray:
    quantity = q.LAYERS[name]
    kind = np.uint8 if quantity.categories else np.float32
    attributes = {"files": f"{name}.tif", "source": f"survey of {name}", "credit": "Nobody"}
    if values.ndim == 2:
        return grid.label(values.astype(kind), quantity, **attributes)
    coordinates = {**grid.coordinates, "season": ["wet", "dry"]}
    layer = xr.DataArray(values.astype(kind), dims=("season", "y", "x"), coords=coordinates)
    return q.describe(layer, quantity, **attributes)
