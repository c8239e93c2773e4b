"""Values of which nobody noted the firmware: what they would mean if they are older.

A version CV beside them says nothing: it is read anew by everybody after an update, and so is every
leftover. So each listed release up to the installed one is a candidate.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import NamedTuple

from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.meaning import value_gist
from cvlib.engine.known.told import tell
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits, Finding
from cvlib.model.answer import Standing
from cvlib.model.coding import Fields
from cvlib.model.coding_many import Curve, Text
from cvlib.model.cv import Slot
from cvlib.model.loco import State
from cvlib.model.profile import Release
from cvlib.model.ranges import is_older
from cvlib.model.versions import FirmwareVersion

CODE = "undated"


@dataclass(frozen=True, slots=True)
class History:
    """What is known of how saved values came about, apart from what they were saved for."""

    state: State = State.UNKNOWN
    dates: Mapping[Slot, str] = field(default_factory=dict)
    """The ISO date of a value, where it is known: no later release can have been meant."""
    since: Mapping[Slot, FirmwareVersion] = field(default_factory=dict)
    """The firmware that an earlier reading found: no older one can have been meant."""
    earlier: tuple[FirmwareVersion, ...] = ()
    """All firmware that readings found: what nobody read since may be left over from there."""
    outlived: frozenset[Slot] = frozenset()
    """Values that were noted at older firmware, of which nobody said that they were meant for it:
    what they were saved for is that firmware at most."""


class _Stake(NamedTuple):
    """Some bits that a setting owns now, and that meant something else at older firmware."""

    slot: Slot
    mask: int
    now: Claim
    then: tuple[Claim, ...]


class _Candidate(NamedTuple):
    """Older releases, at all of which the values mean the same."""

    releases: tuple[Release, ...]
    layout: Layout
    stakes: tuple[_Stake, ...]


def undated_finding(now: Layout, undated: Iterable[Slot], history: History) -> Finding | None:
    """What values that nobody dated would mean if they are older; nothing where that is one.

    A warning where some candidate allows every value at stake, else a note.
    """
    slots = [slot for slot in undated if slot in now.values]
    if not slots or history.state in (State.RESET, State.NEVER_UPDATED):
        return None
    found = _candidates(now, slots, history)
    at_stake = {(stake.slot, stake.mask) for one in found for stake in one.stakes}
    allowed = [one for one in found if not _forbids(one, at_stake, history)]
    if not found:
        return None
    best, *others = sorted(allowed or found, key=lambda one: -len(one.stakes))
    bits: dict[Slot, int] = {}
    for stake in best.stakes:
        bits[stake.slot] = bits.get(stake.slot, 0) | stake.mask
    claims = {stake.now.setting.id: stake.now for stake in best.stakes}
    meant = (
        tell(claim.setting, claim.place, claim.place.parts(now.values), _newest(one))
        for one in (best, *others)
        for stake in one.stakes
        for claim in stake.then
    )
    return Finding(
        CODE,
        Severity.WARNING if allowed else Severity.NOTE,
        tuple(claims),
        tuple(Bits(s.cv, str(s.page or ""), mask, now.values[s]) for s, mask in bits.items()),
        tuple(dict.fromkeys(meant)),
        tuple(
            tell(claim.setting, claim.place, claim.place.parts(now.values), str(now.version))
            for claim in claims.values()
        ),
        of_some=len(slots) < len(now.values),
    )


def outlived_findings(
    layout_of: Callable[[FirmwareVersion], Layout],
    saved_for: Mapping[Slot, FirmwareVersion],
    outlived: Collection[Slot],
    history: History,
) -> Iterator[Finding]:
    """The same question of values noted before an update, at the firmware that was in then.

    The update did not answer it, and what became of the decoder at it says nothing of that.
    """
    then = replace(history, state=State.UNKNOWN)
    for version in dict.fromkeys(saved_for[slot] for slot in outlived):
        slots = (slot for slot in outlived if saved_for[slot] == version)
        found = undated_finding(layout_of(version), slots, then)
        if found is not None:
            yield found


def _newest(candidate: _Candidate) -> str:
    return str(candidate.releases[-1].version)


def _candidates(now: Layout, slots: Sequence[Slot], history: History) -> list[_Candidate]:
    """The older candidates at which something else is meant, one for each meaning, newest first."""
    found: dict[object, _Candidate] = {}
    owned = [(slot, mask, claim) for slot in slots for mask, claim in _at_risk(now, slot)]
    releases = [r for r in now.resolver.profile.releases if is_older(r.version, now.version)]
    for release in reversed(releases) if owned else ():
        then = Layout(now.resolver, release.version, now.values, now.options)
        stakes = tuple(
            _Stake(slot, mask, claim, claims)
            for slot, mask, claim in owned
            if _may_be_of(release, slot, history)
            and (claims := _otherwise(then, slot, mask, claim))
        )
        if not stakes:
            continue
        key = tuple(
            (
                stake.slot,
                stake.mask,
                *(str(value_gist(c, stake.slot, now.values)) for c in stake.then),
            )
            for stake in stakes
        )
        known = found.get(key, _Candidate((), then, stakes))
        found[key] = known._replace(releases=(release, *known.releases))
    return list(found.values())


def _may_be_of(release: Release, slot: Slot, history: History) -> bool:
    """Whether a value can have been saved for a release, by its date and by earlier readings."""
    date, since = history.dates.get(slot), history.since.get(slot)
    if date and release.date[:10] > date:
        return False
    return since is None or not is_older(release.version, since)


def _at_risk(now: Layout, slot: Slot) -> Iterator[tuple[int, Claim]]:
    """The settings that own bits of a CV now, where the value is a person's and not the factory's,
    each with its bits.
    """
    masks: dict[str, tuple[int, Claim]] = {}
    for bit in range(8):
        owner = now.owner(slot, bit)
        if owner.basis is Basis.SETTING:
            claim = owner.claims[0]
            mask, _ = masks.get(claim.setting.id, (0, claim))
            masks[claim.setting.id] = mask | 1 << bit, claim
    for mask, claim in masks.values():
        if _is_set(claim) and not _is_factory(now, claim, slot):
            yield mask, claim


def _is_set(claim: Claim) -> bool:
    """Whether a person sets the place, and the decoder acts on it."""
    marks = claim.place.marks
    return not (
        marks.is_own or marks.reserved or marks.unused or claim.answer.standing is Standing.FAULTY
    )


def _is_factory(layout: Layout, claim: Claim, slot: Slot) -> bool:
    """Whether a CV holds what a factory reset leaves there."""
    place, values = claim.place, layout.values
    factory, parts = layout.factory(place), place.parts(values)
    if factory is None:
        return False
    if parts is not None and not isinstance(place.coding, (Curve, Text)):
        return parts == factory
    return all(
        held.take(values[slot]) == part
        for held, part in zip(place.fields, factory, strict=True)
        if held.slot == slot
    )


def _otherwise(then: Layout, slot: Slot, mask: int, now: Claim) -> tuple[Claim, ...]:
    """Who owned some bits at older firmware, where they meant something else for sure."""
    found: list[Claim] = []
    for owner, _ in groupby(then.owner(slot, bit) for bit in range(8) if mask >> bit & 1):
        if owner.basis > Basis.DISPUTED:
            continue
        if any(_is_open(c) or _is_same(c, now, slot, then.values) for c in owner.claims):
            continue
        found += owner.claims
    return tuple({claim.setting.id: claim for claim in found}.values())


def _is_open(claim: Claim) -> bool:
    """Whether a claim tells nothing of a value: the decoder's own, or a byte of fields."""
    return not _is_set(claim) or (
        isinstance(claim.place.coding, Fields) and claim.basis is not Basis.SETTING
    )


def _is_same(one: Claim, other: Claim, slot: Slot, values: Mapping[Slot, int]) -> bool:
    """Whether a value means the same by two claims, or is told in the same words."""
    if value_gist(one, slot, values) == value_gist(other, slot, values):
        return True
    parts, others = one.place.parts(values), other.place.parts(values)
    if one.setting.id != other.setting.id or parts is None or others is None:
        return False
    return one.place.coding.decode(parts).text == other.place.coding.decode(others).text


def _forbids(candidate: _Candidate, at_stake: Iterable[tuple[Slot, int]], history: History) -> bool:
    """Whether some value at stake is not allowed at a candidate."""
    layout, newest = candidate.layout, candidate.releases[-1]
    for slot, mask in at_stake:
        if not _may_be_of(newest, slot, history):
            continue
        owners = [layout.owner(slot, bit) for bit in range(8) if mask >> bit & 1]
        claims = [c for owner in owners if owner.basis <= Basis.DISPUTED for c in owner.claims]
        if claims and all(_is_faulty(layout, claim) for claim in claims):
            return True
    return False


def _is_faulty(layout: Layout, claim: Claim) -> bool:
    parts = claim.place.parts(layout.values)
    if parts is None:
        return False
    reading = claim.place.coding.decode(parts)
    return reading.fault is not None or bool(reading.stray)
