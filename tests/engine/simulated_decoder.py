"""A decoder that obeys the standards, written to line by line; it knows nothing of the sheet.

Each rule is a row of programming-rules.csv, named where it is obeyed: short-address-side-effect
(NMRA S-9.2.3, 2012-07, section E), short-address-maker-choice (RCN-225, 2025-07-27, CV 29 bit 5),
page-before-paged and lock-before-write (NMRA S-9.2.2, 2012-07, CVs 31-32 and 15-16),
lock-always-writable (RCN-225, CVs 15-16), reset-by-cv8 (RCN-226, 2014-09-12, section 2.1),
consist-address-no-cv-access (NMRA S-9.2.1, 2012-07, long form), extended-address-range (NMRA
S-9.2.2 and RCN-225). That single bits can be written is in NMRA S-9.2.3, section E (direct mode),
and S-9.2.1 (long form, bit manipulation).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cvlib.engine.carry.write_sheet import Act, Do, Read, Step, Verify, Write
from cvlib.model.cv import Page, Slot

KEY, IDENTITY = Slot(15), Slot(16)


@dataclass
class SimulatedDecoder:
    """The CVs of one decoder, reachable as on a programming track or at its address."""

    memory: dict[Slot, int]
    factory: Mapping[Slot, int] = field(default_factory=dict)
    has_lock: bool = True
    clears_extended: bool = True
    """short-address-maker-choice: whether writing CV 1 clears CV 29 bit 5."""
    is_plugged: bool = True
    writes: int = 0
    """How many writes it took."""

    def address(self) -> int:
        """The address it answers to on the main; by its consist address it takes no CV access."""
        if self.memory.get(Slot(29), 0) & 0x20:
            return (self.memory.get(Slot(17), 0) - 192) * 256 + self.memory.get(Slot(18), 0)
        return self.memory.get(Slot(1), 3)

    def slot(self, cv: int) -> Slot:
        """Where a CV number leads, by page-before-paged."""
        if 257 <= cv <= 512:
            return Slot(cv, Page(self.memory.get(Slot(31), 0), self.memory.get(Slot(32), 0)))
        return Slot(cv)

    def read(self, cv: int) -> int | None:
        """The value of a CV."""
        return self.memory.get(self.slot(cv))

    def is_locked(self) -> bool:
        """Whether it ignores writes, by lock-before-write."""
        key, identity = self.memory.get(KEY, 0), self.memory.get(IDENTITY, 0)
        return self.has_lock and key not in (identity, 255)

    def write(
        self, cv: int, value: int, address: int | None = None, *, bit: int | None = None
    ) -> None:
        """Take a write of a CV or of one of its bits; with an address only when it is its own."""
        if not self.is_plugged or (address is not None and address != self.address()):
            return
        if cv == 15 and self.has_lock:
            if value < 240 or value == 255:
                self.memory[KEY] = value
            return
        if self.is_locked():
            return
        self.writes += 1
        if cv == 8:
            if value == 8 and address is None:
                self.memory = dict(self.factory)
            return
        slot = self.slot(cv)
        if bit is not None:
            value = self.memory.get(slot, 0) & ~(1 << bit) | value << bit
        self.memory[slot] = value
        if cv == 1:
            self.memory[Slot(19)] = 0
            if self.clears_extended:
                self.memory[Slot(29)] = self.memory.get(Slot(29), 0) & ~0x20


def follow(
    steps: tuple[Step, ...],
    decoder: SimulatedDecoder,
    *others: SimulatedDecoder,
    on_main: bool = False,
) -> list[str]:
    """Follow a sheet line by line; the others stand on the same track. What reading back shows."""
    work = _Work(decoder, others, on_main)
    for step in steps:
        match step:
            case Read(expected=expected):
                work.noted[step.number] = decoder.read(step.slot.cv) or 0
                if expected is not None and not expected.allows(work.noted[step.number], 0xFF):
                    return ["another decoder"]
            case Write():
                work.write(step)
            case Verify(due=due):
                for held in due:
                    wanted = work.sent[held.step] if held.value is None else held.value
                    if decoder.read(held.slot.cv) != wanted:
                        work.wrong.append(f"step {step.number}: CV {held.slot.cv}")
            case Do(act=Act.UNPLUG_OTHER):
                for one in others:
                    one.is_plugged = False
            case _:
                pass
    return work.wrong


@dataclass
class _Work:
    """A sheet under way."""

    decoder: SimulatedDecoder
    others: tuple[SimulatedDecoder, ...]
    on_main: bool
    noted: dict[int, int] = field(default_factory=dict)
    sent: dict[int, int] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    is_open: bool = False

    def write(self, step: Write) -> None:
        if step.if_locked:
            self.is_open = self.is_open or self.decoder.is_locked()
            if not self.is_open:
                return
        value = (step.value or 0) & (step.mask if step.bit is None else 0xFF)
        if step.from_step is not None:
            rest = 0xFF if step.value is None else ~step.mask
            value |= self.noted[step.from_step] & rest
        self.sent[step.number] = value
        address = step.address if self.on_main else None
        for one in (self.decoder, *self.others):
            one.write(step.slot.cv, value, address, bit=step.bit)
        if step.read_back and self.decoder.read(step.slot.cv) != value:
            self.wrong.append(f"step {step.number}: CV {step.slot.cv}")
