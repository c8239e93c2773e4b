"""What a decoder's page tells: its firmware cut into steps and columns, and what became of each
setting.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from cvlib.engine.known.line import Known, Stretch, generations, stretches
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.timeline import Life
from cvlib.model.answer import Standing
from cvlib.model.facet import Facet, facets
from cvlib.model.profile import Profile, Setting
from cvlib.model.ranges import FirmwareRange, in_order
from cvlib.model.versions import FirmwareVersion, Key
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.views.overview import chapters

_ODD = re.compile(r"[^A-Za-z0-9_.-]+")


class Course(StrEnum):
    """What became of a setting through all firmware that a document speaks for."""

    STEADY = "never moved"
    MOVED = "moved"
    RECODED = "recoded"
    NEW = "new"
    GONE = "gone"
    UNREAD = "in no document"


def course_of(life: Life) -> Course:
    """The gravest of what became of a setting; in no document: it rests on a standard or nobody."""
    story = chapters(life)
    if not story:
        return Course.UNREAD
    if story[-1].place is None:
        return Course.GONE
    if _absent_first(life):
        return Course.NEW
    places = [one.place for one in story if one.place is not None]
    found = {facet for one in places for other in places for facet in facets(one, other)}
    if Facet.CVS in found:
        return Course.MOVED
    is_recoded = not found.isdisjoint((Facet.CODING, Facet.RANGE, Facet.CONDITION))
    return Course.RECODED if is_recoded else Course.STEADY


def _absent_first(life: Life) -> bool:
    """Whether the oldest document that says anything of a setting says that it is not there."""
    for stretch in life.stretches:
        answer = stretch.answers[0].documented()
        if answer.standing is Standing.DOCUMENTED:
            return answer.is_absent
    return False


def anchor(name: str) -> str:
    """The name of a place on a page, of letters that every address may have.

    >>> anchor("s-output[3].type")
    's-output-3-.type'
    """
    return _ODD.sub("-", name)


@dataclass(frozen=True)
class DecoderFacts:
    """One profile with everything its page tells."""

    resolver: Resolver

    @property
    def profile(self) -> Profile:
        """The profile itself."""
        return self.resolver.profile

    @property
    def name(self) -> str:
        """Maker and name."""
        return f"{self.profile.maker} {self.profile.name}".strip() or self.profile.id

    @cached_property
    def settings(self) -> tuple[Setting, ...]:
        """All that a person sets or reads; areas apart."""
        return tuple(one for one in self.profile.settings.values() if not one.is_area)

    @cached_property
    def lives(self) -> tuple[Life, ...]:
        """Each setting through all firmware."""
        return tuple(Life(one, stretches(self.resolver, [one])) for one in self.settings)

    @cached_property
    def courses(self) -> dict[str, Course]:
        """What became of each setting."""
        return {life.setting.id: course_of(life) for life in self.lives}

    @cached_property
    def steps(self) -> tuple[Stretch, ...]:
        """Firmware over which no answer changes, bench tests counted; the finest cut there is."""
        return stretches(self.resolver, self.settings)

    @cached_property
    def columns(self) -> tuple[Stretch, ...]:
        """Firmware over which no setting changes its place, by the documents alone."""
        return generations(self.resolver, self.settings)

    @cached_property
    def versions(self) -> tuple[FirmwareVersion, ...]:
        """Every release, and every firmware that a bench test was made on, oldest first."""
        found = {release.version for release in self.profile.releases}
        for source in self.profile.sources.values():
            if not source.is_document:
                found.update(source.firmware.singles() or ())
        return tuple(in_order(found))

    def steps_within(self, firmware: FirmwareRange) -> tuple[int, int]:
        """The numbers of the first and the last step of some firmware."""
        held = [at for at, step in enumerate(self.steps) if firmware.holds(step.point)]
        return (held[0], held[-1]) if held else (0, 0)

    def step_at(self, point: Key) -> int:
        """The number of the step in which a point of the version line lies."""
        return next(at for at, step in enumerate(self.steps) if step.firmware.holds(point))

    def sentence(self) -> str:
        """How many settings there are and what became of them, and what nobody has read."""
        counts = Counter(self.courses.values())
        told = [f"{counts[one]} {one.value}" for one in Course if counts[one]]
        settings = counted(len(self.settings), "setting")
        if self.profile.kind == "standard":
            return f"{settings} of a published standard."
        unread = listed(self.unread())
        gaps = f" Nobody has read {unread}." if unread else ""
        return f"{settings}: {', '.join(told)}.{gaps}"

    def unread(self) -> list[str]:
        """Firmware with known releases for which no document speaks, in words."""
        covered = self.resolver.coverage
        if covered.is_empty():
            return ["any of its handbooks"]
        found = []
        for gap in (~covered).texts():
            firmware = FirmwareRange.parse(gap, self.profile.scheme)
            held = [str(one) for one in self.versions if one in firmware]
            if held:
                found.append(f"{firmware_words(gap)} ({listed(held, 4)})")
        return found


def is_unread(stretch: Stretch) -> bool:
    """Whether no document speaks for a stretch of firmware."""
    return stretch.known is not Known.COVERED


def by_group(lives: Iterable[Life]) -> dict[str, list[Life]]:
    """Settings group by group, in the order of the profile."""
    found: dict[str, list[Life]] = {}
    for life in lives:
        found.setdefault(life.setting.group, []).append(life)
    return found
