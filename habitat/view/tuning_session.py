"""What one visitor tunes, and what is shown of it: rough while a hand moves, every cell once it lets go."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import panel as pn
import param
import xarray as xr

from habitat.assessment import assess
from habitat.profile import Profile
from habitat.rescoring import rescored
from habitat.site_map import SiteMap
from habitat.view.preview import thinned
from habitat.view.session import History, Picture, Session, View
from habitat.view.spread import Spread, spread_of
from habitat.view.window import window

ROUGH_CELLS = 250  # a side, while a hand moves
MANY_CELLS = 1_000_000  # from here on the cells in view are shown before the whole site is scored


@dataclass(frozen=True, kw_only=True)
class Sight:
    """What the maps show: the profile as it is now beside the one that was published, on the same cells."""

    published: Picture
    now: Picture
    is_rough: bool = False


class Tuning(Session):
    """A session about one changing profile."""

    sight = param.ClassSelector(class_=Sight)
    other = param.Parameter(doc="SiteMap of a second profile, or None.")

    def __init__(self, site_map: SiteMap, view: View):
        self._rough: tuple[str, xr.Dataset, Picture] | None = None  # of the window last drawn from
        self._coming: History | None = None
        self._waiting: Callable[[Profile], Profile] | None = None
        self.in_view: Callable[[], tuple] = lambda: (None, None)  # east-west and north-south range of the maps
        super().__init__(site_map, view, assess)
        self.param.watch(lambda _: self._settle(), "picture")
        self._settle()

    @property
    def coming(self) -> History:
        """The history as it will be when all that was asked for is done."""
        return self._coming or self.history

    @property
    def published(self) -> Picture:
        """As the profile was read, in the season in view."""
        site_map = self.site_map
        return Picture(
            layers=site_map.layers,
            profile=site_map.profile,
            assessment=site_map.assessment,
            season=self.view.season,
        )

    def tune(self, change: Callable[[Profile], Profile]) -> None:
        """Replace the profile by `change(profile)`."""
        self._waiting = None
        self.turn(self.coming.changed(profile=change(self.coming.present.profile)))

    def turn(self, history: History) -> None:
        """Take up another history: on a large site the cells in view first, then every cell."""
        if history is self.coming:
            return
        document = pn.state.curdoc
        is_large = self.site_map.layers["surface"].size > MANY_CELLS
        if not is_large or document is None or history.present.profile == self.view.profile:
            self._coming = None
            self.history = history
            return
        self._coming = history
        self.glimpse(lambda _: history.present.profile)
        document.add_next_tick_callback(partial(self._arrive, history))

    def follow_hand(self, change: Callable[[Profile], Profile]) -> None:
        """Show `change(profile)` as soon as there is time for it; of several that wait only the last is shown."""
        is_waiting, self._waiting = self._waiting is not None, change
        document = pn.state.curdoc
        if document is None:
            self._catch_up()
        elif not is_waiting:
            document.add_next_tick_callback(self._catch_up)

    def glimpse(self, change: Callable[[Profile], Profile]) -> None:
        """Show `change(profile)` on the maps alone, on few cells; it is no choice yet."""
        coarse, base = self._rough_site()
        profile, before = change(self.coming.present.profile), self.sight.now if self.sight.is_rough else base
        if before.layers is not coarse:
            before = base
        scored = rescored(coarse, profile, before.assessment, before.profile)
        season = self.view.season
        self.sight = Sight(
            published=replace(base, season=season),
            now=Picture(layers=coarse, profile=profile, assessment=scored, season=season),
            is_rough=True,
        )

    def spread(self, layer: str, season: str | None = None) -> Spread:
        """How a layer is spread over the water, by default in the season in view; kept for all visitors."""
        season = (season or self.view.season) if self._has_seasons(layer) else None
        layers = self.site_map.layers
        return pn.state.as_cached(f"spread {id(layers)} {layer} {season}", lambda: spread_of(layers, layer, season))

    def reach(self, layer: str) -> float:
        """How far a distance layer of this site looks. [m]"""
        layers = self.site_map.layers
        return float(layers[layer].attrs.get("reach", math.inf)) if layer in layers else math.inf

    def other_picture(self) -> Picture | None:
        """The site by the second profile, in the season in view."""
        if self.other is None:
            return None
        seasons = self.other.assessment.coords.get("season")
        is_there = seasons is not None and self.view.season in seasons.values
        return Picture(
            layers=self.other.layers,
            profile=self.other.profile,
            assessment=self.other.assessment,
            season=self.view.season if is_there else None,
        )

    def _catch_up(self) -> None:
        change, self._waiting = self._waiting, None
        if change is not None:
            self.glimpse(change)

    def _arrive(self, history: History) -> None:
        if self._coming is history:
            self._coming = None
            self.history = history

    def settle(self) -> None:
        """Show what is chosen again, where a hand let go without a change."""
        if self._coming is None and self.sight.is_rough:
            self._settle()

    def _settle(self) -> None:
        self.sight = Sight(published=self.published, now=self.picture)

    def _assessment_of(self, profile: Profile) -> xr.Dataset:
        if profile == self.site_map.profile:
            return self.site_map.assessment
        before = self.picture or self.published
        if profile == before.profile:
            return before.assessment
        return rescored(self.site_map.layers, profile, before.assessment, before.profile)

    def _rough_site(self) -> tuple[xr.Dataset, Picture]:
        """Layers of the cells in view, and the published profile on them."""
        grid = self.site_map.inputs.site.grid
        view = window(grid, *self.in_view(), most=ROUGH_CELLS) or window(grid, most=ROUGH_CELLS)
        key = repr(view)
        if self._rough is None or self._rough[0] != key:
            profile = self.site_map.profile
            needed = [name for name in ("surface", *profile.layers_needed) if name in self.site_map.layers]
            coarse = thinned(self.site_map.layers[needed], view)
            base = Picture(layers=coarse, profile=profile, assessment=assess(coarse, profile))
            self._rough = (key, coarse, base)
        return self._rough[1:]

    def _has_seasons(self, layer: str) -> bool:
        return layer in self.site_map.layers and "season" in self.site_map.layers[layer].dims
