"""How a profile's settings changed from firmware to firmware."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cvlib.engine.known.line import (
    Change,
    Known,
    Stretch,
    differ,
    differences,
    generations,
    stretches,
)
from cvlib.engine.known.listing import check_groups
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.profile import Profile, Release, Setting, is_about
from cvlib.model.ranges import FirmwareRange


@dataclass(frozen=True, slots=True)
class Changes:
    """How many settings changed since the documents before, each counted against its own last."""

    added: int
    removed: int
    moved: int
    recoded: int


@dataclass(frozen=True, slots=True)
class Generation:
    """One stretch of firmware of a whole profile."""

    firmware: FirmwareRange
    known: Known
    partly: bool
    """Whether documents speak here for some of the settings only."""
    releases: tuple[Release, ...]
    tests: tuple[str, ...]
    """Titles of the bench tests made on firmware of it."""
    settings: int
    """How many settings exist here or may exist, areas apart."""
    disputed: int
    changes: Changes | None
    """None where no document speaks, and for the first stretch in which one does."""


@dataclass(frozen=True, slots=True)
class Life:
    """One setting through all firmware."""

    setting: Setting
    stretches: tuple[Stretch, ...]
    """Oldest first, each with the one answer."""

    @property
    def changes(self) -> bool:
        """Whether not the same is said of it everywhere."""
        first, *others = (answer for one in self.stretches for answer in one.answers)
        return any(differ(first, other) for other in others)


@dataclass(frozen=True, slots=True)
class Timeline:
    """A profile through all firmware, and some of its settings one by one."""

    profile: Profile
    generations: tuple[Generation, ...]
    lives: tuple[Life, ...]
    """The settings asked for, or those that change; in the order of the profile."""
    steady: int
    """How many of the settings asked for were left out because they never change."""
    whole: bool
    """Whether the whole profile was asked for and not just some settings."""


def timeline(
    resolver: Resolver, settings: Iterable[str], groups: Iterable[str], *, every: bool
) -> Timeline:
    """The generations of a profile, and the lives of settings.

    ``settings`` are told in any case; of ``groups``, and of the whole profile where neither is
    given, those that change, or all with ``every``. Raises
    :class:`~cvlib.errors.InputError` for a setting or group that does not exist.
    """
    profile = resolver.profile
    named = [profile.setting(name) for name in settings]
    wanted = tuple(groups)
    check_groups(profile, wanted)
    rest = [
        setting
        for setting in profile.settings.values()
        if setting not in named
        and (is_about(wanted, setting.id) or not (wanted or named))
        and not setting.is_area
    ]
    lives = [Life(setting, stretches(resolver, [setting])) for setting in (*named, *rest)]
    told = [life for at, life in enumerate(lives) if at < len(named) or every or life.changes]
    whole = not (named or wanted)
    return Timeline(
        profile,
        _generations(resolver) if whole else (),
        tuple(told),
        len(lives) - len(told),
        whole,
    )


def _generations(resolver: Resolver) -> tuple[Generation, ...]:
    profile = resolver.profile
    settings = [setting for setting in profile.settings.values() if not setting.is_area]
    found: list[Generation] = []
    last: dict[str, Answer] = {}
    for stretch in generations(resolver, settings):
        told = {
            answer.setting: answer
            for answer in stretch.answers
            if answer.standing is Standing.DOCUMENTED
        }
        found.append(
            Generation(
                stretch.firmware,
                stretch.known,
                stretch.known is Known.COVERED and len(told) < len(settings),
                tuple(r for r in profile.releases if r.version in stretch.firmware),
                _tests(profile, stretch),
                sum(not answer.is_absent for answer in stretch.answers),
                stretch.disputed,
                _changes(last, told) if told and last else None,
            )
        )
        last |= told
    return tuple(found)


def _changes(last: Mapping[str, Answer], told: Mapping[str, Answer]) -> Changes:
    both = told.keys() & last.keys()
    found = differences({n: last[n] for n in both}, {n: told[n] for n in both})
    counted = Counter(one.change for one in found)
    return Changes(
        counted[Change.ADDED],
        counted[Change.REMOVED],
        counted[Change.MOVED],
        counted[Change.RECODED],
    )


def _tests(profile: Profile, stretch: Stretch) -> tuple[str, ...]:
    """The titles of the bench tests that were made on firmware of a stretch."""
    tests = (source for source in profile.sources.values() if not source.is_document)
    held = (one for one in tests if not (one.firmware & stretch.firmware).is_empty())
    return tuple(dict.fromkeys(profile.source_title(one.id) for one in held))
