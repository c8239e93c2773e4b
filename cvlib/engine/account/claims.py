"""Which setting owns each bit of each CV at one firmware, given what is saved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import IntEnum
from typing import NamedTuple

from cvlib.engine.known.conditions import satisfied
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.model.answer import Answer
from cvlib.model.coding import Area, Coding, Fields, Parts, Reading
from cvlib.model.conditions import When
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Setting
from cvlib.model.versions import FirmwareVersion


class Basis(IntEnum):
    """On what a bit is owned; the lower wins."""

    SETTING = 0
    UNDECIDED = 1
    """The deciding setting has no saved value."""
    DISPUTED = 2
    FIELDS = 3
    """A byte made of fields, none of which uses the bit."""
    AREA = 4
    NONE = 5


class Claim(NamedTuple):
    """One setting's claim on a CV at one firmware."""

    setting: Setting
    place: Place
    answer: Answer
    basis: Basis
    mask: int


class Owner(NamedTuple):
    """Who owns a bit: several claims only where nothing decides between them."""

    basis: Basis
    claims: tuple[Claim, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The ids of the owning settings."""
        return tuple(claim.setting.id for claim in self.claims)


NOBODY = Owner(Basis.NONE)


class Layout:
    """The owners of bits at one firmware, for one decoder's saved values and options."""

    def __init__(
        self,
        resolver: Resolver,
        version: FirmwareVersion,
        values: Mapping[Slot, int],
        options: Mapping[str, str | int],
    ) -> None:
        self.resolver = resolver
        self.version = version
        self.values = values
        self.options = options
        self.answers = resolver.at(version)
        self._present: dict[str, bool | None] = {}
        """Whether each deciding setting that was asked for is there."""
        self._whole: dict[Slot, Place] = {}
        """Bytes of fields whose value stands for something as a whole: their bits mean nothing."""
        for answer in self.answers.values():
            self._look_at_byte(answer.place)
        self._present.clear()  # a byte that stands for something as a whole takes its bits away
        self._claims: dict[Slot, list[Claim]] = {}
        self._asleep: dict[Slot, list[Claim]] = {}
        for answer in self.answers.values():
            self._add(answer)

    def owner(self, slot: Slot, bit: int) -> Owner:
        """Who owns one bit of a saved CV."""
        claims = [c for c in self._claims.get(slot, ()) if c.mask >> bit & 1]
        if not claims:
            return NOBODY
        basis = min(claim.basis for claim in claims)
        best = tuple(claim for claim in claims if claim.basis is basis)
        return Owner(basis, best if basis in (Basis.UNDECIDED, Basis.DISPUTED) else best[:1])

    def asleep(self, slot: Slot, bit: int) -> tuple[Claim, ...]:
        """The claims on a bit whose conditions do not hold as the values stand."""
        return tuple(c for c in self._asleep.get(slot, ()) if c.mask >> bit & 1)

    def masks(self, slot: Slot) -> set[int]:
        """How the claims on a CV cut it into bits."""
        claims = (*self._claims.get(slot, ()), *self._asleep.get(slot, ()))
        return {claim.mask for claim in claims}

    def claimed_mask(self, slot: Slot) -> int:
        """The bits of a CV that settings own, areas apart."""
        mask = 0
        for claim in self._claims.get(slot, ()):
            mask |= claim.mask if claim.basis < Basis.FIELDS else 0
        return mask

    def bytes_on(self, slot: Slot) -> tuple[str, ...]:
        """The settings that are the byte a CV is made of, where its bits are settings."""
        claims = self._claims.get(slot, ())
        return tuple(claim.setting.id for claim in claims if claim.basis is Basis.FIELDS)

    def active(self, place: Place, owner: str = "") -> bool | None:
        """Whether a place's conditions hold; nothing where the deciding value is not saved.

        ``owner`` is its setting, where that may decide on others in its turn.
        """
        outcome: bool | None = True
        if self._whole and any(self._whole.get(f.slot, place) is not place for f in place.fields):
            return False
        for when in place.when:
            held = None if self._is_circular(owner, when) else self._holds(when)
            if held is False:
                return False
            outcome = None if held is None else outcome
        return outcome

    def _is_circular(self, owner: str, when: When) -> bool:
        return owner in self.resolver.circular and when.setting in self.resolver.circular

    def factory(self, place: Place) -> Parts | None:
        """What a factory reset leaves at a place, as the values stand; nothing if not known."""
        return place.factory(self._holds)

    def against(self, place: Place) -> tuple[str, ...]:
        """The settings whose saved values keep a place from existing."""
        return self._behind(place, False)

    def undecided_by(self, place: Place) -> tuple[str, ...]:
        """The settings a place depends on of which nothing is saved."""
        return self._behind(place, None)

    def reading(self, setting: str) -> Reading | None:
        """What is saved of a setting, at this firmware; nothing where that is not known."""
        answer = self.answers.get(setting)
        if answer is None or answer.place is None:
            return None
        place = answer.place
        if not place.fields:
            return _option(place.coding, self.options.get(setting))
        parts = place.parts(self.values)
        if parts is None:
            return _option(place.coding, self.options.get(setting))
        return place.coding.decode(parts)

    def _holds(self, when: When) -> bool | None:
        """Whether a condition holds; never where the deciding setting is not there itself."""
        answer = self.answers.get(when.setting)
        if answer is None or answer.place is None:
            return None
        there = self._there(when.setting, answer.place)
        reading = self.reading(when.setting)
        if there is not True or reading is None:
            return False if there is False else None
        return satisfied(answer.place.coding, when.test, when.values, reading)

    def _there(self, setting: str, place: Place) -> bool | None:
        """Whether a deciding setting is there itself."""
        if setting not in self._present:
            self._present[setting] = self.active(place, setting)
        return self._present[setting]

    def _behind(self, place: Place, outcome: bool | None) -> tuple[str, ...]:
        """The settings behind a condition that fails, or is open, at the root of a chain."""
        found: list[str] = []
        waiting = [when for when in place.when if self._holds(when) is outcome]
        asked: set[str] = set()
        for when in waiting:
            answer = self.answers.get(when.setting)
            if when.setting in asked:
                continue
            asked.add(when.setting)
            behind = answer.place.when if answer is not None and answer.place is not None else ()
            deeper = [
                one for one in behind
                if not self._is_circular(when.setting, one) and self._holds(one) is outcome
            ]  # fmt: skip
            waiting += deeper
            found += [] if deeper else [when.setting]
        return tuple(found)

    def _look_at_byte(self, place: Place | None) -> None:
        coding = place.coding if place is not None else None
        if place is None or not isinstance(coding, Fields) or not coding.names:
            return
        slot = place.fields[0].slot
        byte = self.values.get(slot)
        if byte is not None and coding.name_of(byte) and self.active(place):
            self._whole[slot] = place

    def _add(self, answer: Answer) -> None:
        for place in answer.places():
            self._claim(place, answer, _basis(place, answer))
        for failed in answer.failures():
            for place in failed.places():
                self._claim(place, failed, Basis.SETTING)

    def _claim(self, place: Place, answer: Answer, basis: Basis) -> None:
        if not any(field.slot in self.values for field in place.fields):
            return
        active = self.active(place)
        if basis is Basis.FIELDS and self._whole.get(place.fields[0].slot) is place:
            basis = Basis.SETTING
        if active is None and basis in (Basis.SETTING, Basis.FIELDS):
            basis = Basis.UNDECIDED
        setting = self.resolver.profile.settings[answer.setting]
        kept = self._asleep if active is False else self._claims
        for field in place.fields:
            claim = Claim(setting, place, answer, basis, field.mask)
            kept.setdefault(field.slot, []).append(claim)


def _option(coding: Coding, chosen: str | int | None) -> Reading | None:
    if chosen is None:
        return None
    try:
        return coding.decode(coding.raw(chosen))
    except InputError:
        return Reading(chosen, str(chosen), str(chosen))


def _basis(place: Place, answer: Answer) -> Basis:
    if isinstance(place.coding, Area):
        return Basis.AREA
    if answer.candidates:
        return Basis.DISPUTED
    return Basis.FIELDS if isinstance(place.coding, Fields) else Basis.SETTING


def canonical(settings: Iterable[Setting], values: Mapping[Slot, int]) -> dict[Slot, Slot]:
    """Where saved CVs have a second number: that slot and the one it stands for.

    A number on which a setting of its own lives, at any firmware, is no second number.
    """
    places = [place for setting in settings for place in setting.places if place.fields]
    second = {
        Slot(place.also_at): place.fields[0].slot for place in places if place.also_at is not None
    }
    if not second.keys() & values.keys():
        return {}
    own = {
        field.slot
        for place in places
        if not isinstance(place.coding, Area)
        for field in place.fields
    }
    return {slot: second[slot] for slot in values if slot in second and slot not in own}
