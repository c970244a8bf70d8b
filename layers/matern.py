"""A field from stations with its standard error: kriging whose covariance follows the water and never the land.

In a lagoon with spits and dykes a straight line says little about what two stations have in common, and distances
through the water make no valid covariance. A field driven by noise and spread by diffusion through the water has one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.grid import Grid
from layers.prediction import Prediction, fitted
from layers.starts import SNAP_CELLS
from layers.station_starts import checked_stations, joined, station_starts, wet_cell
from layers.step import OnStep, Step, ignore
from layers.threads import results_in_order

# in shares of the reach. Stations often show a trend across the whole water, which is a range far beyond it
RANGES = 2.0 ** (2 - np.arange(11) / 2)
BLOCKS_IN_RANGE = 5.0  # a range is at least so many blocks long, or the patches cannot show it
FITTED_RATIOS = 10.0 ** np.arange(-6, 0.6, 0.5)  # noise to field variance, where the noise is fitted
KNOWN_RATIOS = 10.0 ** np.arange(-6, 2.1, 0.5)  # the same, where the noise is known and the field's variance is fitted
FINER = 10.0 ** (np.arange(-4, 5) / 10)  # around the likeliest of these ratios, in shares of it
FEWEST = 2  # values beyond those that the means use up: with fewer nothing tells how much the water differs
EDGE = 2.0  # water is kept to this many reaches from the stations, so that its end is not felt within one


@dataclass(frozen=True, kw_only=True)
class StationField:
    """A field predicted from stations, and how far it can be trusted.

    Attributes
    ----------
    mean : (M, N) float32
        Predicted value of the place; NaN on land, beyond the reach and in water without a station. It may lie a
        little outside the values of the stations: who carries a thing that cannot be negative must cut it off at 0.
    error : (M, N) float32
        Standard error of `mean` as the mean value of the place; NaN where `mean` is, and everywhere where there are
        too few stations to tell.
    range : float
        Distance in open water at which the correlation has fallen to 0.14. [m]
    standard_deviation : float
        Of the field about its mean, without noise; NaN with too few stations.
    noise : float
        Standard deviation of a station's value about the field (root mean square of those given, else fitted); NaN
        with too few stations.
    leave_one_out : float
        Root mean square of value less prediction from the other stations; NaN if no station has another in its water.
    standardised : float
        Root mean square of the same residuals, each over its own standard error: far from 1 if the errors are wrong.
    count : int
        Stations with a value.
    """

    mean: np.ndarray
    error: np.ndarray
    range: float
    standard_deviation: float
    noise: float
    leave_one_out: float
    standardised: float
    count: int


def station_field(
    places_xy: np.ndarray,
    values: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    *,
    reach: float,
    noise: np.ndarray | None = None,
    snap: float | None = None,
    most_patches: int | None = None,
    workers: int | None = None,
    on_step: OnStep = ignore,
) -> StationField | list[StationField]:
    """Values of stations carried over the water, with standard errors.

    Parameters
    ----------
    places_xy : (n, 2) float
        Eastings and northings in the grid's CRS. [m]
    values : (n,) float or (k, n) float
        One value for each station, or k sets of values of the same stations (seasons). A station whose value is NaN
        takes no part in that set.
    water : (M, N) bool
        True where a path may go.
    grid : Grid
    reach : float
        Distance through the water beyond which no value is given; four times it is the greatest range. [m]
    noise : (n,) or (k, n) float, optional
        Standard deviation of each value about the mean of its place, such as the standard error of a season's mean.
        Without it one noise is fitted for all stations of a set. [unit of values]
    snap : float, optional
        A station on land is taken to the nearest water cell whose centre is within this distance; by default three
        cells. [m]
    most_patches : int, optional
        Most pieces to cut the water in; by default `layers.patches.MOST_PATCHES`.
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.
    on_step : callable
        Told of each step.

    Returns
    -------
    StationField, or a list of k of them

    Raises
    ------
    ValueError
        If shapes do not match, `reach` is not greater than 0 and finite, a noise is negative or missing beside a
        value, or a station is farther than `snap` from all water (its index is named).

    Notes
    -----
    Covariance as in `layers.covariance`, on patches of water (`layers.patches`), scaled to one variance everywhere;
    so it is a correlation that follows the water times a variance. Prediction as in `layers.prediction`, with one
    unknown mean for each body of water: what lies behind a closed dyke has no say at all. Range, variance and noise
    are those of the greatest restricted likelihood over fixed ladders: ranges half an octave apart from four times
    the reach down to an eighth of it, and ratios of noise to variance a tenth of a power of ten apart. Bodies of
    water share range and variances. A range beyond the reach is a trend, and then the standard deviation is that of
    a field much wider than this water: it may be far more than the values differ by.

    With fewer than two values beyond one for each body of water (in one body: fewer than three stations) nothing
    tells how far the water differs from place to place. The mean is then that of the longest range and no
    noise, and the errors are NaN: not known, rather than 0.

    Errors take range and variances as known and so are too small where stations are few. In fields simulated with a
    Matern covariance, 1.96 errors either side of the mean held the truth (which should be 95 %) in 93 % of places with
    40 stations, in 80 to 85 % with 12 and in some 70 % with 3 to 5; `standardised` does not show this. A station
    counts as lying in the middle of its patch, half a block away at most; stations in one patch are told apart by
    noise only.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 400, 100, cell=100)
    >>> field = station_field([[50, 50], [350, 50]], [10.0, 20.0], np.full((1, 4), True), grid, reach=1000)
    >>> field.mean.round(1), field.count
    (array([[10., 13., 17., 20.]], dtype=float32), 2)
    """
    from layers.covariance import covariance_among, own_variance, water_covariance
    from layers.patches import MOST_PATCHES, patches_of
    from layers.waterway import through_water_field

    places, sets, noises = checked_stations(places_xy, values, noise)
    if not 0 < reach < np.inf:
        raise ValueError(f"reach: found {reach:g} m. It must be greater than 0 and finite.")
    # sums depend on their order in the last bit, so the order is that of the places and not that of the file
    order = np.lexsort([*sets, places[:, 1], places[:, 0]])
    starts = station_starts(places, order, water, grid, SNAP_CELLS * grid.cell if snap is None else snap)
    sets, noises = sets[:, order], None if noises is None else noises[:, order]

    on_step(Step(1, 3, "cutting the water in patches"))
    near = through_water_field(joined(starts), water, grid.cell, EDGE * reach, workers=workers)
    kept, cells = near < EDGE * reach, tuple(np.transpose([wet_cell(start, water) for start in starts]))
    kept[cells] = True
    patches = patches_of(kept, grid.cell, most=most_patches or MOST_PATCHES)
    at = patches.numbers[cells]

    on_step(Step(2, 3, "fitting range and noise"))
    shortest = BLOCKS_IN_RANGE * patches.block * grid.cell
    ranges = [float(reach * share) for share in RANGES if share == RANGES[0] or reach * share >= shortest]
    bodies = patches.bodies[at]
    among = results_in_order(lambda length: covariance_among(patches, at, length), ranges, workers=workers)
    correlations = {length: _correlation(covariance) for length, covariance in zip(ranges, among, strict=True)}
    fits = [
        _fit(correlations, bodies, one, None if noises is None else noises[number]) for number, one in enumerate(sets)
    ]

    on_step(Step(3, 3, "carrying the values over the water"))
    scaled = {}
    for length in {fit.length for fit in fits if fit}:
        whole = own_variance(patches, length)
        covariance = water_covariance(patches, at, length)
        scaled[length] = covariance / np.sqrt(np.outer(whole, whole[at]))
    fields = []
    for one, fit in zip(sets, fits, strict=True):
        taken = np.isfinite(one)
        if fit is None:
            fields.append(_nothing(grid))
            continue
        way = near
        if not taken.all():  # the distance from all of them is known already
            some = joined([starts[number] for number in np.flatnonzero(taken)])
            way = through_water_field(some, water, grid.cell, reach, workers=workers)
        fields.append(_field(fit, scaled[fit.length][:, taken], patches, way < reach, workers))
    return fields if np.ndim(values) == 2 else fields[0]


def _correlation(covariance: np.ndarray) -> np.ndarray:
    spread = np.sqrt(np.diag(covariance))
    return covariance / np.outer(spread, spread)


@dataclass(frozen=True, kw_only=True)
class _Fit:
    """Range of the correlation, the prediction with it, and the bodies of water that its groups are."""

    length: float
    prediction: Prediction
    bodies: np.ndarray


def _fit(
    correlations: dict[float, np.ndarray], bodies: np.ndarray, values: np.ndarray, noise: np.ndarray | None
) -> _Fit | None:
    """The likeliest of the ranges and noises for one set of values; None without a value."""
    taken = np.isfinite(values)
    if not taken.any():
        return None
    labels, groups = np.unique(bodies[taken], return_inverse=True)
    among = {length: whole[np.ix_(taken, taken)] for length, whole in correlations.items()}
    if taken.sum() - len(labels) < FEWEST:
        length = max(among)
        few = Prediction(correlation=among[length], noise=np.zeros(len(groups)), groups=groups, values=values[taken])
        return _Fit(length=length, prediction=few, bodies=labels)
    ratios = FITTED_RATIOS if noise is None else KNOWN_RATIOS
    known = None if noise is None else noise[taken]
    tried = {length: fitted(whole, groups, values[taken], known, ratios) for length, whole in among.items()}
    length = max(tried, key=lambda one: tried[one][0])  # of two as likely the first, which is the longer
    nearby = tried[length][1].ratio * FINER
    _, prediction = fitted(among[length], groups, values[taken], known, nearby)
    return _Fit(length=length, prediction=prediction, bodies=labels)


def _field(fit: _Fit, correlation: np.ndarray, patches, within: np.ndarray, workers: int | None) -> StationField:
    """The field of one set, from the correlation of every patch with its stations."""
    from layers.blending import blended

    prediction = fit.prediction
    group = np.searchsorted(fit.bodies, patches.bodies).clip(max=len(fit.bodies) - 1)
    has_station = fit.bodies[group] == patches.bodies
    value, error = prediction.at(correlation, group)
    shown = within & (patches.numbers >= 0)
    shown[shown] = has_station[patches.numbers[shown]]

    def carried(of_patches: np.ndarray) -> np.ndarray:
        # bodies without a station are not shown, and must not widen the limits either
        return blended(np.where(has_station, of_patches, of_patches[has_station][0]), patches, workers=workers)

    mean, deviation = (np.full(within.shape, np.nan, np.float32) for _ in range(2))
    mean[shown] = carried(value)[shown]
    if np.isfinite(prediction.variance):
        # variances are smooth at a station, where errors come to a point
        deviation[shown] = np.sqrt(carried(error**2)[shown])
    residual, expected = prediction.left_out()
    return StationField(
        mean=mean,
        error=deviation,
        range=fit.length,
        standard_deviation=float(np.sqrt(prediction.variance)),
        noise=float(np.sqrt(prediction.variance * prediction.noise.mean())),
        leave_one_out=_root_mean_square(residual),
        standardised=_root_mean_square(residual / expected),
        count=len(prediction.values),
    )


def _nothing(grid: Grid) -> StationField:
    blank, unknown = np.full(grid.shape, np.nan, np.float32), float("nan")
    numbers = dict.fromkeys(("range", "standard_deviation", "noise", "leave_one_out", "standardised"), unknown)
    return StationField(mean=blank, error=blank.copy(), count=0, **numbers)


def _root_mean_square(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if len(known) else float("nan")
