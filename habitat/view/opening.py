"""Which site the pages show, read once and shared by all visitors, who only look at it."""

from __future__ import annotations

import hashlib
import os
import tempfile
from importlib import resources
from pathlib import Path

import panel as pn

from habitat.site_map import SiteMap, map_site
from layers.step import OnStep, ignore

SITE, PROFILE = "SHALLOWS_SITE", "SHALLOWS_PROFILE"  # set by the server, or by whoever starts a notebook
DEMO_CELL = 40.0  # [m]
COARSE_CELL = 100.0  # of the page that appraises proposals [m]
FEW_CELLS = 20_000  # a site of no more is quick as it is


def opened_site(profile: str | None = None, *, on_step: OnStep = ignore) -> SiteMap:
    """The site of this server, or the invented one, with its assessment.

    Parameters
    ----------
    profile : str, optional
        Name of a shipped profile to read the site with, instead of the site's own. Any other name is ignored,
        for it comes from the address of a page.
    on_step : callable
        Told of each step before it starts, where the site is not yet open.

    Raises
    ------
    LayerError, ProfileError
        With every fault of the site or of the profile.
    """
    from habitat.profile import shipped_profiles

    place = os.environ.get(SITE) or str(invented_site(on_step=on_step))
    chosen = profile if profile in shipped_profiles() else os.environ.get(PROFILE) or None
    # what the listener of steps is must not tell one site from another, so it is kept out of the cache's key
    return pn.state.as_cached(f"site {place} {chosen}", lambda: map_site(place, chosen, on_step=on_step))


def coarse_site(opened: SiteMap, *, on_step: OnStep = ignore) -> SiteMap:
    """The site in cells of at least `COARSE_CELL`, for answers while one waits; the same where it is small or coarse.

    Parameters
    ----------
    opened : SiteMap
        As `opened_site` gives it.
    on_step : callable
        Told of each step, where it has to be made.

    Raises
    ------
    LayerError
        If the site cannot be made in such cells.
    """
    if is_quick(opened):
        return opened
    place = opened.inputs.site.path
    key = f"coarse site {place} {hashlib.sha256(repr(opened.profile).encode()).hexdigest()}"
    return pn.state.as_cached(key, lambda: map_site(place, opened.profile, cell=COARSE_CELL, on_step=on_step))


def is_quick(opened: SiteMap) -> bool:
    """Whether a site gives answers while one waits as it is."""
    grid = opened.inputs.site.grid
    return grid.cell >= COARSE_CELL or grid.shape[0] * grid.shape[1] <= FEW_CELLS


def first_season(site_map: SiteMap) -> str | None:
    """The season a page begins with; None where the site has none."""
    seasons = site_map.assessment.coords.get("season")
    return None if seasons is None else str(seasons.values[0])


def invented_site(*, on_step: OnStep = ignore) -> Path:
    """Folder of the invented site; written when it is first asked for, and again when its recipe changed."""
    folder = _cache_folder() / f"invented-{_recipe_digest()}"
    if not (folder / "site.toml").is_file():
        from habitat.starter import write_invented_site

        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent) as fresh:
            write_invented_site(Path(fresh) / "site", cell=DEMO_CELL, on_step=on_step)
            try:
                (Path(fresh) / "site").rename(folder)
            except OSError:
                # another server wrote the same site in the meantime
                if not (folder / "site.toml").is_file():
                    raise
    return folder


def _cache_folder() -> Path:
    if os.environ.get("XDG_CACHE_HOME"):
        return Path(os.environ["XDG_CACHE_HOME"]) / "shallows"
    if os.environ.get("LOCALAPPDATA"):
        return Path(os.environ["LOCALAPPDATA"]) / "shallows"
    return Path.home() / ".cache" / "shallows"


def _recipe_digest() -> str:
    """Digest of everything the invented site is made by, so that an old copy is never shown."""
    digest = hashlib.sha256()
    for package in ("layers.demo", "habitat.profiles"):
        folder = resources.files(package.partition(".")[0]) / package.partition(".")[2]
        for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
            if entry.name.endswith((".py", ".toml")):
                digest.update(entry.name.encode() + entry.read_bytes())
    return digest.hexdigest()[:12]
