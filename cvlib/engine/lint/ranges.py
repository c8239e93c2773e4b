"""Firmware ranges: empty, saying a thing twice, badly ordered, or resting on a matter of order."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.lint.finding import LintFinding, LintRule, Subject
from cvlib.engine.lint.written import bounds_of, meant_by, ranges_of, releases_of
from cvlib.findings.catalogue import Severity
from cvlib.model.ranges import FirmwareRange, is_moot, is_older, points_in_order
from cvlib.model.versions import FirmwareVersion, Scheme

_UPPER = ("<", "<=")


def empty_ranges(subject: Subject) -> Iterator[LintFinding]:
    """Ranges that hold no firmware at all."""
    scheme = subject.profile.scheme
    for written in ranges_of(subject.data):
        for at, text in enumerate(written.texts):
            if meant_by(text, scheme).is_empty():
                yield LintFinding(
                    written.at(at),
                    f'"{text}" holds no firmware at all.',
                    "Look which of its comparisons is the wrong way round.",
                )


def disordered_bounds(subject: Subject) -> Iterator[LintFinding]:
    """Ranges whose upper bound stands first, and lists of ranges that are not oldest first."""
    scheme = subject.profile.scheme
    for written in ranges_of(subject.data):
        for at, text in enumerate(written.texts):
            clauses = [clause.strip() for clause in text.split(",")]
            ordered = sorted(clauses, key=lambda clause: clause.startswith(_UPPER))
            if clauses != ordered and not meant_by(text, scheme).is_empty():
                yield LintFinding(
                    written.at(at),
                    f'"{text}" has its upper bound first.',
                    f'Write "{", ".join(ordered)}".',
                )
        starts = [
            meant.oldest
            for text in written.texts
            if not (meant := meant_by(text, scheme)).is_empty()
        ]
        if len(set(starts)) == len(starts) and starts != points_in_order(starts):
            yield LintFinding(
                written.spot,
                "The ranges of this list do not stand in the order of their firmware.",
                "Write the oldest first.",
            )


def needless_bounds(subject: Subject) -> Iterator[LintFinding]:
    """Comparisons that change nothing beside the others, and ranges that lie within others."""
    scheme = subject.profile.scheme
    for written in ranges_of(subject.data):
        for at, text in enumerate(written.texts):
            if needless := _needless(text, scheme):
                yield LintFinding(
                    written.at(at),
                    f'In "{text}" the comparison "{needless}" changes nothing.',
                    "Correct it or take it out.",
                )
            others = [*written.texts[:at], *written.texts[at + 1 :]]
            meant = meant_by(text, scheme)
            if meant.is_empty() or not others:
                continue
            if (meant - FirmwareRange.parse(others, scheme)).is_empty():
                yield LintFinding(
                    written.at(at),
                    f'"{text}" lies within the other ranges of the list.',
                    "Correct it or take it out.",
                )
                break


def _needless(text: str, scheme: Scheme) -> str:
    """A comparison without which a range holds the same; empty where there is none."""
    clauses = [clause.strip() for clause in text.split(",")]
    meant = meant_by(text, scheme)
    if len(clauses) < 2 or meant.is_empty():
        return ""
    for at in reversed(range(len(clauses))):
        rest = ", ".join((*clauses[:at], *clauses[at + 1 :]))
        if meant_by(rest, scheme) == meant:
            return clauses[at]
    return ""


def moot_orders(subject: Subject) -> Iterator[LintFinding]:
    """Borders that rest on how letters and further parts, or months and days, are counted."""
    bounds = list(bounds_of(subject))
    named = {one.version: f"release {one.text}" for one in releases_of(subject)}
    named = {one.version: one.text for one in bounds} | named
    seen: set[FirmwareVersion] = set()
    for bound in bounds:
        version = bound.version
        exact = bound.sign == "==" and version.scheme is Scheme.DOTTED
        other = next((one for one in named if is_moot(version, one)), None)
        if exact or other is None or version in seen:
            continue
        seen.add(version)
        if version.scheme is Scheme.DOTTED:
            order = f"comes {'before' if is_older(version, other) else 'after'} {named[other]}"
            advice = "Look up which came first. Where that differs, name the versions with ==."
        elif version.end:
            order, advice = f"is a whole month with {named[other]} in it", "Write the day."
        else:
            order = f"cuts {named[other]}, which is a whole month"
            advice = f"Write the day of {other}."
        yield LintFinding(bound.spot, f'"{bound.sign}{bound.text}": {bound.text} {order}.', advice)


RULES = (
    LintRule(
        "empty-range",
        Severity.ERROR,
        "A range holds no firmware at all.",
        empty_ranges,
    ),
    LintRule(
        "needless-bound",
        Severity.WARNING,
        "A comparison or a range changes nothing beside the others.",
        needless_bounds,
    ),
    LintRule(
        "order-matters",
        Severity.WARNING,
        "A range rests on how letters and further parts, or months and days, are counted.",
        moot_orders,
    ),
    LintRule(
        "bounds-order",
        Severity.NOTE,
        "A range has its upper bound first, or a list of ranges is not oldest first.",
        disordered_bounds,
    ),
)
