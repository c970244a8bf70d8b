"""From a folder of files and a profile to an assessment, in one call: what every face of the project uses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from layers.fault import Fault, ProfileError
from layers.site import site_path
from layers.step import OnStep, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.profile import Profile
    from layers.derivation import Derivation
    from layers.inputs import Inputs

PROFILE_FILE = "profile.toml"


@dataclass(frozen=True, kw_only=True)
class SiteMap:
    """A site's files, its layers, the profile they were read with, and the assessment of the two."""

    inputs: Inputs
    layers: xr.Dataset
    profile: Profile
    assessment: xr.Dataset
    disagreements: tuple[str, ...]  # files that differ about what is water, a sentence each
    derivation: Derivation = field(repr=False)  # how each layer was made


def map_site(
    place: str | Path,
    profile: str | Path | Profile | None = None,
    *,
    cell: float | None = None,
    on_step: OnStep = ignore,
    on_made: Callable[[Derivation], None] | None = None,
    workers: int | None = None,
) -> SiteMap:
    """Read, derive and assess the site at `place`.

    Parameters
    ----------
    place : path
        A site file or its folder.
    profile : path, name of a shipped profile or Profile, optional
        Without it, the `profile.toml` that lies beside the site file.
    cell : float, optional
        Size of the grid's cells instead of the site file's. [m]
    on_step : callable
        Told of each step before it starts.
    on_made : callable, optional
        Handed the derivation each time it has made more layers.
    workers : int, optional
        Threads; the result does not depend on it.

    Raises
    ------
    LayerError, ProfileError
        With every fault of the site or of the profile.
    """
    from layers.inputs import read_inputs
    from layers.quantity import LAYERS

    place = site_path(place)
    chosen = chosen_profile(place, profile)
    inputs = read_inputs(place, cell=cell, on_step=on_step)
    # costly to import, and not needed where the files have faults
    from habitat.assessment import assess
    from layers.derivation import Settings
    from layers.recipe import derive, layers_of
    from layers.shore import disagreements

    settings = Settings(
        wanted=chosen.layers_needed,
        feeding_depth=chosen.feeding_depth,
        reach={name: chosen.reach_of(name) for name in chosen.layers_needed if LAYERS[name].saturates},
        amounts=chosen.amounts,
    )
    derivation = derive(inputs, settings, on_step=on_step, on_made=on_made)
    layers = layers_of(derivation)
    assessment = assess(layers, chosen, on_step=on_step, workers=workers)
    bed = None if derivation.bed is None else derivation.bed.to_numpy()
    said = tuple(str(one) for one in disagreements(inputs, bed, derivation.levels(None)))
    return SiteMap(
        inputs=inputs,
        layers=layers,
        profile=chosen,
        assessment=assessment,
        disagreements=said,
        derivation=derivation,
    )


def chosen_profile(place: str | Path, profile: str | Path | Profile | None) -> Profile:
    """The profile asked for, or the one that lies beside the site file.

    Raises
    ------
    ProfileError
        With every fault of the profile, or when none was named and none lies there.
    """
    from habitat.profile import Profile, read_profile, shipped_profiles

    if isinstance(profile, Profile):
        return profile
    if profile is not None:
        return read_profile(profile)
    beside = site_path(place).parent / PROFILE_FILE
    if not beside.is_file():
        shipped = ", ".join(shipped_profiles())
        raise ProfileError(
            PROFILE_FILE,
            [
                Fault(
                    "profile",
                    f"no {PROFILE_FILE} lies beside the site file, and none was named.",
                    f"Name one with --profile: a file, or one of those shipped: {shipped}.",
                )
            ],
        )
    return read_profile(beside)
