"""Two resolved states side by side: what one firmware or profile has that the other has not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.known.generations import same_answer
from cvlib.model.answer import Answer
from cvlib.model.coding import Area
from cvlib.model.cv import Slot


class Change(StrEnum):
    """How a setting differs from one state to the other."""

    ADDED = "added"
    REMOVED = "removed"
    MOVED = "moved"
    RECODED = "recoded"
    DEFAULT = "default"
    STANDING = "standing"


@dataclass(frozen=True, slots=True)
class Difference:
    """One setting that differs, with its answer on either side (nothing: not in that profile)."""

    setting: str
    change: Change
    before: Answer | None
    after: Answer | None


def differences(
    before: Mapping[str, Answer], after: Mapping[str, Answer]
) -> tuple[Difference, ...]:
    """What differs between two resolved states, setting by setting, matched by id."""
    found: list[Difference] = []
    for name in dict.fromkeys((*before, *after)):
        old, new = before.get(name), after.get(name)
        change = _change(old, new)
        if change is not None:
            found.append(Difference(name, change, old, new))
    return tuple(found)


def differing_slots(before: Mapping[str, Answer], after: Mapping[str, Answer]) -> tuple[Slot, ...]:
    """The CVs that mean something else in one state than in the other, in order.

    A CV means the settings that may own its bits, with their coding and condition; of an area only
    its use counts. A CV's second number and the default are left out.
    """
    old, new = _meanings(before), _meanings(after)
    slots = [slot for slot in old.keys() | new.keys() if old.get(slot) != new.get(slot)]
    return tuple(sorted(slots, key=lambda slot: slot.order))


def _meanings(answers: Mapping[str, Answer]) -> dict[Slot, frozenset[tuple[object, ...]]]:
    found: dict[Slot, set[tuple[object, ...]]] = {}
    for name, answer in answers.items():
        for place in answer.places():
            coding = place.coding
            what: tuple[object, ...] = (name, place.fields, coding, place.when)
            for field in place.fields:
                if isinstance(coding, Area):
                    what = (coding.kind, coding.use, field.mask, place.when)
                found.setdefault(field.slot, set()).add((*what, bool(answer.candidates)))
    return {slot: frozenset(owners) for slot, owners in found.items()}


def _change(old: Answer | None, new: Answer | None) -> Change | None:
    has_old = old is not None and not old.is_absent
    has_new = new is not None and not new.is_absent
    if old is None or new is None or not (has_old and has_new):
        if has_old == has_new:
            return None
        return Change.ADDED if has_new else Change.REMOVED
    if old.place is None or new.place is None:
        return None if same_answer(old, new) else Change.STANDING
    if old.place.fields != new.place.fields:
        return Change.MOVED
    if old.place.coding != new.place.coding:
        return Change.RECODED
    if old.place.said_default != new.place.said_default:
        return Change.DEFAULT
    return None if old.standing is new.standing else Change.STANDING
