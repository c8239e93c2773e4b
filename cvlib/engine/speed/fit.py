"""Measured speeds of a loco over the drive: a monotone curve, and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, hypot, log, sqrt
from statistics import fmean
from typing import TYPE_CHECKING, Any, NamedTuple

from cvlib.engine.compare.motion import Curve, Drawn
from cvlib.engine.speed.timings import PRECISION, Timing, way_word
from cvlib.errors import Fault, InputError, problem

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_CHANGED = 0.03
"""By how much the reference step may change from first to last."""

LEAST_SCATTER = 0.005
"""A loco is never taken to repeat its speed more closely than this (common practice)."""

ROUNDS = 3
"""How often the reference step is timed at least, each way: first, in the middle and last."""

FALLS = 0.05
"""A speed that falls by more than this where the drive rises is no scatter."""

LEFT_OUT = 3.0
"""By how much the interpolation error shrinks where no point is left out: a gap is half as wide.
At 3 the predictions held in the simulations of tests/engine/test_speed_simulated.py."""

_GRID = 2001


class Scatter(NamedTuple):
    """How far runs of one kind differ, from the reference steps of all locos together."""

    relative: float
    """One standard deviation of a run at a reference step, the stopwatch apart."""
    freedom: int
    """Degrees of freedom behind it."""


class SpeedCurve:
    """The speed of one loco in one direction over the drive, between its lowest and highest."""

    def __init__(
        self, steps: Sequence[int], drives: Sequence[float], timings: Sequence[Sequence[Timing]]
    ) -> None:
        import numpy as np

        self.steps = tuple(steps)
        """The steps that were timed, those at which it stands left out."""
        self.timings = timings
        """The timings of each of these steps."""
        self.drives: NDArray[Any] = np.array(drives)
        self.speeds: NDArray[Any] = np.array([_mean_speed(same) for same in timings])
        self._grid = np.linspace(self.drives[0], self.drives[-1], _GRID)
        self._curve = _monotone(self.drives, self.speeds, self._grid)
        self.slowest, self.fastest = float(self._curve[0]), float(self._curve[-1])
        self._slopes = np.maximum(np.gradient(self.speeds, self.drives) / self.speeds, 0)
        self._left_out = self._leave_one_out()

    def speed(self, drive: float) -> float | None:
        """Metres a second at a drive level; nothing outside of what was measured.

        One level further counts as measured: entries are whole numbers.
        """
        import numpy as np

        beyond = drive - float(np.clip(drive, self.drives[0], self.drives[-1]))
        if abs(beyond) > 1:
            return None
        end = self._slopes[0 if beyond < 0 else -1]
        return float(np.interp(drive, self._grid, self._curve) * exp(beyond * end))

    def drive(self, speed: float) -> float | None:
        """The drive level for a speed; nothing outside of what was measured."""
        import numpy as np

        if not self.slowest * (1 - 1e-9) <= speed <= self.fastest * (1 + 1e-9):
            return None
        return float(np.interp(speed, self._curve, self._grid))

    def settle(self, scatter: Scatter, reference: int) -> None:
        """Note how sure each measured speed is: the stopwatch, and the scatter of the runs.

        A loco is less steady where a small change of drive changes its speed more; that share is
        reckoned from the slope, against the one at the reference step.
        """
        import numpy as np

        ratio = self._slopes / max(self._slopes[self.steps.index(reference)], 1e-9)
        self._runs: NDArray[Any] = scatter.relative * np.maximum(ratio, 1)
        watch = [sqrt(sum(one.error**2 for one in same)) / len(same) for same in self.timings]
        rounds = np.sqrt([len(same) for same in self.timings])
        self._errors: NDArray[Any] = np.hypot(self._runs / rounds, watch)

    def run_error(self, drive: float) -> float:
        """The relative standard deviation of one run there, the stopwatch apart."""
        import numpy as np

        return float(np.interp(drive, self.drives, self._runs))

    def error(self, drive: float) -> float:
        """The relative standard deviation of the fitted speed, interpolation included."""
        import numpy as np

        at = int(np.clip(np.searchsorted(self.drives, drive) - 1, 0, len(self.drives) - 2))
        two = slice(at, at + 2)
        share = float(np.interp(drive, self.drives[two], (0, 1)))
        weights = np.array([1 - share, share]) * self.speeds[two]
        measured = float(sqrt(((weights * self._errors[two]) ** 2).sum()) / weights.sum())
        return hypot(measured, 4 * share * (1 - share) * max(self._left_out[two]) / LEFT_OUT)

    def _leave_one_out(self) -> NDArray[Any]:
        """How far each measured speed lies from the curve through the others, relatively.

        The lowest and the highest take what their neighbours have.
        """
        import numpy as np

        off = np.zeros(len(self.drives))
        for at in range(1, len(off) - 1):
            drives, speeds = np.delete(self.drives, at), np.delete(self.speeds, at)
            guess = _monotone(drives, speeds, self.drives[at : at + 1])[0]
            off[at] = abs(log(guess / self.speeds[at]))
        off[0], off[-1] = off[1], off[-2]
        return off


def _monotone(drives: NDArray[Any], speeds: NDArray[Any], at: NDArray[Any]) -> NDArray[Any]:
    """A curve that never falls through measured speeds, by isotonic regression and then PCHIP."""
    import numpy as np
    from scipy.interpolate import PchipInterpolator
    from scipy.optimize import isotonic_regression

    rising = isotonic_regression(speeds).x * (1 + 1e-9 * np.arange(len(speeds)))
    return np.asarray(PchipInterpolator(drives, rising)(at))


def _mean_speed(timings: Sequence[Timing]) -> float:
    return exp(fmean(log(one.speed) for one in timings))


@dataclass(frozen=True, slots=True)
class MeasuredLoco:
    """One loco as it was timed."""

    name: str
    curves: tuple[SpeedCurve, SpeedCurve]
    """Forward, then reverse."""
    reference: int
    change: float
    """By how much the reference step changed between its slowest and fastest round, relatively."""


def measure(
    timings: Sequence[Timing], drawn: Sequence[tuple[str, Drawn]]
) -> tuple[tuple[MeasuredLoco, ...], Scatter]:
    """The fitted speeds of each loco, and how far its runs scatter.

    ``drawn`` holds the drive at each step as the timings were made. Raises InputError with all
    that is wrong with the timings: too short, too few, a reference step that changed, a speed that
    falls.
    """
    faults = [_short(one) for one in timings if not one.is_precise]
    found: list[MeasuredLoco] = []
    for name, curve in drawn:
        own = [one for one in timings if one.loco == name]
        try:
            reference, change = _reference(name, own)
            curves = _curve(name, own, True, curve), _curve(name, own, False, curve)
        except InputError as error:
            faults.extend(error.faults)
        else:
            found.append(MeasuredLoco(name, curves, reference, change))
    if faults:
        raise InputError(*faults)
    scatter = _scatter(found)
    for loco in found:
        for way in loco.curves:
            way.settle(scatter, loco.reference)
    return tuple(found), scatter


def _scatter(locos: Sequence[MeasuredLoco]) -> Scatter:
    """The scatter of the reference steps without that of the stopwatch."""
    squares, freedom = 0.0, 0
    for loco in locos:
        for way in loco.curves:
            rounds = way.timings[way.steps.index(loco.reference)]
            mean = log(_mean_speed(rounds))
            squares += sum((log(one.speed) - mean) ** 2 for one in rounds)
            squares -= (len(rounds) - 1) * fmean(one.error**2 for one in rounds)
            freedom += len(rounds) - 1
    return Scatter(max(sqrt(max(squares, 0) / freedom), LEAST_SCATTER), freedom)


def _curve(name: str, timings: Sequence[Timing], ahead: bool, drawn: Drawn) -> SpeedCurve:
    """The curve of one loco in one direction; raises where its timings make none."""
    who = f"{name}, {way_word(ahead)}"
    levels: Curve = drawn.forward if ahead else drawn.reverse
    by_step: dict[int, list[Timing]] = {}
    for one in sorted(timings, key=lambda one: one.step):
        if one.is_forward is ahead:
            by_step.setdefault(one.step, []).append(one)
    moving = [step for step, same in by_step.items() if all(one.seconds for one in same)]
    if len(moving) < 4:
        raise problem(
            f"{who}: it was timed moving at {len(moving)} steps, and 4 are the least.",
            advice="Time six to eight steps, closer at the bottom.",
        )
    stands = max((step for step in by_step if step not in moving), default=0)
    if stands > moving[0]:
        raise problem(
            f"{who}: it stands at step {stands} and moves at step {moving[0]}.",
            advice="Is that a slip? Else mend the loco first: it stalls.",
            position=by_step[stands][0].position,
        )
    for low, high in pairwise(moving):
        if levels[high - 1] <= levels[low - 1]:
            raise problem(
                f"{who}: steps {low} and {high} do not rise in drive by its saved values.",
                advice="Write a speed curve that rises, note it in the loco file, and time anew.",
            )
        if _mean_speed(by_step[high]) < _mean_speed(by_step[low]) * (1 - FALLS):
            raise problem(
                f"{who}: it is slower at step {high} than at {low}.",
                advice="Is that a slip of the pen or of the laps? Else time both again.",
                position=by_step[high][0].position,
            )
    drives = [float(levels[step - 1]) for step in moving]
    return SpeedCurve(moving, drives, [by_step[step] for step in moving])


def _reference(name: str, timings: Sequence[Timing]) -> tuple[int, float]:
    """The reference step, and by how much it changed; raises where that tells too much change."""
    if not timings:
        raise problem(f"{name}: no timing of this loco.", advice="Time it as the plan says.")
    step = timings[0].step
    ways = [[t for t in timings if t.step == step and t.is_forward is a] for a in (True, False)]
    rounds = min(map(len, ways))
    if rounds < ROUNDS or timings[-1].step != step or not all(t.seconds for w in ways for t in w):
        raise problem(
            f"{name}: a reference step is timed first, in the middle and last, both ways.",
            advice=f"Step {step} comes first here; time it {ROUNDS} times each way, moving.",
            position=timings[0].position,
        )
    speeds = [sqrt(ways[0][at].speed * ways[1][at].speed) for at in range(rounds)]
    change = max(speeds) / min(speeds) - 1
    if change > MOST_CHANGED:
        raise problem(
            f"{name}: the reference step {step} changed by {change * 100:.1f} % between its rounds,"
            f" and {MOST_CHANGED * 100:.0f} % are the most.",
            advice="Warm up for ten minutes, clean wheels and rails, and time this loco anew.",
            position=timings[0].position,
        )
    return step, change


def _short(timing: Timing) -> Fault:
    way = way_word(timing.is_forward)
    many, mean = len(timing.seconds), timing.mean
    said = f"{many} timings of {mean:.1f} s tell" if many > 1 else f"one of {mean:.1f} s tells"
    return Fault(
        f"{timing.loco}, step {timing.step} {way}: {said} the speed"
        f" to {200 * timing.error:.1f} %, and {PRECISION * 100:.0f} % are asked for.",
        timing.position,
        f"Time {timing.laps_wanted} times the distance, or this one {timing.repeats_wanted} times.",
    )
