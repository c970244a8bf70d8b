"""Numbers of a profile that the layers themselves need: feeding depths, light for plants, where a boat strikes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from layers.amount import amount_field
from layers.textfile import Table


class SourcedTable(Table):
    """A table that says where its numbers come from."""

    source: str

    @field_validator("source")
    @classmethod
    def _says_something(cls, text: str) -> str:
        if not text.strip():
            raise ValueError('this is empty. | Say where the numbers come from, or say "expert judgement".')
        return text


class FeedingDepthTable(SourcedTable):
    """`feeding_depth` under `[settings]`."""

    shallowest: Annotated[float, Field(ge=0)]
    deepest: float
    units: Literal["m"]

    @model_validator(mode="after")
    def _is_a_range(self) -> FeedingDepthTable:
        if not self.shallowest < self.deepest:
            raise ValueError(
                f"shallowest is {self.shallowest:g} m and deepest is {self.deepest:g} m. "
                "| Shallowest must be less than deepest."
            )
        return self


class SettingsTable(Table):
    """`[settings]`: what the layers themselves need to know of the animal."""

    feeding_depth: FeedingDepthTable | None = None


class LightTable(Table):
    """`[light]`: how light fades in this region's water, and what the plants need."""

    water: amount_field("1/m", above=True, most=100, exact=True) | None = None
    per_chlorophyll: amount_field("m2/mg", most=10, exact=True) | None = None
    per_solids: amount_field("m2/g", most=10, exact=True) | None = None
    secchi_product: amount_field("1", above=True, most=10, exact=True) | None = None
    chlorophyll_per_nitrogen: amount_field("ug/mg", most=1000, exact=True) | None = None
    requirement: amount_field("1", above=True, most=0.999, exact=True) | None = None


class StrikingTable(Table):
    """`[striking]`: how near the surface a hull reaches an animal, and how often it is there."""

    depth: amount_field("m", above=True, most=20, exact=True)
    share_when_deep: amount_field("1", most=1, exact=True)


# tables of numbers in the order in which a new file has them
NUMBER_TABLES = ("light", "striking")
