"""A number that a person may change: its value, its unit, and the source that stands beside it in a text file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, field_validator

from layers.textfile import Table
from layers.units import UnitError, converter


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A number of a site file or a profile, in the unit the functions want."""

    value: float
    units: str
    source: str
    file: str  # that holds it

    def __str__(self) -> str:
        unit = "" if self.units == "1" else f" {self.units}"
        return f"{self.value:g}{unit} ({self.file}; {self.source})"


class AmountTable(Table):
    """`{ value = ..., units = "...", source = "..." }`."""

    value: float
    units: str
    source: str

    @field_validator("source")
    @classmethod
    def _says_something(cls, text: str) -> str:
        if not text.strip():
            raise ValueError('this is empty. | Say where the number comes from, or say "expert judgement".')
        return text

    def amount(self, file: str) -> Amount:
        """The number with the name of the file it stands in."""
        return Amount(value=self.value, units=self.units, source=self.source, file=file)


def amount_field(
    units: str, *, least: float = 0.0, most: float = float("inf"), above: bool = False, exact: bool = False
) -> type[AmountTable]:
    """A field of a text file that holds a number of this unit within these bounds; it may be absent.

    Parameters
    ----------
    units : str
        The unit the functions want; another of the same dimension is converted.
    least, most : float
        Bounds, in `units`.
    above : bool
        Whether `least` itself is refused.
    exact : bool
        Whether the number must stand in `units`, as in a file that is written again.
    """

    highest = "" if most == float("inf") else f" and at most {most:g}" if above else f" to {most:g}"
    lowest = f"more than {least:g}" if above else f"{least:g}" if highest else f"{least:g} or more"
    bounds = f"{lowest}{highest}" + ("" if units == "1" else f" {units}")

    advice = " It is a share of 1: 30 % is 0.3." if units == "1" and most <= 1 else ""

    def refuse_bare(given: object) -> object:
        if isinstance(given, int | float | str) and not isinstance(given, bool):
            remedy = f'Write {{ value = {given}, units = "{units}", source = "..." }}.'
            raise ValueError(f"{given} stands without its unit and its source. | {remedy}")
        return given

    def check(given: AmountTable) -> AmountTable:
        if exact and given.units != units:
            remedy = f'Convert the number and write units = "{units}".'
            raise ValueError(f'the unit is "{given.units}", and "{units}" is needed here. | {remedy}')
        try:
            value = float(converter(given.units, units)(given.value))
        except UnitError as refusal:
            remedy = refusal.remedy.replace("convert the file", "convert the number")
            raise ValueError(f"{refusal.found} | {remedy}") from None
        if not least <= value <= most or (above and value == least):
            unit = "" if given.units == "1" else f" {given.units}"
            raise ValueError(f"{given.value:g}{unit} is out of bounds. | Give {bounds}.{advice}")
        return AmountTable(value=value, units=units, source=given.source)

    return Annotated[AmountTable, BeforeValidator(refuse_bare), AfterValidator(check)]


def amounts_of(tables: dict[str, Table | None], file: str) -> dict[str, Amount]:
    """Every number of some tables under "table.key"."""
    return {
        f"{name}.{key}": number.amount(file)
        for name, table in tables.items()
        if table is not None
        for key in type(table).model_fields
        if isinstance(number := getattr(table, key), AmountTable)
    }
