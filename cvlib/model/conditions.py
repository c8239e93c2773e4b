"""Closed conditions on setting values, as data: what a place needs and what a rule demands."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cvlib.model.coding import Written
from cvlib.model.ranges import FirmwareRange


class Test(StrEnum):
    """What a condition asks of a setting's value."""

    IS = "is"
    NOT = "not"
    HAS = "has"
    """Every one of these flags is set."""
    LACKS = "lacks"
    """None of these flags is set."""
    MIN = "min"
    MAX = "max"
    LEGAL = "legal"
    SHAPE = "shape"
    SAME_AS = "same-as"
    FACTORY = "factory"
    """It has the factory's value; where nobody wrote that down, one of these, if there are any."""


@dataclass(frozen=True, slots=True)
class When:
    """A place exists only while another setting has one of these values, or these flags."""

    setting: str
    values: tuple[Written, ...]
    """Raw numbers, true/false or choice names; names of flags for ``has`` and ``lacks``."""
    test: Test = Test.IS
    """is, not, has or lacks."""


@dataclass(frozen=True, slots=True)
class Condition:
    """One test of one setting's value."""

    setting: str
    test: Test
    operand: tuple[Written, ...]
    """The values of ``is``, ``not`` and ``factory``, the flags of ``has`` and ``lacks``; else one
    entry."""


@dataclass(frozen=True, slots=True)
class Rule:
    """What must hold between settings; exactly one of the four demands is given."""

    id: str
    severity: str
    """error, warning or note."""
    text: str
    repair: str
    source: str = ""
    firmware: FirmwareRange | None = None
    given: tuple[Condition, ...] = ()
    """The rule is asked only while all of these hold."""
    requires: tuple[Condition, ...] = ()
    conflicts: tuple[Condition, ...] = ()
    order: tuple[str, ...] = ()
    """Settings whose values must not fall in this order."""
    ignore: tuple[int, ...] = ()
    """Raw values that stand out of the order."""
    sum_of: tuple[str, ...] = ()
    sum_max: int | None = None
    trap: bool = False
    """Each value is allowed, but one that somebody set has no effect, or another than meant."""

    def settings(self) -> tuple[str, ...]:
        """Every setting the rule looks at, once each."""
        conditions = (*self.given, *self.requires, *self.conflicts)
        others = [str(c.operand[0]) for c in conditions if c.test is Test.SAME_AS]
        names = [c.setting for c in conditions] + others
        return tuple(dict.fromkeys([*names, *self.order, *self.sum_of]))
