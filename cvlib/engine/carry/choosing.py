"""What a person chooses where a setting is disputed: which of its places is to be taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cvlib.errors import Fault, InputError, did_you_mean
from cvlib.model.answer import Answer
from cvlib.model.profile import Place, is_about


def picked(candidates: tuple[Place | None, ...], choice: str) -> Place | None:
    """The candidate that a choice names; nothing for ``none``.

    The choice must be one of :func:`spellings`.
    """
    match choice:
        case "none":
            return None
        case "older":
            return candidates[0]
        case "newer":
            return candidates[-1]
        case _:
            return next(place for place in candidates if _first_slot(place) == choice)


def spellings(answer: Answer) -> tuple[str, ...]:
    """The choices that a disputed answer leaves, as they are typed.

    Between two handbooks ``older`` and ``newer``; the first CV of a place (``144``,
    ``257@16/2``) where no other candidate begins there; ``none`` where the setting may be absent.
    """
    sides = ("older", "newer") if answer.trace.rule == 3 else ()
    slots = [slot for place in answer.candidates if (slot := _first_slot(place))]
    alone = (slot for slot in slots if slots.count(slot) == 1)
    absent = ("none",) if None in answer.candidates else ()
    return (*sides, *alone, *absent)


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
    disputed: dict[str, Answer] = {}
    known: set[str] = set()
    for answers in states:
        known.update(answers)
        for name, answer in answers.items():
            if answer.candidates:
                disputed.setdefault(name, answer)
    made: dict[str, str] = {}
    faults: list[Fault] = []
    for name, choice in sorted(wanted, key=lambda pair: pair[0] in known):
        meant = [setting for setting in disputed if is_about((name,), setting)]
        fit = [setting for setting in meant if choice in spellings(disputed[setting])]
        made |= dict.fromkeys(fit, choice)
        if not meant:
            faults.append(_not_disputed(name, known, disputed))
        elif not fit:
            text = f'"{choice}" is no choice for {name}.'
            allowed = dict.fromkeys(s for setting in meant for s in spellings(disputed[setting]))
            faults.append(Fault(text, advice=f"Choose {' or '.join(allowed)}."))
    if faults:
        raise InputError(*faults)
    return made


def _not_disputed(name: str, known: set[str], disputed: Mapping[str, Answer]) -> Fault:
    if any(is_about((name,), setting) for setting in known):
        return Fault(f"{name} is not disputed; there is nothing to choose.", advice="Leave it out.")
    advice = did_you_mean(name, disputed) or did_you_mean(name, known)
    return Fault(f'No setting or group "{name}" here.', advice=advice)
