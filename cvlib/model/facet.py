"""In what respects two places of a setting can differ: the only comparison of two places."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from cvlib.model.coding import Coding, Number
from cvlib.model.coding_many import Address, Curve
from cvlib.model.profile import Place


class Facet(StrEnum):
    """One respect in which two answers can differ."""

    EXISTENCE = "existence"
    CVS = "CVs"
    """CV numbers, index page or bits."""
    CODING = "coding"
    RANGE = "range"
    CONDITION = "condition"
    DEFAULT = "default"
    MARKS = "marks"
    WORDS = "words"


PLACING = frozenset((Facet.EXISTENCE, Facet.CVS, Facet.CODING, Facet.RANGE, Facet.CONDITION))
"""The facets that make a place: where they differ, a value means something else or nothing."""

MEANING = frozenset((Facet.EXISTENCE, Facet.CVS, Facet.CODING, Facet.RANGE))
"""The facets that a saved value hangs on, whatever the condition under which it counts."""


def facets(one: Place | None, other: Place | None) -> frozenset[Facet]:
    """In what two places differ; nothing stands for "absent".

    The firmware for which they hold and the sources behind them are no part of what they say.
    """
    if one is other:
        return frozenset()
    if one is None or other is None:
        return frozenset((Facet.EXISTENCE,))
    found: set[Facet] = set()
    if one.fields != other.fields or one.also_at != other.also_at:
        found.add(Facet.CVS)
    if one.coding != other.coding:
        found |= _in_coding(one.coding, other.coding)
    if one.when != other.when:
        found.add(Facet.CONDITION)
    if one.said_default != other.said_default:
        found.add(Facet.DEFAULT)
    if one.marks != other.marks:
        found.add(Facet.MARKS)
    if one.note != other.note:
        found.add(Facet.WORDS)
    return frozenset(found)


def same_placing(one: Place | None, other: Place | None) -> bool:
    """Whether two places agree in all that makes a place."""
    return one is other or PLACING.isdisjoint(facets(one, other))


def same_meaning(one: Place | None, other: Place | None) -> bool:
    """Whether a value means the same in two places, whatever the conditions they hang on."""
    return one is other or MEANING.isdisjoint(facets(one, other))


def _in_coding(one: Coding, other: Coding) -> set[Facet]:
    """Whether two different codings differ in their range alone."""
    if isinstance(one, _RANGED) and isinstance(other, _RANGED) and type(one) is type(other):
        return {Facet.RANGE} if _spread(one) == _spread(other) else {Facet.CODING}
    return {Facet.CODING}


_RANGED = (Number, Address, Curve)


def _spread(coding: Number | Address | Curve) -> Coding:
    """The coding as if it allowed nothing but 0."""
    return replace(coding, low=0, high=0)
