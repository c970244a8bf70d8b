"""A field from stations with its standard error: kriging whose covariance follows the water and never the land.

In a lagoon with spits and dykes a straight line says little about what two stations have in common, and distances
through the water make no valid covariance. A field driven by noise and spread by diffusion through the water has one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from layers.averaging import FEWEST_FOR_ERROR, Average, average, merged
from layers.grid import Grid
from layers.prediction import Prediction
from layers.starts import SNAP_CELLS
from layers.station_starts import checked_stations, joined, station_starts, wet_cell
from layers.step import OnStep, Step, ignore
from layers.threads import results_in_order

# in shares of the reach. Stations often show a trend across the whole water, which is a range far beyond it
RANGES = 2.0 ** (2 - np.arange(11) / 2)
BLOCKS_IN_RANGE = 5.0  # a range is at least so many blocks long, or the patches cannot show it
LEAST_SHARE = 0.003  # a range that counts less is left out of the average, because each of them takes its time
FEWEST = 2  # values beyond those that the means use up: with fewer no range is likelier than another
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
        Standard error of `mean` as the mean value of the place, with what is not known of range, variance and noise;
        NaN where `mean` is, and everywhere where there are too few stations to tell.
    range : float
        Distance in open water at which the correlation has fallen to 0.14: the likeliest, all noises together. [m]
    shares : dict of float
        How much each range [m] counts in `mean` and `error`, together 1.
    standard_deviation : float
        Of the field about its mean, without noise: the likeliest with the likeliest range; NaN with too few stations.
    noise : float
        Standard deviation of a station's value about the field: root mean square of those given, else the likeliest
        with the likeliest range; NaN with too few stations.
    leave_one_out : float
        Root mean square of value less prediction from the other stations; NaN if no station has another in its water.
    standardised : float
        Root mean square of the same residuals, each over its own standard error: far from 1 if the errors are wrong.
        NaN if the stations less one are too few to tell.
    count : int
        Stations with a value.
    """

    mean: np.ndarray
    error: np.ndarray
    range: float
    shares: dict[float, float]
    standard_deviation: float
    noise: float
    leave_one_out: float
    standardised: float
    count: int


# algebra done by several threads of its library has other last bits than by one, and they would wait for each other
@threadpool_limits.wrap(limits=1, user_api="blas")
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
    unknown mean for each body of water: what lies behind a closed dyke has no say at all. Bodies of water share range
    and variances.

    Range, variance and noise are not known, so the field is averaged over them (`layers.averaging`): ranges half an
    octave apart from four times the reach down to an eighth of it, and ratios of noise to variance a tenth of a power
    of ten apart, each counting by its restricted likelihood and as likely beforehand as any other on the ladder.
    `mean` is the weighted mean, and the square of `error` the mean of their variances and the variance of their
    values. Ranges that count less than 0.3 % are left out. A range beyond the reach is a trend, and then the
    standard deviation is that of a field much wider than this water: it may be far more than the values differ by.
    Stations left out one at a time are predicted with everything fitted and averaged anew.

    With fewer than three values beyond one for each body of water (in one body: fewer than four stations) the errors
    are NaN: not known, rather than 0. The variance of the error does not exist then. With fewer than two, no
    range is likelier than another, and the mean is that of the longest range and no noise.

    Of 400 simulated Matern fields each, with ranges of 0.27 to 2.1 reaches and noise of 0.3 of the field, 1.96 errors
    either side of the mean held the truth (which should be 95 %) in 95, 95, 94, 95 and 95 % of places with 4, 5, 8, 12
    and 40 stations; with the likeliest range and variances taken for true, in 69, 73, 78, 83 and 92 %. In fields of
    the shortest range it was 92 to 94 %, of the longest 96 to 97 %. With known noise it was 94, 94, 93 and 95 % with 4,
    5, 12 and 40 stations, and in 240 fields rougher than is thought here (exponential covariance) 95 % with 5 and 93 %
    with 12.

    Ranges beyond four times the reach or shorter than an eighth of it (or than five blocks) are not thought of, nor
    is a field that changes its ways from place to place, such as one that is even at sea and steep in a river mouth:
    there errors are too large in the one part and too small in the other. A station counts as lying in the middle of
    its patch, half a block away at most; stations in one patch are told apart by noise only.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 400, 100, cell=100)
    >>> field = station_field([[50, 50], [350, 50]], [10.0, 20.0], np.full((1, 4), True), grid, reach=1000)
    >>> field.mean.round(1), field.count
    (array([[10., 13., 17., 20.]], dtype=float32), 2)
    """
    from layers.covariance import correlation_among, water_correlation
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
    among = results_in_order(lambda length: correlation_among(patches, at, length), ranges, workers=workers)
    correlations = dict(zip(ranges, among, strict=True))
    fits = [
        _fit(correlations, bodies, one, None if noises is None else noises[number]) for number, one in enumerate(sets)
    ]

    on_step(Step(3, 3, "carrying the values over the water"))
    wanted = sorted({length for fit in fits if fit for length in fit.shares}, reverse=True)
    whole = results_in_order(lambda length: water_correlation(patches, at, length), wanted, workers=workers)
    scaled = dict(zip(wanted, whole, strict=True))
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
        correlation = {length: scaled[length][:, taken] for length in fit.shares}
        fields.append(_field(fit, correlation, patches, way < reach, workers))
    return fields if np.ndim(values) == 2 else fields[0]


@dataclass(frozen=True, kw_only=True)
class _Fit:
    """What is averaged over for one set of values, and the bodies of water that its groups are."""

    ranges: list[float]
    average: Average
    bodies: np.ndarray

    @property
    def shares(self) -> dict[float, float]:
        """How much each range counts that is not left out, together 1."""
        each = self.average.shares.sum(axis=1)
        kept = each >= LEAST_SHARE
        each = each / each[kept].sum()
        return {length: float(each[number]) for number, length in enumerate(self.ranges) if kept[number]}


def _fit(
    correlations: dict[float, np.ndarray], bodies: np.ndarray, values: np.ndarray, noise: np.ndarray | None
) -> _Fit | None:
    """How much each range and noise counts for one set of values; None without a value."""
    taken = np.isfinite(values)
    if not taken.any():
        return None
    labels, groups = np.unique(bodies[taken], return_inverse=True)
    ranges, variance, shape = list(correlations), None, np.ones(len(groups))
    if noise is not None:
        variance = float((noise[taken] ** 2).mean())
        shape = noise[taken] ** 2 / variance if variance else shape
    if taken.sum() - len(labels) < FEWEST:
        ranges, variance, shape = [max(ranges)], 0.0, np.ones(len(groups))
    predictions = [
        Prediction(
            correlation=correlations[length][np.ix_(taken, taken)], noise=shape, groups=groups, values=values[taken]
        )
        for length in ranges
    ]
    return _Fit(ranges=ranges, average=average(predictions, variance), bodies=labels)


def _field(
    fit: _Fit, correlations: dict[float, np.ndarray], patches, within: np.ndarray, workers: int | None
) -> StationField:
    """The field of one set, from the correlation of every patch with its stations for each range."""
    from layers.blending import blended

    group = np.searchsorted(fit.bodies, patches.bodies).clip(max=len(fit.bodies) - 1)
    has_station = fit.bodies[group] == patches.bodies
    value, variance = merged(
        (share, *fit.average.at(fit.ranges.index(length), correlations[length], group))
        for length, share in fit.shares.items()
    )
    shown = within & (patches.numbers >= 0)
    shown[shown] = has_station[patches.numbers[shown]]

    def carried(of_patches: np.ndarray) -> np.ndarray:
        # bodies without a station are not shown, and must not widen the limits either
        return blended(np.where(has_station, of_patches, of_patches[has_station][0]), patches, workers=workers)

    mean, deviation = (np.full(within.shape, np.nan, np.float32) for _ in range(2))
    mean[shown] = carried(value)[shown]
    number, ratio = fit.average.likeliest
    likeliest = np.nan
    if fit.average.freedom >= FEWEST_FOR_ERROR:
        # variances are smooth at a station, where errors come to a point
        deviation[shown] = np.sqrt(carried(variance)[shown])
        likeliest = fit.average.variances[number, ratio]
    residual, expected = fit.average.left_out()
    return StationField(
        mean=mean,
        error=deviation,
        range=fit.ranges[number],
        shares=fit.shares,
        standard_deviation=float(np.sqrt(likeliest)),
        noise=float(np.sqrt(likeliest * fit.average.ratios[ratio])),
        leave_one_out=_root_mean_square(residual),
        standardised=_root_mean_square(residual / expected),
        count=len(residual),
    )


def _nothing(grid: Grid) -> StationField:
    blank, unknown = np.full(grid.shape, np.nan, np.float32), float("nan")
    numbers = dict.fromkeys(("range", "standard_deviation", "noise", "leave_one_out", "standardised"), unknown)
    return StationField(mean=blank, error=blank.copy(), shares={}, count=0, **numbers)


def _root_mean_square(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if len(known) else float("nan")
