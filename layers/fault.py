"""Faults a user can mend in a file, collected and raised once.

A reader looks at everything it was given, notes each `Fault`, and raises a single error that lists them all.
The command line and the pages print that text as it stands.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Fault:
    """One thing to mend: where it is, what was found there, what would be right.

    `place` names the key of a text file (`files.salinity.units`) or a data file and the place in it
    (`stations.csv, row 14`). `found` and `remedy` are full sentences.
    """

    place: str
    found: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.place}: {self.found} {self.remedy}"


def told_as_fault(place: str, problem: ValueError) -> Fault:
    """What a formula refused, as a fault of the file its numbers came from."""
    found, _, remedy = str(problem).removeprefix(f"{place}: ").partition(". ")
    return Fault(place, f"{found.rstrip('.')}.", remedy or "Correct it there.")


class FaultyFileError(ValueError):
    """Everything found wrong in one text file and in the files it names."""

    def __init__(self, document: str, faults: Iterable[Fault]):
        self.document = str(document)
        self.faults = tuple(faults)
        if not self.faults:
            raise TypeError("an error without a fault")
        count = "1 problem" if len(self.faults) == 1 else f"{len(self.faults)} problems"
        super().__init__("\n".join([f"{self.document}: {count}", *(f"  {fault}" for fault in self.faults)]))


class LayerError(FaultyFileError):
    """Faults of a site file or of the files that feed its layers."""


class ProfileError(FaultyFileError):
    """Faults of a profile."""


class ProposalError(FaultyFileError):
    """Faults of a development proposal."""


class RecordError(FaultyFileError):
    """Faults of the record of a map, or of a place to write to."""
