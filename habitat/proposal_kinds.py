"""Kinds of feature that a development proposal may hold: how each is drawn, and what has to be said of it.

One table, from which everything else follows: what is refused, what the templates hold, what a page asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from layers.draft import DEEPEST
from layers.dredge_work import NUMBERS, OPTIONAL_NUMBERS

POINT, LINE, POLYGON = "Point", "LineString", "Polygon"
YES, NO = "yes", "no"


@dataclass(frozen=True, kw_only=True)
class Attribute:
    """One column of the features of a kind: a number with its unit and bounds, or words where it has no bounds."""

    column: str  # at most ten letters, all that a shapefile keeps
    means: str
    example: float | str
    units: str = ""
    bounds: tuple[float, float] | None = None  # of a number
    above: bool = False  # whether the number has to be greater than the lower bound
    required: bool = True
    words: tuple[str, ...] = ()  # the only words allowed; any where there are none

    @property
    def is_number(self) -> bool:
        """Whether it holds a number."""
        return self.bounds is not None

    @property
    def wanted(self) -> str:
        """What would be right, in words: "a number of m3, above 0, at most 1,000,000,000"."""
        if self.words:
            return " or ".join(f'"{word}"' for word in self.words)
        if self.bounds is None:
            return self.means
        least, most = (f"{bound:,.10g}" for bound in self.bounds)
        unit = "a share" if self.units == "1" else f"a number of {self.units}" if self.units else "a number"
        return f"{unit}, above {least}, at most {most}" if self.above else f"{unit}, from {least} to {most}"


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of feature."""

    name: str
    plural: str
    about: str  # what it is, and what it changes on the map
    drawn_as: tuple[str, ...]  # of "Point", "LineString", "Polygon"
    attributes: tuple[Attribute, ...] = ()
    also_called: tuple[str, ...] = ()

    def attribute(self, column: str) -> Attribute | None:
        """The attribute of that column; None for a kind that has none such."""
        return next((one for one in (*self.attributes, *COMMON) if one.column == column), None)


def _number(column: str, means: str, example: float, units: str, least: float, most: float, **more) -> Attribute:
    return Attribute(column=column, means=means, example=example, units=units, bounds=(least, most), **more)


def _of_a_dredge(column: str, means: str, example: float, units: str) -> Attribute:
    """A number that a work of a dredge needs, with the bounds it is held to there."""
    least, most, is_allowed = (NUMBERS | OPTIONAL_NUMBERS)[column]
    more = {"above": not is_allowed, "required": column in NUMBERS}
    return _number(column, means, example, units, least, most, **more)


def _word(column: str, means: str, example: str, **more) -> Attribute:
    return Attribute(column=column, means=means, example=example, **more)


COMMON = (
    _word("name", "what people call it", "", required=False),
    _word("note", "anything a reader should know", "", required=False),
)
_SEASON = _word(
    "season", "the season in which it works, as the site names it; none for all the year", "", required=False
)
_BARS = _number(
    "bars_m", "widest gap between the bars before the opening; none if it has no bars", 0.15, "m", 0, 10, required=False
)
_COVER = _number("share", "cover of the ground once it has grown", 0.5, "1", 0, 1, above=True)
_GROWTH = _number(
    "years", "years until it has grown: told, as the map shows it grown", 5.0, "year", 0, 200, required=False
)

_DREDGED = (
    _number("depth_m", "depth it is dug to, below the datum of the site's bed", 3.5, "m", -10, 100),
    _of_a_dredge("volume_m3", "volume dug, as it lies", 36_000.0, "m3"),
    _of_a_dredge("rate_m3_h", "volume dug in an hour of digging", 350.0, "m3/hour"),
    _word("equipment", "what digs: a kind of equipment with a published loss", "cutter suction dredge"),
    _of_a_dredge("hours_day", "hours of digging in a day", 10.0, "hour/day"),
    _of_a_dredge("dry_kg_m3", "dry mass in a volume of bed", 900.0, "kg/m3"),
    _of_a_dredge("fines", "share of the dry mass finer than 63 um", 0.35, "1"),
    _of_a_dredge("fines_um", "grain size that stands for the fines", 20.0, "um"),
    _SEASON,
    _of_a_dredge("loss_share", "share of the fines lost to the water, instead of the published one", 0.02, "1"),
    _word("loss_src", "who found loss_share", "invented for the example", required=False),
    _word("measure", "what is done to lose less, such as a curtain", "silt curtain", required=False),
    _of_a_dredge("left_share", "share of the loss that the measure leaves", 0.6, "1"),
    _word("left_src", "who found left_share", "invented for the example", required=False),
)

_TABLE = (
    Kind(
        name="dredged area",
        plural="dredged areas",
        about="A channel or basin dug to a depth: the bed, its plants, and the plume while it is dug.",
        drawn_as=(POLYGON,),
        attributes=_DREDGED,
        also_called=("dredging", "channel", "basin", "dredged channel", "dredged basin", "turning basin"),
    ),
    Kind(
        name="land claim",
        plural="land claims",
        about="Water made land: no water is left, and no plants.",
        drawn_as=(POLYGON,),
        also_called=("reclamation", "land reclamation", "fill"),
    ),
    Kind(
        name="structure",
        plural="structures",
        about="A quay, jetty, breakwater, sluice or culvert. Where it bars the water, animals and water go round it.",
        drawn_as=(LINE, POLYGON),
        attributes=(
            _word("bars", "whether it bars the way through the water", YES, words=(YES, NO)),
            _number(
                "opening_m",
                "width of the opening left in its middle, on the map from a cell's width on",
                5.0,
                "m",
                0,
                10_000,
                required=False,
            ),
            _BARS,
        ),
        also_called=("quay", "jetty", "pier", "breakwater", "causeway", "seawall", "sluice", "culvert"),
    ),
    Kind(
        name="outfall",
        plural="outfalls",
        about="A pipe or drain that releases nutrients or sediment in the water.",
        drawn_as=(POINT,),
        attributes=(
            _number("n_kg_year", "nitrogen, as a year's rate while it works", 5_000.0, "kg/year", 0, 1e9),
            _number(
                "p_kg_year", "phosphorus, as a year's rate while it works", 600.0, "kg/year", 0, 1e9, required=False
            ),
            _number(
                "s_kg_year", "sediment, as a year's rate while it works", 20_000.0, "kg/year", 0, 1e9, required=False
            ),
            _SEASON,
            _number("opening_m", "width of the mouth of the pipe", 0.6, "m", 0, 100, required=False),
            _BARS,
        ),
        also_called=("outlet", "discharge", "drain"),
    ),
    Kind(
        name="land use",
        plural="land uses",
        about="Land of the catchment put to another use: what it sends to the water changes.",
        drawn_as=(POLYGON,),
        attributes=(_word("cover", "label or code of the new cover, as in the site's table of covers", ""),),
        also_called=("land cover", "land use change", "change of land use"),
    ),
    Kind(
        name="mangrove cleared",
        plural="areas of mangrove cleared",
        about="Mangrove taken away.",
        drawn_as=(POLYGON,),
        also_called=("mangrove clearing", "clearing of mangrove"),
    ),
    Kind(
        name="mangrove planted",
        plural="areas of mangrove planted",
        about="Mangrove planted: the map shows it grown.",
        drawn_as=(POLYGON,),
        attributes=(_COVER, _GROWTH),
        also_called=("mangrove planting", "mangrove restoration"),
    ),
    Kind(
        name="seagrass cleared",
        plural="areas of seagrass cleared",
        about="Seagrass taken away.",
        drawn_as=(POLYGON,),
        also_called=("seagrass clearing", "clearing of seagrass"),
    ),
    Kind(
        name="seagrass planted",
        plural="areas of seagrass planted",
        about="Seagrass planted: the map shows it grown, and less of it where the light is short.",
        drawn_as=(POLYGON,),
        attributes=(_COVER, _GROWTH),
        also_called=("seagrass planting", "seagrass restoration"),
    ),
    Kind(
        name="moorings",
        plural="moorings",
        about="Berths or buoys where boats lie: people reach the water here. Draw their way as a vessel route.",
        drawn_as=(POINT, POLYGON),
        attributes=(
            _number("berths", "boats that can lie there: told, and on no map", 40.0, "", 0, 100_000),
            _number(
                "trips_day",
                "trips that start or end there in a day, held against the routes drawn",
                12.0,
                "1/day",
                0,
                100_000,
            ),
        ),
        also_called=("mooring", "berths", "pontoons"),
    ),
    Kind(
        name="vessel route",
        plural="vessel routes",
        about="The way of vessels: how many pass, and how much water is left under their keels.",
        drawn_as=(LINE,),
        attributes=(
            _number("trips_day", "passages in a day, both ways counted", 12.0, "1/day", 0, 100_000),
            _number("draft_m", "draft of the deepest vessel", 1.2, "m", 0, DEEPEST),
            _number(
                "speed_kn",
                "speed through the water: for the condition on water under a keel, on no map",
                8.0,
                "knot",
                0,
                60,
                above=True,
                required=False,
            ),
        ),
        also_called=("route", "ferry route", "shipping lane", "shipping route"),
    ),
)
KINDS: dict[str, Kind] = {kind.name: kind for kind in _TABLE}
_CALLED = {called: kind for kind in _TABLE for called in (kind.name, *kind.also_called)}


def kind_called(words: str) -> Kind | None:
    """The kind of that name, or one of the names it also goes by; case, spaces, hyphens and underscores do not matter.

    Examples
    --------
    >>> kind_called(" Dredged_Area ").name, kind_called("quay").name, kind_called("heliport")
    ('dredged area', 'structure', None)
    """
    return _CALLED.get(plain_words(words))


def nearest_kind(words: str) -> Kind | None:
    """The kind whose name is spelt most like `words`; None where none is at all like it.

    Examples
    --------
    >>> nearest_kind("dreged area").name
    'dredged area'
    """
    near = get_close_matches(plain_words(words), list(_CALLED), n=1)
    return _CALLED[near[0]] if near else None


def plain_words(words: str) -> str:
    """Words in small letters with single spaces between them.

    Examples
    --------
    >>> plain_words("  Vessel_ROUTE ")
    'vessel route'
    """
    return " ".join(words.replace("_", " ").replace("-", " ").casefold().split())
