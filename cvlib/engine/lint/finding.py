"""One thing that is wrong with a profile, though its file is well formed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from cvlib.engine.generations import Stretch
from cvlib.engine.resolve import Resolver
from cvlib.errors import Position
from cvlib.model.profile import Setting


@dataclass(frozen=True, slots=True)
class LintFinding:
    """What is wrong, with which setting, and what to do."""

    code: str
    setting: str
    message: str
    advice: str
    place: int | None = None
    """Which of the setting's places, counted from 0; nothing where it is about all of them."""


@dataclass(frozen=True, slots=True)
class Subject:
    """The profile that is looked at, with what several rules need worked out once."""

    resolver: Resolver
    stretches: tuple[Stretch, ...]
    """Its firmware cut where any setting changes, with the answer of every setting."""

    @property
    def settings(self) -> Iterable[Setting]:
        """Every setting of the profile, in its order."""
        return self.resolver.profile.settings.values()


Check: TypeAlias = Callable[[Subject], Iterator[LintFinding]]
"""Everything one rule finds in a profile, in the order of the profile."""


@dataclass(frozen=True, slots=True)
class LintRule:
    """One kind of fault, with the check that finds it."""

    code: str
    """Lower-case words joined by hyphens, naming what was found; never given a second meaning."""
    sentence: str
    check: Check


@dataclass(frozen=True, slots=True)
class LintMessage:
    """One fault of a file, with its spot."""

    code: str
    position: Position
    problem: str
    advice: str = ""

    def __str__(self) -> str:
        """The fault on one line: ``file:line:column: code message``."""
        advice = f" {self.advice}" if self.advice else ""
        return f"{self.position}: {self.code} {self.problem}{advice}"

    @property
    def order(self) -> tuple[str, int, int, str, str]:
        """The key that sorts faults by file and spot."""
        spot = self.position
        return spot.file, spot.line or 0, spot.column or 0, self.code, self.problem


@dataclass(frozen=True, slots=True)
class Linted:
    """Everything that lint found, and how much it looked at."""

    messages: tuple[LintMessage, ...]
    """By file and spot, each once."""
    profiles: int
    blocks: int
    files: int
    """Files named beside the definitions."""
