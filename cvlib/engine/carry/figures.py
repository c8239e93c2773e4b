"""What carry would write for the settings that a check finds wrong: figures instead of sums."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cvlib.engine.account.check import Checked, Saved
from cvlib.engine.carry.carry import Carried, Goal, carry
from cvlib.engine.carry.carry_loco import order_of
from cvlib.engine.carry.carry_outcomes import At, Clamped, Converted, Moved, New, Same
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import tell
from cvlib.findings.finding import Finding, Told
from cvlib.model.cv import WHOLE, bit_words, spans_text
from cvlib.model.loco import SavedDecoder

CODES = ("older-only", "newer-only", "reused", "recoded", "unset")
"""The findings that carry has an answer to."""


def with_figures(
    resolver: Resolver, decoder: SavedDecoder, saved: Saved, checked: Checked
) -> Checked:
    """A check whose findings name what carry would write; without it where nobody noted what any
    value was saved for.
    """
    if not saved.saved_for or not any(finding.code in CODES for finding in checked.findings):
        return checked
    goal = Goal(resolver, checked.firmware, dict(saved.values), False, saved.options, {})
    versions = dict.fromkeys(saved.values, checked.firmware) | dict(saved.saved_for)
    origin = Origin(resolver, saved._replace(saved_for=versions), order_of(decoder))
    carried = carry(origin, goal)
    written, offered = _figures(resolver, carried)
    found = (_with(finding, written, offered) for finding in checked.findings)
    return replace(checked, findings=tuple(found))


def _with(finding: Finding, written: dict[str, Told], offered: dict[str, Told]) -> Finding:
    if finding.code not in CODES:
        return finding
    names = dict.fromkeys(told.setting for told in (*finding.was, *finding.now))
    mine = tuple(written[name] for name in names if name in written)
    offers = tuple(offered[told.setting] for told in finding.now if told.setting in offered)
    return replace(finding, carried=mine, offered=offers)


def _figures(resolver: Resolver, carried: Carried) -> tuple[dict[str, Told], dict[str, Told]]:
    """What is written of saved settings, and of settings that had none, by setting id."""
    written: dict[str, Told] = {}
    offered: dict[str, Told] = {}
    for outcome in carried.outcomes:
        match outcome:
            case Same() | Moved() | Converted() | Clamped():
                found, new = written, outcome.new
            case New(new=At() as new, is_stale=True):
                found = offered
            case _:
                continue
        if not any(field.slot in carried.held_back for field in new.place.fields):
            setting = resolver.profile.settings[outcome.setting]
            told = tell(setting, new.place, new.parts, str(new.firmware))
            found[outcome.setting] = replace(told, writes=_writes(carried, new))
    return written, offered


def _writes(carried: Carried, new: At) -> str:
    """The CVs of a value with their numbers: whole CVs, or the bits alone where others are open."""
    if len(new.place.fields) > 4:
        return f"CVs {spans_text(tuple(sorted(f.slot.cv for f in new.place.fields)))}"
    return ", ".join(dict.fromkeys(_each(carried, new)))


def _each(carried: Carried, new: At) -> Iterator[str]:
    for field, part in zip(new.place.fields, new.parts, strict=True):
        whole = carried.image.get(field.slot)
        if field.mask == WHOLE:
            yield f"{field.slot} = {part}"
        elif whole is not None and not whole.unread:
            yield f"{field.slot} = {whole.value}"
        else:
            yield f"{field.slot} {bit_words(field.mask)} = {part}"
