"""Values that cannot be: defaults that are not allowed, and what no CV of a place can hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from cvlib.engine.account.claims import Layout
from cvlib.engine.account.rules import broken_rules
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.told import where_text
from cvlib.engine.lint.finding import (
    LintFinding,
    LintRule,
    Spot,
    Subject,
    at_place,
    each_once,
    is_constant,
)
from cvlib.engine.lint.places import WRITTEN
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding, Fields, Number, Parts, Switch
from cvlib.model.coding_many import Address, AddressForm, Curve
from cvlib.model.conditions import Rule
from cvlib.model.cv import WHOLE, Slot, bits_text
from cvlib.model.profile import Place, Profile


def illegal_defaults(subject: Subject) -> Iterator[LintFinding]:
    """Defaults outside the range, without a choice of their own, or with bits that mean nothing."""
    for setting, place in each_once(subject.settings, by_default=True):
        for reading in map(place.coding.decode, place.defaults):
            if reading.fault is None and not reading.stray:
                continue
            shown = reading.text if reading.fault else f"bits {bits_text(reading.stray)}"
            yield LintFinding(
                at_place(setting, place, "default"),
                f'"{setting.id}" at {where_text(place)} has the default {shown}, which its own '
                f"values do not allow: {place.coding.legal()}.",
                "Correct the default or the values that are allowed.",
            )


def contradicted_defaults(subject: Subject) -> Iterator[LintFinding]:
    """Bytes whose default is not what the defaults of the settings in their bits come to."""
    seen: set[tuple[str, str]] = set()
    for _, answers in subject.answers():
        for name, byte, default in _bytes(answers):
            for inner, place, part in _inside(answers, byte.fields[0].slot):
                field = place.fields[0]
                if field.take(default[0]) == part[0] or (name, inner) in seen:
                    continue
                seen.add((name, inner))
                yield LintFinding(
                    at_place(subject.profile.settings[inner], place, "default"),
                    f'"{inner}" has the default {part[0]}, but {where_text(place)} of '
                    f'"{name}" is {field.take(default[0])} by default.',
                    "Correct one of the two.",
                    at_place(subject.profile.settings[name], byte, "default"),
                )


def _bytes(answers: Mapping[str, Answer]) -> Iterator[tuple[str, Place, Parts]]:
    """Whole CVs of fields that state a default."""
    for name, answer in answers.items():
        place = answer.place
        if place is None or type(place.coding) is not Fields or place.default is None:
            continue
        if place.coding.name_of(place.default[0]) is None:
            yield name, place, place.default


def _inside(answers: Mapping[str, Answer], slot: Slot) -> Iterator[tuple[str, Place, Parts]]:
    """Settings in some bits of a CV that always exist and state a default."""
    for name, answer in answers.items():
        place = answer.place
        if place is None or isinstance(place.coding, Fields) or place.default is None:
            continue
        if not place.when and [field.slot for field in place.fields] == [slot]:
            yield name, place, place.default


def unreachable_values(subject: Subject) -> Iterator[LintFinding]:
    """Values that the coding of a place promises and cannot hold, or bits it has and cannot use.

    What does not fit into the CVs at all is refused when the file is read.
    """
    for setting, place in each_once(subject.written):
        coding = place.coding
        key, wrong, advice = _unreachable(coding, place)
        if wrong:
            yield LintFinding(
                at_place(setting, place, key),
                f'"{setting.id}" at {where_text(place)} {wrong}.',
                advice,
            )


def _unreachable(coding: Coding, place: Place) -> tuple[str, str, str]:
    """The key that is wrong, what is wrong with it, and what to do; empty where nothing is."""
    if isinstance(coding, Address) and coding.form is AddressForm.SHORT and coding.high > 127:
        wrong = f"allows short addresses up to {coding.high}, but a short address ends at 127"
        return "range", wrong, 'End the range at 127, or use the form "plain".'
    if isinstance(coding, (Number, Curve)) and coding.sign and not _goes_below_zero(coding):
        wrong = f"has a sign, but its range {coding.low}-{coding.high} holds no negative value"
        return "sign", wrong, "Give the range its negative end, or leave the sign out."
    if isinstance(coding, Switch) and place.fields:
        mask = place.fields[0].mask
        if mask not in (WHOLE, mask & -mask):
            wrong = "is a switch, which is only ever 0 or 1, and yet has several bits"
            return "bits", wrong, "Name the one bit that switches, or list the values as choices."
    return "", "", ""


def _goes_below_zero(coding: Number | Curve) -> bool:
    names = coding.names if isinstance(coding, Number) else ()
    return coding.low < 0 or any(span.low < 0 for span in names)


def read_only_defaults(subject: Subject) -> Iterator[LintFinding]:
    """Defaults of places that nobody can write, apart from what tells who the decoder is.

    State that the decoder keeps for itself may have a first value.
    """
    known = _identity_slots(subject.profile)
    for setting, place in each_once(subject.written):
        marks = place.marks
        if place.said_default is None or not marks.read_only or marks.internal:
            continue
        if setting.group == "identity" or known.intersection(f.slot for f in place.fields):
            continue
        if is_constant(place):
            continue
        yield LintFinding(
            at_place(setting, place, "default"),
            f'"{setting.id}" at {where_text(place)} can only be read, and yet has a default: it '
            "is taken for a value that never changes.",
            "Leave the default out, or mark the place as internal where the decoder itself "
            "changes it.",
        )


def broken_by_factory(subject: Subject) -> Iterator[LintFinding]:
    """Rules of the profile itself that the factory values break: they would fire on everybody.

    A trap tells of a value that somebody set, so that it never speaks of these.
    """
    own = {str(rule.get("id")) for rule in subject.data.get("rule", ())}
    rules = [one for one in subject.profile.rules if _written_id(one) in own and not one.trap]
    told: set[str] = set()
    versions = [release.version for release in subject.profile.releases] if rules else []
    for version in versions:
        answers = subject.resolver.at(version)
        sure = (one.place for one in answers.values() if one.standing in WRITTEN)
        places = [one for one in sure if one is not None and not isinstance(one.coding, Fields)]
        values: dict[Slot, int] = {}
        for place in places:
            for field, part in zip(place.fields, place.default or (), strict=False):
                values[field.slot] = field.put(values.get(field.slot, 0), part)
        for rule in broken_rules(Layout(subject.resolver, version, values, {})):
            id = _written_id(rule)
            named = {one.setting for one in (*rule.given, *rule.requires, *rule.conflicts)}
            named |= {*rule.order, *rule.sum_of}
            if rule not in rules or id in told or not _all_known(answers, named):
                continue
            told.add(id)
            yield LintFinding(
                Spot("rule", id),
                f'The factory values themselves break the rule "{id}", as at {version}.',
                "Correct the rule or the default, or mark it as a trap where only values that "
                "somebody set are meant.",
            )


def _written_id(rule: Rule) -> str:
    """The id of a rule as the file has it, also where it holds for each index."""
    return without_index(rule.id).removesuffix("[n]")


def _all_known(answers: Mapping[str, Answer], names: Iterable[str]) -> bool:
    """Whether each of some settings states a default at a firmware."""
    places = [answers[name].place if name in answers else None for name in names]
    return all(one is not None and one.default is not None for one in places)


def _identity_slots(profile: Profile) -> set[Slot]:
    """The CVs by which the decoder says who it is."""
    slots = {part.field.slot for part in profile.parts}
    slots |= {answer.slot for answer in profile.identity.answers}
    slots |= {Slot(cv) for release in profile.releases for cv, _ in release.answers}
    return slots | {Slot(cv) for cv in (7, 8, 107, 108)}


RULES = (
    LintRule(
        "illegal-default",
        Severity.WARNING,
        "A factory default is not among the values that its place allows.",
        illegal_defaults,
    ),
    LintRule(
        "default-contradicts",
        Severity.WARNING,
        "The default of a byte is not what the defaults of its bits come to.",
        contradicted_defaults,
    ),
    LintRule(
        "unreachable-value",
        Severity.WARNING,
        "The coding of a place promises values that it cannot hold, or has bits it cannot use.",
        unreachable_values,
    ),
    LintRule(
        "factory-breaks-rule",
        Severity.WARNING,
        "The factory values themselves break a rule.",
        broken_by_factory,
    ),
    LintRule(
        "read-only-default",
        Severity.WARNING,
        "A place that can only be read states a factory default.",
        read_only_defaults,
    ),
)
