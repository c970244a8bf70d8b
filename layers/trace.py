"""What a layer was made from, noted while it is made: files, other layers, numbers of the site file and profile."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(kw_only=True)
class Trace:
    """All that was asked for while a layer was made, also in vain: if none of it changes, neither does the layer."""

    feeds: set[str] = field(default_factory=set)
    layers: set[str] = field(default_factory=set)
    keys: set[str] = field(default_factory=set)  # of numbers asked for
    numbers: dict[str, str] = field(default_factory=dict)  # those that were given, with unit and source

    def add(self, other: Trace) -> None:
        """Take in what another trace holds."""
        self.feeds |= other.feeds
        self.layers |= other.layers
        self.keys |= other.keys
        self.numbers |= other.numbers

    def attributes(self) -> dict[str, str]:
        """The trace as attributes of a layer; empty ones are left out."""
        said = {
            "made_from": " ".join(sorted(self.layers)),
            "numbers": "; ".join(f"{key} = {shown}" for key, shown in sorted(self.numbers.items())),
        }
        return {key: text for key, text in said.items() if text}
