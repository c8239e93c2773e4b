"""What a setting is about for a person, and how its value assigns function keys to outputs."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import StrEnum


class Topic(StrEnum):
    """Which question of a person a setting answers."""

    ADDRESS = "address"
    """What the decoder answers to."""
    DRIVING = "driving"
    STOPPING = "stopping"
    KEYS = "keys"
    """Which key does what."""
    LAMPS = "lamps"
    """Lamps, effects and other outputs."""
    SOUND = "sound"
    PROTECTION = "protection"


INDEX, VALUE, BITS, ENTRY, WIDE = "n", "value", "bits", "entry", "wide-entry"
"""Where a number comes from that is not written down: the index of the repeat, the value, each set
bit, or an entry of RCN-227 (2018-12-02), section 3.3, of one byte or of two."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """How the value of a setting says which function key works what."""

    key: int | str = ""
    """The number of the key, or where it comes from."""
    output: int | str = ""
    """The number of the output, or where it comes from; empty where it works no output."""
    does: str = ""
    """What the key works where that is no numbered output."""
    first: int = 0
    """The key or output that bit 0 stands for."""
    count: int = 8
    """Bits that stand for keys or outputs."""
    none: tuple[int, ...] = ()
    """Values that assign nothing."""
    direction: str = ""
    """forward or reverse where it counts in one direction only."""
    forward_bit: int | None = None
    """The bit that limits the whole output to running forwards."""
    reverse_bit: int | None = None
    blocks: bool = False
    """The key keeps the output off instead of switching it on."""
    method: int | str = ""
    """The method of function assignment under which it counts; ``value`` for the setting whose
    value is the method in use."""

    def __str__(self) -> str:
        """What is said of it, as ``key 1, output bits``."""
        said = ((one.name, getattr(self, one.name), one.default) for one in fields(self))
        return ", ".join(f"{name} {value}" for name, value, usual in said if value != usual)

    def at(self, index: int | None) -> Assignment:
        """The assignment of one index of a repeat."""
        if index is None:
            return self
        return replace(
            self,
            key=index if self.key == INDEX else self.key,
            output=index if self.output == INDEX else self.output,
            does=self.does.replace("{n}", str(index)),
        )
