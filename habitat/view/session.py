"""What one visitor looks at: one immutable value with its history. Every view depends on it and nothing else.

Controls replace the value by a changed copy, so a step back is always possible and nothing is hidden in a widget.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import param
import xarray as xr

from habitat.site_map import SiteMap


@dataclass(frozen=True, kw_only=True)
class View:
    """A visitor's choices."""

    profile: object  # habitat.profile.Profile
    season: str | None = None
    shown: str = "water_depth"  # the one layer, index or exposure in the detail map
    place: tuple[float, float] | None = None  # easting and northing of the chosen cell [m]
    part: str = ""  # the need or pressure whose curve is in hand
    reasons: tuple[tuple[str, str], ...] = ()  # place in the profile, and why it was changed


@dataclass(frozen=True, kw_only=True)
class History:
    """The present view, what came before it and what was stepped back from."""

    present: View
    past: tuple[View, ...] = ()
    future: tuple[View, ...] = ()

    def changed(self, **choices) -> History:
        """History after a change; a change to the same value is none."""
        present = replace(self.present, **choices)
        if present == self.present:
            return self
        return History(present=present, past=(*self.past, self.present))

    def back(self) -> History:
        """One step back; the same where there is none."""
        if not self.past:
            return self
        return History(present=self.past[-1], past=self.past[:-1], future=(self.present, *self.future))

    def forward(self) -> History:
        """One step forward again; the same where there is none."""
        if not self.future:
            return self
        return History(present=self.future[0], past=(*self.past, self.present), future=self.future[1:])

    def undone(self) -> History:
        """One change of the profile taken back, whatever was looked at since; the same where there is none."""
        for number in reversed(range(len(self.past))):
            if _tuned(self.past[number]) != _tuned(self.present):
                return self._with_tuning(self.past[number], self.past[:number], (self.present, *self.future))
        return self

    def redone(self) -> History:
        """The change that was taken back last, made again; the same where there is none."""
        for number, view in enumerate(self.future):
            if _tuned(view) != _tuned(self.present):
                return self._with_tuning(view, (*self.past, self.present), self.future[number + 1 :])
        return self

    def _with_tuning(self, view: View, past: tuple[View, ...], future: tuple[View, ...]) -> History:
        present = replace(self.present, profile=view.profile, reasons=view.reasons)
        return History(present=present, past=past, future=future)


@dataclass(frozen=True, kw_only=True)
class Picture:
    """What the maps of one season draw from."""

    layers: xr.Dataset
    profile: object
    assessment: xr.Dataset
    season: str | None = None

    def layer(self, name: str) -> xr.DataArray:
        """A layer of the site or a variable of the assessment, in the season where it has one. (y, x)"""
        found = self.assessment[name] if name in self.assessment else self.layers[name]
        return found.sel(season=self.season) if "season" in found.dims else found


class Session(param.Parameterized):
    """Holds the history, and what follows from its present: the picture, the shown layer, the place."""

    history = param.ClassSelector(class_=History)
    picture = param.ClassSelector(class_=Picture)
    shown = param.String()
    place = param.Parameter()
    pointed = param.Parameter(doc="Easting and northing under the pointer; no choice, so no part of the history.")

    def __init__(self, site_map: SiteMap, view: View, assess: Callable[[xr.Dataset, object], xr.Dataset]):
        """Start from `view`; `assess(layers, profile)` gives the assessment of a changed profile."""
        super().__init__()
        self.site_map, self._assess = site_map, assess
        self.history = History(present=view)

    @property
    def view(self) -> View:
        """The present choices."""
        return self.history.present

    def choose(self, **choices) -> None:
        """Replace the present view by a changed one."""
        changed = self.history.changed(**choices)
        if changed is not self.history:
            self.history = changed

    @param.depends("history", watch=True, on_init=False)
    def _follow(self) -> None:
        view, before = self.view, self.picture
        assessment = self._assessment_of(view.profile)
        if before is None or assessment is not before.assessment or before.season != view.season:
            self.picture = Picture(
                layers=self.site_map.layers, profile=view.profile, assessment=assessment, season=view.season
            )
        self.shown, self.place = view.shown, view.place

    def _assessment_of(self, profile: object) -> xr.Dataset:
        if profile == self.site_map.profile:
            return self.site_map.assessment
        if self.picture is not None and profile == self.picture.profile:
            return self.picture.assessment
        return self._assess(self.site_map.layers, profile)


def _tuned(view: View) -> tuple:
    return view.profile, view.reasons
