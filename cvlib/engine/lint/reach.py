"""What can never come to anything: places, rules, advisories and blocks without use."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, TypeAlias

from cvlib.engine.known.conditions import demands, fitting, places_in, satisfied
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, Whole, at_place
from cvlib.engine.lint.places import WRITTEN
from cvlib.errors import InputError, did_you_mean
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer
from cvlib.model.coding import Choice, Coding, Flags, Number, Written
from cvlib.model.conditions import Condition, Rule, Test, When
from cvlib.model.cv import WHOLE
from cvlib.model.profile import Place, Setting, is_about
from cvlib.model.ranges import FirmwareRange

_NEIGHBOUR = re.compile(r"\[n[+-]\d+\]")
_NAMED = (Test.IS, Test.NOT, Test.HAS, Test.LACKS)
"""Tests that name values or flags."""
_LISTED = ("choices", "values", "flags")
_NEVER = {Test.IS: "", Test.NOT: "anything but ", Test.MIN: "at least ", Test.MAX: "at most "}
Answers: TypeAlias = Mapping[str, Answer]


def unreachable_places(subject: Subject) -> Iterator[LintFinding]:
    """Places whose conditions cannot hold at firmware where they are the answer.

    The deciding setting is not there, has no such value or flag, or would need two values at once.
    """
    found: dict[tuple[str, int], tuple[Setting, Place, FirmwareRange, str]] = {}
    for firmware, answers in subject.answers():
        for name, answer in answers.items():
            setting = subject.profile.settings[name]
            for place in _conditional(setting, answer):
                over = firmware & place.firmware if answer.is_absent else firmware
                why = "" if over.is_empty() else _hindrance(answers, place)
                if why:
                    key = (without_index(name), at_place(setting, place).place or 0)
                    before = found.get(key, (setting, place, over, why))
                    found[key] = (*before[:2], before[2] | over, before[3])
    for setting, place, firmware, why in found.values():
        if setting.origin and "/blocks/" not in setting.origin:
            continue
        yield LintFinding(
            at_place(setting, place, "when"),
            f'"{setting.id}" never exists at {firmware.text()}, because {why}.',
            "Correct the condition, or end the place where its condition ends.",
        )
    yield from _stray_values(subject)


def _stray_values(subject: Subject) -> Iterator[LintFinding]:
    """Conditions with a value among others that their setting has at no firmware of the place."""
    found: dict[tuple[str, int], tuple[Setting, Place, str]] = {}
    fine: set[tuple[str, int]] = set()
    for _, answers in subject.answers():
        for setting in subject.written:
            for place in _conditional(setting, answers[setting.id]):
                key = (without_index(setting.id), at_place(setting, place).place or 0)
                whys = [_stray_value(answers, when) for when in place.when]
                if _hindrance(answers, place) or not any(whys):
                    fine.add(key)
                else:
                    found.setdefault(key, (setting, place, next(filter(None, whys))))
    for key, (setting, place, why) in found.items():
        if key not in fine:
            yield LintFinding(
                at_place(setting, place, "when"),
                f'One value of the condition of "{setting.id}" can never be: {why}.',
                "Correct the value, or take it out.",
            )


def _conditional(setting: Setting, answer: Answer) -> Iterator[Place]:
    """The places with conditions that an answer gives, or may have lost because of them."""
    if answer.standing in WRITTEN or answer.is_absent:
        places = setting.places if answer.is_absent else answer.places()
        yield from (place for place in places if place.when)


def unreachable_rules(subject: Subject) -> Iterator[LintFinding]:
    """Rules of the profile itself that no saved values can ever break.

    A rule that a standard or a block brings may be idle where the decoder lacks its settings.
    """
    own = {str(rule.get("id")) for rule in subject.data.get("rule", ())}
    rules: dict[str, list[Rule]] = {}
    for rule in subject.profile.rules:
        name = without_index(rule.id).removesuffix("[n]")
        if name in own or not subject.data:
            rules.setdefault(name, []).append(rule)
    reasons = dict.fromkeys(rules, "it is about firmware that is not there")
    waiting = dict(rules)
    for firmware, answers in subject.answers() if waiting else ():
        for name, alike in list(waiting.items()):
            for rule in alike:
                held = rule.firmware
                if held is not None and (held & firmware).is_empty():
                    continue
                if held is not None and _is_nowhere(subject, held):
                    continue
                why = _idle(answers, rule)
                if not why:
                    del waiting[name]
                    break
                reasons[name] = why
    for name in waiting:
        yield LintFinding(
            Spot("rule", name),
            f'The rule "{name}" can never be broken: {reasons[name]}.',
            "Correct its conditions or its firmware, or take it out.",
        )


def lost_rules(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Rules of blocks that name a setting which no profile that follows the block has."""
    if not whole.is_complete:
        return
    for file, data in whole.blocks.items():
        for block in data.get("block", ()):
            name = f"{file}/{block['id']}"
            followers = [one for one in whole.profiles.values() if name in one.follows]
            if not followers or not block.get("rule"):
                continue
            there = {without_index(id) for one in followers for id in one.settings}
            for at, rule in enumerate(block["rule"]):
                gone = next((one for one in _named_by(rule) if one not in there), None)
                if gone is not None:
                    yield (
                        file,
                        LintFinding(
                            Spot("block", block["id"], key=("rule", at)),
                            f'The rule "{rule["id"]}" can never be broken: no profile that '
                            f'follows "{name}" has "{gone}".',
                            did_you_mean(gone, there) or "Correct the name of the setting.",
                        ),
                    )


def _named_by(rule: Mapping[str, Any]) -> Iterator[str]:
    """The settings that a rule names as a file writes it, ``[n]`` for every index."""
    conditions = [one for key in ("if", "requires", "conflicts") for one in rule.get(key, ())]
    names = [str(one[key]) for one in conditions for key in ("setting", "same-as") if key in one]
    names += [*rule.get("order", ()), *rule.get("sum", {}).get("of", ())]
    return (_NEIGHBOUR.sub("[n]", without_index(name)) for name in names)


def idle_advisories(subject: Subject) -> Iterator[LintFinding]:
    """Advisories for firmware that nobody knows of, or about settings that are not there."""
    for advisory in subject.profile.advisories:
        if advisory.firmware.is_empty():
            continue
        if _is_nowhere(subject, advisory.firmware):
            yield LintFinding(
                Spot("advisory", advisory.id, key=("firmware",)),
                f'The advisory "{advisory.id}" is for {advisory.firmware.text()}, of which no '
                "release is listed and for which no source speaks.",
                "Correct its firmware, or list the release.",
            )
        elif advisory.about and not _exist(subject, advisory.about, advisory.firmware):
            named = ", ".join(f'"{name}"' for name in advisory.about)
            yield LintFinding(
                Spot("advisory", advisory.id, key=("about",)),
                f'The advisory "{advisory.id}" is about {named}, which no firmware of '
                f"{advisory.firmware.text()} has.",
                "Correct its firmware, or name the settings that it touches.",
            )


def unused_blocks(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Blocks that no profile takes over; one that cannot be read may be the one that does."""
    if not whole.is_complete:
        return
    used = {name for profile in whole.profiles.values() for name in profile.follows}
    for file, data in whole.blocks.items():
        for block in data.get("block", ()):
            if f"{file}/{block['id']}" not in used:
                yield (
                    file,
                    LintFinding(
                        Spot("block", block["id"]),
                        f'No profile follows the block "{block["id"]}".',
                        f'Let a profile follow "{file}/{block["id"]}", or take the block out.',
                    ),
                )


def unused_lists(subject: Subject) -> Iterator[LintFinding]:
    """Named lists of a profile that no place calls on."""
    yield from _unused_lists(subject.data)


def unused_lists_of_blocks(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Named lists of a blocks file that no place in it calls on."""
    for file, data in whole.blocks.items():
        yield from ((file, found) for found in _unused_lists(data))


def _unused_lists(data: Mapping[str, Any]) -> Iterator[LintFinding]:
    holders = [data, *data.get("block", ())]
    settings = [setting for holder in holders for setting in holder.get("setting", ())]
    tables = [one for held in settings for one in (held.get("common", {}), *held["place"])]
    used = {table.get(key) for table in tables for key in _LISTED if _is_name(table.get(key))}
    for name in data.get("lists", ()):
        if name not in used:
            yield LintFinding(
                Spot("lists", name, key=(name,)),
                f'No place uses the list "{name}".',
                "Use it by its name, or take it out.",
            )


def _is_name(value: object) -> bool:
    return isinstance(value, str)


def idle_follows(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Blocks that a profile follows though it replaces or leaves out all of their settings."""
    for id, profile in whole.profiles.items():
        own = {without_index(s.id) for s in profile.settings.values() if not s.origin}
        taken = {without_index(s.id) for s in profile.settings.values() if s.origin}
        for name in profile.follows:
            file, _, wanted = name.rpartition("/")
            blocks = whole.blocks.get(file, {}).get("block", ())
            block = next((one for one in blocks if one["id"] == wanted), None)
            if block is None or block.get("rule"):
                continue
            settings = {str(one["id"]) for one in block.get("setting", ())}
            if settings.isdisjoint(taken) and settings:
                what = "replaces" if settings <= own else "leaves out or replaces"
                yield (
                    id,
                    LintFinding(
                        Spot("decoder", id, key=("follows",)),
                        f'Nothing is left of the block "{name}": the profile {what} all of its '
                        "settings.",
                        "Take the block out of follows.",
                    ),
                )


def _hindrance(answers: Answers, place: Place) -> str:
    """Why the conditions of a place cannot hold, in words; empty where they can."""
    for when in place.when:
        if why := _impossible(answers, when):
            return why
    return _two_at_once(answers, place.when)


def _stray_value(answers: Answers, when: When) -> str:
    """Which of several values of a condition can never be, in words; empty where each can."""
    answer = answers.get(when.setting)
    if answer is None or answer.is_absent or when.test not in (Test.IS, Test.NOT):
        return ""
    places = answer.places()
    for value in when.values:
        if not any(_may_be(place.coding, Test.IS, (value,)) for place in places):
            return f'"{when.setting}" is never {_quoted(value)} there'
    return ""


def _two_at_once(answers: Answers, conditions: Iterable[When]) -> str:
    """Which setting would need two values at once, in words; empty where none does."""
    needed: dict[str, frozenset[int] | frozenset[str]] = {}
    for name, values in demands(places_in(answers), conditions):
        needed[name] = needed[name].intersection(values) if name in needed else values
        if not needed[name]:
            return f'"{name}" would need two values at once'
    return ""


def _impossible(answers: Answers, when: When | Condition, depth: int = 8) -> str:
    """Why one condition cannot hold, in words; empty where it can."""
    answer = answers.get(when.setting)
    if answer is None or answer.is_absent:
        return f'"{when.setting}" is not there'
    values = when.values if isinstance(when, When) else when.operand
    places = answer.places()
    if not any(_may_be(place.coding, when.test, values) for place in places):
        named = " or ".join(map(_quoted, values))
        word = _NEVER.get(when.test)
        if word is None:
            return f'"{when.setting}" has no flag {named} there'
        return f'"{when.setting}" is never {word}{named} there'
    if depth and all(place.when for place in places):
        further = [_impossible(answers, held, depth - 1) for p in places for held in p.when]
        if all(further):
            return further[0]
    return ""


def _quoted(value: Written) -> str:
    """A value as a message shows it."""
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


def _may_be(coding: Coding, test: Test, values: Iterable[Written]) -> bool:
    """Whether a setting of a coding may have one of the values, or all of the flags."""
    match test:
        case Test.IS:
            return any(_is_legal(coding, value) for value in values)
        case Test.NOT:
            left = fitting(coding, test, tuple(values))
            return left is None or any(
                coding.decode(coding.split(raw)).fault is None for raw in left
            )
        case Test.HAS | Test.LACKS:
            names = {name for _, name in coding.flags} if isinstance(coding, Flags) else set()
            return test is Test.LACKS or names.issuperset(map(str, values))
        case Test.MIN | Test.MAX:
            return _reaches(coding, test, next(iter(values)))
    return True


def _is_legal(coding: Coding, value: Written) -> bool:
    try:
        reading = coding.decode(coding.raw(value))
    except InputError:
        return False
    return reading.fault is None and not reading.stray


def _reaches(coding: Coding, test: Test, bound: Written) -> bool:
    """Whether some raw value that is allowed is at least, or at most, as large as a bound."""
    if not isinstance(coding, Number) or isinstance(bound, (str, list)):
        return True
    if test is Test.MIN:
        return max(coding.high, *(span.high for span in coding.names), coding.low) >= bound
    return min(coding.low, *(span.low for span in coding.names), coding.high) <= bound


def _idle(answers: Answers, rule: Rule) -> str:
    """Why a rule cannot be broken by values at one firmware; empty where it can."""
    for condition in (*rule.given, *rule.conflicts):
        if why := _fails(answers, condition):
            return why
    asked = (*rule.given, *rule.conflicts)
    if why := _two_at_once(answers, [_as_when(held) for held in asked if held.test in _NAMED]):
        return why
    if rule.requires:
        reasons = [_unbreakable(answers, condition) for condition in rule.requires]
        return reasons[0] if all(reasons) else ""
    if rule.order:
        there = [name for name in rule.order if _is_there(answers, name)]
        return "" if len(there) > 1 else "fewer than two of its settings exist at once"
    missing = [name for name in rule.sum_of if not _is_there(answers, name)]
    if missing:
        return f'"{missing[0]}" is not there'
    most = [_most(place) for name in rule.sum_of for place in answers[name].places()[:1]]
    if rule.sum_max is not None and None not in most:
        total = sum((one for one in most if one is not None), Decimal(0))
        if total <= rule.sum_max:
            return f"its settings come to {total} at most"
    return ""


def _most(place: Place) -> Decimal | None:
    """The most that a figure can be; nothing where that is not to be said."""
    coding = place.coding
    return coding.scaled(coding.high) if isinstance(coding, Number) and coding.scale > 0 else None


def _as_when(condition: Condition) -> When:
    return When(condition.setting, condition.operand, condition.test)


def _fails(answers: Answers, condition: Condition) -> str:
    """Why a condition of a rule never holds; empty where it can."""
    return _missing(answers, condition) or _impossible(answers, condition)


def _unbreakable(answers: Answers, condition: Condition) -> str:
    """Why what a rule requires is never false; empty where it can be."""
    if why := _missing(answers, condition):
        return why
    if condition.test is Test.LACKS:
        name = condition.setting
        flags = (Condition(name, Test.HAS, (one,)) for one in condition.operand)
        reasons = [_impossible(answers, flag) for flag in flags]
        return reasons[0] if all(reasons) else ""
    places = answers[condition.setting].places()
    if all(_always(place.coding, condition) for place in places):
        return f'"{condition.setting}" is always so, by the values that it may have'
    return ""


def _always(coding: Coding, condition: Condition) -> bool:
    """Whether every value that a coding allows is as a rule requires."""
    if isinstance(coding, Number) and condition.test in (Test.MIN, Test.MAX):
        names = [end for one in coding.names for end in (one.low, one.high)]
        low, high = min([coding.low, *names]), max([coding.high, *names])
        bound = Decimal(str(condition.operand[0]))
        # A rule may say in words why what lies outside the range is not allowed.
        if condition.test is Test.MIN:
            return bound < low or bound == low == 0
        return bound > high or bound == high == WHOLE
    if isinstance(coding, Choice) and condition.test is Test.IS:
        raws = [raw for one in coding.choices for raw in range(one.low, one.high + 1)]
        read = [coding.decode(coding.split(raw)) for raw in raws]
        return all(satisfied(coding, condition.test, condition.operand, one) for one in read)
    return False


def _missing(answers: Answers, condition: Condition) -> str:
    """Which setting of a condition has no place, in words; empty where both are there."""
    names = [condition.setting]
    if condition.test is Test.SAME_AS:
        names.append(str(condition.operand[0]))
    gone = [name for name in names if not _is_there(answers, name)]
    return f'"{gone[0]}" is not there' if gone else ""


def _is_there(answers: Answers, name: str) -> bool:
    answer = answers.get(name)
    return answer is not None and answer.place is not None


def _is_nowhere(subject: Subject, firmware: FirmwareRange) -> bool:
    """Whether no release is listed in a range and no source speaks for any of it."""
    profile = subject.profile
    if any(release.version in firmware for release in profile.releases):
        return False
    return all((source.firmware & firmware).is_empty() for source in profile.sources.values())


def _exist(subject: Subject, about: Iterable[str], firmware: FirmwareRange) -> bool:
    """Whether some firmware of a range has, or may have, one of the settings."""
    names = tuple(about)
    wanted = {setting.id for setting in subject.settings if is_about(names, setting.id)}
    return any(
        answer.setting in wanted and not answer.is_absent
        for stretch in subject.stretches
        if not (stretch.firmware & firmware).is_empty()
        for answer in stretch.answers
    )


RULES = (
    LintRule(
        "unreachable-place",
        Severity.WARNING,
        "The condition of a place can never hold.",
        unreachable_places,
    ),
    LintRule(
        "unreachable-rule",
        Severity.WARNING,
        "No values can ever break a rule.",
        unreachable_rules,
        lost_rules,
    ),
    LintRule(
        "idle-advisory",
        Severity.WARNING,
        "An advisory is about nothing that exists.",
        idle_advisories,
    ),
    LintRule(
        "unused-block",
        Severity.WARNING,
        "No profile follows a block.",
        across=unused_blocks,
    ),
    LintRule(
        "unused-list",
        Severity.WARNING,
        "No place uses a named list.",
        unused_lists,
        unused_lists_of_blocks,
    ),
    LintRule(
        "idle-follow",
        Severity.NOTE,
        "Nothing is left of a block that a profile follows.",
        across=idle_follows,
    ),
)
