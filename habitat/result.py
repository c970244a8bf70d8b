"""What an assessment holds: its quantities, the names of its classes and how suitability and threat read together.

The words are for planners. Code 0 is *no data* everywhere: it never means poor habitat or low threat.
"""

from __future__ import annotations

from layers.quantity import LAYERS, Quantity

NO_DATA = "no data"
SUITABILITY_CLASSES = (NO_DATA, "poor habitat", "fair habitat", "good habitat")
THREAT_CLASSES = (NO_DATA, "low threat", "moderate threat", "high threat")
CONCERN_CLASSES = (
    NO_DATA,
    *(f"{habitat} under {threat}" for habitat in SUITABILITY_CLASSES[1:] for threat in THREAT_CLASSES[1:]),
)

# what each meeting of the two asks for; none of them says that a place may be built on
CONCERN_READINGS = (
    NO_DATA,
    "see what limits it before writing it off",
    "see what limits it before adding to the pressure",
    "it may have been better once: ask what was lost",
    "keep the pressure low",
    "easing the pressure is likely to help",
    "relieve it before it is lost",
    "keep it as it is",
    "protect it from what is growing",
    "act here first",
)

SUITABILITY = Quantity(name="suitability", label="habitat suitability", units="1", plausible=(0, 1))
THREAT = Quantity(name="threat", label="combined threat", units="1", plausible=(0, 1))
SUITABILITY_CLASS = Quantity(
    name="suitability_class",
    label="class of habitat suitability",
    units="1",
    plausible=(0, 3),
    categories=SUITABILITY_CLASSES,
)
THREAT_CLASS = Quantity(
    name="threat_class", label="class of combined threat", units="1", plausible=(0, 3), categories=THREAT_CLASSES
)
CONCERN = Quantity(
    name="concern",
    label="habitat suitability and threat read together",
    units="1",
    plausible=(0, 9),
    categories=CONCERN_CLASSES,
)
MISSING_FACTORS = Quantity(
    name="missing_factors", label="number of factors without data", units="1", plausible=(0, 255)
)
MISSING_PRESSURES = Quantity(
    name="missing_pressures", label="number of pressures without data", units="1", plausible=(0, 255)
)


def limiting_factor(factors: tuple[str, ...]) -> Quantity:
    """The layer that says which of `factors`, by its place in them from 1, holds a cell down most."""
    return Quantity(
        name="limiting_factor",
        label="factor that limits the habitat most",
        units="1",
        plausible=(0, len(factors)),
        categories=("none", *factors),
    )


def index_quantity(factor: str, layer: str) -> Quantity:
    """The suitability index of one factor, which looks at `layer`."""
    label = f"suitability index of {LAYERS[layer].label}"
    return Quantity(name=f"index_{factor}", label=label, units="1", plausible=(0, 1))


def exposure_quantity(pressure: str, layer: str) -> Quantity:
    """The exposure to one pressure, which looks at `layer`."""
    label = f"exposure to {pressure.replace('_', ' ')}, from {LAYERS[layer].label}"
    return Quantity(name=f"exposure_{pressure}", label=label, units="1", plausible=(0, 1))
