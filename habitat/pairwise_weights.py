"""Weights that several people give by comparing factors: each person's, the group's, and how far they differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.pairwise import (
    MOST_RATIO,
    SAATY,
    Consistency,
    OddJudgement,
    comparison_matrix,
    consistency,
    eigenvector_weights,
    joint_matrix,
    odd_judgement,
)
from layers.fault import Fault, ProfileError
from layers.plausibility import counted

if TYPE_CHECKING:
    from habitat.pairwise_file import Judgements
    from habitat.profile import Profile

GROUP = "the group"
_MARK = "; weight by pairwise comparison: "
_DIGITS = 3  # of a weight in a profile: people do not compare more finely


@dataclass(frozen=True, kw_only=True)
class JudgedWeights:
    """What people's comparisons come to."""

    names: tuple[str, ...]
    weights: pd.Series  # of the group, adding up to 1 [1]
    people: pd.DataFrame  # index person, column of each name: that person's weights [1]
    consistency: Mapping[str, Consistency]  # of each person, and of GROUP
    odd: Mapping[str, OddJudgement]  # of each person whose judgements contradict each other at all
    accepted: Mapping[str, str] = field(default_factory=dict)  # of a person: why inconsistent judgements are used
    source: str

    @property
    def spread(self) -> pd.DataFrame:
        """How far people differ: index name; columns group, least, most, relative_spread (deviation over mean). [1]"""
        deviation = self.people.std(ddof=1) if len(self.people) > 1 else self.people.iloc[0] * np.nan
        return pd.DataFrame(
            {
                "group": self.weights,
                "least": self.people.min(),
                "most": self.people.max(),
                "relative_spread": deviation / self.people.mean(),
            }
        ).rename_axis("name")

    @property
    def text(self) -> str:
        """Where the weights come from, for the `source` of a profile."""
        group = self.consistency[GROUP]
        used = "".join(f"; judgements of {person} used because {why}" for person, why in self.accepted.items())
        return f"{counted(len(self.people), 'person').replace('persons', 'people')}, {group}{used}. {self.source}"

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the weights rest on, in plain words."""
        ranked = self.weights.sort_values(ascending=False, kind="stable")
        said = [
            f"By {counted(len(self.people), 'person').replace('persons', 'people')}: "
            + ", ".join(f"{name} {weight:.0%}" for name, weight in ranked.items())
            + f"; {self.consistency[GROUP]}."
        ]
        shaky = [person for person in self.odd if not self.consistency[person].is_acceptable]
        said += [f"{person}: {self.consistency[person]}. {self.odd[person]}" for person in shaky]
        said += [f"The judgements of {person} are used all the same: {why}." for person, why in self.accepted.items()]
        if len(self.people) == 1:
            return (*said, "One person judged, so nothing tells how far others would differ.")
        spread = self.spread
        widest = (spread["most"] - spread["least"]).idxmax()
        row = spread.loc[widest]
        said.append(f"People differ most about {widest}: from {row['least']:.0%} to {row['most']:.0%}.")
        firsts = self.people.idxmax(axis=1)
        if firsts.nunique() > 1:
            said.append("They do not agree on what matters most, and the weights of the group hide that.")
        return tuple(said)


def judged_weights(
    judgements: Judgements, *, accepted: Mapping[str, str] | None = None, table: str = SAATY
) -> JudgedWeights:
    """Weights of each person and of the group.

    Parameters
    ----------
    judgements : Judgements
        From `habitat.pairwise_file.read_judgements`.
    accepted : of str by person, optional
        Reasons for using inconsistent judgements, beside those of the file.
    table : str
        Whose random index, a key of `habitat.pairwise.RANDOM_INDEX`.

    Raises
    ------
    ProfileError
        If somebody's consistency ratio is above `MOST_RATIO` and no reason is given to use it, with the judgement that
        contradicts the others most and the value that would fit; everybody's at once.

    Notes
    -----
    The group's comparisons are the geometric mean of its members' (aggregation of individual judgements); its weights
    are the principal eigenvector of that.
    """
    names = judgements.names
    reasons = {**judgements.accepted, **(accepted or {})}
    matrices = {person: comparison_matrix(pairs, names) for person, pairs in judgements.people.items()}
    found = {person: consistency(matrix, table=table) for person, matrix in matrices.items()}
    odd = {person: odd_judgement(matrix, names, table=table) for person, matrix in matrices.items()}
    faults = [
        Fault(
            f"judgements of {person}",
            f"they contradict each other: {told}, where {MOST_RATIO:g} is the most. {odd[person]}",
            "Ask again, or say why they are used (`accepted_because`, or [accepted] in TOML).",
        )
        for person, told in found.items()
        if not told.is_acceptable and not reasons.get(person, "").strip()
    ]
    if faults:
        raise ProfileError(judgements.file, faults)
    joint = joint_matrix(list(matrices.values()))
    return JudgedWeights(
        names=names,
        weights=pd.Series(eigenvector_weights(joint)[0], index=names),
        people=pd.DataFrame(
            {person: eigenvector_weights(matrix)[0] for person, matrix in matrices.items()}, index=names
        ).T.rename_axis("person"),
        consistency={**found, GROUP: consistency(joint, table=table)},
        odd={person: judgement for person, judgement in odd.items() if judgement is not None},
        accepted={person: reasons[person] for person, told in found.items() if not told.is_acceptable},
        source=judgements.source,
    )


def with_judged_weights(profile: Profile, judged: JudgedWeights) -> Profile:
    """A profile whose factors have the group's weights, each with a source that says so.

    The weights of the factors compared keep their sum, so factors that nobody compared keep their part.

    Raises
    ------
    ProfileError
        If something compared is no factor of the profile, or its factors have no weight to share out.
    """
    weights = {factor.name: factor.weight for factor in profile.factors}
    faults = [
        Fault(
            f"judgements about {name}",
            "the profile has no factor of that name.",
            f"Factors there: {', '.join(sorted(weights))}. Pressures have weights of their own, which are absolute.",
        )
        for name in judged.names
        if name not in weights
    ]
    total = sum(weights.get(name, 0.0) for name in judged.names)
    if not faults and not total > 0:
        faults.append(Fault("factors", "those compared have no weight to share out.", "Give one a weight above 0."))
    if faults:
        raise ProfileError(profile.title, faults)
    new = {name: round(float(judged.weights[name]) * total, _DIGITS) for name in judged.names}
    factors = tuple(
        replace(factor, weight=new[factor.name], source=f"{factor.source.partition(_MARK)[0]}{_MARK}{judged.text}")
        if factor.name in new
        else factor
        for factor in profile.factors
    )
    return replace(profile, factors=factors)
