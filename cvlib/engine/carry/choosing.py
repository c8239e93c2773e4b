"""What a person chooses where a setting is disputed: which of its places is to be taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cvlib.errors import Fault, InputError, did_you_mean
from cvlib.model.answer import Answer
from cvlib.model.profile import Place, is_about


def choice_for(answer: Answer, choices: Mapping[str, str]) -> str | None:
    """The choice that settles an answer; nothing where there is none, or it is none here."""
    choice = choices.get(answer.setting)
    return choice if choice is not None and choice in spellings(answer) else None


def picked(answer: Answer, choice: str) -> Place | None:
    """The candidate of a disputed answer that a choice names; nothing for ``none``.

    The choice must be one of :func:`spellings`.
    """
    match choice:
        case "none":
            return None
        case "older" | "newer":
            return _side(answer, choice)[0]
        case _:
            return next(place for place in answer.candidates if _first_slot(place) == choice)


def spellings(answer: Answer) -> tuple[str, ...]:
    """The choices that a disputed answer leaves, as they are typed.

    Between two handbooks ``older`` and ``newer``, where that names one place; the first CV of a
    place (``144``, ``257@16/2``) where no other candidate begins there; ``none`` where the setting
    may be absent.
    """
    sides = [side for side in ("older", "newer") if len(_side(answer, side)) == 1]
    slots = [slot for place in answer.candidates if (slot := _first_slot(place))]
    alone = (slot for slot in slots if slots.count(slot) == 1)
    absent = ("none",) if None in answer.candidates else ()
    return (*sides, *alone, *absent)


def _side(answer: Answer, side: str) -> list[Place | None]:
    """The candidates that hold just before the gap between two handbooks, or just after it; of what
    a bench test has left, too, but not where two tests disagree.
    """
    if answer.trace.rule != 3:
        handbooks = answer.beside
        if handbooks is None or handbooks.trace.rule != 3:
            return []
        if len(answer.candidates) >= len(handbooks.candidates):
            return []
        return [place for place in _side(handbooks, side) if place in answer.candidates]
    gap, is_older = answer.trace.firmware, side == "older"
    found: list[Place | None] = [
        place
        for place in answer.places()
        if (place.firmware.holds_below(gap.oldest) if is_older else place.firmware.holds(gap.end))
    ]
    if not found and None in answer.candidates:
        return [None]
    if len(found) != 1 and len(answer.candidates) == 2:
        return [answer.candidates[0 if is_older else -1]]
    return found


def _first_slot(place: Place | None) -> str:
    return place.fields[0].slot.typed if place is not None and place.fields else ""


def choices_for(
    wanted: Iterable[tuple[str, str]], states: Iterable[Mapping[str, Answer]]
) -> dict[str, str]:
    """The choices by setting id, out of pairs of a setting or group and a choice.

    ``states`` are the answers at the firmware concerned, the goal first. Raises
    :class:`~cvlib.errors.InputError` for a name that is not disputed and a choice there is not.
    A choice for a group settles those of its settings that have this choice, the others stay
    disputed; a choice for one setting goes before that of its group.
    """
    disputed: dict[str, dict[str, None]] = {}
    known: set[str] = set()
    for answers in states:
        known.update(answers)
        for name, answer in answers.items():
            if answer.candidates:
                disputed.setdefault(name, {}).update(dict.fromkeys(spellings(answer)))
    made: dict[str, str] = {}
    faults: list[Fault] = []
    for name, choice in sorted(wanted, key=lambda pair: pair[0] in known):
        meant = [setting for setting in disputed if is_about((name,), setting)]
        fit = [setting for setting in meant if choice in disputed[setting]]
        made |= dict.fromkeys(fit, choice)
        if not meant:
            faults.append(_not_disputed(name, known, disputed))
        elif not fit:
            text = f'"{choice}" is no choice for {name}.'
            allowed = dict.fromkeys(said for setting in meant for said in disputed[setting])
            faults.append(Fault(text, advice=f"Choose {' or '.join(allowed)}."))
    if faults:
        raise InputError(*faults)
    return made


def _not_disputed(name: str, known: set[str], disputed: Mapping[str, object]) -> Fault:
    if any(is_about((name,), setting) for setting in known):
        return Fault(f"{name} is not disputed; there is nothing to choose.", advice="Leave it out.")
    advice = did_you_mean(name, disputed) or did_you_mean(name, known)
    return Fault(f'No setting or group "{name}" here.', advice=advice)
