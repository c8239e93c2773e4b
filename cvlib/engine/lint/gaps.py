"""What is missing beside a place: the other bits of its CV, a CV of its row, its other byte."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import pairwise

from cvlib.engine.known.line import Known
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.finding import (
    LintFinding,
    LintRule,
    Spot,
    Subject,
    at_place,
    each_once,
    is_constant,
    join,
)
from cvlib.engine.lint.places import WRITTEN
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer
from cvlib.model.coding import Area, Fields
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.cv import WHOLE, Slot, bit_words, spans_text
from cvlib.model.profile import Place, Profile, Setting
from cvlib.model.ranges import FirmwareRange

SPEED_TABLE = range(67, 95)
"""CVs of the speed table (NMRA S-9.2.2 and RCN-225)."""
PAIRS = ((17, 18), (31, 32))
"""High and low byte of the extended address and of the index page (NMRA S-9.2.2 and RCN-225).

CVs 17-18 of an accessory decoder are no such pair.
"""

_HALF = re.compile(
    r"\b(high|low|upper|lower|most significant|least significant)[ -](byte|bits|part)\b", re.I
)
_OTHER = {
    "high": "low",
    "low": "high",
    "upper": "lower",
    "lower": "upper",
    "most": "least",
    "least": "most",
}
_WORD = re.compile(rf"\b({'|'.join(_OTHER)})\b", re.I)

_Holders = list[tuple[Setting, Place]]


def uncovered_bits(subject: Subject) -> Iterator[LintFinding]:
    """Bits that nothing has, of CVs of which settings have the other bits."""
    first: dict[Slot, tuple[Setting, Place]] = {}
    bare: dict[Slot, dict[int, FirmwareRange]] = {}
    asked = _shared(subject)
    names = {
        setting.id
        for setting in subject.settings
        for place in setting.places
        if not asked.isdisjoint(slot for slot, _ in _masks(place))
    }
    for firmware, table in subject.answers(Known.COVERED):
        answers = [answer for name, answer in table.items() if name in names]
        for slot, (holders, mask) in _held(subject, answers, asked).items():
            if holders and mask != WHOLE:
                first.setdefault(slot, holders[0])
                join(bare.setdefault(slot, {}), WHOLE & ~mask, firmware)
    yield from _bare_findings(first, bare)


def _shared(subject: Subject) -> set[Slot]:
    """The CVs of which a setting has only some bits."""
    return {
        slot
        for setting in subject.written
        for place in setting.places
        for slot, mask in _masks(place)
        if mask != WHOLE and not isinstance(place.coding, Area)
    }


def _held(
    subject: Subject, answers: Iterable[Answer], asked: Collection[Slot]
) -> dict[Slot, tuple[_Holders, int]]:
    """Of each CV the settings that surely have some bits, and all bits that anything may have."""
    written = {setting.id for setting in subject.written}
    found: dict[Slot, tuple[_Holders, int]] = {}
    for answer in answers:
        setting = subject.profile.settings[answer.setting]
        for place in _possible(setting, answer):
            if isinstance(place.coding, Area) and place.coding.use == "manufacturer":
                continue  # the maker may use these bits: that says nothing of this decoder
            sure = place is answer.place and answer.standing in WRITTEN
            for slot, mask in _masks(place):
                if slot not in asked:
                    continue
                holders, held = found.get(slot, ([], 0))
                is_part = mask != WHOLE and not isinstance(place.coding, Area)
                if sure and is_part and setting.id in written:
                    holders.append((setting, place))
                found[slot] = holders, held | mask
    return found


def _possible(setting: Setting, answer: Answer) -> tuple[Place, ...]:
    """Every place a setting may have: where its answer is not sure, every one it ever has."""
    return answer.places() if answer.standing in WRITTEN else setting.places


def _masks(place: Place) -> Iterator[tuple[Slot, int]]:
    """Each CV of a place with its bits, under its second number too."""
    for field in place.fields:
        yield field.slot, field.mask
    if place.also_at is not None:
        yield Slot(place.also_at), place.fields[0].mask


def _bare_findings(
    first: Mapping[Slot, tuple[Setting, Place]], bare: Mapping[Slot, Mapping[int, FirmwareRange]]
) -> Iterator[LintFinding]:
    """One finding for each CV; repeats of a setting that lack the same bits are one."""
    told: dict[tuple[str, str], list[Slot]] = {}
    for slot, masks in bare.items():
        lacking = " and ".join(f"{bit_words(mask)} at {at.text()}" for mask, at in masks.items())
        told.setdefault((without_index(first[slot][0].id), lacking), []).append(slot)
    for (_, lacking), slots in told.items():
        setting, place = first[slots[0]]
        count = len(slots) - 1
        more = f" (and of {count} more CV{'s' if count > 1 else ''} of this kind)" if count else ""
        yield LintFinding(
            at_place(setting, place),
            f'"{setting.id}" has some bits of {slots[0]}{more}, but nothing has {lacking}.',
            "Add what the other bits do, or say that they are reserved: with a place of kind area "
            "for them, or one of kind fields for the whole CV.",
        )


def gaps_in_rows(subject: Subject) -> Iterator[LintFinding]:
    """Curves and texts whose CVs are no unbroken rising row, and speed tables cut short."""
    for setting, place in _places_of_many(subject):
        if not isinstance(place.coding, (Curve, Text)):
            continue
        numbers = _numbers(place)
        if _is_speed_table(subject.profile, setting, place):
            if numbers == tuple(SPEED_TABLE):
                continue
            wrong = "but the speed table of the standards has CVs 67-94 in this order"
        elif _is_row(subject, setting, place):
            continue
        else:
            missing = tuple(sorted(set(range(min(numbers), max(numbers))) - set(numbers)))
            lacks = f"CV{'s' if len(missing) > 1 else ''} {spans_text(missing)}"
            wrong = f"without {lacks}" if missing else "which are not in rising order"
        yield LintFinding(
            at_place(setting, place, "cvs"),
            f'"{setting.id}" is a {place.coding.kind} in CVs {spans_text(numbers)}, {wrong}.',
            'Write all its CVs in their order, such as "67-94".',
        )


def _is_speed_table(profile: Profile, setting: Setting, place: Place) -> bool:
    """Whether a curve lies where the standards have the speed table."""
    is_vehicle = profile.kind in ("motor", "sound") or setting.id == "speed.table"
    inside = any(f.slot.cv in SPEED_TABLE and f.slot.page is None for f in place.fields)
    return is_vehicle and inside and isinstance(place.coding, Curve)


def _is_row(subject: Subject, setting: Setting, place: Place) -> bool:
    """Whether the CVs of a row rise evenly; what it leaves out must be other settings' CVs."""
    numbers = _numbers(place)
    steps = {after - before for before, after in pairwise(numbers)}
    if len(steps) != 1 or min(steps) < 1:
        return False
    between = set(range(numbers[0], numbers[-1])) - set(numbers)
    page = place.fields[0].slot.page
    return all(
        any(user is not setting for user, _ in subject.resolver.users(Slot(cv, page)))
        for cv in between
    )


def cvs_apart(subject: Subject) -> Iterator[LintFinding]:
    """Numbers and other values of several CVs that do not lie side by side in one order."""
    for setting, place in _places_of_many(subject):
        if isinstance(place.coding, (Curve, Text, Fields)):
            continue
        numbers = _numbers(place)
        steps = {after - before for before, after in pairwise(numbers)}
        if steps not in ({1}, {-1}):
            yield LintFinding(
                at_place(setting, place, "cvs"),
                f'"{setting.id}" is one value in CVs {", ".join(map(str, numbers))}, which do '
                "not lie side by side.",
                "Look the numbers up again; the most significant CV stands first.",
            )
        elif numbers == (18, 17) and _is_extended(place):
            yield LintFinding(
                at_place(setting, place, "cvs"),
                f'"{setting.id}" is an extended address with CV 18 as its high byte; by the '
                "standards CV 17 holds the high byte.",
                "Write cvs = [17, 18].",
            )


def _is_extended(place: Place) -> bool:
    return isinstance(place.coding, Address) and place.coding.form is AddressForm.EXTENDED


def _places_of_many(subject: Subject) -> Iterator[tuple[Setting, Place]]:
    """Places with several CVs that the profile or a block writes, of a repeat only the first."""
    return (held for held in each_once(subject.written) if len(held[1].fields) > 1)


def _numbers(place: Place) -> tuple[int, ...]:
    return tuple(field.slot.cv for field in place.fields)


def lone_bytes(subject: Subject) -> Iterator[LintFinding]:
    """High bytes without their low byte, and the other way round."""
    by_number = list(_lone_of_pairs(subject))
    told = {finding.spot.id for finding in by_number}
    yield from by_number
    yield from (finding for finding in _lone_by_title(subject) if finding.spot.id not in told)


def _lone_of_pairs(subject: Subject) -> Iterator[LintFinding]:
    """CVs of a pair of the standards that stand alone at some firmware."""
    lone: dict[tuple[Slot, Slot, str], FirmwareRange] = {}
    pairs = [pair for pair in PAIRS if pair[0] != 17 or "accessory" not in _sort(subject.profile)]
    for firmware, answers in subject.answers(Known.COVERED):
        sure, possible = _occupied(subject, answers.values())
        for high, low in pairs:
            for one, other in ((Slot(high), Slot(low)), (Slot(low), Slot(high))):
                if one in sure and other not in possible:
                    join(lone, (one, other, sure[one]), firmware)
    for (one, other, name), firmware in lone.items():
        setting = subject.profile.settings[name]
        own = setting.id in {written.id for written in subject.written}
        yield LintFinding(
            Spot("setting", name) if own else Spot("decoder", key=("without",)),
            f'"{name}" is on {one} at {firmware.text()}, but nothing is on {other}, which belongs '
            "to it by the standards.",
            f"Add what is on {other}, or take {one} out too.",
        )


def _sort(profile: Profile) -> str:
    """The kind of a profile; of a standard its id, which tells accessory decoders apart."""
    return profile.id if profile.kind == "standard" else profile.kind


_PAIRED = frozenset(Slot(cv) for pair in PAIRS for cv in pair)


def _occupied(subject: Subject, answers: Iterable[Answer]) -> tuple[dict[Slot, str], set[Slot]]:
    """Of the CVs of pairs those that a setting surely has, with it, and those one may have."""
    sure: dict[Slot, str] = {}
    possible: set[Slot] = set()
    for answer in answers:
        setting = subject.profile.settings[answer.setting]
        for place in _possible(setting, answer):
            slots = _PAIRED.intersection(field.slot for field in place.fields)
            if isinstance(place.coding, Area) or not slots:
                continue
            possible |= slots
            if answer.standing in WRITTEN and not place.marks.reserved and not is_constant(place):
                sure.update(dict.fromkeys(slots, setting.id))
    return sure, possible


def _lone_by_title(subject: Subject) -> Iterator[LintFinding]:
    """Settings called a high or a low byte without a setting for the other half."""
    told: set[str] = set()
    covered = list(subject.answers(Known.COVERED))
    for setting in subject.written:
        half = _HALF.search(setting.title)
        whole = any(len(place.fields) > 1 for place in setting.places)
        if half is None or whole or without_index(setting.id) in told:
            continue
        others = _siblings(subject.profile, setting)
        alone: FirmwareRange | None = None
        for firmware, answers in covered:
            mine = answers[setting.id]
            if mine.place is None or mine.standing not in WRITTEN or is_constant(mine.place):
                continue
            if not any(_possible(other, answers[other.id]) for other in others):
                alone = alone | firmware if alone else firmware
        if alone is not None:
            told.add(without_index(setting.id))
            wanted = _swapped(half[0]).lower()
            yield LintFinding(
                Spot("setting", setting.id),
                f'"{setting.id}" is called "{setting.title}", but at {alone.text()} there is no '
                f"{wanted} to it.",
                f"Add the {wanted}, or one setting with both CVs in place of the two.",
            )


def _swapped(text: str) -> str:
    """A text with "low" for "high" and the like."""
    return _WORD.sub(lambda found: _OTHER[found[0].lower()], text)


def _siblings(profile: Profile, setting: Setting) -> list[Setting]:
    """The settings that may be the other half: by id, by title, or on the CV beside it."""
    ids = {_swapped(setting.id), re.sub(rf"-({'|'.join(_OTHER)})\b", "", setting.id)}
    title = _swapped(setting.title).casefold()
    half = _HALF.search(setting.title)
    wanted = _swapped(half[0]).casefold() if half else ""
    slots = [field.slot for place in setting.places for field in place.fields]
    beside = {Slot(cv + side, page) for cv, page in slots for side in (1, -1)}
    return [
        other
        for other in profile.settings.values()
        if other is not setting
        and (
            other.id in ids
            or other.title.casefold() == title
            or (
                wanted in other.title.casefold()
                and any(field.slot in beside for place in other.places for field in place.fields)
            )
        )
    ]


def missing_pages(subject: Subject) -> Iterator[LintFinding]:
    """CVs 257-512 without an index page, beside CVs of the same group that have one.

    CVs 257-512 lie on the page that CV 31 and CV 32 choose (NMRA S-9.2.2 and RCN-225).
    """
    rows: dict[str, list[tuple[Setting, Place, Slot]]] = {}
    for setting, place in each_once(subject.written):
        slot = place.fields[0].slot if place.fields else None
        if slot is not None and slot.cv in PAGED:
            rows.setdefault(setting.group, []).append((setting, place, slot))
    for held in rows.values():
        paged = [one for one in held if one[2].page is not None]
        for setting, place, slot in held:
            beside = [
                one
                for one in paged
                if abs(one[2].cv - slot.cv) <= NEAR
                and not (one[1].firmware & place.firmware).is_empty()
            ]
            if slot.page is None and beside:
                other, there, paged_slot = min(beside, key=lambda one: abs(one[2].cv - slot.cv))
                yield LintFinding(
                    at_place(setting, place, "cv"),
                    f'"{setting.id}" is on {slot} without an index page, and "{other.id}" beside '
                    f"it is on {paged_slot}.",
                    f'Add page = "{paged_slot.page}", or the page that its handbook names.',
                    at_place(other, there),
                )


PAGED = range(257, 513)
NEAR = 16
"""CVs within which two of one group are of one row."""

RULES = (
    LintRule(
        "index-page-missing",
        Severity.WARNING,
        "A CV has no index page, and its neighbours have one.",
        missing_pages,
    ),
    LintRule(
        "uncovered-bits",
        Severity.NOTE,
        "Some bits of a CV have a setting, and nothing is said of the others.",
        uncovered_bits,
    ),
    LintRule(
        "curve-gap",
        Severity.WARNING,
        "The CVs of a curve or a text are not complete, or not in their order.",
        gaps_in_rows,
    ),
    LintRule(
        "cvs-apart",
        Severity.WARNING,
        "The CVs of one value do not lie side by side, or its bytes are the wrong way round.",
        cvs_apart,
    ),
    LintRule(
        "lone-byte",
        Severity.WARNING,
        "A high byte stands without its low byte, or a low byte without its high byte.",
        lone_bytes,
        unfinished=True,
    ),
)
