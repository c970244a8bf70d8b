"""The cast of the invented site: where its shores, channels, islands and people are meant to be.

Places are (east, north) of the south-west corner in kilometres: a sketch map by hand, which `terrain` bends
with noise and turns into a bed.
"""

from __future__ import annotations

from dataclasses import dataclass

CRS = "EPSG:32745"
WEST, SOUTH, EAST, NORTH = 500_000, 7_770_000, 520_000, 7_790_000
MEAN_HIGH_WATER = 0.75  # above mean sea level [m]; half the mean range of the tide in `tide`

Place = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Channel:
    """Water that runs along a line, cut into the bed."""

    line: tuple[Place, ...]
    depth: tuple[float, ...]  # below mean sea level, at even steps along the line [m]
    width: tuple[float, ...]  # at mean high water, at even steps along the line [km]
    meander: float = 0.0  # sideways swing [km]
    wavelength: float = 1.0  # of the swing [km]


@dataclass(frozen=True, kw_only=True)
class Island:
    """A bump in the bed, longer than wide."""

    centre: Place
    length: float  # [km]
    width: float  # [km]
    bearing: float  # of the long axis, clockwise from north [degrees]
    height: float  # above mean sea level [m]


# east of these lines, for norths from south to north: the mainland shore, the axis of the barrier
MAINLAND_SHORE = (
    (-1, 12.2),
    (0.3, 11.4),
    (1.2, 8.9),
    (2.3, 5.6),
    (4.2, 4.5),
    (6.0, 5.0),
    (7.6, 4.4),
    (9.0, 2.6),
    (10.4, 4.2),
    (12.2, 6.2),
    (13.6, 5.4),
    (15.4, 4.3),
    (17.2, 5.2),
    (18.5, 7.4),
    (19.2, 9.4),
    (20, 11.2),
    (21, 12.0),
)
BARRIER = ((-1, 11.8), (2, 12.2), (6, 13.3), (10, 13.9), (14, 13.5), (17, 12.3), (19, 10.9), (21, 10.0))
INLETS = ((6.1, 0.42), (14.3, 0.30))  # north of the mid-line, half width at the throat [km]

RIVER = Channel(
    line=((-1.0, 5.6), (0.4, 6.6), (1.5, 8.3), (2.9, 8.9), (4.2, 8.9)),
    depth=(2.6, 2.0),
    width=(0.13, 0.5),
    meander=0.20,
    wavelength=1.3,
)
TIDAL_CHANNELS = (
    # from the southern inlet: to the river mouth, to the southern end, northwards behind the barrier
    Channel(
        line=((15.2, 5.8), (13.3, 6.1), (11.6, 6.5), (9.2, 7.4), (6.8, 8.5), (4.4, 8.8)),
        depth=(4.0, 9.5, 7.0, 5.0, 4.0, 3.0, 2.4),
        width=(0.5, 0.85, 0.75, 0.6, 0.5, 0.42, 0.42),
        meander=0.24,
        wavelength=3.1,
    ),
    Channel(
        line=((12.2, 6.1), (10.9, 4.9), (9.4, 3.6), (8.6, 2.4), (9.2, 1.5)),
        depth=(6.0, 1.4),
        width=(0.60, 0.20),
        meander=0.15,
        wavelength=2.0,
    ),
    Channel(
        line=((12.4, 6.6), (12.5, 8.2), (12.3, 9.8)),
        depth=(4.6, 2.0),
        width=(0.50, 0.28),
        meander=0.08,
        wavelength=1.7,
    ),
    # from the northern inlet: westwards, and to the northern end
    Channel(
        line=((15.2, 14.5), (13.5, 14.3), (12.0, 13.9), (10.2, 13.4), (8.3, 12.9), (7.2, 12.2)),
        depth=(3.6, 7.5, 6.0, 4.4, 3.2, 2.4),
        width=(0.4, 0.65, 0.6, 0.5, 0.4, 0.34),
        meander=0.20,
        wavelength=2.4,
    ),
    Channel(
        line=((11.6, 14.0), (10.6, 15.3), (9.2, 16.3), (8.4, 17.3)),
        depth=(4.2, 1.0),
        width=(0.45, 0.16),
        meander=0.14,
        wavelength=1.9,
    ),
)
CREEKS = (
    Channel(
        line=((6.2, 3.2), (4.4, 2.5), (2.8, 2.6), (1.7, 1.9)),
        depth=(1.6, 0.6),
        width=(0.24, 0.09),
        meander=0.20,
        wavelength=0.9,
    ),
    Channel(
        line=((3.4, 2.6), (3.0, 3.4), (2.2, 4.1)),
        depth=(1.1, 0.4),
        width=(0.12, 0.08),
        meander=0.14,
        wavelength=0.7,
    ),
    Channel(
        line=((8.9, 1.9), (7.6, 1.2), (6.6, 0.9), (6.0, 0.0)),
        depth=(1.4, 0.5),
        width=(0.22, 0.09),
        meander=0.20,
        wavelength=0.9,
    ),
    Channel(
        line=((9.4, 1.9), (10.1, 0.9), (9.7, -0.6)),
        depth=(1.4, 0.6),
        width=(0.22, 0.10),
        meander=0.18,
        wavelength=0.8,
    ),
    Channel(
        line=((5.4, 14.6), (3.6, 14.0), (2.4, 14.5), (1.5, 13.9)),
        depth=(1.5, 0.5),
        width=(0.22, 0.09),
        meander=0.18,
        wavelength=0.9,
    ),
    Channel(
        line=((5.2, 16.4), (3.9, 17.2), (3.5, 18.4)),
        depth=(1.2, 0.5),
        width=(0.20, 0.09),
        meander=0.18,
        wavelength=0.8,
    ),
    Channel(
        line=((4.9, 5.8), (3.6, 5.7), (2.7, 5.0)),
        depth=(1.3, 0.5),
        width=(0.20, 0.09),
        meander=0.16,
        wavelength=0.8,
    ),
)
FERRY_CHANNEL = Channel(
    line=((6.55, 12.0), (8.3, 11.35), (10.6, 11.2), (13.25, 10.75)), depth=(3.8, 3.8), width=(0.20, 0.20)
)

ISLANDS = (
    Island(centre=(9.1, 9.4), length=3.0, width=1.15, bearing=28, height=7.0),
    Island(centre=(7.2, 5.6), length=1.5, width=0.8, bearing=60, height=2.6),
    Island(centre=(10.9, 8.3), length=0.9, width=0.45, bearing=10, height=1.9),
    Island(centre=(8.1, 14.6), length=1.3, width=0.6, bearing=120, height=3.2),
    Island(centre=(6.0, 9.9), length=0.8, width=0.45, bearing=80, height=1.7),
    Island(centre=(10.9, 12.4), length=1.1, width=0.4, bearing=150, height=1.6),
    Island(centre=(9.9, 2.9), length=1.0, width=0.5, bearing=20, height=1.8),
    Island(centre=(17.1, 16.9), length=0.7, width=0.4, bearing=40, height=9.0),
    Island(centre=(17.6, 16.4), length=0.35, width=0.25, bearing=80, height=4.0),
)
