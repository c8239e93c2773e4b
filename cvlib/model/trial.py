"""A bench trial as it is kept: the plan made before the first run, and what each run came to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

MOST_RUNS = 2000
"""Runs of one trial that a file may hold."""
MOST_CONDITIONS = 100
"""Conditions of one trial that a file may hold."""


class TrialQuestion(StrEnum):
    """What a trial is to answer; chosen before the first run, with the margin."""

    STOPS = "stops"
    """Does it stop near enough to the mark?"""
    SPEED = "entry-speed"
    """Does the speed at which it comes matter?"""
    BETTER = "better"
    """Does it stop better at the second value of the setting than at the first?"""
    ACTS = "acts"
    """Does the setting act at all?"""
    UPDATE = "update"
    """Does it stop better with the new firmware? Days are compared, for the old is gone then."""


@dataclass(frozen=True, slots=True)
class TrialCondition:
    """What is the same for some of the runs and differs between them."""

    name: str
    value: int | None = None
    """The raw value of the setting in these runs; nothing where it stays as it is."""
    wish: float | None = None
    """Where the loco should stop then, in the unit of the trial."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the loco."""

    condition: str
    stop: float | None
    """What was measured, in the unit of the trial; nothing where the stop was missed."""
    date: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class BenchTrial:
    """Runs of one loco with one firmware, of which only what the plan varies differs."""

    setting: str
    question: TrialQuestion
    conditions: tuple[TrialCondition, ...]
    margin: float
    """Near enough to the mark, in the unit; fixed before the first run."""
    unit: str
    step: float
    """The smallest step that the tape or watch shows."""
    looks: tuple[int, ...]
    """After how many runs a side the answer may be looked for."""
    order: tuple[str, ...]
    """The conditions, run by run; every block holds every condition once."""
    date: str
    firmware: str
    """Of the decoder; of an update trial the old one."""
    to: str = ""
    """The new firmware of an update trial."""
    role: str = ""
    """Which decoder, where the loco has several."""
    seed: int = 0
    values: Mapping[str, str] = field(default_factory=dict)
    """Settings concerned and their values when the trial was planned, in words."""
    runs: tuple[Run, ...] = ()
    note: str = ""

    @property
    def level(self) -> float:
        """How sure each look is, so that false answers of all looks stay under one in twenty."""
        return 0.95 if len(self.looks) < 2 else 0.98

    def of(self, condition: str, most: int | None = None) -> tuple[Run, ...]:
        """The first runs under a condition, in the order they were made."""
        return tuple(run for run in self.runs if run.condition == condition)[:most]

    def condition(self, name: str) -> TrialCondition:
        """The condition of a name; raises KeyError where there is none."""
        return {one.name: one for one in self.conditions}[name]

    def is_near(self, run: Run) -> bool:
        """Whether a stop was near enough; a missed one was not."""
        wish = self.condition(run.condition).wish
        if run.stop is None or wish is None:
            return False
        return abs(run.stop - wish) <= self.margin * (1 + 1e-9)

    def due(self) -> Iterator[str]:
        """The conditions of the runs still to be made, in their order."""
        made: dict[str, int] = {}
        for run in self.runs:
            made[run.condition] = made.get(run.condition, 0) + 1
        for name in self.order:
            if made.get(name, 0):
                made[name] -= 1
            else:
                yield name
