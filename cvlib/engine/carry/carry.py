"""Values for another firmware or another decoder: each saved setting sorted into one outcome.

A value is read at the firmware it was saved for, and set anew at the goal, in its own units and
at its own CVs. Nothing is passed on that cannot be trusted, nothing disputed without a choice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from cvlib.engine.account.check import Saved, check
from cvlib.engine.account.claims import Basis, Claim, Layout, Owner
from cvlib.engine.carry.addresses import address_bits, long_address_in_use, under_other_names
from cvlib.engine.carry.carry_outcomes import (
    At,
    Candidate,
    Clamped,
    Converted,
    Disputed,
    Dropped,
    Gone,
    Left,
    Moved,
    New,
    Outcome,
    ReadOnly,
    Refusal,
    Refused,
    Same,
    Superseded,
)
from cvlib.engine.carry.choosing import choice_for, picked
from cvlib.engine.carry.compose_bytes import (
    Composed,
    Ground,
    Whence,
    claimed_bits,
    compose_bytes,
    factory_values,
    owned_bits,
)
from cvlib.engine.carry.convert import Exact, Impossible, Limited, Obstacle, Rounded, convert
from cvlib.engine.carry.marks import limits_current
from cvlib.engine.carry.saved_settings import Gathered, Origin, gather
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.finding import Finding
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area, Coding, Fields, Number
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.facet import same_meaning
from cvlib.model.profile import Place
from cvlib.model.versions import FirmwareVersion

_SUREST = ("bench", "documented", "assumed", "between", "beyond", "before")
TOLD = ("rule", "trap", "advisory", "beyond", "before", "faulty")
"""The findings of a check that are told of the values after carrying."""


@dataclass(frozen=True, slots=True)
class Goal:
    """Where values are carried to."""

    resolver: Resolver
    version: FirmwareVersion
    present: Mapping[Slot, int]
    """The CVs of the decoder as they are before anything is written, as far as known."""
    is_reset: bool
    """Whether a factory reset comes first; then ``present`` does not count."""
    options: Mapping[str, str | int]
    """Facts fixed when that decoder was built."""
    choices: Mapping[str, str]
    """By setting id, which place of a disputed setting is taken: older, newer, a CV or none."""

    def place(self, name: str) -> Place | None:
        """The one known place of a setting there, if any."""
        answer = self.resolver.at(self.version).get(name)
        return answer.place if answer else None

    def first_slot(self, name: str) -> Slot | None:
        """The CV at which a setting stands on a list: its first one, of the first place it has."""
        answer = self.resolver.at(self.version).get(name)
        places = answer.places() if answer else ()
        return next((place.fields[0].slot for place in places if place.fields), None)


@dataclass(frozen=True, slots=True)
class Carried:
    """What becomes of every saved value at the goal."""

    origin: Origin
    goal: Goal
    outcomes: tuple[Outcome, ...]
    """One for each setting, in the order of the goal's profile; those gone stand last."""
    left: tuple[Left, ...]
    superseded: tuple[Superseded, ...]
    unsaved: tuple[str, ...]
    """Settings of the goal that both firmwares have and of which nothing is saved."""
    present: Mapping[Slot, int]
    """The CVs as they are before the first value is written, as far as known."""
    image: Mapping[Slot, Composed]
    """Every CV that holds a carried setting, or a stale value where an offer is due."""
    offered: Mapping[Slot, Composed]
    """The CVs that hold nothing but offered factory values."""
    contested: Mapping[Slot, tuple[str, ...]]
    """CVs of the image that may belong to a disputed setting, with those settings."""
    held_back: frozenset[Slot]
    """The contested CVs that are not to be written: a test found that they do nothing for the
    settings that would be carried there."""
    findings: tuple[Finding, ...]
    """Rules that the new values break, advisories that touch them, and doubtful places."""
    factory: Mapping[Slot, int]
    """What a factory reset leaves, as far as known."""
    changed: tuple[tuple[Slot, str], ...]
    """CVs of another meaning than before of which nothing is saved, with their settings."""
    before: Mapping[Slot, tuple[str, ...]]
    """The settings that each CV held in the firmware of the values, if that is another one."""
    stale: frozenset[str]
    """Settings with no value of their own whose CVs hold what was saved for another one."""
    lost_address: int | None
    """The long address at which the decoder answered, where the goal has no room for it."""

    def setting(self, name: str) -> Outcome | None:
        """The outcome of one setting."""
        return next((held for held in self.outcomes if held.setting == name), None)


def carry(origin: Origin, goal: Goal) -> Carried:
    """Every saved value of one decoder carried to a firmware of the same or another profile."""
    return _Carrying(origin, goal).done()


class _Carrying:
    """One carry under way."""

    def __init__(self, origin: Origin, goal: Goal) -> None:
        self.origin = origin
        self.goal = goal
        self.answers = goal.resolver.at(goal.version)
        self.found: Gathered = gather(origin, goal.choices)
        self.outcomes: dict[str, Outcome] = {}
        self.written: dict[str, At] = {}
        self.places = {
            name: place
            for name, answer in self.answers.items()
            if (place := self._place(answer)) is not None and not isinstance(place.coding, Area)
        }
        self.lasting = {name: place for name, place in self.places.items() if not place.when}
        self.users: dict[Slot, list[tuple[str, Place, int]]] = {}
        for name, place in self.places.items():
            if not isinstance(place.coding, Fields):
                for field, mask in zip(place.fields, owned_bits(place), strict=True):
                    self.users.setdefault(field.slot, []).append((name, place, mask))
        possible = [p for answer in self.answers.values() for p in answer.places()]
        self.possible = claimed_bits(p for p in possible if not isinstance(p.coding, Area))
        self.factory = factory_values(self.lasting)
        self.present = self.factory if goal.is_reset else goal.present
        self.kept = {slot: self._kept(slot) for slot in self.present}
        self.left = {slot: self._left(slot) for slot in self.present}
        is_other = origin.version != goal.version and origin.resolver is goal.resolver
        self.before = self._used() if is_other and not goal.is_reset else {}
        """The settings of each CV where the values come from, if that is other firmware."""
        self.offers: dict[str, At] = {}
        self.stale: set[str] = set()
        self.lost_address: int | None = None

    def done(self) -> Carried:
        """The whole result."""
        waiting = dict(self.found.settings)
        self._settle(waiting, Layout(self.goal.resolver, self.goal.version, {}, self.goal.options))
        self._offer(self._layout())
        while waiting:
            before = len(waiting)
            self._settle(waiting, self._layout())
            if len(waiting) == before:
                break
            self._offer(self._layout())
        for name, held in waiting.items():
            place = self.places[name]
            behind = self._layout().undecided_by(place)
            needs = behind or tuple(when.setting for when in place.when)
            reason = Refusal.UNDECIDED
            self.outcomes[name] = Refused(
                name, reason, place, self.goal.version, held.reading.text, needs
            )
        self._carry_long_address()
        self._settle_troubled()
        self._drop_chance_meanings()
        self._offer(self._layout())
        return self._result()

    def _carry_long_address(self) -> None:
        """The long address that is in use goes over whole, whatever its parts are called there."""
        address = long_address_in_use(self.found.settings)
        if address is None or self.origin.resolver is self.goal.resolver:
            return
        places = {n: p for n, p in self.places.items() if is_settable(p) and not p.when}
        held = under_other_names(self.found.settings, self.written, places)
        if held is None:
            self.lost_address = address
            for name in {name for _, name in address_bits(self.written).values()}:
                del self.written[name]
                old, place = self.found.settings[name], self.places[name]
                self.outcomes[name] = Dropped(name, old, Gone.NO_ADDRESS, place)
            return
        for name, (old, place, parts) in held.items():
            new = At(place, parts, self.answers[name].standing, self.goal.version)
            self.written[name] = new
            self.outcomes[name] = Moved(name, old, new)
        for _, name in address_bits(self.found.settings).values():
            if name not in self.written:
                self.outcomes.pop(name, None)

    def _settle(self, waiting: dict[str, At], layout: Layout) -> None:
        """Give every waiting setting its outcome whose place is known to exist, or not to."""
        for name, held in sorted(waiting.items(), key=lambda one: not self._is_byte(one[0])):
            answer = self.answers.get(name)
            place = self.places.get(name)
            if place is not None and not self._is_byte(name) and self._is_in_whole(place):
                self.outcomes[name] = Dropped(name, held, Gone.ASLEEP, place)
                del waiting[name]
                continue
            if place is not None and (active := layout.active(place)) is not True:
                if active is False:
                    self.outcomes[name] = Dropped(name, held, Gone.ASLEEP, place)
                    del waiting[name]
                continue
            outcome = self._outcome(name, held, answer, place)
            self.outcomes[name] = outcome
            del waiting[name]
            if isinstance(outcome, (Same, Moved, Converted, Clamped)):
                self.written[name] = outcome.new
        self._part()

    def _part(self) -> None:
        """Refuse what meets another setting on the same bits with another value.

        The better known place keeps them: a chosen one, then one that a test proved, and so on.
        Of two that are known alike neither is written.
        """
        placed: dict[Slot, list[tuple[str, int, int]]] = {}
        beaten: dict[str, list[str]] = {}
        for name, held in self.written.items():
            owned = owned_bits(held.place)
            for field, mask, part in zip(held.place.fields, owned, held.parts, strict=True):
                value = field.put(0, part)
                for other, bits, there in placed.get(field.slot, ()):
                    if (value ^ there) & mask & bits:
                        rank, rival = self._rank(name), self._rank(other)
                        if rank >= rival:
                            beaten.setdefault(name, []).append(other)
                        if rank <= rival:
                            beaten.setdefault(other, []).append(name)
                placed.setdefault(field.slot, []).append((name, mask, value))
        for name, rivals in beaten.items():
            del self.written[name]
            old = self.found.settings[name]
            self.outcomes[name] = Refused(
                name, Refusal.TAKEN, old.place, old.firmware, old.reading.text, tuple(rivals)
            )

    def _rank(self, name: str) -> int:
        """How sure the place of a setting is, the surest first; a choice goes before all."""
        if choice_for(self.answers[name], self.goal.choices):
            return -1
        standing = self.written[name].standing.value
        return _SUREST.index(standing) if standing in _SUREST else len(_SUREST)

    def _is_byte(self, name: str) -> bool:
        return name in self.places and isinstance(self.places[name].coding, Fields)

    def _is_in_whole(self, place: Place) -> bool:
        """Whether a place shares a CV with a byte that is written as a whole."""
        bytes_written = (held.place for name, held in self.written.items() if self._is_byte(name))
        slots = {field.slot for held in bytes_written for field in held.fields}
        return any(field.slot in slots for field in place.fields)

    def _drop_chance_meanings(self) -> None:
        """Drop fields whose bits come together to a byte that stands for something as a whole."""
        image = self._bytes()
        for name, place in self.places.items():
            held = image.get(place.fields[0].slot) if self._is_byte(name) else None
            reading = None if held is None else place.coding.decode((held.value,))
            if held is None or reading is None or reading.name is None or name in self.written:
                continue
            for inner in held.settings(Whence.CARRIED):
                old, new = self.found.settings[inner], self.written.pop(inner)
                self.outcomes[inner] = Dropped(inner, old, Obstacle.RANGE, new.place)

    def _outcome(self, name: str, old: At, answer: Answer | None, place: Place | None) -> Outcome:
        if answer is None:
            return Dropped(name, old, Gone.NOT_IN_PROFILE)
        if place is None:
            if not answer.is_absent and choice_for(answer, self.goal.choices) is None:
                return Disputed(name, old, tuple(_candidates(old, answer)))
            return Dropped(name, old, Gone.ABSENT, side=answer.side)
        marks = place.marks
        if marks.is_own:
            return ReadOnly(name, old, place)
        if marks.unused or marks.reserved:
            return Dropped(name, old, Gone.UNUSED, place)
        if not place.fields:
            return Dropped(name, old, Gone.BUILT_IN, place)
        return self._converted(name, old, answer, place)

    def _converted(self, name: str, old: At, answer: Answer, place: Place) -> Outcome:
        def there(parts: tuple[int, ...]) -> At:
            return At(place, parts, answer.standing, self.goal.version)

        falls = self._limits_current(name)
        match convert(old.place.coding, old.parts, place.coding, only_down=falls):
            case Exact(parts):
                new = there(parts)
                if _raw(old.place.coding, old.parts) != _raw(place.coding, parts):
                    return Converted(name, old, new)
                return (Same if old.place.fields == place.fields else Moved)(name, old, new)
            case Rounded(parts, wanted, got):
                return Converted(name, old, there(parts), wanted, got)
            case Limited(parts, wanted, got, lost):
                return Clamped(name, old, there(parts), wanted, got, lost)
            case Impossible(obstacle):
                return Dropped(name, old, obstacle, place)

    def _settle_troubled(self) -> None:
        for name, held in self.found.troubled.items():
            match held:
                case ReadOnly():
                    place = self.places.get(name)
                    self.outcomes[name] = ReadOnly(name, held.old, place)
                case Refused() | Disputed():
                    self.outcomes[name] = held

    def _offer(self, layout: Layout) -> None:
        """Factory values for settings of the goal that have nothing saved of their own."""
        before = self._answers_before()
        for name, place in self.places.items():
            if name in self.written or not self._is_free(name):
                continue
            if not is_settable(place) or layout.active(place) is not True:
                continue
            is_stale = any(
                field.slot in self.present and field.mask & ~self.kept[field.slot]
                for field in place.fields
            )
            is_told = isinstance(self.outcomes.get(name), (Refused, Dropped))
            if not is_stale and (is_told or name in before):
                continue
            if is_stale:
                self.stale.add(name)
            answer = self.answers[name]
            unread = tuple(self._unread(name, place))
            if not is_told:
                unread = tuple(dict.fromkeys((*unread, *self._unread_before(name, place))))
            default = None if unread else layout.factory(place)
            new = (
                None if default is None else At(place, default, answer.standing, self.goal.version)
            )
            if not is_told:
                self.outcomes[name] = New(name, new, place, answer.standing, is_stale, unread)
            if new is not None:
                self.offers[name] = new

    def _is_free(self, name: str) -> bool:
        """Whether a setting may get its factory value: nothing of it is passed on or open."""
        match self.outcomes.get(name):
            case None:
                return name not in self.found.settings and name not in self.found.troubled
            case New():
                return True
            case Refused(reason=reason):
                return reason is not Refusal.TAKEN and not self._limits_current(name)
            case Dropped(reason=reason):
                return reason is not Gone.ASLEEP and not self._limits_current(name)
            case _:
                return False

    def _limits_current(self, name: str) -> bool:
        """Whether the factory value could let more current flow than the saved one did."""
        return limits_current(self.goal.resolver.profile.settings.get(name))

    def _answers_before(self) -> set[str]:
        """The settings that the firmware of the latest saved values has, or may have."""
        resolver = self.origin.resolver
        answers = resolver.at(self.origin.version)
        return {name for name, answer in answers.items() if any(self._places_in(answer))}

    def _places_in(self, answer: Answer) -> tuple[Place, ...]:
        """The places that a setting may have in a firmware, or the one chosen."""
        choice = choice_for(answer, self.goal.choices)
        chosen = picked(answer, choice) if choice else None
        return answer.places() if not choice else (chosen,) if chosen else ()

    def _result(self) -> Carried:
        whole = self._bytes()
        image = {slot: held for slot, held in whole.items() if self._is_due(held)}
        order = {name: at for at, name in enumerate(self.answers)}
        outcomes = sorted(
            self.outcomes.values(), key=lambda held: order.get(held.setting, len(order))
        )
        layout = self._layout()
        before = self._answers_before()
        unsaved = tuple(
            name
            for name, place in self.places.items()
            if name not in self.outcomes
            and name in before
            and is_settable(place)
            and layout.active(place) is not False
        )
        contested = {slot: names for slot in image if (names := tuple(self._contenders(slot)))}
        return Carried(
            self.origin,
            self.goal,
            tuple(outcomes),
            tuple(self.found.left),
            tuple(self.found.superseded),
            unsaved,
            self.present,
            image,
            {slot: held for slot, held in whole.items() if slot not in image},
            contested,
            self._held_back(image, contested),
            tuple(self._findings(image)),
            self.factory,
            tuple({slot: (slot, name) for slot, name in [*self._changed(layout)][::-1]}.values()),
            {slot: tuple(dict.fromkeys(n for n, _ in held)) for slot, held in self.before.items()},
            frozenset(self.stale),
            self.lost_address,
        )

    def _held_back(
        self, image: Mapping[Slot, Composed], contested: Iterable[Slot]
    ) -> frozenset[Slot]:
        """Contested CVs that do nothing for what would go there, and the rest of those values.

        A value with a CV that has to be written is written whole.
        """
        settings = [*self.written.values(), *self.offers.values()]
        values = [{field.slot for field in at.place.fields} & image.keys() for at in settings]
        idle = {slot for slot in image if self._does_nothing(image[slot])}
        while torn := [slots for slots in values if slots & idle and slots - idle]:
            idle.difference_update(*torn)
        held = idle.intersection(contested)
        while torn := [slots for slots in values if slots & held and slots - held]:
            held.update(*torn)
        return frozenset(held)

    def _changed(self, layout: Layout) -> Iterator[tuple[Slot, str]]:
        """CVs that mean something else than where the values come from, and were never saved."""
        for name, place in self.places.items():
            if not is_settable(place) or layout.active(place) is False:
                continue
            yield from ((slot, name) for slot in self._unread(name, place))
        for outcome in self.outcomes.values():
            if isinstance(outcome, New):
                yield from ((slot, outcome.setting) for slot in outcome.unread)

    def _unread(self, name: str, place: Place) -> Iterator[Slot]:
        """The CVs of a place that were never saved, and were something else's before."""
        for field in place.fields:
            held = self.before.get(field.slot, ()) if field.slot not in self.present else ()
            if held and not any(n == name and same_meaning(p, place) for n, p in held):
                yield field.slot

    def _unread_before(self, name: str, place: Place) -> Iterator[Slot]:
        """The CVs that held a setting before and were never saved, where it has others now."""
        now = {field.slot for field in place.fields}
        for slot, held in self.before.items():
            if slot not in self.present and slot not in now and any(n == name for n, _ in held):
                yield slot

    def _used(self) -> dict[Slot, list[tuple[str, Place]]]:
        """The settings of each CV in the firmware that the values were saved for."""
        found: dict[Slot, list[tuple[str, Place]]] = {}
        for answer in self.origin.resolver.at(self.origin.version).values():
            for place in self._places_in(answer):
                if not isinstance(place.coding, (Area, Fields)):
                    for field in place.fields:
                        found.setdefault(field.slot, []).append((answer.setting, place))
        return found

    def _is_due(self, held: Composed) -> bool:
        """Whether a CV holds a carried setting, or an offer in place of a stale value."""
        places = [at.place for at in self.written.values()]
        if any(field.slot == held.slot for place in places for field in place.fields):
            return True
        return any(name in self.stale for name in held.settings(Whence.OFFERED))

    def _contenders(self, slot: Slot) -> Iterator[str]:
        """The disputed settings that may live in a CV."""
        for outcome in self.outcomes.values():
            if isinstance(outcome, Disputed):
                places = [held.place for held in outcome.candidates if held.place is not None]
                if any(field.slot == slot for place in places for field in place.fields):
                    yield outcome.setting

    def _does_nothing(self, held: Composed) -> bool:
        settings = {**self.offers, **self.written}
        names = held.settings(Whence.CARRIED) or held.settings(Whence.OFFERED)
        return all(settings[name].standing is Standing.FAULTY for name in names)

    def _findings(self, image: Mapping[Slot, Composed]) -> Iterator[Finding]:
        values = {slot: held.value for slot, held in image.items()}
        checked = check(self.goal.resolver, self.goal.version, Saved(values, {}, self.goal.options))
        yield from (finding for finding in checked.findings if finding.code in TOLD)

    def _bytes(self) -> dict[Slot, Composed]:
        known = claimed_bits(self.lasting.values()) if self.goal.is_reset else {}
        ground = Ground(self.present, known, self.left, self.lasting)
        return compose_bytes(self.written, self.offers, ground)

    def _layout(self) -> Layout:
        values = {slot: held.value for slot, held in self._bytes().items()}
        return Layout(self.goal.resolver, self.goal.version, values, self.goal.options)

    def _place(self, answer: Answer) -> Place | None:
        """The place of a setting at the goal: the known one, or the one chosen."""
        choice = choice_for(answer, self.goal.choices)
        return answer.place if choice is None else picked(answer, choice)

    def _kept(self, slot: Slot) -> int:
        """The bits of a present CV that mean at the goal what they meant when they were saved."""
        owners = self.found.owners.get(slot)
        if owners is None or self.goal.is_reset:
            return WHOLE
        bits = enumerate(owners)
        return sum(1 << bit for bit, owner in bits if self._means_the_same(slot, bit, owner))

    def _left(self, slot: Slot) -> int:
        """The other bits of a present CV, as far as nothing at the goal can own them."""
        return WHOLE & ~self.kept[slot] & ~self.possible.get(slot, 0)

    def _means_the_same(self, slot: Slot, bit: int, owner: Owner) -> bool:
        users = [(n, place) for n, place, mask in self.users.get(slot, ()) if mask >> bit & 1]
        if owner.basis is Basis.UNDECIDED or any(self._is_open(claim) for claim in owner.claims):
            return True
        settled = owner.claims if owner.basis in (Basis.SETTING, Basis.DISPUTED) else ()
        owned = [
            (claim.setting.id, place)
            for claim in settled
            if (place := self._place_of(claim)) is not None and _owns(place, slot, bit)
        ]
        if not owned:
            return not users
        return any(n == name and same_meaning(p, q) for n, p in users for name, q in owned)

    def _is_open(self, claim: Claim) -> bool:
        """Whether nobody has settled where a setting was when it was saved."""
        return bool(claim.answer.candidates) and not choice_for(claim.answer, self.goal.choices)

    def _place_of(self, claim: Claim) -> Place | None:
        """Where a setting was when it was saved."""
        choice = choice_for(claim.answer, self.goal.choices)
        return picked(claim.answer, choice) if choice else claim.place


def _owns(place: Place, slot: Slot, bit: int) -> bool:
    pairs = zip(place.fields, owned_bits(place), strict=True)
    return any(field.slot == slot and mask >> bit & 1 for field, mask in pairs)


def is_settable(place: Place) -> bool:
    """Whether a person can set what lives at a place, and it does something."""
    return place.can_be_set and not place.marks.unused


def _candidates(old: At, answer: Answer) -> Iterator[Candidate]:
    for place in answer.candidates:
        parts = None
        if place is not None:
            made = convert(old.place.coding, old.parts, place.coding)
            parts = None if isinstance(made, Impossible) else made.parts
        yield Candidate(place, parts)


def _raw(coding: Coding, parts: tuple[int, ...]) -> object:
    """The raw value as something to compare across CV counts."""
    if isinstance(coding, Number):
        return coding.signed(coding.join(parts))
    return parts if len(parts) > 1 else parts[0]
