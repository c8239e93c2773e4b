"""Which firmware a check is for, where the loco file does not say; never a silent choice."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from cvlib.engine.account.check import Checked, Saved, check
from cvlib.engine.known.identity import may_answer, versions_answering
from cvlib.engine.known.line import Stretch, known_at, stretches, version_within
from cvlib.engine.known.months import parts_of
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.finding import Finding
from cvlib.model.ranges import FirmwareRange, points_in_order
from cvlib.model.versions import EARLIEST, FirmwareVersion


class Ground(StrEnum):
    """Why a check was made at the firmware it was made at."""

    STATED = "stated"
    """The loco file or the command line says so."""
    ANSWERED = "answered"
    """The saved values hold the decoder's own answer."""
    ALIKE = "alike"
    """Nobody knows, but every firmware that fits gives the same findings."""


class Decided(NamedTuple):
    """A check at one firmware, and the ground for choosing it."""

    checked: Checked
    ground: Ground


class Undecided(NamedTuple):
    """Several firmwares fit and the findings differ: one check for each."""

    possible: tuple[tuple[Stretch, Checked], ...]
    reads: tuple[int, ...]
    """The CVs that hold the version, where the decoder answers one."""


def check_unknown(
    resolver: Resolver, saved: Saved, *, changed: bool = False
) -> Decided | Undecided:
    """The check of a decoder whose firmware nobody noted.

    The values' own answer decides where they hold one; else every stretch of firmware that the
    profile tells apart is tried, and where all agree that is the answer.
    """
    answered = versions_answering(resolver.profile, saved.values)
    if len(answered) == 1:
        return check_stated(resolver, answered[0], saved, Ground.ANSWERED, changed=changed)
    profile = resolver.profile
    fitting = [r.version for r in profile.releases if may_answer(profile, r.version, saved.values)]
    tried: list[tuple[Stretch, Checked]] = []
    for stretch in _told_apart(resolver):
        if answered and not any(version in stretch.firmware for version in answered):
            continue
        version = version_within(profile, stretch, (*answered, *fitting))
        tried.append((stretch, check(resolver, version, saved, changed=changed)))
    if len({_gist(checked) for _, checked in tried}) == 1:
        return Decided(tried[-1][1], Ground.ALIKE)
    reads = tuple(dict.fromkeys(part.field.slot.cv for part in profile.parts))
    return Undecided(tuple(tried), reads)


def check_stated(
    resolver: Resolver,
    version: FirmwareVersion,
    saved: Saved,
    ground: Ground = Ground.STATED,
    *,
    changed: bool = False,
) -> Decided | Undecided:
    """The check at a firmware that somebody named; undecided for a month whose days differ."""
    profile = resolver.profile
    checked = check(resolver, version, saved, changed=changed, undated=not version.end)
    tried: list[tuple[Stretch, Checked]] = []
    for part in parts_of(resolver, version) if version.end else ():
        stretch = Stretch(part, known_at(resolver.coverage, part.oldest), ())
        within = version_within(profile, stretch)
        tried.append((stretch, check(resolver, within, saved, changed=changed)))
    if len({_gist(held) for _, held in tried}) <= 1:
        return Decided(checked, ground)
    return Undecided(tuple(tried), tuple(dict.fromkeys(p.field.slot.cv for p in profile.parts)))


def _told_apart(resolver: Resolver) -> Iterator[Stretch]:
    """The generations, cut also where an advisory or a rule begins or ends, oldest first."""
    profile = resolver.profile
    limits = [rule.firmware for rule in profile.rules if rule.firmware is not None]
    limits += [advisory.firmware for advisory in profile.advisories]
    cuts = points_in_order({cut for limit in limits for cut in limit.cuts()})
    for stretch in stretches(resolver):
        rest = stretch.firmware
        for cut in cuts:
            older = rest & FirmwareRange.between(EARLIEST[profile.scheme], cut, rest)
            if not older.is_empty() and older != rest:
                yield stretch._replace(firmware=older)
                rest = rest - older
        yield stretch._replace(firmware=rest)


def _gist(checked: Checked) -> frozenset[tuple[object, ...]]:
    return frozenset(_told(finding) for finding in checked.findings if finding.code != "unset")


def _told(finding: Finding) -> tuple[object, ...]:
    """All that a finding says, apart from the firmware it is said for."""
    sides = (finding.was, finding.now, finding.lives_at, finding.after_update)
    told = tuple(tuple((t.setting, t.where, t.value, t.legal) for t in side) for side in sides)
    words = finding.standing, finding.text, finding.name
    return finding.code, finding.severity, finding.settings, finding.bits, told, words
