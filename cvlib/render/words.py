"""Findings in words: the one place where what was found becomes a sentence.

Messages and advice are plain sentences without colours, so that every output says the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding, Told
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED
from cvlib.render.phrases import (
    FEW,
    by_setting,
    cvs_text,
    first_up,
    in_firmware,
    listed,
    run_text,
    runs_text,
    used_as,
    valued,
)

LONG = 110
"""Characters of a list of legal values before it is cut short."""


class Words(NamedTuple):
    """A finding in words."""

    subject: str
    """What it is about: CVs with their values, or a setting."""
    message: str
    advice: str


def finding_words(finding: Finding, firmware: str, *, fully: bool = False) -> Words:
    """A finding about values held against a firmware, in words.

    ``firmware`` names the installed one, as in "firmware 4.0.5". ``fully`` names everything
    where long lists would otherwise be cut short.
    """
    at = At(firmware, None if fully else FEW)
    message, advice = _SAID[finding.code](finding, at)
    return Words(subject(finding), message, advice)


def folded_words(findings: Sequence[Finding], firmware: str) -> Words:
    """Several findings of one code and one shape as one: the first few named, every CV listed."""
    first = findings[0]
    named = listed(list(dict.fromkeys(map(_briefly, findings))), FEW)
    said = _FOLDED[first.code]
    if disputed_then(first):
        then = in_firmware(first.was[0].firmware)
        said = f"Nobody knows what these were {then}. In {{at}} they are {{named}}."
    message = said.format(at=firmware, At=first_up(firmware), named=named)
    cvs = runs_text(held for finding in findings for held in finding.bits) or _cvs_of(findings)
    cvs = "" if first.code == "read-only" else cvs
    advice = _SAID[first.code](first, At(firmware, FEW))[1] if first.code in _SHARED else ""
    advice = advice or _FOLDED_ADVICE.get(first.code, "")
    what = f"{len(findings)} {_FOLDED_SUBJECT.get(first.code, 'values')}"
    return Words(what, f"{message} {first_up(cvs)}." if cvs else message, advice)


class At(NamedTuple):
    """What the words are said about: the installed firmware, and how much is named."""

    firmware: str
    most: int | None


def subject(finding: Finding) -> str:
    """What a finding is about: ``CV 141 = 40``, ``CV 29 bit 5 = 1``, or where a setting lives."""
    if finding.bits:
        return cvs_text(finding.bits)
    if finding.code == "advisory":
        return finding.name
    return listed(list(dict.fromkeys(told.where for told in finding.now)), FEW) or finding.name


def _cvs_of(findings: Iterable[Finding]) -> str:
    """The CVs at which settings live of which nothing is saved."""
    said = dict.fromkeys(
        told.where.rpartition(" of ")[2] for finding in findings for told in finding.now
    )
    plainly = [where[3:] for where in said if where.startswith("CV ") and where[3:].isdecimal()]
    numbers = run_text([int(number) for number in plainly]) if plainly else ""
    others = [where for where in said if where[3:] not in plainly]
    return ", ".join(filter(None, (numbers, *others)))


def _briefly(finding: Finding) -> str:
    """One of many, named in a few words."""
    told = finding.now or finding.was
    if finding.code == "read-only":
        return f"{subject(finding)}, expected {finding.text}"
    if not told or finding.code in ("unknown", "reserved-bits"):
        return subject(finding)
    if finding.code in ("out-of-range", "undefined-choice"):
        return f"{subject(finding)} ({told[0].title})"
    if finding.code in ("disputed", "beyond", "before", "unset"):
        return told[0].title
    return f"{told[0].title} ({told[0].where})"


def _legal(told: Told, at: At) -> str:
    """The legal values, without the kind before them; long lists are cut short."""
    legal = (told.legal.partition(" ")[2] or told.legal).removeprefix("address ")
    if at.most is None or len(legal) <= LONG:
        return legal
    return f"{legal[: legal.rindex(', ', 0, LONG)] if ', ' in legal[:LONG] else legal[:LONG]} …"


def _lives(finding: Finding, gone: str) -> str:
    """Where the settings of old now live, one sentence each."""
    now_at, here = by_setting(finding.lives_at), {told.setting for told in finding.now}
    said: list[str] = []
    for setting, told in by_setting(finding.was).items():
        title, places = told[0].title, [one.where for one in now_at.get(setting, ())]
        if setting in here:
            continue
        if not places:
            said.append(f"{title} {gone}.")
        elif len(places) > 1:
            said.append(f"{title} now lives at {listed(places, last='or')}; nobody knows which.")
        elif _is_built_in(now_at[setting][0]):
            said.append(f"{title} is now {places[0]}.")
        else:
            said.append(f"{title} now lives at {places[0]}.")
    return " ".join(dict.fromkeys(said))


def _move(finding: Finding, at: At, otherwise: str) -> str:
    """What to do where a setting has another place now, with the figure where carry has it."""
    if written := _written(finding):
        return written
    before = by_setting(finding.was)
    moved = {name: told for name, told in by_setting(finding.lives_at).items() if name in before}
    if len(moved) > 1:
        return "Find out first which of these it was saved for, then move that one alone."
    for setting, told in moved.items():
        if len(told) > 1:
            continue
        new, old = told[0], before[setting][0]
        if new.keeper:
            return "Leave it out; the decoder keeps it for itself now."
        if new.legal == old.legal:
            return f"Set {new.title} at {new.where}; it counts there as before."
        return (
            f"Choose {new.title} anew at {new.where}, do not copy the number: "
            f"there it is {_legal(new, at)}."
        )
    return otherwise


def _written(finding: Finding) -> str:
    """The figures that carry writes for what a finding is about."""
    said = [f"{told.writes} for {told.title}{_meant(told)}" for told in finding.carried]
    return f'Let "cvlib carry" write {listed(said)}.' if said else ""


def _meant(told: Told) -> str:
    return f" ({told.value})" if told.value and len(told.value) < LONG // 3 else ""


def _chosen(finding: Finding, at: At) -> str:
    """What to do for the new owners of CVs of which carry writes nothing that was saved."""
    carried = {told.setting for told in finding.carried}
    said: list[str] = []
    for told in finding.now:
        if told.setting in carried or told.keeper:
            continue
        offer = next((one for one in finding.offered if one.setting == told.setting), None)
        factory = f"; the factory value is {offer.writes}{_meant(offer)}" if offer else ""
        said.append(f"Choose {told.title} anew: {_legal(told, at)}{factory}.")
    return " ".join(said)


def _older_only(finding: Finding, at: At) -> tuple[str, str]:
    used, ahead = used_as(finding.was, at.most), ""
    if finding.after_update:
        ahead = f" After an update it would be {used_as(finding.after_update, at.most)}."
    return (
        f"{used}; {at.firmware} does nothing with it. {_lives(finding, 'is gone')}{ahead}",
        _move(finding, at, "Leave it out; nothing takes its place in this firmware."),
    )


def _newer_only(finding: Finding, at: At) -> tuple[str, str]:
    used = used_as(finding.was, at.most)
    lives = _lives(finding, "") if finding.lives_at else ""
    return (
        f"{used}; {at.firmware} is older and does nothing with it. {lives}".rstrip(),
        _move(
            finding,
            at,
            "Leave it out until an update, for which keep to the maker's handbook.",
        ),
    )


def _reused(finding: Finding, at: At) -> tuple[str, str]:
    now = listed([valued(told) for told in finding.now], at.most, "or")
    lives = _lives(finding, f"is gone from {at.firmware}")
    return (
        f"Was {used_as(finding.was, at.most)}; in {at.firmware} this is {now}. {lives}".rstrip(),
        f"{_move(finding, at, 'Do not write this value here.')} {_chosen(finding, at)}".rstrip(),
    )


def _recoded(finding: Finding, at: At) -> tuple[str, str]:
    was, now = finding.was[0], finding.now[0]
    coded = f"It was {_legal(was, at)}; it is now {_legal(now, at)}."
    if was.value and was.value == now.value and now.is_allowed:
        same = f"{was.title} counts differently in {at.firmware}, but this is still {now.value}."
        return same, f"Leave the value as it is. {coded}"
    if now.keeper == "nobody":
        return (
            f"{was.title} ({was.value}) in firmware {was.firmware} does nothing in {at.firmware}: "
            f"{now.value.removeprefix('nothing: ')}.",
            "Leave it out; nothing takes its place in this firmware.",
        )
    here = (now.value or "another value") if now.is_allowed else "not allowed"
    anew = "Leave it; the decoder keeps it." if now.keeper else f"Choose it anew. {coded}"
    return (
        f"{was.title} counts differently: {was.value or 'the value'} in firmware {was.firmware}, "
        f"{here} in {at.firmware}.",
        _written(finding) or anew,
    )


def _out_of_range(finding: Finding, at: At) -> tuple[str, str]:
    told = finding.now[0]
    return (
        f"{told.title} would be {told.value}, which {at.firmware} does not allow.",
        f"Allowed are {_legal(told, at)}.",
    )


def _undefined_choice(finding: Finding, at: At) -> tuple[str, str]:
    told = finding.now[0]
    return (
        f"{told.title} has no choice {told.value} in {at.firmware}.",
        f"Choose one of these: {_legal(told, at)}.",
    )


def _reserved_bits(finding: Finding, at: At) -> tuple[str, str]:
    if all(held.mask == 0xFF for held in finding.bits):
        area = f" ({finding.now[0].title})" if finding.now else ""
        return f"No setting of {at.firmware} owns this CV{area}.", "Leave it as the decoder came."
    within = f" of {finding.now[0].title}" if finding.now else ""
    if any(told.keeper == "reserved" for told in finding.now):
        return (
            f"These bits{within} are reserved in {at.firmware}, yet some of them are set.",
            "Clear these bits; leave the others as they are.",
        )
    return (
        f"No setting of {at.firmware} owns these bits{within}, yet some of them are set.",
        "Leave them as they are in the decoder: nobody has said what they do.",
    )


def _of_rule(finding: Finding, at: At) -> tuple[str, str]:
    held = [f"{told.title} is {told.value}" for told in finding.now if told.value]
    facts = f" Saved: {listed(held)}." if held and at.most is None else ""
    return f"{finding.text}{facts}", finding.advice


def _advisory(finding: Finding, _: At) -> tuple[str, str]:
    return finding.text, finding.advice


def disputed_then(finding: Finding) -> bool:
    """Whether it is the firmware a value was saved for at which nobody knows what it is."""
    is_then = bool(finding.was) and finding.standing not in ("disputed", "faulty")
    return finding.code == "disputed" and finding.severity is not Severity.NOTE and is_then


def _disputed(finding: Finding, at: At) -> tuple[str, str]:
    if finding.severity is Severity.NOTE:
        return (
            f"Nobody knows how {finding.now[0].title} is coded in {at.firmware}, but the value "
            "means the same by all that is written.",
            "Leave the value as it is.",
        )
    if disputed_then(finding):
        then = listed([valued(told) for told in finding.was], at.most, "or")
        now = listed([valued(told) for told in finding.now], at.most)
        return (
            f"Nobody knows what it was {in_firmware(finding.was[0].firmware)}: {then}. "
            f"In {at.firmware} this is {now}.",
            "Choose it anew for the installed firmware.",
        )
    sides: dict[str, list[str]] = {}
    named = [(told.title, told.where) for told in finding.now]
    for told in finding.now:
        coded = f": {_legal(told, at)}" if named.count((told.title, told.where)) > 1 else ""
        sides.setdefault(told.firmware, []).append(f"{told.title} at {told.where}{coded}")
    said = [
        f"{first_up(in_firmware(firmware))} there is {listed(places, at.most)}."
        for firmware, places in sides.items()
    ]
    if len(sides) == 1:
        said.append("Elsewhere there is no such setting.")
    told_twice = {told.setting for told in finding.was} <= {told.setting for told in finding.now}
    has_value = any(told.value for told in finding.was)
    was = f"It was {used_as(finding.was, at.most)}. " if has_value or not told_twice else ""
    return (
        f"{was}Nobody knows what this is in {at.firmware}. {' '.join(said)}",
        "Try it on the bench first, and add what you saw to the profile.",
    )


def _outside(side: str, end: str) -> Callable[[Finding, At], tuple[str, str]]:
    def said(finding: Finding, at: At) -> tuple[str, str]:
        told = finding.now[0]
        return (
            f"{first_up(at.firmware)} is {side} than everything written about "
            f"{valued(told)}; its place is taken from the {end} firmware that is covered.",
            "Make sure on the bench that it still does so.",
        )

    return said


def _faulty(finding: Finding, at: At) -> tuple[str, str]:
    told = finding.now[0]
    others = listed([one.where for one in finding.lives_at], at.most, "or")
    beside = f" It may live at {others} instead." if others else ""
    if finding.standing == "bench":
        counted = f" {finding.text}" if finding.text else ""
        return (
            f"A bench test with {at.firmware} found that {valued(told)} at {told.where} acts "
            f"otherwise than the handbook says.{counted}{beside}",
            "Try it on the bench before you rely on it.",
        )
    return (
        f"A bench test with {at.firmware} found that {told.title} at {told.where} has no effect."
        f"{beside} Do not rely on it.",
        "",
    )


def _unknown(finding: Finding, _: At) -> tuple[str, str]:
    area = f" It lies in: {finding.now[0].title}." if finding.now else ""
    first = finding.bits[0]
    if FIRST_PAGED <= first.cv <= LAST_PAGED and not first.page:
        return (
            f"The profile knows no use of it without an index page.{area}",
            f"Find out its page, CVs 31 and 32, and write it as {first.cv}@16/2 is written.",
        )
    return (
        f"The profile knows no use of it at any firmware.{area}",
        "Look for a slip in the number or in the profile chosen; if the handbook has it, add it "
        "to the profile.",
    )


def _undecided(finding: Finding, at: At) -> tuple[str, str]:
    now = listed([valued(told) for told in finding.now], at.most, "or")
    deciding = [f"{told.title} ({told.where})" for told in finding.decided_by]
    decided = f" {listed(deciding, at.most)} decides, and no value of it is saved."
    return f"This is {now}{' or nothing' if len(finding.now) == 1 else ''}.{decided}", _settle(
        finding.decided_by, at
    )


def _undated(finding: Finding, at: At) -> tuple[str, str]:
    older, newer = finding.was[0].firmware, finding.now[0].firmware
    said = [_either(one, finding.now) for one in finding.was if one.firmware == older]
    others = list(dict.fromkeys(one.firmware for one in finding.was if one.firmware != older))
    beside = f" Firmware {listed(others, at.most, 'or')} gives them further meanings."
    doubt = " That firmware does not allow all of them, which speaks against it."
    return (
        f"Nobody noted what these were saved for. Left over from firmware {older}, or else set for "
        f"firmware {newer}, they are {listed(said, at.most)}.{beside if others else ''}"
        f"{doubt if finding.severity is Severity.NOTE else ''}",
        _keep_advice(finding, older, at)
        if finding.of_some
        else f"Left over: --saved-for {older}. Set since, or reset: --saved-for {newer}.",
    )


def _keep_advice(finding: Finding, older: str, at: At) -> str:
    """How to say it of some values, where an option would speak of the others too."""
    values = " ".join(
        f"{held.cv}{f'@{held.page}' if held.page else ''}={held.value}" for held in finding.bits
    )
    command = f'"cvlib keep LOCO {values}" notes it'
    newer = finding.now[0].firmware
    since = "--how written" if at.firmware == f"firmware {newer}" else f"--saved-for {newer}"
    return f'{command}: "--saved-for {older}" if left over, "{since}" if set since.'


def _either(was: Told, now: Iterable[Told]) -> str:
    """What a value is if it is older, and what it is now, at the same CV where it is the same."""
    held = next((one for one in now if one.where == was.where), None)
    held = held or next((one for one in now if one.where.endswith(was.where)), None)
    if held is None:
        return f"{was.where} {valued(was)}"
    if held.title != was.title or not was.value:
        return f"{was.where} {valued(was)}, or {valued(held)}"
    then, since = (one.value if one.is_allowed else "not allowed" for one in (was, held))
    return f"{was.where} {was.title} ({then}, or {since})"


def _settle(deciding: Iterable[Told], at: At) -> str:
    """How to find out the settings that decide: CVs are read, facts of the build are noted."""
    told = list(deciding)
    built = [f'"{one.setting}"' for one in told if _is_built_in(one)]
    read = [one.where for one in told if not _is_built_in(one) and one.where]
    said: list[str] = []
    if read:
        said.append(f"Read {listed(read, at.most)} and add it.")
    if built:
        said.append(f"Note {listed(built, at.most)} under options in the loco file.")
    return " ".join(said)


def _is_built_in(told: Told) -> bool:
    return bool(told.where) and not told.where.startswith(("CV", "bit"))


def _read_only(finding: Finding, at: At) -> tuple[str, str]:
    title = finding.now[0].title if finding.now else ""
    if not finding.text:
        return (
            f"{title or 'This CV'} is kept by the decoder and cannot be set.",
            "Leave it out when you write.",
        )
    return (
        f"A decoder of this profile with {at.firmware} answers {finding.text} here"
        f"{f': {title}' if title else ''}.",
        "Make sure of profile and firmware, and read the CV again.",
    )


def _unset(finding: Finding, at: At) -> tuple[str, str]:
    told = finding.now[0]
    if finding.bits:
        saved = run_text([held.cv for held in finding.bits])
        return (
            f"{told.title} needs {told.where}, and only {saved} is saved.",
            "Read the others and add them.",
        )
    if finding.was:
        was = f"lives where {used_as(finding.was, at.most)} did"
        if told.setting == finding.was[0].setting:
            was = f"counts differently than in firmware {finding.was[0].firmware}"
        offer = "".join(f" Its factory value is {one.writes}." for one in finding.offered)
        return (
            f"{told.title} {was}; what the decoder holds there may be left over from before the "
            "update.",
            f"Read {told.where} and add it.{offer}",
        )
    return (
        f"{told.title} must be known in {at.firmware}, and no value of it is saved.",
        f"Read {told.where} and add it.",
    )


def _asleep(finding: Finding, at: At) -> tuple[str, str]:
    if finding.decided_by:
        now = listed([valued(told) for told in finding.now], at.most, "or")
        held = [f"{told.title} is {told.value} ({told.where})" for told in finding.decided_by]
        return (
            f"{first_up(at.firmware)} ignores it while {listed(held, at.most)}; otherwise it "
            f"would be {now}.",
            "Keep it only if you may go back to that.",
        )
    users = finding.after_update or finding.was
    return (
        f"{first_up(at.firmware)} ignores it. It would act as {used_as(users, at.most)}.",
        "Clear it before such a change of firmware, or choose it anew after it.",
    )


def _changed(finding: Finding, _: At) -> tuple[str, str]:
    now, was = finding.now[0], finding.was[0]
    return f"{now.title} is {now.value}; the factory default is {was.value}.", ""


_SAID: dict[str, Callable[[Finding, At], tuple[str, str]]] = {
    "older-only": _older_only,
    "newer-only": _newer_only,
    "reused": _reused,
    "recoded": _recoded,
    "out-of-range": _out_of_range,
    "undefined-choice": _undefined_choice,
    "reserved-bits": _reserved_bits,
    **dict.fromkeys(("rule", "trap"), _of_rule),
    "advisory": _advisory,
    "disputed": _disputed,
    "beyond": _outside("newer", "newest"),
    "before": _outside("older", "oldest"),
    "faulty": _faulty,
    "unknown": _unknown,
    "undecided": _undecided,
    "undated": _undated,
    "read-only": _read_only,
    "unset": _unset,
    "asleep": _asleep,
    "changed": _changed,
}

_FOLDED = {
    "reserved-bits": "In {at} no setting owns these: {named}.",
    "disputed": "Nobody knows what these are in {at}: {named}.",
    "beyond": "{At} is newer than everything written about {named}.",
    "before": "{At} is older than everything written about {named}.",
    "unknown": "The profile knows no use of these at any firmware: {named}.",
    "undecided": "Other CVs that are not saved decide what these mean: {named}.",
    "read-only": "A decoder of this profile with {at} answers otherwise: {named}.",
    "unset": "Must be known, and not saved: {named}.",
    "faulty": "Found on the bench to have no effect, or another than said: {named}.",
    "out-of-range": "Not allowed in {at}: {named}.",
    "undefined-choice": "No choice of {at}: {named}.",
    "changed": "Not at their factory default: {named}.",
}
_FOLDED_SUBJECT = {
    **dict.fromkeys(("reserved-bits", "unknown"), "CVs"),
    **dict.fromkeys(("beyond", "before", "unset"), "settings"),
}
_SHARED = {"disputed", "beyond", "before", "unknown", "read-only"}
"""Codes whose advice is the same whichever setting it is about."""
_FOLDED_ADVICE = {
    "faulty": "Do not rely on them.",
    "unset": "Read them and add them.",
    **dict.fromkeys(
        ("out-of-range", "undefined-choice"), "Choose each anew; --all names what is allowed."
    ),
}
