"""A correction of a profile: its diff, the changed answers, and the text for a pull request."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.change.amended import Amended
from cvlib.engine.change.review import ProfileReview
from cvlib.model.profile import Source
from cvlib.render.phrases import counted, firmware_words
from cvlib.render.places import Data
from cvlib.render.to_markdown import to_markdown
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)
from cvlib.render.views.review import lines_of
from cvlib.render.views.review_data import profile_data
from cvlib.render.views.review_words import Row, change_lines, firmware_text, rows_of

MOST_ROWS = 40
"""Rows of the effect that are shown before the rest is counted."""


def view(amended: Amended, pull_request_file: str = "") -> list[Block]:
    """What is done, the diff, the effect, and the text for a pull request unless a file has it."""
    blocks: list[Block] = [Heading(headline(amended), 1), *_done(amended)]
    blocks += [Paragraph(plain(one), hang=2) for one in amended.did]
    for note in amended.notes:
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(note)), hang=2))
    blocks += table_lines(amended)
    blocks += [Gap(), Heading("Diff"), Literal(amended.diff)]
    blocks += [Gap(), Heading("Effect"), *effect(amended)]
    if pull_request_file:
        written = (Piece("The text for a pull request is in "), Piece(pull_request_file, Role.CODE))
        return [*blocks, Gap(), Paragraph((*written, Piece(".")))]
    text = to_markdown(pull_request(amended)).rstrip()
    return [*blocks, Gap(), Heading("Text for a pull request"), Literal(text)]


def table_lines(amended: Amended) -> Iterator[Block]:
    """What a table has otherwise than the profile, setting by setting."""
    if not amended.lines:
        return
    columns = (Column("setting"), Column("what"), Column("was"), Column("is"), Column("line"))
    rows = tuple(
        (
            (Piece(one.setting, Role.CODE),),
            plain(one.what if one.count == 1 else f"{one.what} ({one.count})"),
            plain(one.was or "-"),
            plain(one.now or "-"),
            plain(str(one.line or "-")),
        )
        for one in amended.lines
    )
    yield Gap()
    yield Heading("Table")
    yield Table(columns, rows)


def pull_request(amended: Amended) -> list[Block]:
    """The text for a pull request: what, on which evidence, with which effect."""
    blocks: list[Block] = [Heading(headline(amended), 1), Heading("What")]
    where = (Piece("Profile "), Piece(amended.after.id, Role.CODE), Piece(", file "))
    blocks.append(Paragraph((*where, Piece(amended.file, Role.CODE), Piece("."))))
    blocks += [Paragraph(plain(one)) for one in amended.did]
    blocks += [Heading("Evidence"), *_evidence(amended)]
    blocks += [Heading("Effect"), *effect(amended, on_one_line=True)]
    return blocks


def headline(amended: Amended) -> str:
    """The title: which decoder, and what about it."""
    return f"{amended.after.maker} {amended.after.name}: {amended.title}"


def data(amended: Amended) -> Data:
    """The correction as data; docs/schema/output-amend.schema.json describes it."""
    found = amended.effect
    return {
        "profile": amended.after.id,
        "file": amended.file,
        "form": amended.form,
        "written": amended.is_written,
        "did": list(amended.did),
        "notes": list(amended.notes),
        "table": [
            {
                "setting": one.setting,
                "what": one.what,
                "was": one.was,
                "now": one.now,
                "line": one.line,
                "count": one.count,
            }
            for one in amended.lines
        ],
        "evidence": [_source_data(one) for one in amended.evidence],
        "diff": amended.diff,
        "effect": profile_data(found) if found else None,
        "pull_request": {
            "title": headline(amended),
            "text": to_markdown(pull_request(amended)),
        },
    }


def effect(amended: Amended, *, on_one_line: bool = False) -> Iterator[Block]:
    """The settings whose answers change, and for which firmware."""
    found = amended.effect
    changes = found.changes if found else ()
    own = [change for change in changes if not change.is_area]
    if not own:
        yield Paragraph(plain(_without_effect(found)))
        return
    rows = rows_of(own)
    yield Paragraph(
        plain(f"{counted(len({one.setting for one in own}), 'setting')} answered otherwise.")
    )
    more = len(rows) - MOST_ROWS
    caption = f"and {counted(more, 'row')} more" if more > 0 else ""
    columns = (Column("setting"), Column("firmware"), Column("change"))
    yield Table(columns, tuple(_row(row, on_one_line) for row in rows[:MOST_ROWS]), caption)


def _without_effect(found: ProfileReview | None) -> str:
    if found and found.items:
        return "No answer changes; what the profile knows beside its settings does."
    return "No answer changes."


def _row(row: Row, on_one_line: bool) -> tuple[Line, ...]:
    told = plain("; ".join(change_lines(row.first))) if on_one_line else lines_of(row)
    return row.name(), plain(firmware_text(row.first)), told


def _done(amended: Amended) -> Iterator[Block]:
    said = "written to" if amended.is_written else "not written:"
    role = Role.GOOD if amended.is_written else Role.WARNING
    yield Paragraph(
        (
            Piece(amended.after.id, Role.CODE),
            Piece(", "),
            Piece(said, role),
            Piece(" "),
            Piece(amended.file, Role.CODE),
        )
    )


def _evidence(amended: Amended) -> Iterator[Block]:
    if not amended.evidence:
        yield Paragraph(plain("No source is named. Say here how you know."))
        return
    columns = (Column("source"), Column("kind"), Column("firmware"), Column("date"), Column("what"))
    yield Table(columns, tuple(map(_source, amended.evidence)))


def _source(source: Source) -> tuple[Line, ...]:
    said = "; ".join(part for part in (source.title, source.note, source.where) if part)
    firmware = firmware_words(source.firmware.text())
    return (
        (Piece(source.id, Role.CODE),),
        plain(source.kind.value),
        plain(firmware),
        plain(source.date or "-"),
        plain(said or "-"),
    )


def _source_data(source: Source) -> Data:
    return {
        "id": source.id,
        "kind": source.kind.value,
        "title": source.title,
        "date": source.date,
        "firmware": source.firmware.text(),
        "where": source.where,
        "note": source.note,
    }
