"""Runs under several conditions held against each other: differences, drift, and scatter.

The run number is a term of the fit, so that a loco that runs warm does not pass for a condition;
each condition keeps a scatter of its own (Welch and Satterthwaite).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import exp, inf, log, sqrt
from typing import Any, NamedTuple

from cvlib.engine.trial.sums import Interval, around, scatter, t_factor


class Estimate(NamedTuple):
    """A difference with its standard error and degrees of freedom."""

    value: float
    error: float
    freedom: float

    def interval(self, level: float, step: float) -> Interval:
        """Where the true difference lies; the tape leaves half a step open at either mean."""
        half = t_factor(level, self.freedom) * self.error if self.error else 0.0
        return around(self.value, max(half, step))


class Series(NamedTuple):
    """Runs by condition and their number in the trial, as figures."""

    conditions: tuple[int, ...]
    """For each run its condition, numbered from 0."""
    numbers: tuple[int, ...]
    """For each run its place in the trial."""
    stops: tuple[float, ...]

    def of(self, condition: int) -> list[float]:
        """The readings under one condition."""
        return [
            stop for at, stop in zip(self.conditions, self.stops, strict=True) if at == condition
        ]


class ConditionFit:
    """The means under each condition with a straight drift over the run number taken out."""

    def __init__(self, series: Series, *, drifts: bool = True) -> None:
        import numpy as np

        kinds = max(series.conditions) + 1
        n = len(series.stops)
        held = np.asarray(series.conditions)
        columns = [(held == at).astype(float) for at in range(kinds)]
        number = np.asarray(series.numbers, dtype=float)
        spread = number - number.mean()
        self.has_drift = drifts and n >= 2 * kinds + 2 and bool(spread.any())
        if self.has_drift:
            columns.append(spread / np.abs(spread).max())
        design: Any = np.column_stack(columns)
        inverse = np.linalg.pinv(design)
        self.means: Any = inverse @ np.asarray(series.stops)
        rest = np.asarray(series.stops) - design @ self.means
        free = 1 - np.einsum("ij,ji->i", design, inverse)
        self._rows = inverse
        self._held = held
        self._freedom = [max(float(free[held == at].sum()), 1e-9) for at in range(kinds)]
        self._variances = [
            float((rest[held == at] ** 2).sum()) / self._freedom[at] for at in range(kinds)
        ]
        self.kinds = kinds

    @property
    def scatter(self) -> float:
        """The scatter of the runs within their conditions, drift taken out."""
        return sqrt(
            sum(v * f for v, f in zip(self._variances, self._freedom, strict=True)) / self.freedom
        )

    @property
    def freedom(self) -> float:
        """The degrees of freedom of the scatter."""
        return sum(self._freedom)

    def difference(self, one: int, other: int) -> Estimate:
        """The mean under the other condition less that under the one."""
        return self._estimate(
            self.means[other] - self.means[one], self._rows[other] - self._rows[one]
        )

    def total(self, one: int, other: int) -> Estimate:
        """The sum of both means."""
        return self._estimate(
            self.means[other] + self.means[one], self._rows[other] + self._rows[one]
        )

    def drift(self) -> Estimate | None:
        """How far the stops wandered from the first run to the last, where that can be told."""
        if not self.has_drift:
            return None
        return self._estimate(2 * self.means[-1], 2 * self._rows[-1])

    def _estimate(self, value: float, row: Any) -> Estimate:
        parts = [
            float((row[self._held == at] ** 2).sum()) * self._variances[at]
            for at in range(self.kinds)
        ]
        total = sum(parts)
        shares = sum(p * p / f for p, f in zip(parts, self._freedom, strict=True))
        freedom = total * total / shares if shares else self.freedom
        return Estimate(float(value), sqrt(total), freedom)


class Pair(NamedTuple):
    """Two conditions, by number, with what lies between their means."""

    one: int
    other: int
    difference: Estimate


class Sameness(NamedTuple):
    """Whether conditions come to the same within a margin: yes, no, or not known yet."""

    is_same: bool | None
    widest: Pair
    """The pair that lies furthest apart; of a no, the one that shows it."""


def sameness(
    fit: ConditionFit, margin: float, step: float, level: float = 0.95, alike: float = 0.9
) -> Sameness:
    """Whether all conditions have one mean within the margin.

    Yes where the interval of every pair, at the level ``alike``, lies inside the margin; no where
    that of some pair, at ``level`` corrected for the number of pairs, lies wholly outside.
    """
    pairs = [Pair(a, b, fit.difference(a, b)) for a, b in combinations(range(fit.kinds), 2)]
    widest = max(pairs, key=lambda pair: abs(pair.difference.value))
    strict = 1 - (1 - level) / len(pairs)
    if all(pair.difference.interval(alike, step).is_inside(margin) for pair in pairs):
        return Sameness(True, widest)
    far = [pair for pair in pairs if pair.difference.interval(strict, step).is_outside(margin)]
    if far:
        return Sameness(False, max(far, key=lambda pair: abs(pair.difference.value)))
    return Sameness(None, widest)


def scatter_ratio(
    one: Sequence[float], other: Sequence[float], step: float, level: float = 0.95
) -> Interval | None:
    """How many times the scatter of the one the other has, robust (Bonett 2006); from 6 a side.

    The formula is from memory: Bonett, "Robust confidence interval for a ratio of standard
    deviations", Applied Psychological Measurement 30 (2006). Nothing where a side shows no scatter
    or where the tape is too coarse to speak of one.
    """
    if min(len(one), len(other)) < 6 or min(scatter(one), scatter(other)) < step / 2:
        return None
    from scipy.special import ndtri

    z = float(ndtri((1 + level) / 2))
    error = sqrt(_bonett(one, other))
    middle = log(_shrunk(len(other), z) / _shrunk(len(one), z))
    middle += 2 * log(scatter(other) / scatter(one))
    return Interval(exp((middle - z * error) / 2), exp((middle + z * error) / 2))


def runs_for_ratio(one: Sequence[float], other: Sequence[float], level: float, most: int) -> int:
    """Runs a side that would tell the scatters apart if they stay as seen; 0: more than most."""
    from scipy.special import ndtri

    z = float(ndtri((1 + level) / 2))
    ratio = abs(log(scatter(other) / scatter(one)))
    tails = _bonett(one, other) / (1 / (len(one) - 1) + 1 / (len(other) - 1))
    for n in range(min(len(one), len(other)), most + 1):
        if ratio > z * sqrt(tails * 2 / (n - 1)) / 2:
            return n
    return 0


def _shrunk(n: int, z: float) -> float:
    return n / (n - z)


def _bonett(one: Sequence[float], other: Sequence[float]) -> float:
    """The squared error of the log of the ratio of two variances."""
    import numpy as np

    fourth = square = 0.0
    for values in (one, other):
        held = np.sort(np.asarray(values))
        cut = int(len(held) / (2 * sqrt(len(held) - 4)))
        trimmed = held[cut : len(held) - cut].mean() if cut else held.mean()
        fourth += float(((held - trimmed) ** 4).sum())
        square += float(((held - held.mean()) ** 2).sum())
    tails = (len(one) + len(other)) * fourth / square**2 if square else inf
    return sum(max(tails - (n - 3) / n, 1e-9) / (n - 1) for n in (len(one), len(other)))
