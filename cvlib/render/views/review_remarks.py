"""A review as remarks: what changed, each at the line where it is written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from cvlib.engine.change.review import Kind, ProfileReview
from cvlib.engine.change.reviewed import Reviewed
from cvlib.errors import Position
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.phrases import counted, listed
from cvlib.render.to_sarif import RuleTold
from cvlib.render.view import text_of
from cvlib.render.views.review_words import Row, change_lines, firmware_text, rows_of

GRAVE = frozenset((Kind.REMOVED, Kind.MOVED, Kind.RECODED, Kind.LOST))
"""Changes after which a value that was right may be wrong, or is not as well known."""

_SENTENCES = {
    Kind.ADDED: "A setting exists, or may exist, for firmware for which it did not.",
    Kind.REMOVED: "A setting does not exist any more for some firmware.",
    Kind.MOVED: "A setting has another CV, page or bits.",
    Kind.RECODED: "A setting has another kind, range, scale, unit or names of values.",
    Kind.DEFAULT: "A factory reset leaves another value.",
    Kind.CONDITION: "A setting exists for other values of another setting.",
    Kind.MARKS: "The marks of a place, or the second number of its CV, are others.",
    Kind.CANDIDATES: "A setting is disputed between other places.",
    Kind.BESIDE: "The documents behind a bench test say something else.",
    Kind.IMPROVED: "A setting is better known than before.",
    Kind.LOST: "A setting is not as well known as before.",
    Kind.STANDING: "A setting is as well known as before, but on other ground.",
}
_PROFILES = (
    RuleTold("profile-added", Severity.NOTE, "There is a new profile."),
    RuleTold("profile-gone", Severity.WARNING, "A profile is gone."),
    RuleTold("profile-renamed", Severity.WARNING, "A profile has another id."),
    RuleTold("firmware-recounted", Severity.WARNING, "The firmware is counted by another scheme."),
    RuleTold("unreadable", Severity.ERROR, "A profile cannot be read."),
)


def _severity(kinds: tuple[Kind, ...]) -> Severity:
    return Severity.WARNING if GRAVE.intersection(kinds) else Severity.NOTE


def review_rules(page: Callable[[str], str] = lambda _: "", link: str = "") -> list[RuleTold]:
    """What a remark of a review can be about.

    ``page`` gives what is said of a code as Markdown; ``link`` leads to where all of it stands.
    """
    kinds = [RuleTold(_code(kind), _severity((kind,)), told) for kind, told in _SENTENCES.items()]
    return [
        replace(rule, page=page(rule.code), link=f"{link}#{rule.code}" if link else "")
        for rule in (*kinds, *_PROFILES)
    ]


def _code(kind: Kind) -> str:
    return f"answer-{kind.value}"


def remarks(result: Reviewed) -> tuple[Remark, ...]:
    """Everything that changed in the answers, by file and line.

    Settings that changed alike are one remark; so is a change that several profiles take over from
    the same line.
    """
    found = [*_unreadable(result)]
    alike: dict[tuple[str, Position, str], list[tuple[str, Remark]]] = {}
    for one in result.review.profiles:
        own, *spots = result.positions[one.id]
        found += _whole(one, own)
        at = {id(change): spot for change, spot in zip(one.changes, spots, strict=True)}
        for row in rows_of(one.changes):
            told = _row(one, row, at[id(row.first)])
            alike.setdefault((told.code, told.position, told.problem), []).append((one.id, told))
    for held in alike.values():
        ids = listed([id for id, _ in held], 3)
        first = held[0][1]
        found.append(replace(first, problem=f"{ids}: {first.problem}"))
    return tuple(sorted(found, key=lambda one: one.order))


def total(result: Reviewed) -> str:
    """What a review comes to, in one line."""
    changed = counted(len(result.review.profiles), "profile")
    return f"{changed} changed, {result.unchanged} not. Step: {result.step.value}."


def _row(one: ProfileReview, row: Row, spot: Position) -> Remark:
    firmware = firmware_text(row.first)
    told = "; ".join(change_lines(row.first))
    about = f"{one.id} {row.first.setting} {row.first.firmware.text()}"
    kinds = row.first.kinds
    problem = f"{_name(row)}, {firmware}: {told}."
    return Remark(_code(kinds[0]), _severity(kinds), spot, problem, about=about)


def _name(row: Row) -> str:
    """What changed, in running text."""
    first, more = row.first, len(row.changes) - 1
    if more and row.is_standing_alone:
        return text_of(row.name())
    name = f"{first.title} ({first.setting})"
    return f"{name} and {more} more, up to {row.changes[-1].setting}" if more else name


def _whole(one: ProfileReview, spot: Position) -> Iterator[Remark]:
    """What happened to a profile as a whole."""
    told = {
        "profile-added": one.before is None and f'the profile "{one.id}" is new.',
        "profile-gone": one.after is None and f'the profile "{one.id}" is gone.',
        "profile-renamed": one.was and f'the profile "{one.id}" was "{one.was}" before.',
        "firmware-recounted": one.is_recounted
        and f'the firmware of "{one.id}" is counted otherwise, so no answer can be compared.',
    }
    severities = {rule.code: rule.severity for rule in _PROFILES}
    for code, problem in told.items():
        if problem:
            yield Remark(code, severities[code], spot, problem, about=one.id)


def _unreadable(result: Reviewed) -> Iterator[Remark]:
    """The faults of profiles that cannot be read in the later state."""
    for one in result.broken_after:
        for fault, spot in zip(one.faults, result.positions[one.id], strict=True):
            told = (fault.problem, fault.advice, one.id)
            yield Remark("unreadable", Severity.ERROR, spot, *told)
