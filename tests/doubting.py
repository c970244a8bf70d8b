"""A small doubtful site for the tests of draws: every kind of doubt on a few cells."""

from dataclasses import replace

import numpy as np
import xarray as xr

from habitat.doubt import Doubts, doubts_of
from habitat.doubt_ends import Ends, error_ends
from habitat.profile import PartDoubt, Profile
from layers import quantity as q
from layers.grid import Grid
from tests.scoring import MADE_UP, random_layers, small_grid, small_profile

THRESHOLDS = {"water_depth": 0.4, "seagrass_cover": 0.1, "salinity": 3, "dredging": 200, "nets": 100, "vessels": 1}


def doubtful_profile(scale: float = 1.0, **changes) -> Profile:
    """The small profile with doubt of all its curves and weights, times `scale`."""
    profile = small_profile(**changes)

    def doubted(parts):
        return tuple(
            replace(
                part,
                doubt=PartDoubt(
                    threshold=scale * THRESHOLDS[part.name], weight_share=min(0.3 * scale, 1), source=MADE_UP
                ),
            )
            for part in parts
        )

    return replace(profile, factors=doubted(profile.factors), pressures=doubted(profile.pressures))


def doubtful_layers(profile: Profile, grid: Grid | None = None, seed: int = 0, error: float = 2.0) -> xr.Dataset:
    """Random layers with holes and land; salinity has seasons and a standard error."""
    grid = grid or small_grid(13, 17)
    layers = random_layers(grid, profile, seed, seasonal=("salinity",))
    random = np.random.default_rng(seed + 1)
    spread = layers["salinity"].copy(data=random.uniform(0, error, layers["salinity"].shape).astype(np.float32))
    spread = spread.where(random.random(spread.shape) > 0.1)
    return layers.assign(salinity_error=q.describe(spread, q.SALINITY_ERROR))


def doubtful_ends(layers: xr.Dataset, profile: Profile) -> dict[str, Ends]:
    """The error of the salinity, and an amount that moves cover and traffic, the high end farther than the low."""
    cover, traffic = layers["seagrass_cover"], layers["vessel_density"]
    amount = Ends(
        kind="amount",
        name="loads",
        label="what comes from the land",
        units="kg/year",
        source=MADE_UP,
        low={"seagrass_cover": cover * np.float32(1.2)},
        high={"seagrass_cover": cover * np.float32(0.3), "vessel_density": traffic + np.float32(4)},
    )
    return {**error_ends(layers, profile.layers_needed), "amount loads": amount}


def everything_doubtful(**changes) -> tuple[xr.Dataset, dict[str, Ends], Profile, Doubts]:
    """Layers, ends, profile and doubts that go together."""
    profile = doubtful_profile(**changes)
    layers = doubtful_layers(profile)
    ends = doubtful_ends(layers, profile)
    return layers, ends, profile, doubts_of(profile, ends)
