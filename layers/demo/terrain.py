"""The bed of the invented site: one field of elevation that both its grids and its coastline are taken from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy import ndimage
from scipy.interpolate import PchipInterpolator, make_interp_spline

from layers.demo import cast
from layers.demo.noise import fractal_noise

STEP = 0.02  # side of the cells the bed is made on [km]
MARGIN = 0.5  # the bed is made this far beyond the site, so that outlines cross its edge [km]


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """The bed on a 20 m lattice, a margin larger than the site."""

    east: np.ndarray  # (N,) of the lattice, from the site's south-west corner [km]
    north: np.ndarray  # (M,) from north to south [km]
    bed: np.ndarray  # (M, N) elevation above mean sea level [m]
    seaward: np.ndarray  # (M, N) distance east of the barrier's axis, negative in the lagoon [km]

    def sample(self, field: np.ndarray, east: np.ndarray, north: np.ndarray) -> np.ndarray:
        """`field` at places, interpolated bilinearly."""
        row = (self.north[0] - north) / STEP
        column = (east - self.east[0]) / STEP
        return ndimage.map_coordinates(field, [row, column], order=1, mode="nearest")


def terrain() -> Terrain:
    """The bed and the distances the other parts of the site lean on."""
    steps = round(2 * MARGIN / STEP) + round((cast.EAST - cast.WEST) / 1000 / STEP)
    east = -MARGIN + STEP * (np.arange(steps) + 0.5)
    north = east[::-1].copy()
    e, n = np.meshgrid(east.astype(np.float32), north.astype(np.float32))
    noise = _noise_of(e.shape)

    bend_e = 0.34 * noise("bend east", 3.0, 2.6) + 0.05 * noise("crinkle east", 0.7, 2.2)
    bend_n = 0.34 * noise("bend north", 3.0, 2.6) + 0.05 * noise("crinkle north", 0.7, 2.2)
    bent_e, bent_n = e + bend_e, n + bend_n
    # the seaward side of a barrier is straightened by the waves: little bending there
    barrier_e = e - _through(cast.BARRIER, n + 0.3 * bend_n)
    seaward = barrier_e + 0.22 * bend_e

    bed = np.where(seaward > 0, _sea(seaward, noise), _lagoon(bent_n, noise))
    bed = _with_deltas(ndimage.gaussian_filter(bed, 5), bent_e, bent_n, noise)
    bed = np.where(seaward < 0, np.maximum(bed, _mainland(bent_e, bent_n, noise)), bed)
    bed = np.maximum(bed, _barrier(seaward, n, bend_n, noise))
    bed = np.maximum(bed, _islands(bent_e, bent_n, noise))
    bed = _with_channels(bed, noise, (*cast.TIDAL_CHANNELS, cast.RIVER, *cast.CREEKS, cast.FERRY_CHANNEL))
    bed = bed + 0.07 * noise("ripples", 0.4, 1.6)
    bed = _without_ponds(ndimage.gaussian_filter(bed, 1.2))
    return Terrain(east=east, north=north, bed=bed.astype(np.float32), seaward=seaward)


def _through(places, norths):
    """East of a smooth line through places at `norths`. [km]"""
    return PchipInterpolator(*zip(*places, strict=True))(norths).astype(np.float32)


def _noise_of(shape):
    @cache
    def noise(part, longest, roughness=1.9):
        return fractal_noise(part, shape, STEP, longest=longest, roughness=roughness)

    return noise


def _mainland(e, n, noise):
    """Flat supratidal plain behind a muddy shore, hills in the west. [m]"""
    inland = _through(cast.MAINLAND_SHORE, n) - e  # negative over the water
    level = 0.75 + 0.28 * noise("plain", 1.2)
    plain = level + 0.75 * inland
    fringe = np.clip(0.26 + 0.20 * noise("fringe", 1.6, 2.4), 0.05, 0.8)  # width of the mud flat [km]
    offshore = np.clip(-inland, 0, None)
    mud = level - 0.95 * np.minimum(offshore / fringe, 1) - 3 * (1 - np.exp(-np.clip(offshore - fringe, 0, None) / 0.5))
    hills = 9 * np.clip(inland - 1.6, 0, None) * np.clip(0.55 + 0.45 * noise("hills", 2.5, 2.4), 0.05, None)
    land = np.where(inland > 0, plain + hills, mud)
    return np.where(inland > -2.5, land, -50)


def _lagoon(n, noise):
    """Sandbars and hollows; shallower towards both closed ends. [m]"""
    bars = -1.75 + 0.75 * noise("bars", 2.0, 2.1)
    northern_end = np.clip((n - 15.2) / 3.0, 0, 1)
    southern_end = np.clip((3.4 - n) / 2.5, 0, 1)
    bars = bars * (1 - northern_end) + northern_end * (-0.62 + 0.16 * noise("bars", 2.0, 2.1))
    return bars * (1 - southern_end) + southern_end * (-0.75 + 0.4 * noise("bars", 2.0, 2.1))


def _sea(seaward, noise):
    """An equilibrium shoreface, depth growing with distance to the power of two thirds, with bars. [m]"""
    distance = np.clip(seaward, 0, None)
    profile = -0.055 * (1000 * distance) ** (2 / 3)
    near_bars = 0.7 * np.exp(-(((distance - 0.75) / 0.18) ** 2)) * (1 + 0.4 * noise("sea bars", 1.5))
    return profile + near_bars + 0.9 * noise("sea", 3.0, 2.2) * np.clip(distance / 2.5, 0, 1)


def _with_deltas(bed, e, n, noise):
    """Sand shoals inside and outside of each inlet."""
    for inlet_n, half in cast.INLETS:
        axis = _through(cast.BARRIER, inlet_n)
        inside = _lobe(e, n, axis - 1.5, inlet_n, 1.25 + half, 1.5 + half)
        flats = -0.25 + 0.38 * noise("flats", 0.9)
        bed = bed + inside * np.clip(flats - bed, 0, None)
        outside = _lobe(e, n, axis + 1.5, inlet_n - 0.2, 0.9 + half, 1.2 + half)
        bed = bed + outside * np.clip(-2.2 + 0.5 * noise("flats", 0.9) - bed, 0, None)
    return bed


def _lobe(e, n, centre_e, centre_n, reach_e, reach_n):
    distance = np.hypot((e - centre_e) / reach_e, (n - centre_n) / reach_n)
    return np.clip(1.6 * (1 - distance), 0, 1)


def _barrier(seaward, n, bend_n, noise):
    """Dunes on a ridge of sand that ends in spits on both sides of each inlet. [m]"""
    half = 0.36 + 0.13 * noise("barrier width", 3.0, 2.6)
    half = np.clip(half, 0.17, 0.8)
    hook = np.zeros_like(half)
    for inlet_n, throat in cast.INLETS:
        along = np.abs(n + 0.25 * bend_n - inlet_n)
        half = half * np.sqrt(np.clip((along - throat) / 0.9, 0, 1))
        hook += 0.30 * np.exp(-(((along - throat) / 0.55) ** 2))  # spits bend into the lagoon
    across = (seaward + hook) / np.maximum(half, 1e-3)
    across = np.where(across < 0, across * 0.8, across * 1.25)  # gentle behind, steep to the sea
    dunes = 2.6 + 1.5 * np.clip(noise("dunes", 0.6), -1, 3)
    ridge = np.where(half > 0.02, (1 - across**2) * dunes, -50)
    return np.where(np.abs(across) < 4, np.maximum(ridge, -6), -50)


def _islands(e, n, noise):
    """Every island's bump, the highest where they meet. [m]"""
    bed = np.full(e.shape, -50, np.float32)
    rough = noise("islands", 0.8, 2.0)
    for island in cast.ISLANDS:
        near = np.hypot(e - island.centre[0], n - island.centre[1]) < 2 * island.length
        angle = np.radians(island.bearing)
        de, dn = e[near] - island.centre[0], n[near] - island.centre[1]
        along = (de * np.sin(angle) + dn * np.cos(angle)) / (island.length / 2)
        across = (de * np.cos(angle) - dn * np.sin(angle)) / (island.width / 2)
        beyond = np.hypot(along, across) + 0.16 * rough[near] - 1  # of the shore, in half lengths
        skirt = cast.MEAN_HIGH_WATER - 2.6 * beyond - 2.5 * beyond**3
        top = cast.MEAN_HIGH_WATER - (island.height - cast.MEAN_HIGH_WATER) * beyond
        bed[near] = np.maximum(bed[near], np.where(beyond < 0, top, skirt))
    return bed


def _with_channels(bed, noise, channels):
    """The bed with every channel cut into it; a cut never raises the bed."""
    nodes = np.concatenate([_nodes(channel) for channel in channels])
    size = bed.shape[0] * STEP
    row = np.floor((size - MARGIN - nodes[:, 1]) / STEP).astype(int)
    column = np.floor((nodes[:, 0] + MARGIN) / STEP).astype(int)
    inside = (row >= 0) & (row < bed.shape[0]) & (column >= 0) & (column < bed.shape[1])
    row, column, nodes = row[inside], column[inside], nodes[inside]
    unmarked = np.ones(bed.shape, bool)
    depth, half = np.zeros(bed.shape, np.float32), np.ones(bed.shape, np.float32)
    unmarked[row, column], depth[row, column], half[row, column] = False, nodes[:, 2], nodes[:, 3]
    distance, (near_row, near_column) = ndimage.distance_transform_edt(unmarked, return_indices=True)
    depth = ndimage.gaussian_filter(depth[near_row, near_column], 2)
    half = ndimage.gaussian_filter(half[near_row, near_column], 2)
    depth = depth * (1 + 0.12 * noise("bars", 2.0, 2.1))
    share = distance * STEP / half * (1 + 0.13 * noise("flats", 0.9))
    cut = -depth + (depth + cast.MEAN_HIGH_WATER) * share**2
    return np.where(share < 3, np.minimum(bed, cut), bed)


def channel_line(channel: cast.Channel, spacing: float = STEP / 2) -> np.ndarray:
    """(K, 2) places along a channel's smooth, swinging line. [km]"""
    given = np.array(channel.line)
    at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(given, axis=0).T))])
    smooth = make_interp_spline(at, given, k=min(3, len(given) - 1))
    along = np.arange(0, at[-1], spacing)
    line, heading = smooth(along), smooth(along, 1)
    heading /= np.hypot(*heading.T)[:, np.newaxis]
    start = 7.0 * given[0, 0] + 3.0 * given[-1, 1]  # every channel swings in its own phase
    wave = 2 * np.pi * along / channel.wavelength
    phase = wave + 1.1 * np.sin(wave / 2.7 + start)
    fade = np.minimum(1, along / channel.wavelength)
    vigour = 0.75 + 0.45 * np.sin(wave / 1.7 + 2 * start)
    swing = channel.meander * fade * vigour * np.sin(phase)
    return line + swing[:, np.newaxis] * np.column_stack([heading[:, 1], -heading[:, 0]])


def _nodes(channel):
    """(K, 4) places, depth [m] and half width [km] along a channel."""
    line = channel_line(channel)
    share = np.linspace(0, 1, len(line))
    depth, width = (np.interp(share, np.linspace(0, 1, len(knots)), knots) for knots in (channel.depth, channel.width))
    return np.column_stack([line, depth, width / 2])


def _without_ponds(bed):
    """The bed with hollows that no tide reaches filled to just above mean high water."""
    regions, _ = ndimage.label(bed < cast.MEAN_HIGH_WATER)
    sea = regions[:, -1].max()
    return np.where((regions > 0) & (regions != sea), cast.MEAN_HIGH_WATER + 0.05, bed)
