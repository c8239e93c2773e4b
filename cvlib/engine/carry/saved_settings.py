"""Saved CV values as settings: each read at the firmware it was saved for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from cvlib.engine.account.check import Saved
from cvlib.engine.account.claims import Basis, Claim, Layout, Owner, canonical
from cvlib.engine.carry.carry_outcomes import (
    At,
    Candidate,
    Disputed,
    Left,
    ReadOnly,
    Refusal,
    Refused,
    Superseded,
)
from cvlib.engine.carry.choosing import choice_for, picked
from cvlib.engine.carry.compose_bytes import owned_bits
from cvlib.engine.known.identity import expected_answers
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class Origin:
    """The values of one decoder, each with the firmware it was saved for."""

    resolver: Resolver
    saved: Saved
    """Every slot has its firmware in ``saved_for``."""
    order: Mapping[Slot, int]
    """Which values were saved later: the higher number wins. A slot left out counts as 0."""

    @property
    def version(self) -> FirmwareVersion:
        """The firmware that most values were saved for; of two, the one of the latest values.

        What a decoder answers of itself is read anew after an update and tells of no other value.
        """
        known = self.saved.saved_for
        own = {v: expected_answers(self.resolver.profile, v) for v in set(known.values())}
        told = [slot for slot, version in known.items() if slot not in own[version]] or list(known)
        told.sort(key=lambda slot: self.order.get(slot, 0), reverse=True)
        return Counter(known[slot] for slot in told).most_common(1)[0][0]


@dataclass(slots=True)
class Gathered:
    """What the saved values come to, setting by setting."""

    settings: dict[str, At] = field(default_factory=dict)
    """Settings with a whole and legal value."""
    troubled: dict[str, Refused | Disputed | ReadOnly] = field(default_factory=dict)
    left: list[Left] = field(default_factory=list)
    superseded: list[Superseded] = field(default_factory=list)
    owners: dict[Slot, tuple[Owner, ...]] = field(default_factory=dict)
    """Who owned each bit of each saved CV, bit 0 first."""


def gather(origin: Origin, choices: Mapping[str, str]) -> Gathered:
    """The settings of which something is saved, newest saved value first where there are two.

    ``choices`` settle disputed places, by setting id:
    see :func:`~cvlib.engine.carry.choosing.picked`.
    """
    return _Gathering(origin, choices).done()


class _Gathering:
    """One gathering under way, from the oldest saved firmware to the latest."""

    def __init__(self, origin: Origin, choices: Mapping[str, str]) -> None:
        self.resolver = origin.resolver
        self.order = origin.order
        self.choices = choices
        self.options = origin.saved.options
        second = canonical(self.resolver.profile.settings.values(), origin.saved.values)
        doubled = {slot for slot, first in second.items() if first in origin.saved.values}
        kept = [slot for slot in origin.saved.values if slot not in doubled]
        self.values = {second.get(slot, slot): origin.saved.values[slot] for slot in kept}
        self.versions = {second.get(slot, slot): origin.saved.saved_for[slot] for slot in kept}
        self.found = Gathered()
        self._footprints: dict[FirmwareVersion, dict[Slot, frozenset[object]]] = {}

    def done(self) -> Gathered:
        """Everything gathered."""
        ranks: dict[FirmwareVersion, int] = {}
        for slot, version in self.versions.items():
            ranks[version] = max(ranks.get(version, 0), self.order.get(slot, 0))
        for version in sorted(ranks, key=lambda v: ranks[v]):
            self._of(version)
        for name in self.found.settings:
            self.found.troubled.pop(name, None)
        self.found.left = list(self._unused())
        return self.found

    def _unused(self) -> Iterator[Left]:
        """What is left, without the bits that another setting was found to use."""
        used: dict[Slot, int] = {}
        places = [held.place for held in self.found.settings.values()]
        for held in self.found.troubled.values():
            match held:
                case Disputed():
                    places += [one.place for one in held.candidates if one.place is not None]
                case Refused():
                    places.append(held.place)
                case ReadOnly():
                    places.append(held.old.place)
        for place in places:
            for part, mask in zip(place.fields, owned_bits(place), strict=True):
                used[part.slot] = used.get(part.slot, 0) | mask
        bits: dict[Slot, Left] = {}
        for left in self.found.left:
            before = bits[left.slot].mask if left.slot in bits else 0
            if mask := (left.mask | before) & ~used.get(left.slot, 0):
                bits[left.slot] = replace(left, mask=mask)
        yield from bits.values()

    def _of(self, version: FirmwareVersion) -> None:
        values = {s: v for s, v in self.values.items() if self._reads_alike(s, version)}
        layout = Layout(self.resolver, version, values, self.options)
        claims: dict[str, Claim] = {}
        for slot in sorted(values, key=lambda held: held.order):
            if self.versions[slot] != version:
                continue
            owners = tuple(layout.owner(slot, bit) for bit in range(8))
            self.found.owners[slot] = owners
            for mask, owner in _grouped(owners):
                self._sort(layout, slot, mask, owner, claims)
        for claim in claims.values():
            self._take(layout, claim)

    def _sort(
        self, layout: Layout, slot: Slot, mask: int, owner: Owner, claims: dict[str, Claim]
    ) -> None:
        match owner.basis:
            case Basis.SETTING:
                claims.setdefault(owner.names[0], owner.claims[0])
            case Basis.DISPUTED:
                for claim in owner.claims:
                    if choice_for(claim.answer, self.choices):
                        claims.setdefault(claim.setting.id, claim)
                    else:
                        self._dispute(claim)
            case Basis.UNDECIDED:
                for claim in owner.claims:
                    needs = tuple(when.setting for when in claim.place.when)
                    self._refuse(claim, layout, Refusal.UNDECIDED, needs)
            case Basis.FIELDS | Basis.AREA | Basis.NONE:
                value = layout.values[slot]
                self.found.left.append(Left(slot, mask, value, layout.version))

    def _take(self, layout: Layout, claim: Claim) -> None:
        """The value of one setting, unless it is the decoder's own or cannot be trusted."""
        place = claim.place
        if choice := choice_for(claim.answer, self.choices):
            chosen = picked(claim.answer, choice)
            if chosen is None:
                self._leave(layout, place)
                return
            place = chosen
        parts = place.parts(layout.values)
        if parts is None:
            missing = tuple(f.slot.typed for f in place.fields if f.slot not in layout.values)
            self._refuse(claim, layout, Refusal.INCOMPLETE, missing)
            return
        held = At(place, parts, claim.answer.standing, layout.version)
        fault = held.reading.fault
        if self._is_the_decoders_own(layout, place):
            self.found.troubled[claim.setting.id] = ReadOnly(claim.setting.id, held, None)
        elif place.marks.reserved:
            self._leave(layout, place)
        elif place.marks.unused:
            self._refuse(claim, layout, Refusal.NO_EFFECT, value=held.reading.text)
        elif fault is not None:
            self._refuse(claim, layout, Refusal(fault.value), value=held.reading.text)
        else:
            self._keep(claim.setting.id, held)

    def _leave(self, layout: Layout, place: Place) -> None:
        for used in place.fields:
            value = layout.values.get(used.slot)
            if value is not None and self.versions[used.slot] == layout.version:
                self.found.left.append(Left(used.slot, used.mask, value, layout.version))

    def _keep(self, name: str, held: At) -> None:
        earlier = self.found.settings.get(name)
        if earlier is not None and earlier.reading.text != held.reading.text:
            self.found.superseded.append(Superseded(name, earlier))
        self.found.settings[name] = held

    def _refuse(
        self,
        claim: Claim,
        layout: Layout,
        reason: Refusal,
        needs: tuple[str, ...] = (),
        value: str = "",
    ) -> None:
        name = claim.setting.id
        self.found.troubled[name] = Refused(name, reason, claim.place, layout.version, value, needs)

    def _dispute(self, claim: Claim) -> None:
        candidates = tuple(
            Candidate(place, None if place is None else place.parts(self.values))
            for place in claim.answer.candidates
        )
        name = claim.setting.id
        self.found.troubled[name] = Disputed(name, None, candidates)

    def _is_the_decoders_own(self, layout: Layout, place: Place) -> bool:
        marks = place.marks
        if marks.is_own:
            return True
        fixed = expected_answers(self.resolver.profile, layout.version)
        return any(
            field.slot in fixed and fixed[field.slot].mask & field.mask for field in place.fields
        )

    def _reads_alike(self, slot: Slot, version: FirmwareVersion) -> bool:
        """Whether a value may be read at a firmware: saved for it, or the CV means the same."""
        own = self.versions[slot]
        if own == version:
            return True
        return self._footprint(own).get(slot) == self._footprint(version).get(slot)

    def _footprint(self, version: FirmwareVersion) -> dict[Slot, frozenset[object]]:
        """What a firmware makes of each saved CV, as something to compare."""
        if version not in self._footprints:
            uses: dict[Slot, set[object]] = {}
            for answer in self.resolver.at(version).values():
                for place in answer.places():
                    for held in place.fields:
                        if held.slot in self.values:
                            use = (answer.setting, place.fields, place.coding)
                            uses.setdefault(held.slot, set()).add(use)
            self._footprints[version] = {slot: frozenset(held) for slot, held in uses.items()}
        return self._footprints[version]


def _grouped(owners: tuple[Owner, ...]) -> Iterator[tuple[int, Owner]]:
    """The bits of a CV that share an owner."""
    groups: dict[tuple[object, ...], tuple[int, Owner]] = {}
    for bit, owner in enumerate(owners):
        key = (owner.basis, owner.names)
        mask = groups[key][0] if key in groups else 0
        groups[key] = (mask | 1 << bit, owner)
    yield from groups.values()
