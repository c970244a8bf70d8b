"""Reading a TOML text file against a pydantic model, with every fault as a sentence.

Site files and profiles share this: one place turns what the parser and the model say into `Fault`s.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError

from layers.fault import Fault

_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
_KINDS = {
    "string_type": "a text in quotes",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "list_type": "a list in square brackets",
    "tuple_type": "a list in square brackets",
    "finite_number": "a finite number",
}
_LIMITS = {
    "greater_than": ("too small", "a number above {:g}", "gt"),
    "greater_than_equal": ("too small", "{:g} or more", "ge"),
    "less_than": ("too large", "a number below {:g}", "lt"),
    "less_than_equal": ("too large", "{:g} or less", "le"),
}
_ALIKE = 0.7  # how like a known key an unknown one must be to be taken for it


class Table(BaseModel):
    """A table of a text file: nothing converted, nothing unknown let through."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


def read_document(path: Path, faults: list[Fault]) -> dict[str, Any] | None:
    """The parsed TOML file at `path`, or None with the reason added to `faults`."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        faults.append(Fault(path.name, f'there is no file "{path}".', "Correct the name, or the folder."))
        return None
    except IsADirectoryError:
        faults.append(Fault(path.name, "this is a folder, and a text file is needed.", "Name a file in it."))
        return None
    except OSError as problem:
        faults.append(Fault(path.name, f"the file cannot be read ({problem.strerror}).", "Check its permissions."))
        return None
    if b"\0" in content:
        if content[:2] in _UTF_16:
            faults.append(Fault(path.name, "the file is in UTF-16.", "Save it in UTF-8."))
        else:
            faults.append(Fault(path.name, "this is not a text file.", "Name a text file in TOML."))
        return None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        faults.append(
            Fault(f"line {line}", "a byte is not UTF-8 (the file may be Latin-1).", "Save the file as UTF-8.")
        )
        return None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        faults.append(_not_toml(text, str(problem)))
        return None


def validate(model: type[Table], document: Any, place: str, faults: list[Fault]) -> Table | None:
    """`document` as a `model`, or None with every fault of it added to `faults`."""
    try:
        return model.model_validate(document)
    except ValidationError as problem:
        errors = problem.errors()
        meant = {(*error["loc"][:-1], _nearest(error, model)) for error in errors if error["type"] == "extra_forbidden"}
        for error in errors:
            if error["type"] == "missing" and error["loc"] in meant:
                continue  # it is there, misspelt, and that is said
            keys = ".".join(str(part) for part in error["loc"] if part != "constrained-str")
            where = ".".join(part for part in (place, keys) if part)
            faults.append(_sentence(where, error, model))
        return None


def _not_toml(text: str, said: str) -> Fault:
    """What the parser said, in words that do not depend on its version."""
    what, _, where = said.rpartition(" (at ")
    number = re.match(r"line (\d+)", where)
    place = number[0] if number else "the end of the file"
    line = text.splitlines()[int(number[1]) - 1] if number else ""
    if re.search(r"=\s*[+-]?\d+,\d+\s*(#.*)?$", line):
        return Fault(place, "the number has a decimal comma.", "Write a decimal point.")
    if re.search("overwrite|twice|mutate|Duplicate", what):
        return Fault(place, "the key or table stands here for the second time.", "Keep one of the two.")
    if re.search(r"\\\\|hex value|escape", what) and "\\" in line:
        return Fault(place, "a backslash has a meaning of its own in a text.", "Write paths with `/`.")
    if re.search(r"Illegal character '\\n'|Unterminated", what):
        return Fault(place, "a quotation mark is opened and not closed.", "Close it.")
    if what.startswith("Invalid value"):
        return Fault(place, "what stands here is neither a number nor a text in quotes.", "Put texts in quotes.")
    return Fault(place, f"this is not TOML: {_lower_first(what or said)}.", "Mend the line, or the one before it.")


def _sentence(place: str, error: dict[str, Any], model: type[BaseModel]) -> Fault:
    kind, given = error["type"], error["input"]
    if kind == "missing":
        return Fault(place, "this is missing.", f"Add `{error['loc'][-1]}`.")
    if kind == "extra_forbidden":
        known = sorted(_fields_at(model, error["loc"][:-1]))
        near = _nearest(error, model)
        hint = f"Did you mean `{near}`?" if near else f"Known here: {', '.join(known)}."
        return Fault(place, "there is no such key.", hint)
    if kind == "literal_error":
        choice = error["ctx"]["expected"].replace("'", '"')
        return Fault(place, f"{_shown(given)} is not known.", f"Use {choice}.")
    if kind in _LIMITS:
        fault, words, key = _LIMITS[kind]
        return Fault(place, f"{_shown(given)} is {fault}.", f"Give {words.format(error['ctx'][key])}.")
    if kind in ("dict_type", "model_type"):
        return Fault(place, f"{_shown(given)} stands where a table is needed.", f"Write a table [{place}].")
    if kind == "value_error":
        found, _, remedy = str(error["ctx"]["error"]).partition(" | ")
        return Fault(place, found, remedy)
    if kind in _KINDS:
        return Fault(place, f"{_shown(given)} is not {_KINDS[kind]}.", f"Give {_KINDS[kind]}.")
    said = error["msg"].removeprefix("Input should be ")
    return Fault(place, f"{_shown(given)} will not do.", f"It should be {said}.")


def _nearest(error: dict[str, Any], model: type[BaseModel]) -> str | None:
    near = difflib.get_close_matches(str(error["loc"][-1]), _fields_at(model, error["loc"][:-1]), 1, _ALIKE)
    return near[0] if near else None


def _fields_at(model: type[BaseModel], keys: tuple[Any, ...]) -> list[str]:
    for key in keys:
        if isinstance(key, str) and key in model.model_fields:
            annotation = model.model_fields[key].annotation
            choices = (annotation, *get_args(annotation))
            plain = (get_args(kind)[0] if get_origin(kind) is Annotated else kind for kind in choices)
            inner = [kind for kind in plain if isinstance(kind, type)]
            model = next((kind for kind in inner if issubclass(kind, BaseModel)), model)
    return list(model.model_fields)


def _shown(given: Any) -> str:
    if isinstance(given, bool):
        return str(given).lower()
    return f'"{given}"' if isinstance(given, str) else str(given)


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]
