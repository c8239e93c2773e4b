"""Rules between settings, held against saved values."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from cvlib.engine.account.claims import Layout
from cvlib.engine.known.conditions import satisfied
from cvlib.model.coding import Coding, Number, Parts, Reading
from cvlib.model.coding_many import Address, Curve
from cvlib.model.conditions import Condition, Rule, Test

OF_VALUES = (Test.IS, Test.NOT, Test.HAS, Test.LACKS)
"""Tests that can also be made of a fact fixed at build time, which has no raw value."""


@dataclass(frozen=True, slots=True)
class Held:
    """What is saved of one setting: raw parts, coding and meaning."""

    parts: Parts
    coding: Coding
    reading: Reading
    default: Parts | None = None

    @property
    def raw(self) -> int:
        """The value as a profile writes it: one number, with its sign; an address as such."""
        if isinstance(self.coding, Address) and isinstance(self.reading.value, int):
            return self.reading.value
        joined = self.coding.join(self.parts)
        return self.coding.signed(joined) if isinstance(self.coding, Number) else joined

    @property
    def figure(self) -> Decimal:
        """The engineering value as a figure, special names apart."""
        if isinstance(self.coding, Number):
            return self.coding.scaled(self.raw)
        return Decimal(self.raw)


def broken_rules(layout: Layout) -> Iterator[Rule]:
    """The rules of the profile that the saved values break, in the profile's order.

    A condition on a setting with no saved value neither holds nor fails; an order passes over
    such a setting, and a sum with one is silent. So is a rule whose firmware does not include
    the installed one.
    """
    for rule in _rules(layout):
        given = all(_holds(layout, condition) is True for condition in rule.given)
        if given and _is_broken(layout, rule):
            yield rule


def without_effect(layout: Layout) -> frozenset[str]:
    """The settings that do nothing while others stand as they do, by the traps about them."""
    found: set[str] = set()
    for rule in _rules(layout):
        wanted = {condition.setting for condition in rule.requires if rule.trap}
        others = [condition for condition in rule.given if condition.setting not in wanted]
        if others and all(_holds(layout, condition) is True for condition in others):
            found |= wanted
    return frozenset(found)


def _rules(layout: Layout) -> Iterator[Rule]:
    """The rules that are for the firmware."""
    for rule in layout.resolver.profile.rules:
        if rule.firmware is None or layout.version in rule.firmware:
            yield rule


def kept_settings(layout: Layout, rule: Rule) -> frozenset[str]:
    """The settings of a broken rule of which all is as the rule requires."""
    fails = {held.setting for held in rule.requires if _holds(layout, held) is False}
    return frozenset({held.setting for held in rule.requires} - fails)


def held(layout: Layout, setting: str) -> Held | None:
    """What is saved of a setting, or nothing where it is not known."""
    answer = layout.answers.get(setting)
    if answer is None or answer.place is None or layout.active(answer.place) is not True:
        return None
    parts = answer.place.parts(layout.values)
    if parts is None:
        return None
    coding = answer.place.coding
    return Held(parts, coding, coding.decode(parts), layout.factory(answer.place))


def _is_broken(layout: Layout, rule: Rule) -> bool:
    if rule.requires:
        return any(_holds(layout, condition) is False for condition in rule.requires)
    if rule.conflicts:
        return all(_holds(layout, condition) is True for condition in rule.conflicts)
    if rule.order:
        known = [found for name in rule.order if (found := held(layout, name)) is not None]
        counted = [one.figure for one in known if one.raw not in rule.ignore]
        return any(low > high for low, high in pairwise(counted))
    figures = [held(layout, name) for name in rule.sum_of]
    known = [found for found in figures if found is not None]
    if rule.sum_max is None or len(known) < len(figures):
        return False
    return sum((one.figure for one in known), Decimal(0)) > rule.sum_max


def _holds(layout: Layout, condition: Condition) -> bool | None:
    found = held(layout, condition.setting)
    if found is None:
        return _option_holds(layout, condition)
    return _TESTS[condition.test](layout, found, condition)


def _option_holds(layout: Layout, condition: Condition) -> bool | None:
    reading = layout.reading(condition.setting)
    answer = layout.answers.get(condition.setting)
    if reading is None or answer is None or answer.place is None or answer.place.fields:
        return None
    if condition.test not in OF_VALUES:
        return None
    return satisfied(answer.place.coding, condition.test, condition.operand, reading)


def _satisfied(_: Layout, found: Held, condition: Condition) -> bool:
    return satisfied(found.coding, condition.test, condition.operand, found.reading)


def _shape(_: Layout, found: Held, condition: Condition) -> bool:
    if condition.operand[0] == "not-empty":
        return any(found.parts)
    coding = found.coding
    points = coding.points(found.parts) if isinstance(coding, Curve) else found.parts
    return all(low <= high for low, high in pairwise(points))


def _same(layout: Layout, found: Held, condition: Condition) -> bool | None:
    other = held(layout, str(condition.operand[0]))
    return None if other is None else found.figure == other.figure


def _from_factory(_: Layout, found: Held, condition: Condition) -> bool | None:
    if found.default is not None:
        return found.parts == found.default
    if not condition.operand:
        return None
    return satisfied(found.coding, Test.IS, condition.operand, found.reading)


def _bound(condition: Condition) -> Decimal:
    return Decimal(str(condition.operand[0]))


_TESTS: dict[Test, Callable[[Layout, Held, Condition], bool | None]] = {
    **dict.fromkeys(OF_VALUES, _satisfied),
    Test.MIN: lambda _, found, condition: found.raw >= _bound(condition),
    Test.MAX: lambda _, found, condition: found.raw <= _bound(condition),
    Test.LEGAL: lambda _, found, condition: (
        (found.reading.fault is None) is bool(condition.operand[0])
    ),
    Test.SHAPE: _shape,
    Test.SAME_AS: _same,
    Test.FACTORY: _from_factory,
}
