"""The values with which locos run alike, from measured speeds, and how well they will."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, combinations
from math import exp, hypot, log, sqrt

from cvlib.engine.compare.motion import (
    FULL,
    STEPS,
    UNTRIMMED,
    Curve,
    fitted,
    three_point,
    trim_factor,
    trimmed,
)
from cvlib.engine.speed.fit import MeasuredLoco, Scatter, SpeedCurve
from cvlib.engine.speed.timings import REACTION
from cvlib.engine.trial.sums import t_factor
from cvlib.errors import problem

SURE = 0.9
"""How often a prediction holds."""

CHECKS = (5, 13, 23)
"""The steps to time in the end, where these can be told; else the nearest that can."""


@dataclass(frozen=True, slots=True)
class Abilities:
    """What of a loco's speed curve can be set."""

    has_table: bool
    has_points: bool
    has_trims: bool
    lowest: int = 0
    """The lowest value an entry may have."""
    trims: tuple[int, ...] = (0, 0)
    """The trims as they are; they stay where they cannot be set."""


@dataclass(frozen=True, slots=True)
class StepForecast:
    """What is foreseen of one step in one direction."""

    step: int
    is_forward: bool
    drive: Fraction
    speed: float | None
    """Metres a second; nothing where it was not measured so slow."""
    error: float = 0.0
    """The relative standard deviation of that speed."""
    run_error: float = 0.0
    """The same of one run, stopwatch apart."""
    off: float | None = None
    """How far it is off the wish, relatively; positive where it is faster."""


@dataclass(frozen=True, slots=True)
class SpeedCheck:
    """One step to be timed in the end, with the speed foreseen."""

    step: int
    is_forward: bool
    speed: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SpeedValues:
    """What one loco is to be given, and how it will run."""

    loco: str
    table: tuple[int, ...] | None
    """The 28 entries; nothing where it gets CVs 2, 6 and 5."""
    points: tuple[int, int, int] | None
    """CV 2, CV 6 and CV 5."""
    forward_trim: int | None
    """Nothing where it has no trims."""
    reverse_trim: int | None
    first_step: int
    """The lowest step that was not extrapolated."""
    forecast: tuple[StepForecast, ...]
    checks: tuple[SpeedCheck, ...] = ()


@dataclass(frozen=True, slots=True)
class SpeedMatch:
    """Locos matched by measurement."""

    wish: tuple[float | None, ...]
    """Metres a second at each of 28 steps; nothing below what was measured."""
    values: tuple[SpeedValues, ...]
    known_from: int
    """The lowest step from which on all speeds are foreseen."""
    apart: float
    """By how much two of the locos will differ at most, relatively, 9 times in 10."""
    apart_at: tuple[int, bool]
    """The step and direction (forward) at which that is."""


def match_speeds(
    locos: Sequence[MeasuredLoco],
    now: Mapping[str, tuple[Curve, Curve]],
    abilities: Mapping[str, Abilities],
    scatter: Scatter,
    top: float | None = None,
) -> SpeedMatch:
    """The values for each loco, to a speed at the top step or to the slowest of them.

    ``now`` holds the drive of each loco at each step as it was timed, both ways, ``top`` metres a
    second at step 28. Raises InputError for a wish that no measurement bears out.
    """
    wish = _line(locos, top) if top is not None else _slowest(locos, now)
    values = [_values(loco, wish, abilities[loco.name]) for loco in locos]
    first = _known_from(values)
    # Sidak's share: all of the checks hold at once.
    share = SURE ** (1 / (2 * len(CHECKS) * len(locos)))
    factor = t_factor(share, scatter.freedom)
    values = [replace(held, checks=_checks(held.forecast, first, factor)) for held in values]
    apart, at = _apart(values, first, scatter)
    return SpeedMatch(wish, tuple(values), first, apart, at)


def _line(locos: Sequence[MeasuredLoco], top: float) -> tuple[float | None, ...]:
    """A speed that grows evenly from step to step."""
    most, name = min((curve.fastest, loco.name) for loco in locos for curve in loco.curves)
    if top > most * (1 + 1e-9):
        raise problem(
            f"{name} ran {100 * most:.1f} cm/s at most, and {100 * top:.1f} cm/s are wished for.",
            advice="Wish for less; or raise its top (CV 5 or the table), and time it anew.",
        )
    least = max(curve.slowest for loco in locos for curve in loco.curves)
    if top <= least:
        raise problem(
            f"{100 * top:.1f} cm/s at the top is no faster than the slowest speed measured, "
            f"{100 * least:.1f} cm/s.",
            advice="Wish for a faster top, or time lower steps.",
        )
    speeds = [top * step / STEPS for step in range(1, STEPS + 1)]
    return tuple(speed if speed >= least else None for speed in speeds)


def _slowest(
    locos: Sequence[MeasuredLoco], now: Mapping[str, tuple[Curve, Curve]]
) -> tuple[float | None, ...]:
    """At each step the speed of the slowest loco, in its slower direction."""
    last = min(curve.steps[-1] for loco in locos for curve in loco.curves)
    if last < STEPS:
        raise problem(
            f"step {last} is the highest that was timed of all locos, and the table goes to 28.",
            advice="Time step 28 of each loco, both ways; or wish for a top speed.",
        )
    ways = [
        (curve, levels)
        for loco in locos
        for curve, levels in zip(loco.curves, now[loco.name], strict=True)
    ]
    least = max(curve.slowest for curve, _ in ways)
    speeds = [
        [curve.speed(float(levels[at])) or 0.0 for curve, levels in ways] for at in range(STEPS)
    ]
    found = tuple(speed if speed >= least else None for speed in accumulate(map(min, speeds), max))
    if found[-1] is None:
        raise problem(
            f"the slowest loco reaches {100 * min(speeds[-1]):.1f} cm/s, and another was timed no "
            f"slower than {100 * least:.1f} cm/s.",
            advice="Time lower steps of the faster one, or leave it out.",
        )
    return found


def _values(
    loco: MeasuredLoco,
    wish: Sequence[float | None],
    can: Abilities,
) -> SpeedValues:
    """What one loco is to be given: a table where it has one, else three points; and trims."""
    if not (can.has_table or can.has_points):
        raise problem(
            f"{loco.name}: neither a speed table nor CVs 2, 5 and 6 can be set in it.",
            advice="Take it out of the match, or mark its settings in the profile.",
        )
    ways = [[None if one is None else curve.drive(one) for one in wish] for curve in loco.curves]
    first = next(at for at in range(STEPS) if ways[0][at] is not None and ways[1][at] is not None)
    pairs = [(one, two) for one, two in zip(*ways, strict=True) if one and two]
    logs = [log(back / ahead) for ahead, back in pairs]
    middle = (min(logs) + max(logs)) / 2 if can.has_trims else 0.0
    trims = [min(max(round(UNTRIMMED * exp(m)), 1), UNTRIMMED) for m in (-middle, middle)]
    trims = trims if can.has_trims else list(can.trims)
    factors = [float(trim_factor(trim)) for trim in trims]
    levels = [sqrt(ahead / factors[0] * back / factors[1]) for ahead, back in pairs]
    entries = _entries(levels, first, can.lowest)
    points = None if can.has_table else fitted(tuple(map(Fraction, entries)))
    curve: Curve = three_point(*points) if points else tuple(map(Fraction, entries))
    forecast = tuple(
        _forecast(way, drive, step, ahead, wish[step - 1])
        for way, trim, ahead in zip(loco.curves, trims, (True, False), strict=True)
        for step, drive in enumerate(trimmed(curve, trim), 1)
    )
    return SpeedValues(
        loco.name,
        None if points else entries,
        points,
        trims[0] if can.has_trims else None,
        trims[1] if can.has_trims else None,
        first + 1,
        forecast,
    )


def _entries(levels: Sequence[float], first: int, lowest: int) -> tuple[int, ...]:
    """28 whole entries that never fall; below the first known one in a line to the lowest step.

    The line goes on as steep as the first known entries rise, and not below what is allowed.
    """
    known = [min(max(round(level), lowest), FULL) for level in levels]
    span = min(3, len(levels) - 1)
    rise = max((levels[span] - levels[0]) / span, 0.0) if span else 0.0
    least = min(max(lowest, 1), known[0])
    below = [max(round(known[0] - rise * (first - at)), least) for at in range(first)]
    return (*below, *known)


def _forecast(
    way: SpeedCurve, drive: Fraction, step: int, ahead: bool, wish: float | None
) -> StepForecast:
    speed = way.speed(float(drive))
    if speed is None:
        return StepForecast(step, ahead, drive, None)
    off = None if wish is None else speed / wish - 1
    level = float(drive)
    return StepForecast(step, ahead, drive, speed, way.error(level), way.run_error(level), off)


def _checks(forecast: Sequence[StepForecast], first: int, factor: float) -> tuple[SpeedCheck, ...]:
    """Three steps, both ways, each between two speeds."""
    steps = {max(step, first) for step in CHECKS}
    found: list[SpeedCheck] = []
    for one in sorted(forecast, key=lambda one: one.step):
        if one.step in steps and one.speed is not None:
            spread = exp(factor * hypot(one.error, one.run_error, REACTION / 15))
            held = one.speed, one.speed / spread, one.speed * spread
            found.append(SpeedCheck(one.step, one.is_forward, *held))
    return tuple(found)


def _known_from(values: Sequence[SpeedValues]) -> int:
    """The lowest step from which on the speeds of all of them are foreseen, both ways."""
    unknown = [one.step for held in values for one in held.forecast if one.off is None]
    first = max(unknown, default=0) + 1
    if first > STEPS:
        raise problem(
            "no speed at step 28 can be foreseen of all of them: forward and reverse of one differ "
            "too much, or the entries would be above what was timed.",
            advice="Mend that loco first, or leave it out.",
        )
    return first


def _apart(
    values: Sequence[SpeedValues], first: int, scatter: Scatter
) -> tuple[float, tuple[int, bool]]:
    """By how much two locos differ at most, and where."""
    factor = t_factor(SURE, scatter.freedom)
    worst, where = 0.0, (STEPS, True)
    for one, other in combinations(values, 2):
        for mine, theirs in zip(one.forecast, other.forecast, strict=True):
            if mine.step < first or not mine.speed or not theirs.speed:
                continue
            apart = abs(log(mine.speed / theirs.speed))
            apart += factor * hypot(mine.error, theirs.error)
            if apart > worst:
                worst, where = apart, (mine.step, mine.is_forward)
    return exp(worst) - 1, where
