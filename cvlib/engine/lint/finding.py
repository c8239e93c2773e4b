"""What lint looks at, the form of its rules, and what they find."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import islice
from typing import Any, TypeAlias, TypeVar

from cvlib.engine.known.line import Known, Stretch
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.model.answer import Answer
from cvlib.model.facet import same_placing
from cvlib.model.profile import Place, Profile, Setting
from cvlib.model.ranges import FirmwareRange

_Key = TypeVar("_Key")


@dataclass(frozen=True, slots=True)
class Spot:
    """A part of a profile file, named so that it is found again when lines move."""

    table: str
    """The heading it stands under, as files write it: ``setting``, ``firmware.release``."""
    id: str = ""
    """The id, or the version of a release; empty for a table that there is once."""
    place: int | None = None
    """Which of a setting's places, counted from 0; nothing where it is about all of them."""
    key: tuple[str | int, ...] = ()
    """The key in the table or in the place, and steps below it."""

    def __str__(self) -> str:
        """The spot in words: ``setting braking.mode, place 2, range``."""
        place = () if self.place is None else (f"place {self.place + 1}",)
        inner = (".".join(map(str, self.key)),) if self.key else ()
        return ", ".join((f"{self.table} {self.id}".strip(), *place, *inner))


@dataclass(frozen=True, slots=True)
class LintFinding:
    """Where something is wrong, what it is, and what to do."""

    spot: Spot
    message: str
    advice: str
    other: Spot | None = None
    """The other end, where two parts do not go together; in another file with ``beside``."""
    beside: str = ""
    """The profile that the other end is in, where that is not the one looked at."""


@dataclass(frozen=True, slots=True)
class Subject:
    """The profile that is looked at, with what several rules need worked out once."""

    resolver: Resolver
    stretches: tuple[Stretch, ...]
    """Its firmware cut where any setting changes, with the answer of every setting."""
    data: Mapping[str, Any] = field(default_factory=dict)
    """What the file itself says, key by key; empty where there is no file."""
    today: date = date.max

    @property
    def profile(self) -> Profile:
        """The profile itself, complete with what it follows."""
        return self.resolver.profile

    @property
    def settings(self) -> Iterable[Setting]:
        """Every setting of the profile, in its order."""
        return self.profile.settings.values()

    @property
    def written(self) -> Iterable[Setting]:
        """The settings that the profile or a block writes; those of a standard are left out.

        What a standard says is looked at where the standard itself is.
        """
        return (one for one in self.settings if not one.origin or "/blocks/" in one.origin)

    def answers(self, *known: Known) -> Iterator[tuple[FirmwareRange, Mapping[str, Answer]]]:
        """The answers by setting, stretch by stretch: all, or those that lie so to documents."""
        for stretch in self.stretches:
            if not known or stretch.known in known:
                yield stretch.firmware, {answer.setting: answer for answer in stretch.answers}


@dataclass(frozen=True, slots=True)
class Whole:
    """Everything of a store at once, for what only shows between files."""

    profiles: Mapping[str, Profile]
    """Every profile that can be read, by its id."""
    blocks: Mapping[str, Mapping[str, Any]]
    """What each blocks file says, by its name without the ending: ``ferrow/blocks``."""
    is_complete: bool = True
    """Whether every file of the store could be read."""
    about: frozenset[str] | None = None
    """The profiles of which something is asked; nothing where it is all of them."""


Check: TypeAlias = Callable[[Subject], Iterator[LintFinding]]
"""Everything one rule finds in a profile, in the order of the profile."""
Across: TypeAlias = Callable[[Whole], Iterator[tuple[str, LintFinding]]]
"""Everything one rule finds in a store, each with the name of the profile or the blocks file."""


@dataclass(frozen=True, slots=True)
class LintRule:
    """One kind of fault, with the check that finds it."""

    code: str
    """Lower-case words joined by hyphens, naming what was found; never given a second meaning."""
    severity: Severity
    sentence: str
    """What was found, as one sentence; the page ``docs/lint/<code>.md`` opens with it."""
    check: Check | None = None
    """Looks at one profile."""
    across: Across | None = None
    """Looks at the whole store; a rule has one of the two, seldom both, neither for reading."""
    unfinished: bool = False
    """It tells what still has to be added, so that one step of several is not refused for it."""


@dataclass(frozen=True, slots=True)
class Linted:
    """Everything that lint found, and how much it looked at."""

    remarks: tuple[Remark, ...]
    """By file and spot, each once."""
    accepted: int
    """Findings that a file accepts with a reason, and that are not shown."""
    profiles: int
    blocks: int
    files: int
    """Files named beside the definitions."""
    known: int = 0
    """Findings that are not told, for they were there at the revision that is compared with."""

    def has(self, severity: Severity) -> bool:
        """Whether anything as grave as this, or graver, was found."""
        return any(one.severity.at_least(severity) for one in self.remarks)


def at_place(setting: Setting, place: Place, *key: str | int) -> Spot:
    """The spot of one place of a setting, or of a key in it."""
    held = setting.places
    exact = (at for at, one in enumerate(held) if one is place)
    alike = (at for at, one in enumerate(held) if same_placing(one, place))
    number = next(exact, next(alike, None))
    return Spot("setting", setting.id, number, key)


def is_constant(place: Place) -> bool:
    """Whether a place that people only read can show one value and no other."""
    if not place.marks.read_only or len(place.fields) != 1:
        return False
    width = place.fields[0].mask.bit_count()
    legal = (raw for raw in range(1 << width) if place.coding.decode((raw,)).fault is None)
    return sum(1 for _ in islice(legal, 2)) == 1


def each_once(
    settings: Iterable[Setting], *, by_default: bool = False
) -> Iterator[tuple[Setting, Place]]:
    """Each place of some settings; what a repeat has alike for every index comes once."""
    seen: set[tuple[object, ...]] = set()
    for setting in settings:
        name = without_index(setting.id)
        for place in setting.places:
            default = place.defaults if by_default else ()
            key = (name, place.narrowing, place.citations, place.coding, default)
            if name == setting.id or key not in seen:
                seen.add(key)
                yield setting, place


def join(found: dict[_Key, FirmwareRange], key: _Key, firmware: FirmwareRange) -> None:
    """Note that something is found at some further firmware."""
    found[key] = found[key] | firmware if key in found else firmware
