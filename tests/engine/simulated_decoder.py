"""A decoder that obeys the side effects of the standards, written to line by line.

Sources: NMRA S-9.2.3 (2012-07), section E (CV 1 clears CV 29 bit 5 and CV 19); NMRA S-9.2.2
(2012-07) and RCN-225 (2025-07-27), CVs 15-16 (lock) and 31-32 (pages); RCN-226 (2014-09-12),
section 2.1 (reset by CV 8).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cvlib.engine.carry.write_sheet import Act, Do, Read, Step, Write
from cvlib.model.cv import Page, Slot

KEY, IDENTITY = Slot(15), Slot(16)


@dataclass
class SimulatedDecoder:
    """The CVs of one decoder, reachable as on a programming track or at its address."""

    memory: dict[Slot, int]
    factory: Mapping[Slot, int] = field(default_factory=dict)
    has_lock: bool = True
    clears_extended: bool = True
    """A maker may choose whether writing CV 1 clears CV 29 bit 5 (RCN-225)."""
    is_plugged: bool = True

    def address(self) -> int:
        """The address it answers to on the main."""
        if self.memory.get(Slot(29), 0) & 0x20:
            return (self.memory.get(Slot(17), 0) - 192) * 256 + self.memory.get(Slot(18), 0)
        return self.memory.get(Slot(1), 3)

    def slot(self, cv: int) -> Slot:
        """Where a CV number leads: CVs 257-512 to the page that CVs 31 and 32 choose."""
        if 257 <= cv <= 512:
            return Slot(cv, Page(self.memory.get(Slot(31), 0), self.memory.get(Slot(32), 0)))
        return Slot(cv)

    def read(self, cv: int) -> int | None:
        """The value of a CV."""
        return self.memory.get(self.slot(cv))

    def write(self, cv: int, value: int, address: int | None = None) -> None:
        """Take a write; with an address only when it is its own."""
        if not self.is_plugged or (address is not None and address != self.address()):
            return
        if cv == 15 and self.has_lock:
            if value < 240 or value == 255:
                self.memory[KEY] = value
            return
        key, identity = self.memory.get(KEY, 0), self.memory.get(IDENTITY, 0)
        if self.has_lock and key not in (identity, 255):
            return
        if cv == 8:
            if value == 8:
                self.memory = dict(self.factory)
            return
        self.memory[self.slot(cv)] = value
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
    noted: dict[int, int] = {}
    wrong: list[str] = []
    for step in steps:
        match step:
            case Read():
                noted[step.number] = decoder.read(step.slot.cv) or 0
            case Write():
                value = step.value if step.from_step is None else noted[step.from_step]
                assert value is not None
                for one in (decoder, *others):
                    one.write(step.slot.cv, value, step.address if on_main else None)
                if step.read_back and decoder.read(step.slot.cv) != value:
                    wrong.append(f"step {step.number}: CV {step.slot.cv}")
            case Do(act=Act.UNPLUG_OTHER):
                for one in others:
                    one.is_plugged = False
            case Do():
                pass
    return wrong
