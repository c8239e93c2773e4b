"""Lists of CV values as people keep them: ``CV27 = 3``, ``27;3``, pasted tables with headings.

A heading says which columns count; without one the CV number comes first and its value second.
Lines without a digit are titles. Comments begin with ``#``, ``;`` or ``//``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import PurePath

from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.read.headings import (
    NARROW,
    WIDE,
    Columns,
    find_columns,
    logical_lines,
    split_cells,
)
from cvlib.files.read.values import CV_FORM, Gathered, Notation, parse_cv, parse_value, readings
from cvlib.files.text import quoted, typed
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, Page, Slot, make_slot, parse_page
from cvlib.model.loco import Loco, SavedDecoder

_FLAGS = re.I | re.A | re.S
_PLAIN_SPACES = dict.fromkeys(map(ord, "\xa0\u2007\u202f\u200b\ufeff\f\v\x1a"), " ")
_COMMENT = re.compile(r"\s*(?:#|;|//|\[.*\]\s*$)")
_END_COMMENT = re.compile(r"(?:(?:^|(?<=\s))(?:#|//)|[(\[]).*", re.S)
_HASHES = re.compile(r"\A\s*#+\s*(?=[A-Za-z])")
_ARROW = re.compile(r"[ \t,;]*(?:(?:->|=>|→)\s*)?")
_BULLET = re.compile(r"\A\s*(?:[-*•]\s+|\|)")
_NUMBER_START = re.compile(r"\s*[-$%&]?[0-9]")
_DIGIT = re.compile(r"[0-9]")
_DATE = re.compile(r"\s*\d{1,4}([-./])\d{1,2}\1\d{1,4}\b", re.A)
_NAMES_CV = re.compile(r"cv[\s.#:_-]*\d", _FLAGS)
_STARTS_LIKE_ROW = re.compile(r"[\s\"'|*•#-]*\d", re.A)

_MOST_BESIDE = 40
"""Words beside a value that are looked at: nobody writes it in so many notations."""
_JUST_CV = re.compile(CV_FORM, _FLAGS)
_ASSIGNED = re.compile(rf'\s*"?{CV_FORM}"?\s*=', _FLAGS)
_SEVERAL = re.compile(
    rf"\s*{CV_FORM}\s*[=:]\s*[^\s,;=:]+(?:(?:\s*[,;]\s*|\s+){CV_FORM}\s*[=:]\s*[^\s,;=:]+)+[\s,;]*",
    _FLAGS,
)
_ONE_OF_SEVERAL = re.compile(rf"({CV_FORM})\s*[=:]\s*([^\s,;=:]+)", _FLAGS)
_NAMED = re.compile(rf"\s*({CV_FORM})[ \t]++[^=:,;|\t\d]*+[=:](.*)", _FLAGS)
_LINE = re.compile(rf'\s*"?({CV_FORM})"? *(:=|->|=>|→|[-–](?=\s)|[=:,;|\t]|\s|$)(.*)', _FLAGS)
_ASSIGNED_VALUE = re.compile(r'\s*"?([^\s,;"(\[#]*(?:,\d+)?)"?(.*)', re.A | re.S)

_UNCLEAR = "it is not clear which is the value of"
_WRITE_ONE = "Write the one that holds."
_GIVE_HEADINGS = 'Give the columns headings, such as "CV,Name,Value".'
_WHAT_IS_READ = (
    'A list has one CV and its value a line, such as "27 = 3" or "27;3", or columns with headings,'
    ' such as "CV,Value"; loco files are TOML.'
)
_BY_RECIPE = 'Read it with --recipe FILE; "cvlib recipe suggest" proposes such a file.'


@dataclass(frozen=True, slots=True)
class _Row:
    """One CV with its value, as written."""

    number: str
    values: tuple[tuple[str, Notation], ...]
    """The value, perhaps in several notations."""
    page: str = ""
    index: tuple[str, str] = ("", "")
    """The values of CV 31 and CV 32 for this row alone."""
    beside: tuple[str, ...] = ()
    """What stands beside the value where no heading says what it is."""
    is_assigned: bool = False
    """Whether an equals sign or a colon parts number and value, so that there are no columns."""


def read_table(text: str, name: str) -> Loco:
    """The loco that a list describes: one decoder without profile, named as the file.

    Raises InputError with every fault of the list, or one when the text is no list.
    """
    return _Reading(text, name).loco()


class _Reading:
    """One walk over the lines of a list."""

    def __init__(self, text: str, name: str) -> None:
        text = text.replace("\r\n", "\n").replace("\r", "\n").translate(_PLAIN_SPACES)
        self._lines = text.rstrip().split("\n")
        self._name = name
        self._columns: Columns | None = None
        self._gathered = Gathered()
        self._has_rows = False
        self._is_lost = False  # headings that cannot be used make all below them unclear

    def loco(self) -> Loco:
        """The loco, when every line could be read."""
        for number, line in self._logical_lines():
            position = Position(self._name, number)
            try:
                self._take(line, position)
            except InputError as error:
                self._gathered.faults.extend(
                    Fault(fault.problem, position, fault.advice) for fault in error.faults
                )
        if not self._has_rows:
            raise self._no_list()
        self._gathered.faults[:] = _once(self._gathered.faults, self._name)
        decoder = SavedDecoder(self._gathered.values())
        return Loco(PurePath(self._name).stem, (decoder,), self._name)

    def _no_list(self) -> InputError:
        """The fault of a text in which nothing looks like a row of a list."""
        start = self._lines[0].lstrip()
        if self._columns is not None:
            what = "there are headings here but no values."
        elif not start and len(self._lines) == 1:
            what = "the file is empty."
        elif start.startswith("<"):
            what = "this looks like XML or HTML, not like a list of CV values."
            return problem(what, advice=_BY_RECIPE, position=Position(self._name))
        else:
            what = "nothing here looks like a list of CV values."
        return problem(what, advice=_WHAT_IS_READ, position=Position(self._name))

    def _logical_lines(self) -> Iterator[tuple[int, str]]:
        """Each line with its number; a quoted cell may hold line ends."""
        yield from logical_lines(
            self._lines, 0, lambda: self._columns.delimiter if self._columns else ""
        )

    def _take(self, line: str, position: Position) -> None:
        """Take in one line: headings, comment, title or rows."""
        try:
            columns = find_columns(_HASHES.sub("", line, count=1))
        except InputError:
            self._has_rows = self._is_lost = True
            raise
        if columns is not None:
            self._columns = columns
        elif self._is_lost or self._is_comment(line) or not _DIGIT.search(line):
            return
        else:
            for row in self._rows(line):
                self._has_rows = True
                self._add(row, position)

    def _is_comment(self, line: str) -> bool:
        """Whether the line is a comment; an empty first cell before a semicolon is none."""
        first_is_empty = (
            self._columns is not None
            and self._columns.delimiter == ";"
            and self._columns.number > 0
            and line.startswith(";")
        )
        return not first_is_empty and _COMMENT.match(line) is not None

    def _rows(self, line: str) -> list[_Row]:
        """What the line says of CVs; raises InputError for a line that is not understood."""
        columns = self._columns
        if columns is not None and not _ASSIGNED.match(line):
            cells = split_cells(line, columns.delimiter)
            if len(cells) > 1:
                row = _headed(cells, columns)
                return [row] if row else []
        rows = _unheaded(line)
        if rows or self._is_preamble(line):
            return rows
        raise problem(
            f"{quoted(line.strip())} is not understood.",
            advice='Write one CV and its value a line, such as "27 = 3"; comments begin with #.',
        )

    def _is_preamble(self, line: str) -> bool:
        """Whether the line may stand above a list: a title, a date, a name."""
        if self._has_rows or _NAMES_CV.search(line):
            return False
        return _DATE.match(line) is not None or not _STARTS_LIKE_ROW.match(line)

    def _add(self, row: _Row, position: Position) -> None:
        """Check one row and add its value."""
        slot = slot_of(row.number, row.page, row.index)
        given = _given(row)
        if not any(_starts_number(text) for text, _ in given) and any(
            _starts_number(cell) for cell in row.beside
        ):
            raise problem(f"{_UNCLEAR} {slot}.", advice=_GIVE_HEADINGS)
        values = {parse_value(text, slot, notation) for text, notation in given}
        value = min(values) if values else parse_value("", slot)
        if len(values) > 1:
            raise problem(
                f"{slot} is {value} in one column and {max(values)} in another.",
                advice="Keep the one that is right.",
            )
        other = _other_number(row.beside[0], value) if row.beside else ""
        if other:
            raise problem(
                f"{slot} has two numbers beside it, {value} and {other}.",
                advice=_WRITE_ONE if row.is_assigned else _GIVE_HEADINGS,
            )
        self._gathered.add(slot, value, position)


def _once(faults: list[Fault], name: str) -> list[Fault]:
    """The faults, those of columns that nobody can tell apart as one."""
    unclear = [fault for fault in faults if fault.problem.startswith(_UNCLEAR)]
    if len(unclear) < 2:
        return faults
    first = unclear[0]
    said = f"{first.problem.removesuffix('.')}, nor of {len(unclear) - 1} more CVs."
    suggest = typed("cvlib", "recipe", "suggest", "FILE" if name == "standard input" else name)
    way = f'Head the columns as in "CV,Name,Value", or let "{suggest}" look at it.'
    found = replace(first, problem=said, advice=way, stands_for=len(unclear))
    return [found if one is first else one for one in faults if one is first or one not in unclear]


def _headed(cells: list[str], columns: Columns) -> _Row | None:
    """The row of a table with headings, or nothing when it holds neither CV nor value."""

    def cell(at: int | None) -> str:
        return cells[at] if at is not None and at < len(cells) else ""

    _check_cells(cells, columns)
    values = tuple((cell(at), notation) for at, notation in columns.values)
    high, low = columns.index or (None, None)
    row = _Row(cell(columns.number), values, cell(columns.page), (cell(high), cell(low)))
    return row if _given(row) or _JUST_CV.fullmatch(row.number) else None


def _check_cells(cells: list[str], columns: Columns) -> None:
    """Raise InputError where a number behind the value may be a part of it, cut off by a comma.

    Words without a heading of their own are a remark.
    """
    if columns.delimiter in (WIDE, NARROW) or not any(cells[columns.count :]):
        return
    if any(map(_starts_number, cells[min(at for at, _ in columns.values) + 1 :])):
        raise problem(
            f"there are more cells than headings here, {len(cells)} and {columns.count}.",
            advice="A value is a whole number from 0 to 255; put a cell that holds the mark between"
            " the columns in quotes.",
        )


def _unheaded(line: str) -> list[_Row]:
    """The rows of a line that says by itself which CV has which value."""
    line = _BULLET.sub("", line)
    if _SEVERAL.fullmatch(line):
        return [_plain(number, value) for number, value in _ONE_OF_SEVERAL.findall(line)]
    found = _NAMED.match(line)
    if found:
        return [_assigned(found[1], found[2])]
    found = _LINE.match(line)
    if found is None:
        return []
    number, mark, rest = found[1], found[2], found[3]
    if mark in (",", ";", "|", "\t"):
        cells = split_cells(rest, mark)
        if mark == "\t":
            cells = [cell for cell in cells if cell] or [""]
        return [_plain(number, *cells)]
    if mark.strip():
        return [_assigned(number, rest)]
    value, _, beside = rest.strip().partition(" ")
    return [_plain(number, value.rstrip(",;"), beside)]


def _plain(number: str, value: str, *beside: str) -> _Row:
    """A row with one value in a notation that shows by itself."""
    return _Row(number, ((value, Notation.DECIMAL),), beside=beside)


def _assigned(number: str, rest: str) -> _Row:
    """The row of ``27 = 3``, from the CV and all that follows the equals sign."""
    found = _ASSIGNED_VALUE.match(rest)
    value, beside = (found[1], found[2]) if found else ("", "")
    others = (_ARROW.sub("", beside, count=1),) if _starts_number(value) else ()
    return _Row(number, ((value, Notation.DECIMAL),), beside=others, is_assigned=True)


def _bare(cell: str) -> str:
    """The cell without a comment or brackets at its end, empty for a dash."""
    cell = _END_COMMENT.sub("", cell.strip()).strip()
    return "" if cell in ("-", "–", "—") else cell


def _starts_number(cell: str) -> bool:
    """Whether a cell begins as a value does."""
    return _NUMBER_START.match(cell) is not None


def _other_number(beside: str, value: int) -> str:
    """The first number beside a value that is not the same one in another notation.

    Empty when there is none, or when there is text beside the value.
    """
    words = _bare(beside).lstrip("= ").replace(",", " ").split(None, _MOST_BESIDE)
    if not all(_DIGIT.search(word) and readings(word) for word in words[:_MOST_BESIDE]):
        return ""
    return next((word[:20] for word in words[:_MOST_BESIDE] if value not in readings(word)), "")


def _given(row: _Row) -> list[tuple[str, Notation]]:
    """The values of a row that are not empty."""
    bare = ((_bare(text), notation) for text, notation in row.values)
    return [(text, notation) for text, notation in bare if text]


def slot_of(number: str, page: str = "", index: tuple[str, str] = ("", "")) -> Slot:
    """The slot of a row; a page typed with the number goes before that of its own columns.

    ``index`` are the values of CV 31 and CV 32 for this row alone.
    """
    number = number.strip().rstrip(":.")
    if not number:
        raise problem("this row has a value but no CV number.", advice="Write the CV number.")
    slot = parse_cv(number)
    is_paged = FIRST_PAGED <= slot.cv <= LAST_PAGED
    page = _bare(page).replace(" ", "")
    if slot.page is not None or (page == "0/0" and not is_paged):
        return slot
    if page:
        return make_slot(slot.cv, parse_page(page))
    high, low = (_bare(text) for text in index)
    if is_paged and high and low:
        return Slot(slot.cv, Page(parse_value(high, Slot(31)), parse_value(low, Slot(32))))
    return slot
