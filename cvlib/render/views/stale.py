"""What is stale as blocks: values first, then firmware, contradicted sources and questions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.change.stale import Contradicted, Open, Outside, Rechecked, Stale, Uncovered
from cvlib.engine.known.line import Known
from cvlib.engine.known.neighbours import without_index
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Verdict
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)
from cvlib.render.views.review_words import answer_text
from cvlib.render.views.settings import named, short_where
from cvlib.render.views.undecided import SEVERITY_ROLES

LIES = {
    Known.COVERED: "covered",
    Known.GAP: "gap",
    Known.BEFORE: "before",
    Known.BEYOND: "beyond",
}
"""How a firmware lies to the documents that speak for every setting."""

_YEAR, _MONTH = 365, 30


def view(result: Stale) -> list[Block]:
    """Everything that wants looking at, the gravest sort first."""
    blocks: list[Block] = [Heading("What wants looking at", 1)]
    told = (
        _values(result),
        _outside(result.outside),
        _uncovered(result.uncovered),
        _contradicted(result.contradicted),
        _questions(result.questions),
    )
    for section in told:
        found = list(section)
        if found:
            blocks += [Gap(), *found]
    return [*blocks, Gap(), *_closing(result)]


def _closing(result: Stale) -> Iterator[Block]:
    counts = [counted(result.count(severity), severity.value) for severity in reversed(Severity)]
    yield Paragraph((Piece(f"{listed(counts)}.", Role.STRONG),))
    if result.unrecorded:
        decoders = counted(result.unrecorded, "decoder has", "decoders have")
        told = f'{decoders} no record of a check; "cvlib check --record" leaves one.'
        yield Paragraph((Piece(told, Role.FAINT),))


def _values(result: Stale) -> Iterator[Block]:
    told = [one for one in result.rechecked if one.severity]
    if not result.rechecked:
        return
    yield Heading("Saved values since their last check", 2)
    for one in told:
        yield from _rechecked(one)
    same = len(result.rechecked) - len(told)
    if same:
        yield Paragraph(plain(f"{counted(same, 'decoder')}: every value means what it meant."))


def _rechecked(one: Rechecked) -> Iterator[Block]:
    role = f", {one.decoder.role} decoder" if one.decoder.role else ""
    severity = one.severity or Severity.NOTE
    yield Paragraph(
        (
            *_severity(severity),
            Piece("  "),
            Piece(f"{one.loco.name}{role}", Role.STRONG),
            Piece(" ("),
            Piece(one.last.profile, Role.CODE),
            Piece(f", firmware {one.last.firmware}), checked on {one.last.date}"),
        ),
        hang=2,
    )
    for held in one.changes:
        told = f"{held.slot} = {held.value} meant {held.before}, and means {held.after} now."
        yield Paragraph(plain(told), indent=2, hang=2)
    if one.changes:
        yield Paragraph(
            plain('→ Look at them with "cvlib check", then record the check.'), indent=2
        )
    edited = [
        f"the saved value of {listed([str(slot) for slot in one.edited], 3)}" if one.edited else "",
        f"the firmware ({one.firmware} now)" if one.firmware else "",
        f"the profile ({one.profile} now)" if one.profile else "",
    ]
    if any(edited):
        told = f"Edited since then: {listed([text for text in edited if text])}."
        yield Paragraph(plain(told), indent=2, hang=2)


def _outside(found: Iterable[Outside]) -> Iterator[Block]:
    rows = [
        (
            _severity(one.severity),
            plain(f"{one.loco.name}{f' ({one.decoder.role})' if one.decoder.role else ''}"),
            (Piece(one.decoder.profile, Role.CODE),),
            plain(f"{one.decoder.firmware}{'' if one.is_release else ', not a listed release'}"),
            plain(LIES[one.known]),
        )
        for one in found
    ]
    if rows:
        yield Heading("Locos whose firmware no document covers in full", 2)
        yield Table(_columns("loco", "profile", "firmware", "lies"), tuple(rows))


def _uncovered(found: Iterable[Uncovered]) -> Iterator[Block]:
    rows = [
        (
            _severity(one.severity),
            (Piece(one.profile.id, Role.CODE),),
            plain(f"{one.release.version}"),
            plain(LIES[one.known]),
            plain(f"{one.documented} of {one.settings}"),
            plain(str(one.disputed) if one.disputed else "-"),
        )
        for one in found
    ]
    if rows:
        yield Heading("Releases that no document covers in full", 2)
        columns = _columns("profile", "release", "lies", "documented", "disputed")
        yield Table(columns, tuple(rows))


def _contradicted(found: Iterable[Contradicted]) -> Iterator[Block]:
    groups: dict[tuple[object, ...], list[Contradicted]] = {}
    for one in found:
        key = (one.profile.id, without_index(one.setting), one.test.id, one.verdict)
        groups.setdefault(key, []).append(one)
    if groups:
        yield Heading("Tests that found other than is written", 2)
        columns = _columns("setting", "test", "otherwise written")
        yield Table(columns, tuple(map(_contradiction, groups.values())))


def _contradiction(group: list[Contradicted]) -> tuple[Line, ...]:
    one, more = group[0], len(group) - 1
    name = named(one.profile.settings[one.setting].title, one.setting)
    if more:
        name = (*name, Piece(f"\nand {more} more, up to {group[-1].setting}"))
    saw = "has no effect" if one.verdict is Verdict.NO_EFFECT else "works"
    firmware = firmware_words(one.test.firmware.text())
    by = listed(one.sources, 2) or f"{one.beside.standing}, no document speaks for it"
    return (
        _severity(one.severity),
        (*name, Piece("\n"), Piece(one.profile.id, Role.FAINT)),
        plain(f"{short_where(one.place)} {saw} at {firmware} ({one.test.id})"),
        plain(f"{answer_text(one.beside)}: {by}"),
    )


def _questions(found: Iterable[Open]) -> Iterator[Block]:
    rows = [
        (
            _severity(one.severity),
            plain(age(one.days)),
            (Piece(one.profile.id, Role.CODE), Piece(f"\n{one.question.id}")),
            plain(f"{one.question.text}\n→ {one.question.settle}"),
        )
        for one in found
    ]
    if rows:
        yield Heading("Open questions, the oldest first", 2)
        yield Table(_columns("open for", "profile", "question"), tuple(rows))


def age(days: int | None) -> str:
    """An age in the largest unit that fits.

    >>> age(800), age(45), age(3), age(None)
    ('2 years', '1 month', '3 days', 'no date')
    """
    if days is None:
        return "no date"
    if days >= _YEAR:
        return counted(days // _YEAR, "year")
    return counted(days // _MONTH, "month") if days >= _MONTH else counted(days, "day")


def _severity(severity: Severity) -> Line:
    return (Piece(severity.value, SEVERITY_ROLES[severity]),)


def _columns(*titles: str) -> tuple[Column, ...]:
    return (Column("", shrinks=False), *(Column(title) for title in titles))
