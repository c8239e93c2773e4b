"""One id for one meaning: settings that become another thing, and one that goes under two ids."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise, permutations
from typing import TypeAlias

from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place
from cvlib.engine.lint.places import WRITTEN
from cvlib.findings.catalogue import Severity
from cvlib.model.coding import Choice, Coding, Fields, Flags, Number, Switch
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.facet import same_placing
from cvlib.model.profile import Place, Setting
from cvlib.model.ranges import FirmwareRange
from cvlib.model.unit_table import factor

_Run: TypeAlias = list[tuple[Place, FirmwareRange]]
"""Places in the order of firmware, each with where it is sure."""

_BASES = ("s", "m", "V", "A", "Hz", "step of 28")
"""One unit of each dimension."""
_NEUTRAL = frozenset(("off", "on", "none", "no", "yes", "not used", "default", "normal"))
"""Names of values that say nothing about what a setting is."""
_ONE_KIND = (Switch, Address, Curve, Text)
"""Kinds that are one thing, however they are coded."""
_ON = frozenset(("on", "yes"))
_WORD = re.compile(r"[^\W_]+")
_SINCE = re.compile(
    r"\b(?:since|until|before|from|up to|as of)\s+(?:firmware\s+|version\s+|v\.?\s*)?"
    r"(\d[\w.-]*\w|\d)",
    re.I,
)


def changed_meanings(subject: Subject) -> Iterator[LintFinding]:
    """Settings that are another thing from some firmware on, though their id stays.

    What is merely coded in another way is the same thing: another scale or unit of the same
    dimension, another CV, further choices, a switch that became a choice.
    """
    seen = {without_index(setting.id): False for setting in subject.written}
    runs = _runs(subject)
    for setting in subject.written:
        name = without_index(setting.id)
        if seen[name]:
            continue
        for (one, _), (other, firmware) in pairwise(runs.get(setting.id, ())):
            what = _change(one.coding, other.coding)
            if not what:
                continue
            seen[name] = True
            yield LintFinding(
                at_place(setting, other),
                f'"{setting.id}" means something else at {firmware.text()} than before: {what}.',
                "Record what it is from then on as another setting with an id and a title of its "
                "own, and end this one before.",
                at_place(setting, one),
            )
            break
        if not seen[name] and (version := _since(subject, setting)):
            seen[name] = True
            yield LintFinding(
                Spot("setting", setting.id, key=("title",)),
                f'The title of "{setting.id}" speaks of firmware {version}, as if the setting '
                "were one thing before and another after.",
                "Record two settings if it is two things, each with an id and a title of its own; "
                "else leave the firmware out of the title.",
            )


def renamed_settings(subject: Subject) -> Iterator[LintFinding]:
    """Settings of the same title of which one begins where the other ends."""
    by_title: dict[str, list[Setting]] = {}
    for setting in subject.written:
        by_title.setdefault(setting.title.casefold(), []).append(setting)
    twice = [alike for alike in by_title.values() if len(alike) > 1]
    runs = _runs(subject) if twice else {}
    seen: set[tuple[str, str]] = set()
    for alike in twice:
        for one, other in permutations((held for held in alike if held.id in runs), 2):
            key = (without_index(one.id), without_index(other.id))
            before, after = runs[one.id][-1][0], runs[other.id][0][0]
            if key in seen or before.when != after.when:
                continue
            if not _takes_over(subject, runs[one.id], runs[other.id]):
                continue
            if _change(before.coding, after.coding):
                continue
            seen.add(key)
            yield LintFinding(
                at_place(other, after),
                f'"{other.id}" begins where "{one.id}" ends, and has the same title: '
                f'"{other.title}".',
                f'If both are one thing, give "{one.id}" a second place instead, so that saved '
                "values go along; else give one of them another title.",
                at_place(one, before),
            )


def _runs(subject: Subject) -> dict[str, _Run]:
    """The run of each setting that is sure anywhere."""
    found: dict[str, _Run] = {}
    for stretch in subject.stretches:
        for answer in stretch.answers:
            place = answer.place
            if place is None or answer.standing not in WRITTEN or isinstance(place.coding, Fields):
                continue
            run = found.setdefault(answer.setting, [])
            if run and same_placing(run[-1][0], place):
                run[-1] = place, run[-1][1] | stretch.firmware
            else:
                run.append((place, stretch.firmware))
    return found


def _change(old: Coding, new: Coding) -> str:
    """What two codings cannot share, in words; empty where they may mean one thing."""
    if old == new or (type(old) is type(new) and isinstance(old, _ONE_KIND)):
        return ""
    match old, new:
        case Number(), Number():
            mine, theirs = _dimension(old.unit), _dimension(new.unit)
            differ = bool(mine and theirs) and mine != theirs
            return f"{old.unit} do not turn into {new.unit}" if differ else ""
        case ((Choice() | Flags()), (Choice() | Flags())):
            return _other_names(old, new)
    return "" if _may_be_one(old, new) else _kinds(old, new)


def _may_be_one(old: Coding, new: Coding) -> bool:
    """Whether two kinds of value may still be the same thing, coded in another way."""
    match old, new:
        case Choice(), Switch():
            names = _names(old)
            return not names - _NEUTRAL or bool(names & _ON)
        case Switch(), Choice():
            names = _names(new)
            return not names - _NEUTRAL or bool(names & _NEUTRAL)
        case (Number() as figure, (Choice() | Switch()) as named) | (
            (Choice() | Switch()) as named,
            Number() as figure,
        ):
            return not _dimension(figure.unit) or bool(_names(figure) & _names(named))
        case (Flags() as flags, Switch()) | (Switch(), Flags() as flags):
            return len(flags.flags) == 1
        case (Address() as address, Number()) | (Number(), Address() as address):
            return address.form is AddressForm.PLAIN
        case (Text(), Number()) | (Number(), Text()):
            return True
    return False


def _kinds(old: Coding, new: Coding) -> str:
    return f"a {old.kind} ({old.legal()}) became a {new.kind} ({new.legal()})"


def _other_names(old: Choice | Flags, new: Choice | Flags) -> str:
    """Whether two lists of names have no telling word in common."""
    mine, theirs = _names(old) - _NEUTRAL, _names(new) - _NEUTRAL
    if not mine or not theirs or _words(mine) & _words(theirs):
        return ""
    return f"{old.legal()} and {new.legal()} have no name in common"


def _names(coding: Coding) -> set[str]:
    match coding:
        case Number():
            names = {span.name for span in coding.names}
        case Choice():
            names = {span.name for span in coding.choices}
        case Flags():
            names = {name for _, name in coding.flags}
        case _:
            names = {"off", "on"}
    return {name.casefold() for name in names}


def _words(names: set[str]) -> set[str]:
    return {word for name in names for word in _WORD.findall(name)}


def _dimension(unit: str) -> str:
    """The base of what a unit measures; empty where nothing turns into it exactly."""
    return next((base for base in _BASES if unit and factor(unit, base) is not None), "")


def _since(subject: Subject, setting: Setting) -> str:
    """The firmware that the title of a setting with several places speaks of."""
    if len(setting.places) < 2:
        return ""
    profile = subject.profile
    known = {text for place in setting.places for _, text in place.firmware.spelt}
    known |= {release.version.text for release in profile.releases}
    known |= {text for source in profile.sources.values() for _, text in source.firmware.spelt}
    found = (match[1] for match in _SINCE.finditer(setting.title))
    return next((version for version in found if version in known), "")


def _takes_over(subject: Subject, one: _Run, other: _Run) -> bool:
    """Whether one setting ends before the other begins, with no documented firmware between."""
    ended, begun = one[-1][1], other[0][1]
    if ended.spans[-1][1] is None or not ended.lies_before(begun.oldest):
        return False
    between = FirmwareRange.between(ended.end, begun.oldest, ended)
    return (between & subject.resolver.coverage).is_empty()


RULES = (
    LintRule(
        "meaning-changed",
        Severity.WARNING,
        "A setting means something else from some firmware on, under the same id.",
        changed_meanings,
    ),
    LintRule(
        "renamed-setting",
        Severity.NOTE,
        "A setting begins where another one of the same title ends.",
        renamed_settings,
    ),
)
