"""What a trial comes to for others: the verdict of a bench source, and a value to try next.

The rule is fixed beforehand, as the margin is. Without two values of the setting nothing shows that
it acts, and there is no verdict.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

from cvlib.engine.trial.reporting import QUARTER, ConditionReport, Outcome, TrialReport, promise_of
from cvlib.engine.trial.sums import Interval, mean, mean_interval
from cvlib.model.profile import Verdict
from cvlib.model.trial import TrialQuestion

WORKS = ((8, 8), (12, 11), (20, 17))
"""So many of so many stops near enough, at least: it works."""
UNRELIABLE = ((8, 3), (12, 6), (20, 12))
"""So many at most: it does not do what the handbook says."""
TRUSTED = 0.9
"""A loco that would stop near enough less often than this, however it is set, scatters."""
MANY_LOCOS = 5
"""Locos from which an interval of their means says something."""


class Obstacle(NamedTuple):
    """Why there is no verdict: a word for it, and the figures that go with it."""

    word: str
    figures: tuple[float, ...] = ()


class Judged(NamedTuple):
    """The verdict of a trial on its setting, or why there is none."""

    verdict: Verdict | None
    obstacle: Obstacle | None = None


def judged(report: TrialReport) -> Judged:
    """The verdict by the stated rule; see docs/trial.md."""
    trial, answer = report.trial, report.answer
    if trial.question not in (TrialQuestion.ACTS, TrialQuestion.BETTER):
        return Judged(None, Obstacle("one-value"))
    promise = promise_of(trial)
    if any(one.value is None for one in trial.conditions) or not promise:
        return Judged(None, Obstacle("no-promise"))
    if not answer.look:
        return Judged(None, Obstacle("early", (answer.more,)))
    if answer.interval is None:
        return Judged(None, Obstacle("no-figure"))
    quarter = abs(promise) * QUARTER
    if answer.outcome is Outcome.SAME and trial.question is TrialQuestion.ACTS:
        return Judged(Verdict.NO_EFFECT)
    if 0 in answer.interval:
        return Judged(None, Obstacle("open", (answer.more,)))
    agrees = abs(answer.difference - promise) <= quarter
    if agrees and report.near >= limit_of(WORKS, report.runs, from_above=True):
        return Judged(Verdict.WORKS)
    if report.near <= limit_of(UNRELIABLE, report.runs, from_above=False):
        return Judged(Verdict.UNRELIABLE)
    figures = (report.near, report.runs)
    word = "other-way" if answer.difference * promise < 0 else "other-amount"
    return Judged(None, Obstacle("between" if agrees else word, figures))


def limit_of(table: Sequence[tuple[int, int]], runs: int, *, from_above: bool) -> float:
    """The number of near stops that the rule asks for; between its rows the stricter one.

    >>> limit_of(WORKS, 12, from_above=True), limit_of(WORKS, 14, from_above=True)
    (11, 13)
    """
    held = [(n, near) for n, near in table if n <= runs]
    if not held:
        return runs + 1 if from_above else -1
    n, near = held[-1]
    if from_above:
        misses = n - near if runs < table[-1][0] else int(runs * (n - near) / n)
        return runs - misses
    return near if runs < table[-1][0] else int(runs * near / n)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to set next."""

    wish: float
    value: int | None
    """The value that would bring the mean to the wish."""
    is_tested: bool = False
    """Whether it lies between values that were tried; else three runs have to show it."""


def advice(report: TrialReport) -> tuple[Advice, ...]:
    """For each wish the value that would bring the mean there, by a line between tested values."""
    points = sorted(
        (one.condition.value, one.mean)
        for one in report.conditions
        if one.condition.value is not None and one.mean is not None
    )
    if len({value for value, _ in points}) < 2 or report.answer.outcome is not Outcome.DIFFERENT:
        return ()
    wishes = dict.fromkeys(
        one.condition.wish for one in report.conditions if one.condition.wish is not None
    )
    kept = {(one.condition.wish, one.condition.value) for one in report.conditions}
    found = (_towards(points, wish) for wish in wishes)
    return tuple(one for one in found if len(wishes) == 1 or (one.wish, one.value) not in kept)


def _towards(points: Sequence[tuple[int, float]], wish: float) -> Advice:
    pairs = list(pairwise(points))
    inside = [pair for pair in pairs if min(p[1] for p in pair) <= wish <= max(p[1] for p in pair)]
    rises = {(b[1] > a[1]) - (b[1] < a[1]) for a, b in pairs}
    if len(rises) > 1 or 0 in rises:
        return Advice(wish, None)
    near_end = pairs[0] if abs(points[0][1] - wish) < abs(points[-1][1] - wish) else pairs[-1]
    (low, at_low), (high, at_high) = inside[0] if inside else near_end
    value = low + (wish - at_low) * (high - low) / (at_high - at_low)
    return Advice(wish, round(value), points[0][0] <= round(value) <= points[-1][0])


def no_value_mends(report: TrialReport, condition: ConditionReport) -> bool:
    """Whether the runs scatter so that even with the mean on the mark too many stops would miss.

    By the least scatter that nine in ten of such trials leave possible.
    """
    from scipy.special import chdtri, ndtr

    n = len(condition.stops)
    if n < 6 or condition.factors is None:
        return False
    least = condition.scatter * sqrt((n - 1) / float(chdtri(n - 1, 0.1)))
    share = 2 * float(ndtr(report.trial.margin / least)) - 1
    return share < TRUSTED


class LocoCount(NamedTuple):
    """Several locos side by side: a count, and from five the interval of their means."""

    locos: Mapping[Verdict, int]
    """On how many locos each verdict was given."""
    judged: int
    """Locos with a verdict."""
    open: int
    """Locos without one."""
    means: int
    """Locos that stop at some mean."""
    offset: Interval | None
    """Where the mean of such locos lies beside the mark."""
    middle: float | None


def counted_locos(reports: Sequence[tuple[str, TrialReport]]) -> LocoCount:
    """What the trials of several locos come to together, each loco counted once."""
    verdicts: dict[str, set[Verdict]] = {}
    offsets: dict[str, list[float]] = {}
    for loco, report in reports:
        found = judged(report).verdict
        verdicts.setdefault(loco, set()).update([] if found is None else [found])
        held = [one for one in report.own if one.mean and one.condition.wish]
        offsets.setdefault(loco, []).extend(
            one.mean - one.condition.wish for one in held if one.mean and one.condition.wish
        )
    count = Counter(one for held in verdicts.values() for one in held)
    given = sum(map(bool, verdicts.values()))
    middles = [mean(held) for held in offsets.values() if held]
    about = (count, given, len(verdicts) - given, len(middles))
    if len(middles) < MANY_LOCOS:
        return LocoCount(*about, None, None)
    step = max(report.trial.step for _, report in reports)
    return LocoCount(*about, mean_interval(middles, step), mean(middles))
