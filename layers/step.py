"""Progress of long work: orchestrators report steps, formulas stay silent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """The `number`-th of `of` steps is about to start; `label` says what it does."""

    number: int
    of: int
    label: str

    def __str__(self) -> str:
        return f"{self.number} of {self.of}: {self.label}"


OnStep = Callable[[Step], None]


def ignore(step: Step) -> None:
    """Report to nobody."""
