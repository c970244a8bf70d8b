"""A site before and after a proposal, by the same functions on the same files: nothing is painted on a map.

What a proposal builds, clears or releases enters as files of the site, and only what depends on them is made again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from habitat.assessment import assess
from layers.recipe import layers_of
from layers.scenario import derive_after
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.proposal import Proposal
    from habitat.site_map import SiteMap


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """A site with one or more proposals in place."""

    name: str
    proposals: tuple[Proposal, ...]
    site_map: SiteMap = field(repr=False)

    @property
    def layers(self) -> xr.Dataset:
        """The layers of the site with the proposals in place."""
        return self.site_map.layers

    @property
    def assessment(self) -> xr.Dataset:
        """Its scores."""
        return self.site_map.assessment

    @property
    def changed_layers(self) -> tuple[str, ...]:
        """Names of the layers that came out differently."""
        return self.site_map.derivation.made_again


@dataclass(frozen=True, kw_only=True)
class Appraisal:
    """A site before, with all proposals together, and with each by itself."""

    before: SiteMap
    together: Outcome
    alone: tuple[Outcome, ...]  # the same as together where there is one proposal

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """All that was appraised, in the order given."""
        return self.together.proposals


def appraise(
    before: SiteMap, proposals: Sequence[Proposal], *, on_step: OnStep = ignore, workers: int | None = None
) -> Appraisal:
    """The site with the proposals in place, all together and each alone.

    Parameters
    ----------
    before : SiteMap
        The site as it is, with what has been approved already.
    proposals : sequence of Proposal
        As `habitat.proposal.read_proposal` gives them; at least one.
    on_step : callable
        Told of each step.
    workers : int, optional
        Threads; the result does not depend on it.

    Raises
    ------
    ValueError
        If there is no proposal, or two have one name.
    LayerError
        If the site cannot be made with the proposals in place, such as an outfall far from all water.
    """
    proposals = tuple(proposals)
    names = [proposal.name for proposal in proposals]
    if not proposals:
        raise ValueError("there is no proposal to appraise.")
    if len(set(names)) < len(names):
        raise ValueError(f"two proposals have one name: {', '.join(sorted(names))}. Rename a file.")
    groups = [proposals] if len(proposals) == 1 else [proposals, *((proposal,) for proposal in proposals)]
    outcomes = []
    for number, group in enumerate(groups, start=1):
        name = group[0].name if len(group) == 1 else "all proposals together"
        on_step(Step(number, len(groups), f"making the site again with {name}"))
        outcomes.append(outcome_of(before, group, name, workers=workers))
    return Appraisal(before=before, together=outcomes[0], alone=tuple(outcomes[1:] or outcomes))


def outcome_of(before: SiteMap, proposals: Sequence[Proposal], name: str, *, workers: int | None = None) -> Outcome:
    """The site with some proposals in place; errors as of `appraise`."""
    from habitat.proposal import additions_of

    additions, digests = [], {}
    for proposal in proposals:
        added, of_files = additions_of(proposal, before.inputs)
        additions += added
        digests |= of_files
    derivation = derive_after(before.derivation, additions, digests)
    layers = layers_of(derivation)
    after = replace(
        before,
        inputs=derivation.inputs,
        layers=layers,
        assessment=assess(layers, before.profile, workers=workers),
        derivation=derivation,
    )
    return Outcome(name=name, proposals=tuple(proposals), site_map=after)
