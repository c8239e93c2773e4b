"""What a review means for single locos, as blocks: one by one, or as a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.change.effect import DecoderEffect
from cvlib.engine.change.reviewed import Reviewed
from cvlib.errors import Fault
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding
from cvlib.render.phrases import counted, listed
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
from cvlib.render.views.undecided import SEVERITY_ROLES
from cvlib.render.words import finding_words

_HEADING = "What it means for the locos"


class When(StrEnum):
    """Whether a finding is new, gone, or there before and after but not the same."""

    NEW = "new"
    GONE = "gone"
    OTHERWISE = "otherwise"


@dataclass(frozen=True, slots=True)
class Told:
    """One finding that differs, as a line tells it."""

    when: When
    severity: Severity
    code: str
    subject: str

    def line(self) -> Line:
        """The finding on one line."""
        return (
            Piece(f"{self.when}: "),
            Piece(self.severity.value, SEVERITY_ROLES[self.severity]),
            Piece(" "),
            Piece(self.code, Role.CODE),
            Piece(f" {self.subject}"),
        )


def locos(result: Reviewed) -> Iterator[Block]:
    """The decoders that are touched, one after the other."""
    if not result.effects and not result.untouched:
        return
    yield Gap()
    yield Heading(_HEADING, 2)
    for one in result.effects:
        yield from _effect(one)
    yield _untouched(result)


def locos_table(result: Reviewed) -> Iterator[Block]:
    """The decoders that are touched, each a row."""
    if not result.effects and not result.untouched:
        return
    yield Heading(_HEADING, 2)
    if result.effects:
        columns = (Column("loco"), Column("decoder"), Column("values"), Column("findings"))
        yield Table(columns, tuple(map(_row, result.effects)))
    yield _untouched(result)


def _untouched(result: Reviewed) -> Paragraph:
    still = counted(result.untouched, "decoder")
    return Paragraph(plain(f"Nothing is different for {still} of the locos asked about."))


def _row(one: DecoderEffect) -> tuple[Line, ...]:
    role = f" ({one.decoder.role})" if one.decoder.role else ""
    firmware = f", firmware {one.decoder.firmware}" if one.decoder.firmware else ""
    findings = [line for told in told_findings(one) for line in ((Piece("; "),), told.line())]
    notes = _notes(one)
    said = (*(piece for line in findings[1:] for piece in line),)
    if notes:
        said = (*said, Piece(f"; {notes}" if said else notes))
    return (
        plain(f"{one.loco.name}{role}"),
        (Piece(one.decoder.profile, Role.CODE), Piece(firmware)),
        plain("; ".join([*_broken(one), *_meanings(one)])),
        said,
    )


def _effect(one: DecoderEffect) -> Iterator[Block]:
    role = f", {one.decoder.role} decoder" if one.decoder.role else ""
    firmware = f", firmware {one.decoder.firmware}" if one.decoder.firmware else ""
    yield Paragraph(
        (
            Piece(f"{one.loco.name}{role}", Role.STRONG),
            Piece(" ("),
            Piece(one.decoder.profile, Role.CODE),
            Piece(f"{firmware})"),
        ),
        hang=2,
    )
    for text in (*_broken(one), *_meanings(one)):
        yield Paragraph(plain(text), indent=2, hang=2)
    for told in told_findings(one):
        yield Paragraph(told.line(), indent=2, hang=2)
    if notes := _notes(one):
        yield Paragraph(plain(notes), indent=2)
    yield Gap()


def _broken(one: DecoderEffect) -> Iterator[str]:
    if one.renamed:
        yield f"its profile is called {one.renamed} now"
    for side, when in ((one.before, "before"), (one.after, "now")):
        if isinstance(side, Fault):
            yield f"cannot be checked {when}: {side}"


def _meanings(one: DecoderEffect) -> Iterator[str]:
    for held in one.meanings:
        yield f"{held.slot} = {held.value} meant {held.before}, and means {held.after} now"


def told_findings(one: DecoderEffect) -> list[Told]:
    """The errors and warnings that differ, each line once."""
    old, new = _told(one, one.gone), _told(one, one.new)
    found = [_as(told, When.OTHERWISE if told in old else When.NEW) for told in new]
    return [*found, *(_as(told, When.GONE) for told in old if told not in new)]


def _told(one: DecoderEffect, findings: Iterable[Finding]) -> list[Told]:
    firmware = f"firmware {one.decoder.firmware}".rstrip()
    found = [
        Told(When.NEW, held.severity, held.code, finding_words(held, firmware).subject)
        for held in findings
        if held.severity is not Severity.NOTE
    ]
    return list(dict.fromkeys(found))


def _as(told: Told, when: When) -> Told:
    return Told(when, told.severity, told.code, told.subject)


def _notes(one: DecoderEffect) -> str:
    """How many notes come and go."""
    sides = ((one.new, "new"), (one.gone, "gone"))
    counts = (
        (sum(held.severity is Severity.NOTE for held in found), when) for found, when in sides
    )
    return listed([f"{counted(number, 'note')} {when}" for number, when in counts if number])
