"""Measured speeds of a loco over the drive: a monotone curve, and how far it can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, hypot, log, sqrt
from typing import TYPE_CHECKING, Any

from cvlib.engine.compare.motion import Drawn
from cvlib.engine.speed.timings import PRECISION, Timing
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

_GRID = 2001


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far runs of one kind differ, from the reference steps of all locos together."""

    relative: float
    """One standard deviation of a run at a reference step, the stopwatch apart."""
    freedom: int
    """Degrees of freedom behind it."""


class SpeedCurve:
    """The speed of one loco in one direction over the drive, between its lowest and highest."""

    def __init__(
        self, steps: Sequence[int], drives: Sequence[float], speeds: Sequence[float]
    ) -> None:
        import numpy as np

        self.steps = tuple(steps)
        """The steps that were timed, those at which it stands left out."""
        self.drives: NDArray[Any] = np.asarray(drives, float)
        self.speeds: NDArray[Any] = np.asarray(speeds, float)
        self._errors: NDArray[Any] = np.zeros(len(steps))
        self._grid = np.linspace(self.drives[0], self.drives[-1], _GRID)
        self._curve = _monotone(self.drives, self.speeds, self._grid)
        slopes = np.gradient(self.speeds, self.drives) / self.speeds
        self._sensitivity: NDArray[Any] = np.maximum(slopes, 0)
        self._left_out = self._leave_one_out()

    @property
    def slowest(self) -> float:
        """Metres a second at the lowest drive that was measured."""
        return float(self._curve[0])

    @property
    def fastest(self) -> float:
        """Metres a second at the highest drive that was measured."""
        return float(self._curve[-1])

    @property
    def lowest(self) -> float:
        """The lowest drive at which it was seen to move."""
        return float(self.drives[0])

    def speed(self, drive: float) -> float | None:
        """Metres a second at a drive level; nothing outside of what was measured.

        One level further counts as measured: entries are whole numbers.
        """
        import numpy as np

        beyond = drive - float(np.clip(drive, self.drives[0], self.drives[-1]))
        if abs(beyond) > 1:
            return None
        end = self._sensitivity[0 if beyond < 0 else -1]
        return float(np.interp(drive, self._grid, self._curve) * exp(beyond * end))

    def drive(self, speed: float) -> float | None:
        """The drive level for a speed; nothing outside of what was measured."""
        import numpy as np

        if not self.slowest * (1 - 1e-9) <= speed <= self.fastest * (1 + 1e-9):
            return None
        return float(np.interp(speed, self._curve, self._grid))

    def settle(self, scatter: Scatter, reference: int, timings: Sequence[Sequence[Timing]]) -> None:
        """Note how sure each measured speed is: the stopwatch, and the scatter of the runs.

        A loco is less steady where a small change of drive changes its speed more; that share is
        reckoned from the slope, against the one at the reference step.
        """
        import numpy as np

        at = self.steps.index(reference)
        ratio = self._sensitivity / max(self._sensitivity[at], 1e-9)
        self._runs: NDArray[Any] = scatter.relative * np.maximum(ratio, 1)
        watch = [sqrt(sum(one.error**2 for one in held)) / len(held) for held in timings]
        rounds = np.sqrt([len(held) for held in timings])
        self._errors = np.hypot(self._runs / rounds, watch)

    def run_error(self, drive: float) -> float:
        """The relative standard deviation of one run there, the stopwatch apart."""
        import numpy as np

        return float(np.interp(drive, self.drives, self._runs))

    def error(self, drive: float) -> float:
        """The relative standard deviation of the fitted speed, interpolation included."""
        import numpy as np

        at = int(np.clip(np.searchsorted(self.drives, drive) - 1, 0, len(self.drives) - 2))
        low, high = self.drives[at], self.drives[at + 1]
        share = float(np.clip((drive - low) / (high - low), 0, 1))
        speeds, errors = self.speeds[at : at + 2], self._errors[at : at + 2]
        weights = np.array([1 - share, share]) * speeds
        measured = float(sqrt(((weights * errors) ** 2).sum()) / weights.sum())
        between = 4 * share * (1 - share) * max(self._left_out[at : at + 2]) / LEFT_OUT
        return hypot(measured, between)

    def _leave_one_out(self) -> NDArray[Any]:
        """How far each measured speed lies from the curve through the others, relatively.

        The lowest and the highest take what their neighbours have.
        """
        import numpy as np

        off = np.zeros(len(self.drives))
        for at in range(1, len(self.drives) - 1):
            keep = np.arange(len(self.drives)) != at
            guess = _monotone(self.drives[keep], self.speeds[keep], self.drives[at : at + 1])[0]
            off[at] = abs(log(guess / self.speeds[at]))
        off[0], off[-1] = off[1], off[-2]
        return off


LEFT_OUT = 3.0
"""By how much the interpolation error shrinks where no point is left out: a gap is half as wide.
At 3 the predictions held in the simulations of tests/engine/test_speed_simulated.py."""


def _monotone(drives: NDArray[Any], speeds: NDArray[Any], at: NDArray[Any]) -> NDArray[Any]:
    """A curve that never falls through measured speeds, by isotonic regression and then PCHIP."""
    import numpy as np
    from scipy.interpolate import PchipInterpolator
    from scipy.optimize import isotonic_regression

    rising = isotonic_regression(speeds).x * (1 + 1e-9 * np.arange(len(speeds)))
    return np.asarray(PchipInterpolator(drives, rising)(at))


@dataclass(frozen=True, slots=True)
class MeasuredLoco:
    """One loco as it was timed."""

    name: str
    forward: SpeedCurve
    reverse: SpeedCurve
    reference: int
    change: float
    """By how much the reference step changed between its slowest and fastest round, relatively."""

    @property
    def curves(self) -> tuple[SpeedCurve, SpeedCurve]:
        """Forward, then reverse."""
        return self.forward, self.reverse

    @property
    def first_step(self) -> int:
        """The lowest timed step at which it moves both ways."""
        return max(curve.steps[0] for curve in self.curves)

    @property
    def last_step(self) -> int:
        """The highest step that was timed both ways."""
        return min(curve.steps[-1] for curve in self.curves)


def measured(
    timings: Sequence[Timing], drawn: Sequence[tuple[str, Drawn]]
) -> tuple[tuple[MeasuredLoco, ...], Scatter]:
    """The fitted speeds of each loco, and how far its runs scatter.

    ``drawn`` holds the drive at each step as the timings were made. Raises InputError with all
    that is wrong with the timings: too short, too few, a reference step that changed, a speed that
    falls.
    """
    faults = [_short(one) for one in timings if not one.is_precise]
    found: list[tuple[MeasuredLoco, list[list[list[Timing]]]]] = []
    squares, freedom = 0.0, 0
    for name, curve in drawn:
        own = [one for one in timings if one.loco == name]
        try:
            loco, held = _measured(name, own, curve)
        except InputError as error:
            faults.extend(error.faults)
            continue
        found.append((loco, held))
        for way, groups in zip(loco.curves, held, strict=True):
            rounds = groups[way.steps.index(loco.reference)]
            logs = [log(one.speed) for one in rounds]
            mean = sum(logs) / len(logs)
            squares += sum((one - mean) ** 2 for one in logs)
            squares -= (len(logs) - 1) * sum(one.error**2 for one in rounds) / len(rounds)
            freedom += len(logs) - 1
    if faults:
        raise InputError(*faults)
    scatter = Scatter(max(sqrt(max(squares, 0) / freedom), LEAST_SCATTER), freedom)
    for loco, held in found:
        for way, groups in zip(loco.curves, held, strict=True):
            way.settle(scatter, loco.reference, groups)
    return tuple(loco for loco, _ in found), scatter


def _measured(
    name: str, timings: Sequence[Timing], drawn: Drawn
) -> tuple[MeasuredLoco, list[list[list[Timing]]]]:
    """One loco with its timings, each way step by step."""
    if not timings:
        raise problem(f"{name}: no timing of this loco.", advice="Time it as the plan says.")
    reference, change = _reference(name, timings)
    curves: list[SpeedCurve] = []
    groups: list[list[list[Timing]]] = []
    for ahead, levels in ((True, drawn.forward), (False, drawn.reverse)):
        way = "forward" if ahead else "reverse"
        by_step: dict[int, list[Timing]] = {}
        for one in timings:
            if one.is_forward is ahead:
                by_step.setdefault(one.step, []).append(one)
        moving = [step for step in sorted(by_step) if all(one.seconds for one in by_step[step])]
        stands = [step for step in by_step if step not in moving]
        if len(moving) < 4:
            raise problem(
                f"{name}, {way}: it was timed moving at {len(moving)} steps, and 4 are the least.",
                advice="Time six to eight steps, closer at the bottom.",
            )
        if stands and max(stands) > moving[0]:
            raise problem(
                f"{name}, {way}: it stands at step {max(stands)} and moves at step {moving[0]}.",
                advice="Is that a slip? Else mend the loco first: it stalls.",
                position=by_step[max(stands)][0].position,
            )
        held = [by_step[step] for step in moving]
        speeds = [exp(sum(log(one.speed) for one in same) / len(same)) for same in held]
        for at, (low, high) in enumerate(pairwise(speeds), 1):
            if high < low * (1 - FALLS):
                raise problem(
                    f"{name}, {way}: it is slower at step {moving[at]} than at {moving[at - 1]}.",
                    advice="Is that a slip of the pen or of the laps? Else time both again.",
                    position=held[at][0].position,
                )
        drives = [float(levels[step - 1]) for step in moving]
        if any(high <= low for low, high in pairwise(drives)):
            raise problem(
                f"{name}: two of the timed steps have one and the same drive by its saved values.",
                advice="Write the factory speed curve, note it in the loco file, and time anew.",
            )
        curves.append(SpeedCurve(moving, drives, speeds))
        groups.append(held)
    return MeasuredLoco(name, curves[0], curves[1], reference, change), groups


def _reference(name: str, timings: Sequence[Timing]) -> tuple[int, float]:
    """The reference step, and by how much it changed; raises where that tells too much change."""
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
    way = "forward" if timing.is_forward else "reverse"
    times = f"{len(timing.seconds)} timings" if len(timing.seconds) > 1 else "one timing"
    return Fault(
        f"{timing.loco}, step {timing.step} {way}: {times} of {timing.mean:.1f} s tell the speed"
        f" to {200 * timing.error:.1f} %, and {PRECISION * 100:.0f} % are asked for.",
        timing.position,
        f"Time {timing.laps_wanted} times the distance, or this one {timing.repeats_wanted} times.",
    )
