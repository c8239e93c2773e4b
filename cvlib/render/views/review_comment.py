"""A review as a comment on a pull request: one table of settings by firmware for each profile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cvlib.engine.change.review import ProfileReview
from cvlib.engine.change.reviewed import Reviewed
from cvlib.model.ranges import FirmwareRange, points_in_order
from cvlib.model.versions import EARLIEST, parse_version
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.view import Block, Column, Gap, Line, Piece, Role, Table, plain
from cvlib.render.views.review import areas, beside, broken, head, lines_of, profile_head, sections
from cvlib.render.views.review_locos import locos_table
from cvlib.render.views.review_words import Row, change_lines, firmware_text, rows_of

MOST_COLUMNS = 6
"""Stretches of firmware up to which each gets a column; a wider table is hard to read."""
MOST_ROWS = 40
"""Rows of one table; a comment has a limit, and a person has one too."""


@dataclass(frozen=True, slots=True)
class Slice:
    """Some firmware in which every setting of a review changed in one way or not at all."""

    firmware: FirmwareRange
    cells: tuple[Row | None, ...]
    """One for each line of the table."""


def comment(result: Reviewed) -> list[Block]:
    """The review for a page: a table of all profiles, then one of settings by firmware for each."""
    blocks: list[Block] = [*head(result)]
    if result.review.profiles:
        blocks += [overview_table(result)]
    for group in sections(result.review.profiles):
        blocks += [Gap(), *profile_head(group), *_changes(group[0]), *beside(group[0])]
    return [*blocks, *broken(result), *locos_table(result)]


def overview_table(result: Reviewed) -> Table:
    """What changed in each profile, counted."""
    columns = (
        Column("profile"),
        Column("step"),
        Column("settings changed", numeric=True),
        Column("beside the answers", numeric=True),
        Column("words", numeric=True),
        Column("decoders of locos touched", numeric=True),
    )
    return Table(columns, tuple(_counts(result, one) for one in result.review.profiles))


def _counts(result: Reviewed, one: ProfileReview) -> tuple[Line, ...]:
    settings = len({change.setting for change in one.changes})
    names = {one.id, one.was}
    touched = sum(held.decoder.profile in names for held in result.effects)
    counts = (settings, len(one.items), len(one.wording), touched)
    return (
        (Piece(one.id, Role.CODE),),
        plain(one.step.value),
        *(plain(str(number)) for number in counts),
    )


def _changes(one: ProfileReview) -> Iterator[Block]:
    rows = rows_of(change for change in one.changes if not change.is_area)
    if rows:
        lines = lines_of_rows(rows)
        found = slices(lines)
        yield _matrix(lines, found) if len(found) <= MOST_COLUMNS else _list(rows)
    yield from areas(one)


def lines_of_rows(rows: Iterable[Row]) -> list[list[Row]]:
    """The rows of one setting, or of the same settings, together."""
    found: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        found.setdefault(tuple(change.setting for change in row.changes), []).append(row)
    return list(found.values())


def slices(lines: Sequence[Sequence[Row]]) -> list[Slice]:
    """The firmware of some changes cut into as few parts as tell them apart, oldest first."""
    held = [row.first.firmware for rows in lines for row in rows]
    scheme = held[0].scheme
    points = points_in_order(point for one in held for point in (*one.cuts(), EARLIEST[scheme]))
    like = held[0]
    for one in held:
        like |= one
    found: dict[tuple[int, ...], Slice] = {}
    for start, end in zip(points, [*points[1:], None], strict=True):
        span = FirmwareRange.between(start, end, like)
        cells = tuple(
            next((row for row in rows if row.first.firmware.holds(start)), None) for rows in lines
        )
        if not any(cells):
            continue
        key = tuple(id(cell) for cell in cells)
        known = found.get(key)
        found[key] = Slice(known.firmware | span if known else span, cells)
    return list(found.values())


def _matrix(lines: Sequence[Sequence[Row]], found: Sequence[Slice]) -> Table:
    columns = (Column("setting"), *(Column(_title(one)) for one in found))
    shown = lines if len(lines) <= MOST_ROWS else lines[:MOST_ROWS]
    rows = tuple(
        (_name(line[0]), *(_cell(one.cells[at]) for one in found)) for at, line in enumerate(shown)
    )
    return Table(columns, rows, _rest(len(lines) - len(shown)))


def _list(rows: Sequence[Row]) -> Table:
    shown = rows if len(rows) <= MOST_ROWS else rows[:MOST_ROWS]
    columns = (Column("setting"), Column("firmware"), Column("change"))
    told = tuple((_name(row), plain(firmware_text(row.first)), lines_of(row)) for row in shown)
    return Table(columns, told, _rest(len(rows) - len(shown)))


def _rest(number: int) -> str:
    return f"{counted(number, 'more row')}; the review in a terminal shows all." if number else ""


def _name(row: Row) -> Line:
    return tuple(Piece(piece.text.replace("\n", ", "), piece.role) for piece in row.name())


def _title(one: Slice) -> str:
    """The firmware of a column, with the known releases in it."""
    known = [release for cell in one.cells if cell for release in cell.first.releases]
    scheme = one.firmware.scheme
    here = [text for text in dict.fromkeys(known) if parse_version(text, scheme) in one.firmware]
    words = firmware_words(one.firmware.text())
    return words if not here or here == [words] else f"{words} ({listed(here, 3)})"


def _cell(row: Row | None) -> Line:
    if row is None:
        return ()
    pieces: list[Piece] = []
    for line in change_lines(row.first):
        kind, _, told = line.partition(": ")
        pieces += [Piece("; ")] if pieces else []
        pieces += [Piece(kind, Role.STRONG), Piece(f": {told}")]
    return tuple(pieces)
