"""The safe order of writes: lock, CV 1 before 19 and 29, pages around paged CVs, address last."""

from __future__ import annotations

from collections.abc import Iterable

from cvlib.engine.carry.cautions import cautions_of
from cvlib.engine.carry.compose_bytes import Composed
from cvlib.engine.carry.write_sheet import (
    Act,
    Do,
    Job,
    Read,
    Reason,
    Setup,
    Sheet,
    Step,
    Track,
    Write,
)
from cvlib.errors import problem
from cvlib.model import formulas
from cvlib.model.cv import WHOLE, Page, Slot
from cvlib.model.profile import Risk

SHORT, EXTENDED_HIGH, EXTENDED_LOW = Slot(1), Slot(17), Slot(18)
MAKER, KEY, IDENTITY = Slot(8), Slot(15), Slot(16)
CONSIST, CONFIGURATION = Slot(19), Slot(29)
HIGH, LOW = Slot(31), Slot(32)
EXTENDED_BIT = 0x20
RESET = 8


def plan(job: Job, setup: Setup) -> Sheet:
    """The steps that bring the wanted values into a decoder, in a safe order.

    Raises :class:`~cvlib.errors.InputError` for a factory reset on the main.
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

    def sheet(self) -> Sheet:
        """The whole sheet."""
        if self.setup.is_reset:
            self._reset()
        elif self.todo:
            self._unlock()
        self._plan_again()
        paged = sorted((s for s in self.todo if s.page is not None), key=_by_page)
        self._note_first(bool(paged))
        on_main = self.setup.track is Track.MAIN
        special = {KEY, IDENTITY} if self.has_lock else set()
        special |= {HIGH, LOW} if paged else set()
        last = self.addresses if on_main else {}
        plain = [s for s in sorted(self.todo) if s.page is None and s not in special]
        self._write_all(slot for slot in plain if slot not in last)
        self._write_pages(paged)
        self._write_addresses([slot for slot in plain if slot in last])
        self._lock()
        if self.setup.power_cycle:
            self._do(Act.POWER_CYCLE)
        if self.steps:
            self._do(Act.TRY)
        cautions = cautions_of(self.job, self.setup, tuple(self.steps))
        return Sheet(self.setup, tuple(self.steps), cautions, self.job.unchanged)

    def _reset(self) -> None:
        if self.setup.track is Track.MAIN:
            raise problem(
                "A factory reset by CV 8 works in programming mode only.",
                advice="Use the programming track, or leave the reset out.",
            )
        if self.setup.is_shared:
            self._do(Act.UNPLUG_OTHER, "shared-address-writes-both")
        self._do(Act.KEEP_ALL, "note-before-reset")
        self._unlock()
        self._write(MAKER, RESET, Reason.RESET, "reset-by-cv8")
        self._do(Act.WAIT_FOR_RESET)
        self.state = dict(self.job.start)

    def _unlock(self) -> None:
        """Make this decoder take the writes, and no other one where two could."""
        key, identity = self.state.get(KEY), self.state.get(IDENTITY)
        shared = self.setup.is_shared and not self.setup.is_reset
        if shared and not self._lock_chooses(identity):
            self._do(Act.UNPLUG_OTHER, "shared-address-writes-both")
            shared = False
        if not self.has_lock or identity is None:
            return
        may_be_locked = identity != 0 if key is None else formulas.is_locked(key, identity)
        if shared or may_be_locked:
            self._write(KEY, identity, Reason.UNLOCK, "lock-before-write", "lock-always-writable")

    def _lock_chooses(self, identity: int | None) -> bool:
        """Whether the lock tells this decoder from the other one at its address.

        Both leave the factory with 0 in CV 16, so 0 chooses none unless the other is known.
        """
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

    def _note_first(self, has_pages: bool) -> None:
        """Read what will be disturbed and is not known."""
        wanted: list[Slot] = []
        if self.is_vehicle and SHORT in self.todo:
            cleared = {CONSIST: WHOLE, CONFIGURATION: EXTENDED_BIT}
            self.unknown = [slot for slot, mask in cleared.items() if self._is_unknown(slot, mask)]
            wanted += self.unknown
        if has_pages:
            wanted += [s for s in (HIGH, LOW) if s not in self.todo and s not in self.job.final]
        if not self.setup.answers:
            return
        for slot in wanted:
            rule = "page-restored" if slot in (HIGH, LOW) else "short-address-side-effect"
            number = len(self.steps) + 1
            self.steps.append(Read(number, slot, (rule,), self._address()))
            self.noted[slot] = number

    def _is_unknown(self, slot: Slot, mask: int) -> bool:
        known = slot in self.todo or slot in self.job.final
        return bool(self.addresses.get(slot, 0) & mask) and not known

    def _write_all(self, slots: Iterable[Slot]) -> None:
        written = list(slots)
        for slot in written:
            if slot == SHORT and self.unknown and not self.setup.answers:
                self._do(Act.CONFIGURATION_UNKNOWN, "short-address-side-effect")
            self._write_value(slot)
        if SHORT not in written:
            return
        for slot in (CONSIST, CONFIGURATION):
            if slot in self.noted:
                number = self.noted[slot]
                self._write(slot, None, Reason.AGAIN, "short-address-side-effect", noted=number)

    def _write_pages(self, paged: list[Slot]) -> None:
        page: Page | None = None
        for slot in paged:
            if slot.page is not None and slot.page != page:
                page = slot.page
                self._write(HIGH, page.high, Reason.PAGE, "page-before-paged")
                self._write(LOW, page.low, Reason.PAGE, "page-before-paged")
            self._write_value(slot)
        if page is None:
            return
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
        configuration = self.state.get(CONFIGURATION, 0)
        several = SHORT in slots or {EXTENDED_HIGH, EXTENDED_LOW} <= set(slots)
        by_short = configuration & EXTENDED_BIT and SHORT in self.state and self.is_vehicle
        if by_short and several:
            value = configuration & ~EXTENDED_BIT
            self._write(CONFIGURATION, value, Reason.SHORT_FOR_NOW, "address-last")
            wanted = self.job.final.get(CONFIGURATION, configuration)
            if CONFIGURATION not in self.todo:
                self.todo[CONFIGURATION] = Composed(CONFIGURATION, wanted, ())
            slots = sorted({*slots, CONFIGURATION})
        self._write_all(slots)

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
        elif wanted is not None and self.state.get(KEY, wanted) != wanted:
            self._write(KEY, wanted, Reason.LOCK, "lock-always-writable")

    def _write_value(self, slot: Slot) -> None:
        held = self.todo[slot]
        rules = []
        if self.is_vehicle and slot in (SHORT, CONSIST, CONFIGURATION) and SHORT in self.todo:
            rules.append("short-address-side-effect")
        if self.setup.track is Track.MAIN and slot in self.addresses:
            rules.append("address-last")
        reason = Reason.VALUE if held.parts else Reason.AGAIN
        composed = held if held.parts else None
        self._write(slot, held.value, reason, *rules, composed=composed)

    def _write(
        self,
        slot: Slot,
        value: int | None,
        reason: Reason,
        *rules: str,
        composed: Composed | None = None,
        noted: int | None = None,
    ) -> None:
        every = list(rules)
        reads = self.setup.answers and reason is not Reason.RESET
        if self.setup.track is Track.MAIN:
            every.append("main-write-twice")
        if reads:
            every.append("read-back")
        before, at = self.state.get(slot), self._address()
        self._take(slot, value)
        after = self._address()
        number, moves_to = len(self.steps) + 1, None if after == at else after
        about = (reason, composed, before, tuple(every), reads, at, noted, moves_to)
        self.steps.append(Write(number, slot, value, *about))

    def _take(self, slot: Slot, value: int | None) -> None:
        """What the decoder holds after a write, by the standards."""
        if value is None:
            self.state.pop(slot, None)
        else:
            self.state[slot] = value
        if slot == SHORT and self.is_vehicle:
            self.state[CONSIST] = 0
            if CONFIGURATION in self.state:
                self.state[CONFIGURATION] &= ~EXTENDED_BIT

    def _address(self) -> int | None:
        """The address at which the decoder answers on the main, as far as known."""
        configuration = self.state.get(CONFIGURATION)
        if self.setup.track is not Track.MAIN or not self.is_vehicle or configuration is None:
            return None
        if not configuration & EXTENDED_BIT:
            return self.state.get(SHORT)
        high, low = self.state.get(EXTENDED_HIGH), self.state.get(EXTENDED_LOW)
        return None if high is None or low is None else formulas.extended_address(high, low)

    def _do(self, act: Act, *rules: str) -> None:
        self.steps.append(Do(len(self.steps) + 1, act, rules))


def _by_page(slot: Slot) -> tuple[Page, int]:
    return slot.page or Page(-1, -1), slot.cv
