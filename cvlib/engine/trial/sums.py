"""What one series of readings says: mean, scatter, the next one, and what was missed.

Half the step of the tape is the least that any interval is wide to either side: nothing finer was
seen. The functions take plain figures of one unit; numpy and scipy are loaded when they are called.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple


class Interval(NamedTuple):
    """Where a figure lies, at some level of surety."""

    low: float
    high: float

    def __contains__(self, value: object) -> bool:
        """Whether a figure lies in it, ends included."""
        return isinstance(value, int | float) and self.low <= value <= self.high

    def is_inside(self, margin: float) -> bool:
        """Whether all of it lies within a margin of zero."""
        return -margin <= self.low and self.high <= margin

    def is_outside(self, margin: float) -> bool:
        """Whether all of it lies beyond a margin of zero, on one side."""
        return self.low > margin or self.high < -margin

    def is_within(self, other: Interval) -> bool:
        """Whether all of it lies in another one."""
        return other.low <= self.low and self.high <= other.high


def around(middle: float, half: float) -> Interval:
    """The interval of a middle and a half width."""
    return Interval(middle - half, middle + half)


def mean(values: Sequence[float]) -> float:
    """The mean of readings."""
    import numpy as np

    middle = float(np.mean(values))
    return middle + float(np.mean(np.asarray(values) - middle))


def scatter(values: Sequence[float]) -> float:
    """The standard deviation of readings, n - 1 below; 0 for a single one."""
    import numpy as np

    if len(values) < 2:
        return 0.0
    return float(np.sqrt(np.sum((np.asarray(values) - mean(values)) ** 2) / (len(values) - 1)))


def t_factor(level: float, freedom: float) -> float:
    """Student's t, two-sided, for a level such as 0.95 and degrees of freedom."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + level) / 2))


def mean_interval(values: Sequence[float], step: float, level: float = 0.95) -> Interval:
    """Where the true mean lies; needs two readings."""
    half = t_factor(level, len(values) - 1) * scatter(values) / sqrt(len(values))
    return around(mean(values), max(half, step / 2))


def next_reading(values: Sequence[float], step: float, level: float = 0.9) -> Interval:
    """Where the next reading will lie, if nothing changes; needs two readings."""
    n = len(values)
    half = t_factor(level, n - 1) * scatter(values) * sqrt(1 + 1 / n)
    return around(mean(values), max(half, step / 2))


def scatter_factors(freedom: float, level: float = 0.95) -> Interval:
    """How many times the seen scatter the true one may be, by the chi-square distribution."""
    from scipy.special import chdtri

    least, most = (1 - level) / 2, (1 + level) / 2
    return Interval(
        sqrt(freedom / float(chdtri(freedom, least))), sqrt(freedom / float(chdtri(freedom, most)))
    )


def scatter_limit(seen: float, freedom: float, level: float = 0.8) -> float:
    """The scatter that the true one stays below at a level: what plans are made with."""
    from scipy.special import chdtri

    return seen * sqrt(freedom / float(chdtri(freedom, level)))


def share_interval(hits: int, runs: int, level: float = 0.95) -> Interval:
    """The exact interval (Clopper and Pearson) of a share; one-sided where none or all were hit."""
    from scipy.special import betaincinv

    tail = (1 - level) / (1 if hits in (0, runs) else 2)
    low = float(betaincinv(hits, runs - hits + 1, tail)) if hits else 0.0
    high = float(betaincinv(hits + 1, runs - hits, 1 - tail)) if hits < runs else 1.0
    return Interval(low, high)


def typing_error(values: Sequence[float], level: float = 0.99) -> int | None:
    """The number of the reading that lies too far out for its fellows (Grubbs, two-sided), if one.

    It is only asked about: nothing is ever left out.
    """
    if len(values) < 3 or not scatter(values):
        return None
    middle, seen = mean(values), scatter(values)
    far = max(range(len(values)), key=lambda at: abs(values[at] - middle))
    return far if abs(values[far] - middle) / seen > grubbs_limit(len(values), level) else None


def grubbs_limit(n: int, level: float = 0.99) -> float:
    """The largest distance from the mean, in scatters, that n readings have at a level."""
    t = t_factor(1 - (1 - level) / n, n - 2)
    return (n - 1) / sqrt(n) * sqrt(t * t / (n - 2 + t * t))


def repeatability_limit(values: Sequence[float], level: float = 0.95) -> float:
    """What two runs differ by at most, at a level: ISO 5725, with Student's t for so few runs."""
    return t_factor(level, len(values) - 1) * sqrt(2) * scatter(values)


def tolerance_factor(n: int, share: float = 0.95, level: float = 0.95) -> float:
    """How many scatters to either side of the mean hold a share of all runs, at a level; exact.

    For each place of the seen mean the half width that holds the share, and the chance that the
    seen scatter is large enough for it; the sum of it over the mean is to be the level.
    """
    import numpy as np
    from scipy.special import chdtrc, chndtrix

    nodes, weights = np.polynomial.legendre.leggauss(80)
    reach = 8 / sqrt(n)
    spots, shares = (nodes + 1) * reach / 2, weights * reach / 2
    density = 2 * np.sqrt(n / (2 * np.pi)) * np.exp(-n * spots**2 / 2) * shares
    needed = chndtrix(share, 1, spots**2)
    low, high = 0.1, 1000.0
    for _ in range(100):
        middle = (low + high) / 2
        if float(density @ chdtrc(n - 1, (n - 1) * needed / middle**2)) < level:
            low = middle
        else:
            high = middle
    return high
