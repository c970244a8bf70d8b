"""Did the works do it? The test that a monitoring programme must be laid out for before the first pile is driven.

A place beside the works and one out of their reach are surveyed on the same days, before and after. Weather and season
move both alike; what the works do shows in how the difference between the two changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_ROUNDING = 1e-12  # of the largest survey: differences that vary by less do not vary
FEWEST = 2  # surveys of a period, without which nothing tells how much they vary by themselves

MONITORING = (
    "Ask for surveys of the place beside the works and of at least one like it out of their reach (better several), by "
    "the same method and on the same days, several times in each season for at least a year before works begin, while "
    "they last, and after; with what is measured, how large a change must not be missed, at which finding work stops, "
    "and who is told, all written down beforehand. Without surveys from before, no later survey can tell what the "
    "works did."
)


@dataclass(frozen=True, kw_only=True)
class ImpactTest:
    """What paired surveys before and after say about an impact."""

    mean_before: float  # of impact less control, in the unit of the surveys
    mean_after: float
    contrast: float  # after less before: what the place beside the works gained or lost against the control
    statistic: float  # Student's t of before less after
    degrees_of_freedom: int
    p_value: float  # two-sided: how often chance alone gives so much [1]
    standard_error: float  # of the contrast

    def __str__(self) -> str:
        direction = "fell" if self.contrast < 0 else "rose"
        return (
            f"Against the control the place {direction} by {abs(self.contrast):.3g} (standard error "
            f"{self.standard_error:.2g}, t = {self.statistic:.3f}, {self.degrees_of_freedom} degrees of freedom, "
            f"p = {self.p_value:.2g})."
        )


def impact_test(
    before_impact: Sequence[float],
    before_control: Sequence[float],
    after_impact: Sequence[float],
    after_control: Sequence[float],
) -> ImpactTest:
    """Whether the place beside the works changed against the control more than chance explains.

    Parameters
    ----------
    before_impact, before_control : (n,) float
        What the two places held on each of n days before the works, in the same order.
    after_impact, after_control : (m,) float
        The same on m days after they began.

    Returns
    -------
    ImpactTest

    Raises
    ------
    ValueError
        If the two places were not surveyed equally often, a period has fewer than two surveys, a value is not a
        number, or the differences never vary, so that nothing says what chance would do.

    Notes
    -----
    Student's t with pooled variance on the differences impact less control. It takes the differences to be independent
    from day to day, to vary equally in both periods and not to drift before the works: plot them first. A p above 0.05
    is no finding of no impact where the surveys are few.

    References
    ----------
    Stewart-Oaten, Murdoch and Parker 1986, Environmental impact assessment: "pseudoreplication" in time?, Ecology
    67:929-940; from memory.

    Examples
    --------
    >>> found = impact_test([12, 13, 11], [10, 10, 10], [9, 10, 8], [10, 10, 10])
    >>> found.contrast, found.degrees_of_freedom
    (-3.0, 4)
    """
    from scipy.stats import t as student

    before = _differences(before_impact, before_control, "before")
    after = _differences(after_impact, after_control, "after")
    degrees = len(before) + len(after) - 2
    squares = ((before - before.mean()) ** 2).sum() + ((after - after.mean()) ** 2).sum()
    error = float(np.sqrt(squares / degrees * (1 / len(before) + 1 / len(after))))
    surveys = (before_impact, before_control, after_impact, after_control)
    largest = max(np.abs(np.asarray(part, np.float64)).max() for part in surveys)
    if not error > _ROUNDING * largest:
        raise ValueError(
            "differences: they are the same on every day of each period, so nothing says what chance would do. "
            "Check that the surveys were not copied."
        )
    contrast = float(after.mean() - before.mean())
    return ImpactTest(
        mean_before=float(before.mean()),
        mean_after=float(after.mean()),
        contrast=contrast,
        statistic=-contrast / error,
        degrees_of_freedom=degrees,
        p_value=float(2 * student.sf(abs(contrast / error), degrees)),
        standard_error=error,
    )


def _differences(impact: Sequence[float], control: Sequence[float], period: str) -> np.ndarray:
    impact, control = np.asarray(impact, np.float64), np.asarray(control, np.float64)
    if impact.ndim != 1 or impact.shape != control.shape:
        raise ValueError(
            f"{period}: found {impact.size} surveys of the impact and {control.size} of the control. "
            "Each day needs one of both; leave out days that lack one."
        )
    if len(impact) < FEWEST:
        raise ValueError(f"{period}: found {len(impact)} surveys. At least {FEWEST} are needed; plan for many more.")
    differences = impact - control
    if not np.isfinite(differences).all():
        raise ValueError(f"{period}: a survey holds no number. Leave that day out of both places.")
    return differences
