"""The safe order of a sheet: proof, lock, CV 1 before 19 and 29, pages, address last, proof."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from cvlib.engine.carry.addresses import (
    CONFIGURATION,
    EXTENDED_BIT,
    EXTENDED_HIGH,
    EXTENDED_LOW,
    SHORT,
)
from cvlib.engine.carry.cautions import cautions_of
from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.write_sheet import (
    Act,
    Do,
    Due,
    Job,
    Matter,
    Matters,
    Note,
    Purpose,
    Read,
    Reason,
    Setup,
    Sheet,
    Step,
    Track,
    Verify,
    Write,
)
from cvlib.engine.known.identity import Expected
from cvlib.errors import Fault, UndecidedError, problem
from cvlib.model import formulas
from cvlib.model.cv import LAST_PAGED, WHOLE, Page, Slot, bits_of
from cvlib.model.profile import Risk

MAKER, KEY, IDENTITY = Slot(8), Slot(15), Slot(16)
CONSIST = Slot(19)
HIGH, LOW = Slot(31), Slot(32)
ACCESSORY_HIGH, OUTPUT_BIT = Slot(9), 0x40
RESET, LONGEST_SHORT = 8, 127

_NO_PAGE = Page(-1, -1)
_REACH = (SHORT, ACCESSORY_HIGH, EXTENDED_HIGH, EXTENDED_LOW)


def plan(job: Job, setup: Setup) -> Sheet:
    """The steps that bring the wanted values into a decoder, in a safe order.

    Raises :class:`~cvlib.errors.InputError` for a factory reset on the main, and
    :class:`~cvlib.errors.UndecidedError` on the main where nobody knows the decoder's address.
    """
    return _Planning(job, setup).sheet()


class _Planning:
    """One sheet under way; keeps track of what the decoder holds after each step."""

    def __init__(self, job: Job, setup: Setup) -> None:
        self.job = job
        self.setup = setup
        self.steps: list[Step] = []
        self.state = dict(job.before)
        self.noted: dict[Slot, int] = {}
        """The step in which the value of a CV was read."""
        self.unknown: list[Slot] = []
        """What writing CV 1 clears, where nobody knows what it holds."""
        self.is_vehicle = job.is_vehicle
        self.has_lock = {KEY, IDENTITY} <= job.bits_of(Risk.LOCK).keys()
        self.addresses = job.bits_of(Risk.ADDRESS)
        """CVs by which a decoder knows that it is meant, with their bits."""
        self.todo = dict(job.writes)
        self.matters = list(job.matters)
        self.due: dict[Slot, Due] = {}
        self.again: set[Slot] = set()
        """CVs that are written only because another write changes them."""
        self.on_main = setup.track is Track.MAIN
        self.can_keep = setup.answers or setup.writes_bits
        """Whether bits that nobody knows can stay as they are while others are written."""
        self.reach_noted: dict[Slot, int] = {}
        self.has_moved = False
        """Whether an accessory decoder got another address."""
        self.reach = self._reach()

    def sheet(self) -> Sheet:
        """The whole sheet."""
        self._refuse_unread()
        self.changed = [one for one in self.job.changed if self._is_line(one[0])]
        self.matters += [Matters(Matter.CHANGED, name, slot) for slot, name in self.changed]
        self.lines = sorted(self.matters, key=lambda line: _place_of(line.slot))
        if self.todo or self.changed or self.setup.is_reset:
            self._begin()
            self._read_changed()
        self._plan_again()
        reads = [slot for slot, _ in self.changed if self.setup.answers]
        paged = sorted({s for s in (*self.todo, *reads) if s.page is not None}, key=_place_of)
        self._note_first(bool(paged))
        special = {KEY, IDENTITY} if self.has_lock else set()
        special |= {HIGH, LOW} if paged else set()
        last = self.addresses if self.on_main else {}
        plain = [s for s in sorted(self.todo) if s.page is None and s not in special]
        factory = [slot for slot in plain if slot not in self.addresses and self._is_new(slot)]
        self._write_all(slot for slot in plain if slot not in last and slot not in factory)
        self._write_pages(paged)
        self._write_all(factory)
        self._write_addresses([slot for slot in plain if slot in last])
        self._tell(None)
        self._verify()
        self._lock()
        if self.setup.power_cycle:
            self._do(Act.POWER_CYCLE)
        if any(isinstance(step, Write) for step in self.steps):
            self._do(Act.TRY)
        cautions = cautions_of(self.job, self.setup, tuple(self.steps))
        return Sheet(self.setup, tuple(self.steps), cautions, self.job.unchanged)

    def _is_new(self, slot: Slot) -> bool:
        """Whether a CV gets factory values of new settings and nothing else: those come last."""
        return self.todo[slot].is_factory

    def _is_line(self, slot: Slot) -> bool:
        """Whether a CV of another meaning has a line of its own: it is read, or not written."""
        return self.setup.answers or slot not in self.todo

    def _read_changed(self) -> None:
        """Read what was never saved and meant something else, before anything is written."""
        found = [line for line in self.lines if self._is_read(line)]
        for line in found:
            if line.slot is not None and line.slot.page is None:
                self.lines.remove(line)
                self._read(line.slot, Purpose.CHANGED, setting=line.setting)
        if found:
            self._do(Act.KEEP_READ)

    def _is_read(self, line: Matters) -> bool:
        return line.matter is Matter.CHANGED and self.setup.answers

    def _refuse_unread(self) -> None:
        """Without reads and single bits nothing can be written beside bits that nobody knows.

        A value of several CVs goes with the first of them that is refused.
        """
        if self.can_keep:
            return
        refused = {slot for slot, held in self.todo.items() if held.unread}
        names: set[str] = set()
        while found := set(refused & self.todo.keys()):
            for slot in found:
                held = self.todo.pop(slot)
                names.update(held.settings(Whence.CARRIED, Whence.OFFERED))
                self.matters += [
                    Matters(Matter.UNREAD, name, slot) for name in held.settings(Whence.CARRIED)
                ]
            refused = {s for s, held in self.todo.items() if names & set(held.settings(*Whence))}

    def _begin(self) -> None:
        """Prove the decoder, and make it take the writes, and no other one where two could."""
        if self.setup.is_reset and self.on_main:
            raise problem(
                "A factory reset by CV 8 works in programming mode only.",
                advice="Use the programming track, or leave the reset out.",
            )
        if self.on_main and self._address() is None:
            raise UndecidedError(
                Fault(
                    "It is not known at which address the decoder answers on the main.",
                    advice="Give it with --address, or use the programming track.",
                )
            )
        chooses = self.setup.is_shared and not self.setup.is_reset and self._lock_chooses()
        if self.setup.is_shared and not chooses:
            self._do(Act.UNPLUG_OTHER, "shared-address-writes-both")
        if chooses:
            self._unlock(chooses)
        self._prove()
        if self.setup.is_reset:
            self._do(Act.KEEP_ALL, "note-before-reset")
        if not chooses:
            self._unlock(chooses)
        if self.setup.is_reset:
            self._write(MAKER, RESET, Reason.RESET, "reset-by-cv8")
            self._do(Act.WAIT_FOR_RESET)
            self.state = dict(self.job.start)

    def _prove(self) -> None:
        if not self.setup.answers:
            if self.job.proof:
                self._do(Act.CHECK_DECODER, "prove-first")
            return
        for slot, expected in self.job.proof.items():
            self._read(slot, Purpose.PROVE, "prove-first", expected=expected)

    def _unlock(self, chooses: bool) -> None:
        if not self.has_lock:
            return
        key, identity = self.state.get(KEY), self.state.get(IDENTITY)
        rules = ("lock-before-write", "lock-always-writable")
        if identity is None:
            if not self.setup.answers:
                self._do(Act.LOCK_UNKNOWN, *rules)
                return
            for slot in (KEY, IDENTITY):
                self.noted[slot] = self._read(slot, Purpose.LOCK, *rules)
            opens = Write(0, KEY, None, Reason.UNLOCK, if_locked=True)
            self._add(replace(opens, from_step=self.noted[IDENTITY]), *rules)
            return
        may_be_locked = identity != 0 if key is None else formulas.is_locked(key, identity)
        if chooses or may_be_locked:
            if key is None and self.setup.answers and not chooses:
                self.noted[KEY] = self._read(KEY, Purpose.LOCK, *rules)
            self._write(KEY, identity, Reason.UNLOCK, *rules)
        elif key is None and self.setup.answers:
            self._read(KEY, Purpose.LOCK, *rules, expected=Expected(WHOLE, identity))

    def _lock_chooses(self) -> bool:
        """Whether the lock tells this decoder from the other one at its address.

        Both leave the factory with 0 in CV 16, so 0 chooses none unless the other is known.
        """
        identity = self.state.get(IDENTITY)
        if not self.has_lock or identity is None or self.setup.locks_differ is False:
            return False
        return identity != 0 or self.setup.locks_differ is True

    def _plan_again(self) -> None:
        """Writing CV 1 clears CV 19 and bit 5 of CV 29: what they are to hold is written anew."""
        if not self.is_vehicle or SHORT not in self.todo:
            return
        for slot, cleared in ((CONSIST, WHOLE), (CONFIGURATION, EXTENDED_BIT)):
            wanted = self.job.final.get(slot)
            if slot not in self.todo and wanted is not None and wanted & cleared:
                self.todo[slot] = Composed(slot, wanted, ())
                self.again.add(slot)

    def _note_first(self, has_pages: bool) -> None:
        """Read what will be disturbed and is not known."""
        wanted: list[Slot] = []
        if self.is_vehicle and SHORT in self.todo:
            cleared = {CONSIST: WHOLE, CONFIGURATION: EXTENDED_BIT}
            self.unknown = [slot for slot, mask in cleared.items() if self._is_unknown(slot, mask)]
            wanted += self.unknown
        if has_pages:
            wanted += [s for s in (HIGH, LOW) if s not in self.todo and s not in self.job.final]
        for slot in wanted if self.setup.answers else ():
            rule = "page-restored" if slot in (HIGH, LOW) else "short-address-side-effect"
            self._note(slot, rule)

    def _is_unknown(self, slot: Slot, mask: int) -> bool:
        if slot in self.todo:
            return bool(self.todo[slot].unread)
        return bool(self.addresses.get(slot, 0) & mask) and slot not in self.job.final

    def _write_all(self, slots: Iterable[Slot]) -> None:
        written = list(slots)
        for slot in written:
            self._tell(slot)
            if slot == SHORT and self.unknown and not self.setup.answers:
                self._do(Act.CONFIGURATION_UNKNOWN, "short-address-side-effect")
            self._write_value(slot)
        if SHORT not in written:
            return
        for slot in (CONSIST, CONFIGURATION):
            if slot in self.noted and slot not in self.todo:
                number = self.noted[slot]
                self._write(slot, None, Reason.AGAIN, "short-address-side-effect", noted=number)

    def _tell(self, before: Slot | None) -> None:
        """The lines without a write that stand before a CV; without one, all that are left."""
        end = None if before is None else _place_of(before)
        while self.lines and (end is None or _place_of(self.lines[0].slot) < end):
            line = self.lines.pop(0)
            if self._is_read(line) and line.slot is not None:
                self._read(line.slot, Purpose.CHANGED, setting=line.setting)
            else:
                number = len(self.steps) + 1
                self.steps.append(Note(number, line.matter, line.setting, line.slot))

    def _write_pages(self, paged: list[Slot]) -> None:
        page: Page | None = None
        for slot in paged:
            if slot.page is not None and slot.page != page:
                if page is not None:
                    self._tell(Slot(LAST_PAGED + 1, page))
                    self._verify(page)
                page = slot.page
                self._write(HIGH, page.high, Reason.PAGE, "page-before-paged")
                self._write(LOW, page.low, Reason.PAGE, "page-before-paged")
            self._tell(slot)
            if slot in self.todo:
                self._write_value(slot)
        if page is None:
            return
        self._tell(Slot(LAST_PAGED + 1, page))
        self._verify(page)
        for slot in (HIGH, LOW):
            wanted = self.job.final.get(slot)
            if slot in self.noted:
                number = self.noted[slot]
                self._write(slot, None, Reason.PAGE_BACK, "page-restored", noted=number)
            elif wanted is not None and self.state.get(slot) != wanted:
                self._write(slot, wanted, Reason.PAGE_BACK, "page-restored")
        if not self.noted.keys() & {HIGH, LOW} and not self.job.final.keys() & {HIGH, LOW}:
            self._do(Act.PAGE_STAYS, "page-restored")

    def _write_addresses(self, slots: list[Slot]) -> None:
        """The address CVs on the main, where each write may change where the decoder answers."""
        several = SHORT in slots or {EXTENDED_HIGH, EXTENDED_LOW} <= set(slots)
        by_short = self.reach.get(CONFIGURATION) and SHORT in self.reach and self.is_vehicle
        if by_short and several and (CONFIGURATION in self.state or self.can_keep):
            self._put(self._with_bit_5(False), Reason.SHORT_FOR_NOW, "address-last")
            if CONFIGURATION not in self.todo:
                wanted = self.job.final.get(CONFIGURATION)
                is_known = wanted is not None
                held = Composed(CONFIGURATION, wanted or 0, ())
                self.todo[CONFIGURATION] = held if is_known else self._with_bit_5(True)
                self.again.add(CONFIGURATION)
            slots = sorted({*slots, CONFIGURATION})
        elif {EXTENDED_HIGH, EXTENDED_LOW} <= set(slots) and self.reach.get(CONFIGURATION):
            half = self.todo[EXTENDED_HIGH].value, self.reach.get(EXTENDED_LOW, 0)
            if formulas.extended_address(*half) is None:
                slots = [EXTENDED_LOW, *(slot for slot in slots if slot != EXTENDED_LOW)]
        self._write_all(slots)

    def _with_bit_5(self, is_on: bool) -> Composed:
        """CV 29 of which nothing is to be changed but the bit of the extended address."""
        held = self.state.get(CONFIGURATION)
        bit = EXTENDED_BIT if is_on else 0
        if held is not None:
            return Composed(CONFIGURATION, held & ~EXTENDED_BIT | bit, ())
        rest = BitsFrom(WHOLE & ~EXTENDED_BIT, 0, Whence.ZERO)
        return Composed(CONFIGURATION, bit, (BitsFrom(EXTENDED_BIT, bit, Whence.SAVED), rest))

    def _lock(self) -> None:
        """The lock's own CVs, at the very end, so that they stop none of the other writes."""
        if not self.has_lock:
            return
        if IDENTITY in self.todo:
            self._write_value(IDENTITY)
            identity = self.todo[IDENTITY].value
            if self.state.get(KEY) != identity:
                self._write(KEY, identity, Reason.UNLOCK, "lock-always-writable")
        wanted = self.job.final.get(KEY)
        if KEY in self.todo:
            self._write_value(KEY)
        elif KEY in self.noted and IDENTITY not in self.todo:
            closes = Write(0, KEY, None, Reason.LOCK, if_locked=KEY not in self.state)
            self._add(replace(closes, from_step=self.noted[KEY]), "lock-always-writable")
        elif wanted is not None and self.state.get(KEY, wanted) != wanted:
            self._write(KEY, wanted, Reason.LOCK, "lock-always-writable")

    def _write_value(self, slot: Slot) -> None:
        rules = []
        if self.is_vehicle and slot in (SHORT, CONSIST, CONFIGURATION) and SHORT in self.todo:
            rules.append("short-address-side-effect")
        if self.on_main and slot in self.addresses:
            rules.append("address-last")
        self._put(self.todo[slot], Reason.AGAIN if slot in self.again else Reason.VALUE, *rules)

    def _put(self, held: Composed, reason: Reason, *rules: str) -> None:
        """Write a CV as far as it is to change; bits that nobody knows stay as they are."""
        slot, mask = held.slot, WHOLE & ~held.unread
        composed = held if reason is Reason.VALUE else None
        if mask == WHOLE:
            self._add(Write(0, slot, held.value, reason, composed), *rules)
        elif self.setup.answers:
            if slot not in self.noted:
                self._note(slot, "unknown-bits")
            wanted = Write(0, slot, held.value & mask, reason, composed, mask=mask)
            self._add(replace(wanted, from_step=self.noted[slot]), *rules, "unknown-bits")
        else:
            for bit in bits_of(mask):
                own = (part for part in held.parts if part.mask >> bit & 1)
                parts = tuple(replace(part, mask=1 << bit) for part in own)
                about = Composed(slot, held.value, parts) if composed else None
                wanted = Write(0, slot, held.value >> bit & 1, reason, about, bit=bit)
                self._add(replace(wanted, mask=1 << bit), *rules, "unknown-bits")

    def _write(
        self, slot: Slot, value: int | None, reason: Reason, *rules: str, noted: int | None = None
    ) -> None:
        self._add(Write(0, slot, value, reason, from_step=noted), *rules)

    def _add(self, write: Write, *rules: str) -> None:
        """One write with all that is to be said of it, and what the decoder holds after it."""
        reads = self.setup.answers and write.reason is not Reason.RESET
        every = [*rules, *(["main-write-twice"] if self.on_main else [])]
        every += ["read-back"] if reads else []
        number, before, at = len(self.steps) + 1, self.state.get(write.slot), self._address()
        self._take(write)
        after = self._address()
        self.steps.append(
            replace(
                write,
                number=number,
                before=before,
                rules=tuple(every),
                read_back=reads,
                address=at,
                moves_to=None if after == at else after,
            )
        )
        if write.slot not in (KEY, MAKER) and write.reason is not Reason.PAGE:
            value = None if write.from_step is not None else write.value
            self.due[write.slot] = Due(write.slot, value, number)

    def _take(self, write: Write) -> None:
        """What the decoder holds after a write, by the standards."""
        slot, value = write.slot, write.value
        if value is None:
            self.state.pop(slot, None)
            if slot in self.reach_noted:
                self.reach[slot] = self.reach_noted[slot]
            return
        bits = value if write.bit is None else value << write.bit
        if write.mask == WHOLE:
            self.state[slot] = bits
        elif slot in self.state:
            self.state[slot] = self.state[slot] & ~write.mask | bits
        if slot == CONFIGURATION and write.mask & EXTENDED_BIT:
            self.reach[slot] = bits & EXTENDED_BIT
        elif slot in _REACH:
            self.reach[slot] = bits
            self.has_moved = True
        if slot == SHORT and self.is_vehicle:
            self.state[CONSIST] = 0
            self.reach[CONFIGURATION] = 0
            if CONFIGURATION in self.state:
                self.state[CONFIGURATION] &= ~EXTENDED_BIT

    def _reach(self) -> dict[Slot, int]:
        """What decides where the decoder answers: address CVs, and bit 5 of CV 29.

        From the factory a vehicle decoder answers at CV 1, and CV 9 of an accessory one is 0:
        common practice, no source.
        """
        values = {**self.job.factory, **self.job.before}
        found = {slot: values[slot] for slot in _REACH if slot in values}
        if CONFIGURATION in values:
            found[CONFIGURATION] = values[CONFIGURATION] & EXTENDED_BIT
        if SHORT in self.job.factory and not self.job.before:
            rest = CONFIGURATION if self.is_vehicle else ACCESSORY_HIGH
            found.setdefault(rest, 0)
        told = self.setup.address
        if told is None and self._answering(found) is None:
            told = self.setup.usual_address
        if told is not None and self.is_vehicle:
            is_long = told > LONGEST_SHORT
            high, low = divmod(told, 256)
            own = {EXTENDED_HIGH: formulas.ADDRESS_BASE + high, EXTENDED_LOW: low}
            found |= own if is_long else {SHORT: told}
            found[CONFIGURATION] = EXTENDED_BIT if is_long else 0
        return found

    def _address(self) -> int | None:
        """The address at which the decoder answers on the main, as far as known."""
        if not self.on_main:
            return None
        if self.is_vehicle or self.has_moved:
            return self._answering(self.reach)
        told = self.setup.address
        told = self._answering(self.reach) if told is None else told
        return self.setup.usual_address if told is None else told

    def _answering(self, reach: Mapping[Slot, int]) -> int | None:
        """Where a decoder with these values answers.

        For accessory decoders RCN-225 (2025-07-27), CVs 1 and 9: 8 + 3 bits for the address of an
        output, 6 + 3 bits for that of a decoder, as bit 6 of CV 29 says.
        """
        low, high, mode = reach.get(SHORT), reach.get(ACCESSORY_HIGH), self.state.get(CONFIGURATION)
        if not self.is_vehicle:
            if low is None or high is None or (mode is None and (high or low > 63)):
                return None
            by_output = mode is not None and mode & OUTPUT_BIT
            return low + (high & 7) * 256 if by_output else (low & 63) + (high & 7) * 64
        is_long = reach.get(CONFIGURATION)
        if not is_long:
            return None if is_long is None else low
        pair = reach.get(EXTENDED_HIGH), reach.get(EXTENDED_LOW)
        return None if None in pair else formulas.extended_address(pair[0] or 0, pair[1] or 0)

    def _note(self, slot: Slot, rule: str) -> None:
        """Read a CV whose value is needed later."""
        self.noted[slot] = self._read(slot, Purpose.NOTE, rule)
        if slot in self.reach:
            self.reach_noted[slot] = self.reach[slot]

    def _read(
        self,
        slot: Slot,
        purpose: Purpose,
        *rules: str,
        expected: Expected | None = None,
        setting: str = "",
    ) -> int:
        number = len(self.steps) + 1
        self.steps.append(Read(number, slot, purpose, rules, self._address(), expected, setting))
        return number

    def _verify(self, page: Page | None = None) -> None:
        """Read once more what was written, on a page or on none, as long as it can be reached."""
        due = tuple(self.due.pop(slot) for slot in sorted(self.due) if slot.page == page)
        if due and self.setup.answers:
            number = len(self.steps) + 1
            self.steps.append(Verify(number, due, self._address(), ("read-back",)))
        elif due and page is None:
            self._do(Act.CHECK_VALUES)

    def _do(self, act: Act, *rules: str) -> None:
        self.steps.append(Do(len(self.steps) + 1, act, rules))


def _place_of(slot: Slot | None) -> tuple[bool, Page, int]:
    """The order of lines: CVs, then those of each page, then what has no CV."""
    return (True, _NO_PAGE, 0) if slot is None else (False, slot.page or _NO_PAGE, slot.cv)
