"""A person at the layout who has the sheet in their hand, as rows, and knows nothing else.

Whatever is done is done because a row says so in words; a sheet from which something is missing
leaves the simulated decoder with a wrong value.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field

from cvlib.model.cv import Slot, parse_bits, parse_page
from engine.simulated_decoder import SimulatedDecoder

_MUST = re.compile(r"must be (\d+)(?: in bits? ([\d, -]+))?, else stop")
_SET = re.compile(r"add (\d+) if bit (\d) is clear")
_CLEAR = re.compile(r"take (\d+) away if bit (\d) is set")
_HOLDS = re.compile(r"CV \d+ (?:= (\d+)|as in step (\d+))$")


@dataclass
class Person:
    """What a person has read and written so far, and what went wrong."""

    decoder: SimulatedDecoder
    on_main: bool
    answers: bool
    read: dict[int, int] = field(default_factory=dict)
    sent: dict[int, int] = field(default_factory=dict)
    lock: dict[int, int] = field(default_factory=dict)
    opened: bool = False
    at_the_end: int | None = None
    """What the lock held, where it is to be put back."""
    stopped: bool = False
    wrong: list[str] = field(default_factory=list)

    def follow(self, text: str) -> None:
        """Do what the rows of a sheet say, in their order, until one says stop."""
        for row in csv.DictReader(io.StringIO(text)):
            if row["step"] and not self.stopped:
                self._line(row)
        if self.at_the_end is not None:
            self.decoder.write(15, self.at_the_end)

    def _line(self, row: dict[str, str]) -> None:
        step, words = int(row["step"]), row["in words"]
        if words.startswith("If this decoder was ever given a lock number"):
            self.decoder.write(15, self.decoder.memory.get(Slot(16), 0))
        if not row["cv"] or not row["write"]:
            return
        cv, address = int(row["cv"]), int(row["address"]) if row["address"] else None
        if self.on_main and address != self.decoder.address():
            self.wrong.append(f"step {step}: {address} is written, {self.decoder.address()} is it")
        if row["page"] and self.decoder.slot(cv).page != parse_page(row["page"]):
            self.wrong.append(f"step {step}: another page is chosen")
        if row["write"] == "read":
            self._read(step, cv, words)
        else:
            self._write(step, cv, address, row["write"], words)

    def _read(self, step: int, cv: int, words: str) -> None:
        if not self.answers:
            self.wrong.append(f"step {step}: it cannot be read")
        value = self.decoder.read(cv) or 0
        if held := _HOLDS.match(words):
            wanted = int(held[1]) if held[1] else self.sent[int(held[2])]
            if value != wanted:
                self.wrong.append(f"step {step}: CV {cv} is {value}, not {wanted}")
            return
        self.read[step] = value
        if words.startswith("the lock;"):
            self.lock[cv] = value
            if (wanted := re.search(r"if it is not (\d+), write", words)) and value != 255:
                self.decoder.write(15, int(wanted[1]))
                self.at_the_end = value
        if must := _MUST.match(words):
            mask = parse_bits(must[2]) if must[2] else 0xFF
            self.stopped = value & mask != int(must[1])

    def _write(self, step: int, cv: int, address: int | None, write: str, words: str) -> None:
        if "only where CV 15 holds neither" in words:
            self.opened = self.lock[15] not in (self.lock[16], 255)
        if "only where" in words and not self.opened:
            return
        if bits := re.fullmatch(r"bit (\d) = ([01])", write):
            self.decoder.write(
                cv, int(bits[2]), address if self.on_main else None, bit=int(bits[1])
            )
            return
        if noted := re.fullmatch(r"step (\d+)", write):
            value = self.read[int(noted[1])]
            was = value
            value += sum(int(n) for n, bit in _SET.findall(words) if not was >> int(bit) & 1)
            value -= sum(int(n) for n, bit in _CLEAR.findall(words) if was >> int(bit) & 1)
        else:
            value = int(write)
        self.sent[step] = value
        self.decoder.write(cv, value, address if self.on_main else None)
        if self.answers and self.decoder.read(cv) != value:
            self.wrong.append(f"step {step}: CV {cv} does not hold {value}")
