"""A profile as a text file again: only what changed is rewritten, comments and layout stay."""

from __future__ import annotations

from typing import Any

import tomlkit

from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure, Profile
from layers.quantity import LAYERS


def profile_text(profile: Profile) -> str:
    """TOML text that reads back as `profile`.

    Where the profile was read from a file, that file's comments, order and layout are kept, and a value that
    did not change is left exactly as it was written.
    """
    document = tomlkit.parse(profile.text) if profile.text else tomlkit.document()
    _update(document, _content(profile))
    return tomlkit.dumps(document)


def _content(profile: Profile) -> dict[str, Any]:
    """The file's content as plain values, in the order of a new file."""
    content: dict[str, Any] = {"format": 1, "title": profile.title, "source": profile.source}
    if profile.feeding_depth:
        shallowest, deepest = profile.feeding_depth
        depth = {"shallowest": shallowest, "deepest": deepest, "units": "m", "source": profile.feeding_depth_source}
        content["settings"] = {"feeding_depth": depth}
    for key, amount in profile.amounts.items():
        table, _, name = key.partition(".")
        number = {"value": amount.value, "units": amount.units, "source": amount.source}
        content.setdefault(table, {})[name] = number
    content["suitability"] = {
        "rule": profile.rule,
        "may_lack": profile.may_lack,
        "essential": list(profile.essential),
        "source": profile.suitability_source,
    }
    content["factors"] = {factor.name: _factor(factor) for factor in profile.factors}
    content["threat"] = {"may_lack": profile.threat_may_lack, "source": profile.threat_source}
    if profile.pressures:
        content["pressures"] = {pressure.name: _pressure(pressure) for pressure in profile.pressures}
    content["classes"] = {
        "suitability": {"breaks": list(profile.suitability_breaks), "source": profile.suitability_breaks_source},
        "threat": {"breaks": list(profile.threat_breaks), "source": profile.threat_breaks_source},
    }
    return content


def _factor(factor: Factor) -> dict[str, Any]:
    table = {"layer": factor.layer, "weight": factor.weight, "veto": factor.veto}
    return {**table, **_units(factor.layer), "source": factor.source, **_doubt(factor), **_curve(factor.curve)}


def _pressure(pressure: Pressure) -> dict[str, Any]:
    table = {"layer": pressure.layer, "weight": pressure.weight}
    return {
        **table,
        **_units(pressure.layer),
        "source": pressure.source,
        **_doubt(pressure),
        **_curve(pressure.exposure),
    }


def _doubt(part: Factor | Pressure) -> dict[str, Any]:
    if part.doubt is None:
        return {}
    stated = part.doubt
    threshold = {} if stated.threshold is None else {"threshold": stated.threshold, "units": LAYERS[part.layer].units}
    share = {} if stated.weight_share is None else {"weight_share": stated.weight_share}
    return {"doubt": {**threshold, **share, "source": stated.source}}


def _units(layer: str) -> dict[str, Any]:
    return {} if LAYERS[layer].categories else {"units": LAYERS[layer].units}


def _curve(curve: SuitabilityCurve | CategoryCurve | Fade) -> dict[str, Any]:
    if isinstance(curve, Fade):
        return {"full": curve.full, "reach": curve.reach, "fade": curve.shape}
    if isinstance(curve, SuitabilityCurve):
        return {"points": [list(point) for point in zip(curve.values, curve.indices, strict=True)]}
    pairs = zip(curve.categories, curve.indices, strict=True)
    return {"categories": {name: index for name, index in pairs if index is not None}}


def _update(table: Any, content: dict[str, Any]) -> None:
    """Make `table` hold `content`, touching only what differs."""
    wanted = _in_the_words_of(table, content)
    for key in [key for key in table if key not in wanted and not _is_default(key, table[key])]:
        table.remove(key)
    for key, value in wanted.items():
        if key not in table:
            if not _is_default(key, value):
                table.add(key, _item(key, value))
        elif isinstance(value, dict):
            _update(table[key], value)
        elif not _same(key, table[key].unwrap() if hasattr(table[key], "unwrap") else table[key], value):
            table[key] = _item(key, value)


def _in_the_words_of(table: Any, content: dict[str, Any]) -> dict[str, Any]:
    """`content`, with a curve written as the trapezoid it was if it still is that one."""
    if "trapezoid" in table and "points" in content:
        corners = [value for value, _ in content["points"]]
        if [index for _, index in content["points"]] == [0, 1, 1, 0]:
            content = {key: value for key, value in content.items() if key != "points"} | {"trapezoid": corners}
    return content


def _is_default(key: str, value: Any) -> bool:
    return (key, value) in (("veto", False), ("essential", []), ("settings", {}))


def _same(key: str, written: Any, value: Any) -> bool:
    return sorted(written) == sorted(value) if key == "essential" else written == value


def _item(key: str, value: Any) -> Any:
    if key == "points":
        array = tomlkit.array()
        for point in value:
            array.append(_plain(point))
        return array.multiline(True)
    if key in ("feeding_depth", "categories", "doubt") or (isinstance(value, dict) and "value" in value):
        inline = tomlkit.inline_table()
        inline.update({name: _plain(part) for name, part in value.items()})
        return inline
    if isinstance(value, dict):
        table = tomlkit.table(is_super_table=key in ("factors", "pressures", "classes"))
        for name, part in value.items():
            if not _is_default(name, part):
                table.add(name, _item(name, part))
        return table
    return _plain(value)


def _plain(value: Any) -> Any:
    if isinstance(value, list):
        return [_plain(part) for part in value]
    return int(value) if isinstance(value, float) and value.is_integer() and abs(value) < 1e15 else value
