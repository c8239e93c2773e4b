"""Locos that only exist as sums: dead zone, hysteresis, warm-up, scatter, and a hand on a watch."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, log
from random import Random

from cvlib.engine.compare.motion import Curve, Drawn, Form, three_point
from cvlib.engine.speed.fit import measure
from cvlib.engine.speed.speed_match import Abilities, SpeedValues, StepForecast, match_speeds
from cvlib.engine.speed.timings import PlannedRun, Timing, plan_runs
from cvlib.errors import InputError

TRACK = 1.8
"""Metres of one lap."""


@dataclass
class SimulatedLoco:
    """One loco: the drive it needs to move at all, and how its speed grows beyond that."""

    name: str
    random: Random
    top: float
    """Metres a second at full drive, forward and warm."""
    dead: float
    """The drive below which it stands."""
    bend: float
    """The exponent of speed over drive; 1 is a straight line."""
    back: float
    """What reverse runs at, against forward."""
    sticks: float
    """Drive levels by which it lags behind, coming from below or above."""
    cold: float
    """The share of its speed that is still missing when it is cold."""
    warms_in: float
    """Seconds in which that falls to a third."""
    scatter: float
    """The relative standard deviation of a run."""
    seconds: float = 600.0
    """How long it has been running."""
    last_drive: float = 0.0
    from_stand: bool = True
    """Whether each run begins from a stand, as the plan asks."""

    def true_speed(self, drive: float, is_forward: bool, lag: float = 0.0) -> float:
        """Metres a second, warm, without scatter."""
        share = max(drive - lag - self.dead, 0) / (255 - self.dead)
        return self.top * share**self.bend * (1 if is_forward else self.back)

    def run(self, step: int, drive: float, is_forward: bool) -> Timing:
        """One step timed as a person would: laps until the watch tells enough."""
        from_below = self.from_stand or drive > self.last_drive
        self.last_drive = drive
        speed = self.true_speed(drive, is_forward, self.sticks if from_below else -self.sticks)
        speed *= 1 - self.cold * exp(-self.seconds / self.warms_in)
        speed *= exp(self.random.gauss(0, self.scatter))
        if speed < 0.004:
            return Timing(self.name, step, is_forward, TRACK, ())
        laps = max(1, ceil(15.5 * speed / TRACK))
        seconds = laps * TRACK / speed
        self.seconds += seconds + 15
        read = round(max(seconds + self.random.gauss(0, 0.15), 0.1), 1)
        while read < 15:
            read = round(seconds + abs(self.random.gauss(0, 0.15)), 1)
        return Timing(self.name, step, is_forward, laps * TRACK, (read,))

    def timed(
        self, runs: Sequence[PlannedRun], drawn: Drawn, warm_up: float = 600.0
    ) -> list[Timing]:
        """All its runs of a plan, after ten minutes of warming up or another time."""
        self.seconds = warm_up
        return [self.planned(run, drawn) for run in runs if run.loco == self.name]

    def planned(self, run: PlannedRun, drawn: Drawn) -> Timing:
        """One run of a plan."""
        levels = drawn.forward if run.is_forward else drawn.reverse
        return self.run(run.step, float(levels[run.step - 1]), run.is_forward)


def simulated(name: str, random: Random) -> SimulatedLoco:
    """A loco as it may come: all of its habits drawn from what is usual (common practice)."""
    return SimulatedLoco(
        name,
        random,
        top=random.uniform(0.25, 0.6),
        dead=random.uniform(5, 40),
        bend=random.uniform(0.85, 1.25),
        back=random.uniform(0.85, 1.15),
        sticks=random.uniform(0, 1.5),
        cold=random.uniform(0, 0.15),
        warms_in=random.uniform(120, 400),
        scatter=random.uniform(0.002, 0.012),
    )


def line(minimum: float = 6, maximum: float = 255) -> Curve:
    """A straight speed curve."""
    return three_point(int(minimum), 0, int(maximum))


@dataclass(frozen=True)
class Outcome:
    """What became of one simulated pair: matched, written, and timed again."""

    is_refused: bool
    is_rising: bool = True
    """Whether no table falls anywhere."""
    checks_inside: bool = True
    """Whether every time of the last check lies inside what was foreseen."""
    apart_inside: bool = True
    """Whether the true speeds of the two differ by no more than was said, at every step."""
    half_width: float = 0.0
    """The widest foreseen speed of the check, relatively, to one side."""


def pair_matched(
    seed: int, *, tables: bool = True, from_stand: bool = True, warm_up: float = 600.0
) -> Outcome:
    """A pair of simulated locos put through everything a person does."""
    random = Random(seed)
    locos = [simulated(name, random) for name in "AB"]
    for loco in locos:
        loco.from_stand = from_stand
    curve = line(random.choice([4, 8, 12]), random.choice([160, 200, 255]))
    drawn = Drawn(Form.LINE, curve, curve)
    runs = plan_runs("AB", seed=seed)
    timings = [timing for loco in locos for timing in loco.timed(runs, drawn, warm_up)]
    now = {"A": (curve, curve), "B": (curve, curve)}
    able = Abilities(tables, not tables, has_trims=True)
    try:
        measured_locos, scatter = measure(timings, [("A", drawn), ("B", drawn)])
        match = match_speeds(measured_locos, now, {"A": able, "B": able}, scatter)
    except InputError:
        return Outcome(is_refused=True)
    inside = [_checked(loco, held) for loco, held in zip(locos, match.values, strict=True)]
    first, second = (held.forecast for held in match.values)
    apart = [
        abs(log(_true(locos[0], mine) / _true(locos[1], theirs)))
        for mine, theirs in zip(first, second, strict=True)
        if mine.off is not None and theirs.off is not None
    ]
    tables_made = [held.table for held in match.values if held.table]
    return Outcome(
        False,
        all(list(table) == sorted(table) for table in tables_made),
        all(inside),
        max(apart) <= log(1 + match.apart),
        max(check.high / check.speed - 1 for held in match.values for check in held.checks),
    )


def _true(loco: SimulatedLoco, held: StepForecast) -> float:
    return max(loco.true_speed(float(held.drive), held.is_forward, loco.sticks), 1e-6)


def _checked(loco: SimulatedLoco, values: SpeedValues) -> bool:
    """Whether the three steps to time come out as foreseen, after another warm-up."""
    drives = {(held.step, held.is_forward): float(held.drive) for held in values.forecast}
    loco.seconds = 600.0
    checks = list(values.checks)
    loco.random.shuffle(checks)
    found = [loco.run(c.step, drives[c.step, c.is_forward], c.is_forward) for c in checks]
    return all(c.low <= one.speed <= c.high for c, one in zip(checks, found, strict=True))
