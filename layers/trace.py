"""What a layer was made from, noted while it is made: files, other layers, numbers of the site file and profile."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class LayerKey:
    """The node of a layer; other nodes go by keys of their own."""

    name: str


@dataclass(kw_only=True)
class Trace:
    """All that was asked for while something was made, also in vain: if none of it changes, neither does the result."""

    feeds: set[str] = field(default_factory=set)
    nodes: dict[object, None] = field(default_factory=dict)  # keys of other nodes, in the order of asking
    numbers: dict[str, str] = field(default_factory=dict)  # of the site file and the profile, with unit and source

    @property
    def layers(self) -> set[str]:
        """Names of the layers among the nodes."""
        return {key.name for key in self.nodes if isinstance(key, LayerKey)}

    def add(self, other: Trace) -> None:
        """Take in what another trace holds."""
        self.feeds |= other.feeds
        self.nodes |= other.nodes
        self.numbers |= other.numbers

    def attributes(self) -> dict[str, str]:
        """The trace as attributes of a layer; empty ones are left out."""
        said = {
            "made_from": " ".join(sorted(self.layers)),
            "numbers": "; ".join(f"{key} = {shown}" for key, shown in sorted(self.numbers.items())),
        }
        return {key: text for key, text in said.items() if text}
