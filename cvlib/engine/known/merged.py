"""Places that are said alike put together, and what is left open where they differ."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from cvlib.model.answer import Answer, Standing, Trace
from cvlib.model.facet import Facet, facets, same_placing
from cvlib.model.profile import PLAIN, Marks, Place, Setting


def given(
    setting: Setting, standing: Standing, trace: Trace, groups: Sequence[Sequence[Place]]
) -> Answer:
    """An answer with one place out of each group; in what a group differs is left open."""
    merged = [_merged(group) for group in groups]
    left_open = {facet for _, differing in merged for facet in differing}
    unsettled = (group for group, (_, open_) in zip(groups, merged, strict=True) if open_)
    return Answer(
        *(setting.id, standing, merged[0][0], trace),
        also=tuple(place for place, _ in merged[1:]),
        open=tuple(facet for facet in Facet if facet in left_open),
        sides=tuple(place for group in unsettled for place in group),
    )


def _merged(group: Sequence[Place]) -> tuple[Place, tuple[Facet, ...]]:
    """One place out of several that are placed alike; it gives nothing for what differs."""
    newest = group[-1]
    differing: set[Facet] = set()
    for one in group[:-1]:
        differing |= facets(one, newest)
    if not differing:
        return newest, ()
    made = newest
    if Facet.DEFAULT in differing:
        made = replace(made, default=None, cases=())
    if Facet.MARKS in differing:
        made = replace(made, marks=_common_marks([one.marks for one in group]))
    if Facet.WORDS in differing:
        made = replace(made, note="")
    return made, tuple(facet for facet in Facet if facet in differing)


def _common_marks(marks: Sequence[Marks]) -> Marks:
    """The marks in which all agree, each other one as where nothing is said."""
    names = Marks.__dataclass_fields__
    agreed = {
        name: getattr(marks[0], name)
        for name in names
        if len({getattr(one, name) for one in marks}) == 1
    }
    return replace(PLAIN, **agreed)


def groups_of(places: Iterable[Place]) -> list[list[Place]]:
    """Places put together with those that are placed alike, each different one once."""
    found: list[list[Place]] = []
    for place in places:
        group = next((one for one in found if same_placing(one[0], place)), None)
        if group is None:
            found.append([place])
        elif all(facets(place, known) for known in group):
            group.append(place)
    return found


def distinct(places: Iterable[Place]) -> tuple[Place, ...]:
    """The places that are placed differently, the first of each."""
    return tuple(group[0] for group in groups_of(places))


def sides_of(answer: Answer) -> tuple[Place, ...]:
    """The places of an answer, those that differ in an open facet one by one."""
    whole = (
        place
        for place in answer.places()
        if not any(same_placing(place, side) for side in answer.sides)
    )
    return (*answer.sides, *whole)


def same_set(one: Answer, other: Answer) -> bool:
    """Whether two answers have the same places, in whatever order."""
    mine, theirs = one.places(), other.places()
    return len(mine) == len(theirs) and all(
        any(same_placing(place, held) for held in theirs) for place in mine
    )
