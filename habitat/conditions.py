"""Standing conditions: rules that any proposal is held against, from a text file that each jurisdiction edits.

No number of law stands in the code. The file that ships is a starting point with the source of every number; local law
and licensed practice decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from layers.fault import Fault, ProposalError

if TYPE_CHECKING:
    from habitat.conditions_schema import RuleTable
    from habitat.proposal_feature import Feature
    from habitat.site_map import SiteMap

STARTER = "starter"
WHOLE = "the whole proposal"


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One standing condition."""

    name: str
    form: str  # a name of habitat.conditions_schema.FORMS
    table: RuleTable  # what the file says of it
    decides: str

    @property
    def label(self) -> str:
        """The name in plain words."""
        return self.name.replace("_", " ")

    @property
    def source(self) -> str:
        """Where its numbers come from."""
        return self.table.source

    def is_about(self, kind: str) -> bool:
        """Whether it holds for features of a kind."""
        return not self.table.kinds or kind in self.table.kinds


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """A file of standing conditions, read and checked."""

    file: str
    title: str
    source: str
    decides: str
    rules: tuple[Rule, ...]

    def of_form(self, form: str) -> tuple[Rule, ...]:
        """The rules of one form, in the order of the file."""
        return tuple(rule for rule in self.rules if rule.form == form)


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What a rule says of a feature."""

    rule: str  # its label
    form: str
    feature: str  # its title, or WHOLE
    met: bool | None  # None where it cannot be told: data are missing, or no map can tell
    found: str
    needed: str
    source: str
    decides: str

    def __str__(self) -> str:
        verdict = {True: "met", False: "not met", None: "cannot be told"}[self.met]
        return f"{self.rule}, {self.feature}: {verdict}. Found: {self.found} Needed: {self.needed}"


def shipped_conditions() -> tuple[str, ...]:
    """Names of the files of conditions that come with the library."""
    folder = resources.files("habitat") / "conditions"
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml")))


def read_conditions(path: str | Path = STARTER) -> Conditions:
    """The conditions in a file, or shipped ones by their name.

    Parameters
    ----------
    path
        A file ending in ``.toml``, or one of `shipped_conditions()`.

    Raises
    ------
    ProposalError
        With everything that is wrong in the file.
    """
    from habitat.conditions_schema import FORMS, validated_conditions
    from layers.textfile import read_document

    path = Path(path)
    faults: list[Fault] = []
    if path.suffix != ".toml" and not path.exists():
        if path.name not in shipped_conditions() or path.name != str(path):
            remedy = f"Give a .toml file, or one of: {', '.join(shipped_conditions())}."
            raise ProposalError(str(path), [Fault("the conditions", f'none are called "{path}".', remedy)])
        path = Path(str(resources.files("habitat") / "conditions" / f"{path.name}.toml"))
    document = read_document(path, faults)
    table = None if document is None else validated_conditions(document, faults)
    if table is None:
        raise ProposalError(path.name, faults)
    rules = tuple(
        Rule(name=name, form=form, table=rule, decides=rule.decides or table.decides)
        for form in FORMS
        for name, rule in getattr(table, form).items()
    )
    return Conditions(file=path.name, title=table.title, source=table.source, decides=table.decides, rules=rules)


def findings(
    conditions: Conditions, features: Sequence[Feature], site_map: SiteMap, after: SiteMap | None = None
) -> list[Finding]:
    """What every rule says of every feature it is about, in the order of the file and of the features.

    Parameters
    ----------
    features : sequence of Feature
        Of the proposal, in the grid's projection.
    site_map : SiteMap
        The site without the proposal: distances are measured to what is there now.
    after : SiteMap, optional
        The site with it. Without it, what is lost or clouded cannot be told.

    Returns
    -------
    list of Finding
        A rule that is about none of the features has none. `met` is None where data are missing, which is never taken
        for the better; and for what no map can tell.
    """
    from habitat.condition_places import CHECKS_OF_FEATURES
    from habitat.condition_water import CHECKS_OF_THE_WHOLE

    found = []
    for rule in conditions.rules:
        concerned = [feature for feature in features if rule.is_about(feature.kind)]
        if not concerned:
            continue
        if rule.form in CHECKS_OF_FEATURES:
            check = CHECKS_OF_FEATURES[rule.form]
            answers = [(feature.title, check(rule.table, feature, site_map, after)) for feature in concerned]
        elif rule.form in CHECKS_OF_THE_WHOLE:
            answers = [(WHOLE, CHECKS_OF_THE_WHOLE[rule.form](rule.table, concerned, site_map, after))]
        else:
            answers = [(WHOLE, (None, "no map can tell: it is a matter of how the work is done.", rule.table.text))]
        found += [_finding(rule, feature, *answer) for feature, answer in answers if answer is not None]
    return found


def broken_conditions(
    conditions: Conditions, features: Sequence[Feature], site_map: SiteMap, after: SiteMap | None = None
) -> list[Finding]:
    """The findings that stand in the way: conditions not met, then those that cannot be told; see `findings`.

    What no map can tell comes last: it is no fault of the proposal, and has to be said in the decision.
    """
    open_ones = [finding for finding in findings(conditions, features, site_map, after) if finding.met is not True]
    return sorted(open_ones, key=lambda finding: (finding.met is None, finding.form == "told"))


def _finding(rule: Rule, feature: str, met: bool | None, found: str, needed: str) -> Finding:
    return Finding(
        rule=rule.label,
        form=rule.form,
        feature=feature,
        met=met,
        found=found,
        needed=needed,
        source=rule.source,
        decides=rule.decides,
    )
