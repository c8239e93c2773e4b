"""The words of carried values: what each outcome means and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from string import digits
from typing import assert_never

from cvlib.engine.carry.carry_loco import DecoderCarried
from cvlib.engine.carry.carry_outcomes import (
    At,
    Clamped,
    Converted,
    Disputed,
    Dropped,
    Gone,
    Moved,
    New,
    Outcome,
    ReadOnly,
    Refusal,
    Refused,
    Same,
)
from cvlib.engine.carry.choosing import spellings
from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.convert import Obstacle
from cvlib.model.answer import Side, Standing
from cvlib.model.coding import Number
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.model.units import with_unit
from cvlib.render.phrases import listed
from cvlib.render.places import default_text, raw_data
from cvlib.render.short_values import MOST_POINTS, Said, short_value
from cvlib.render.views.settings import short_where

KINDS = (
    "disputed",
    "dropped",
    "clamped",
    "refused",
    "converted",
    "moved",
    "new",
    "read-only",
    "same",
)
"""Outcomes in the order in which they are told: what needs a look comes first."""

TITLES = {
    "disputed": "Disputed: not written without a choice",
    "dropped": "Dropped: nothing there stands for the value",
    "clamped": "Clamped: the new place cannot hold the whole value",
    "refused": "Refused: not passed on, for the reason given",
    "converted": "Converted: another raw value for the same meaning",
    "moved": "Moved: another place, the value as before",
    "new": "New: no saved value; the factory value is offered",
    "read-only": "Read-only: the decoder's own, not written",
    "same": "Same: nothing changes",
}

_OBSTACLES: dict[Gone | Obstacle, str] = {
    Gone.ABSENT: "this firmware does not have it",
    Gone.NOT_IN_PROFILE: "that decoder has no setting of this name",
    Gone.ASLEEP: "it exists only while another setting has another value",
    Gone.UNUSED: "its CV does nothing there",
    Gone.BUILT_IN: "there it is fixed when the decoder is built",
    Gone.NO_ADDRESS: "that decoder has not all parts of a long address",
    Obstacle.KIND: "the value is of another kind there",
    Obstacle.UNIT: "its unit there does not turn into the old one",
    Obstacle.REFERENCE: "it is measured against something else there",
    Obstacle.FORMULA: "only one side follows the formula of the standards",
    Obstacle.NAME: "the named value does not exist there",
    Obstacle.LENGTH: "the curve has another number of values there",
    Obstacle.RANGE: "the value does not fit there",
    Obstacle.TOO_LOW: "the lowest value there is already more",
}
_SIDES = {
    Side.OLDER: "; older firmware has it",
    Side.NEWER: "; newer firmware has it",
    Side.BOTH: "; older and newer firmware have it",
    Side.NEITHER: "",
}
_REFUSALS = {
    Refusal.OUT_OF_RANGE: "{value} is not allowed at {firmware}",
    Refusal.UNDEFINED_CHOICE: "{value} names no choice at {firmware}",
    Refusal.UNDECIDED: "what it means depends on {needs}, whose value is not known",
    Refusal.INCOMPLETE: "{needs} of it is not saved",
    Refusal.NO_EFFECT: "{value} had no effect at {firmware}",
    Refusal.TAKEN: "{needs} goes to the same bits, with another value",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One outcome in words: what was, what will be, and what is to be said."""

    setting: str
    title: str
    old_where: str
    old_value: str
    new_where: str
    new_value: str
    remark: str


def title_of(result: DecoderCarried, name: str) -> str:
    """The title of a setting, in the goal's profile where it is there."""
    for profile in (result.goal, result.profile):
        if name in profile.settings:
            return profile.settings[name].title
    return name


def row_of(result: DecoderCarried, outcome: Outcome) -> Row:
    """One outcome in words."""
    old = None if isinstance(outcome, (New, Refused)) else outcome.old
    new = outcome.new if isinstance(outcome, (Same, Moved, Converted, Clamped, New)) else None
    where, value = (short_where(old.place), valued(old)) if old else ("", "")
    if isinstance(outcome, Refused):
        where, value = short_where(outcome.place), outcome.value
    remark = "; ".join(filter(None, (_remark(result, outcome), _standing(new))))
    new_where = short_where(new.place) if new else ""
    title = title_of(result, outcome.setting)
    return Row(outcome.setting, title, where, value, new_where, valued(new) if new else "", remark)


def valued(held: At) -> str:
    """A raw value with its meaning: ``40 = 80 cm``."""
    raw = raw_data(held.place.coding, held.parts)
    if isinstance(raw, list) and len(raw) > MOST_POINTS:
        return short_value(held.place, held.parts)
    shown = " ".join(map(str, raw)) if isinstance(raw, list) else str(raw)
    text = short_value(held.place, held.parts)
    begins = text.startswith(shown) and text[len(shown) : len(shown) + 1] not in {*digits, "."}
    return text if begins else f"{shown} = {text}"


def said_of(result: DecoderCarried) -> dict[str, Said]:
    """What each setting is called and its new value, for the write sheet."""
    said: dict[str, Said] = {}
    goal = result.carried.goal
    for outcome in result.carried.outcomes:
        title = title_of(result, outcome.setting)
        match outcome:
            case Same() | Moved() | Converted() | Clamped():
                said[outcome.setting] = Said.of(title, outcome.new.place, outcome.new.parts)
            case New():
                parts = outcome.new.parts if outcome.new else None
                said[outcome.setting] = Said.of(title, outcome.place, parts)
            case Dropped() | Refused() | Disputed() | ReadOnly():
                place = goal.place(outcome.setting)
                said[outcome.setting] = Said.of(title, place, place.default if place else None)
            case _:
                assert_never(outcome)
    return said


def notes_of(result: DecoderCarried) -> dict[str, str]:
    """What a write sheet says of settings that are not simply written, each with its old value."""
    found: dict[str, str] = {}
    for outcome in result.carried.outcomes:
        match outcome:
            case Clamped():
                found[outcome.setting] = row_of(result, outcome).remark
            case Dropped() | Refused() | Disputed():
                row = row_of(result, outcome)
                was = f"{row.title} {row.old_value}".rstrip()
                found[outcome.setting] = f"{was}: {row.remark}"
            case New(new=None):
                row = row_of(result, outcome)
                found[outcome.setting] = f"{row.title}: {row.remark}"
            case _:
                pass
    return found


def unsaved_of(result: DecoderCarried) -> dict[Slot, str]:
    """What a CV held and holds now that was never saved and meant something else before."""
    carried = result.carried
    answers = carried.goal.resolver.at(carried.goal.version)
    found: dict[Slot, str] = {}
    for slot, name in carried.changed:
        before = [title_of(result, one) for one in carried.before[slot] if one != name]
        was = f"{listed(before or ['read otherwise'], 3, 'or')} in {carried.origin.version}"
        place = answers[name].place
        if place is None or all(field.slot != slot for field in place.fields):
            found[slot] = f"it was {was}"
            continue
        default = "" if place.default is None else f" (factory value {default_text(place)})"
        found[slot] = f"it was {was}, and is {title_of(result, name)}{default} now"
    return found


def keeping(result: DecoderCarried) -> str:
    """The command that keeps values which were read though they were never saved."""
    cv = min((slot for slot, _ in result.carried.changed), default=Slot(1)).typed
    role = "--role ROLE " if result.decoder.role else ""
    version = result.carried.origin.version
    return f'"cvlib keep LOCO {cv}=VALUE {role}--how read --saved-for {version}"'


def _remark(result: DecoderCarried, outcome: Outcome) -> str:
    match outcome:
        case Same() | Moved():
            return ""
        case Converted():
            return _rounding(outcome)
        case Clamped():
            return _limit(outcome)
        case Dropped():
            return _dropped(result, outcome)
        case New():
            return _offered(outcome)
        case Disputed():
            return _dispute(result, outcome)
        case ReadOnly():
            return ""
        case Refused():
            needs = listed([_need(result, name) for name in outcome.needs])
            firmware = f"firmware {outcome.firmware}"
            value = outcome.value
            words = _REFUSALS[outcome.reason].format(value=value, firmware=firmware, needs=needs)
            there = result.carried.goal.place(outcome.setting)
            return words + (_offer(result, outcome.setting, there) if there else "")
        case _:
            assert_never(outcome)


def _offered(outcome: New) -> str:
    if outcome.unread:
        cvs = [slot.typed for slot in outcome.unread]
        verb, it = ("was", "it") if len(cvs) == 1 else ("were", "them")
        words = "never saved, and the factory value would replace what nobody knows"
        return f"CV {listed(cvs, 4)} {verb} {words}: read {it} first"
    if outcome.new is None and outcome.place.cases:
        return f"its factory value depends: {default_text(outcome.place)}"
    if outcome.new is None:
        return "its factory value is not known"
    return "the CV holds what another setting left there" if outcome.is_stale else ""


def _rounding(outcome: Converted) -> str:
    if outcome.wanted is None or outcome.got is None:
        return ""
    unit = _unit(outcome.new.place)
    wanted, got = with_unit(outcome.wanted, unit), with_unit(outcome.got, unit)
    return f"{wanted} rounded to {got}"


def _limit(outcome: Clamped) -> str:
    if outcome.wanted is None or outcome.got is None:
        return f"left out: {listed(outcome.lost, 4)}"
    unit = _unit(outcome.new.place)
    wanted, got = with_unit(outcome.wanted, unit), with_unit(outcome.got, unit)
    return f"{wanted} is wanted, the nearest there is {got}"


def _dropped(result: DecoderCarried, outcome: Dropped) -> str:
    words = _OBSTACLES[outcome.reason]
    if outcome.reason is Gone.ABSENT and outcome.side is not None:
        words += _SIDES[outcome.side]
    asleep = outcome.reason in (Gone.ASLEEP, Gone.UNUSED)
    if outcome.place is not None and outcome.place.fields and not asleep:
        words += f"; it lives at {short_where(outcome.place)}: set it by hand"
        words += _offer(result, outcome.setting, outcome.place)
    return words


def _offer(result: DecoderCarried, name: str, place: Place) -> str:
    """That a setting which is not carried gets its factory value, where it does."""
    image = result.carried.image.values()
    slots = {held.slot for held in image if name in held.settings(Whence.OFFERED)}
    if not slots:
        return ""
    is_written = not slots.isdisjoint(step.slot for step in result.sheet.writes)
    verb = "writes" if is_written else "leaves"
    return f"; the sheet {verb} the factory value {default_text(place)}"


def _dispute(result: DecoderCarried, outcome: Disputed) -> str:
    candidates: list[str] = []
    for candidate in outcome.candidates:
        if candidate.place is None:
            candidates.append("does not exist")
        elif candidate.parts is None:
            why = "cannot take the value" if outcome.old else "of which nothing whole is saved"
            candidates.append(f"{short_where(candidate.place)} ({why})")
        else:
            parts = candidate.parts
            held = At(candidate.place, parts, Standing.DISPUTED, result.carried.goal.version)
            candidates.append(f"{short_where(candidate.place)} ({valued(held)})")
    words = listed(candidates, last="or")
    choices = listed(choices_of(result, outcome.setting), last="or")
    side = "" if outcome.old else "the saved value itself is disputed: "
    return f"{side}{words}; choose {choices}" if words else f"{side}its place is not known here"


def choices_of(result: DecoderCarried, name: str) -> tuple[str, ...]:
    """The choices that a disputed setting leaves."""
    goal, origin = result.carried.goal, result.carried.origin
    held = result.carried.setting(name)
    sides = [(goal.resolver, goal.version), (origin.resolver, origin.version)]
    if isinstance(held, Disputed) and held.old is None:
        sides.reverse()
    for resolver, version in sides:
        setting = resolver.profile.settings.get(name)
        if setting is not None and (answer := resolver.answer(setting, version.key)).candidates:
            return spellings(answer)
    return ()


def _need(result: DecoderCarried, name: str) -> str:
    return f"CV {name}" if name[:1].isdecimal() else title_of(result, name)


def _standing(held: At | None) -> str:
    if held is None or held.standing in (Standing.DOCUMENTED, Standing.BENCH):
        return ""
    return f"standing {held.standing}"


def _unit(place: Place) -> str:
    return place.coding.unit if isinstance(place.coding, Number) else ""


def grouped(result: DecoderCarried) -> Iterator[tuple[str, list[Outcome]]]:
    """The outcomes by kind, in the order in which they are told; kinds without any left out."""
    for kind in KINDS:
        found = [one for one in result.carried.outcomes if one.kind == kind]
        if found:
            yield kind, found
