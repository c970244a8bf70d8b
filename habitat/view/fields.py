"""A field for each attribute of what is proposed: a short label with its unit, and in words what it asks for."""

from __future__ import annotations

import panel as pn
from markupsafe import Markup

from habitat.colours import MUTED_INK
from habitat.proposal_check import cover_codes
from habitat.proposal_kinds import Attribute, Kind
from habitat.variant import ALL_YEAR
from habitat.view import theme
from layers.dredging import loss_fractions
from layers.inputs import Inputs

LOOK_CSS = f"""
label {{ white-space: normal; line-height: 1.25; }}
select.bk-input {{ text-overflow: ellipsis; }}
.bk-btn {{ white-space: normal; line-height: 1.2; padding: 8px 12px; }}
.bk-btn-primary, .bk-btn-primary:hover {{ background-color: {theme.ACCENT} !important;
  border-color: {theme.ACCENT} !important; color: #fff; }}
.bk-btn-primary:hover {{ filter: brightness(1.15); }}
textarea.bk-input {{ line-height: 1.4; }}
input[type=checkbox] {{ width: 18px; height: 18px; }}
label span {{ font-size: 0.92rem; color: {MUTED_INK}; }}
"""
LOOK = {"stylesheets": [theme.WIDGET_CSS, LOOK_CSS], "sizing_mode": "stretch_width", "margin": 0}

LABELS = {
    "depth_m": "Depth dug to",
    "volume_m3": "Volume dug",
    "rate_m3_h": "Dug in an hour",
    "equipment": "Equipment",
    "hours_day": "Digging in a day",
    "dry_kg_m3": "Dry mass of the bed",
    "fines": "Share of fines",
    "fines_um": "Grain size of the fines",
    "season": "Season of the work",
    "loss_share": "Share of fines lost",
    "loss_src": "Who found that loss",
    "measure": "Measure against loss",
    "left_share": "Share it lets through",
    "left_src": "Who found that share",
    "bars": "Bars the way",
    "opening_m": "Opening left in it",
    "bars_m": "Gap between its bars",
    "n_kg_year": "Nitrogen",
    "p_kg_year": "Phosphorus",
    "s_kg_year": "Sediment",
    "cover": "New cover of the land",
    "share": "Cover once grown",
    "years": "Time to grow",
    "berths": "Berths",
    "trips_day": "Trips a day",
    "draft_m": "Draft",
    "speed_kn": "Speed",
}
_UNITS = {"1": "0 to 1", "m3": "m³", "m3/hour": "m³", "hour/day": "hours", "kg/m3": "kg/m³", "um": "µm", "1/day": ""}
_UNITS |= {"kg/year": "kg a year", "year": "years", "knot": "knots"}


def label_of(attribute: Attribute) -> str:
    """A few words and the unit.

    Examples
    --------
    >>> from habitat.proposal_kinds import KINDS
    >>> label_of(KINDS["dredged area"].attribute("volume_m3"))
    'Volume dug, m³'
    """
    unit = _UNITS.get(attribute.units, attribute.units)
    return f"{LABELS[attribute.column]}{', ' if unit else ''}{unit}"


def field_of(attribute: Attribute, inputs: Inputs) -> pn.widgets.Widget:
    """The field of an attribute, with its example where it has to be given."""
    label = label_of(attribute)
    choices = {
        "season": {ALL_YEAR: "", **{name: name for name in inputs.site.seasons}},
        "equipment": {name: name for name in loss_fractions()},
        "cover": {name: name for name in cover_codes(inputs)},
    }.get(attribute.column, {word: word for word in attribute.words})
    if choices:
        return pn.widgets.Select(name=label, options=choices, **LOOK)
    if attribute.is_number:
        value = attribute.example if attribute.required else None
        # without bounds: what is out of them is told with the other faults, not changed behind the planner's back
        return pn.widgets.FloatInput(name=label, value=value, **LOOK)
    return pn.widgets.TextInput(name=label, **LOOK)


def said_in(kind: Kind, fields: dict[str, pn.widgets.Widget]) -> dict[str, object]:
    """What is said of a feature: its kind and what its fields hold."""
    held = {column: one.value for column, one in fields.items()}
    return {"kind": kind.name} | {column: value for column, value in held.items() if value not in (None, "")}


def explained(kind: Kind) -> Markup:
    """What a kind is, and what each of its fields asks for."""
    lines = Markup("").join(
        Markup("<li><strong>{}</strong>: {}{}</li>").format(
            label_of(one), one.means, "" if one.required else "; may be left out"
        )
        for one in kind.attributes
    )
    if not lines:
        return Markup('<p class="quiet">{} Nothing more has to be said of it.</p>').format(kind.about)
    return Markup(
        '<p class="quiet">{}</p><details><summary>What each field asks for</summary><ul>{}</ul></details>'
    ).format(kind.about, lines)
