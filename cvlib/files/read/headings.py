"""Which columns of a list hold what, told by its headings, English or German."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from cvlib.errors import problem
from cvlib.files.bounds import CELLS, check_count
from cvlib.files.read.values import Notation

_CV = frozenset(("cv", "cvs", "cvnr", "cvno", "cvnum", "cvnumber", "cvnummer"))
_NUMBER = frozenset(("nr", "no", "num", "number", "nummer"))
_VALUE = frozenset(("value", "values", "val", "wert", "werte", "inhalt", "content", "cvwert"))
_NOTATIONS = {
    **dict.fromkeys(("dec", "dez", "decimal", "dezimal", "dezimalwert"), Notation.DECIMAL),
    **dict.fromkeys(("hex", "hexadecimal", "hexadezimal", "hexwert"), Notation.HEXADECIMAL),
    **dict.fromkeys(("bin", "binary", "binär", "binaer", "binärwert"), Notation.BINARY),
}
_BESIDE_VALUE = frozenset(
    (
        *("cv", "in", "as", "current", "actual", "saved", "set", "my", "ist", "mein"),
        *("aktueller", "gespeicherter", "eingestellter", "gelesener"),
    )
)
_PAGE = frozenset(("page", "seite", "indexpage", "indexseite"))
_HIGH, _LOW = frozenset(("cv31", "31")), frozenset(("cv32", "32"))
_BESIDE_PAGE = _HIGH | _LOW | _VALUE | {"cv", "index", "high", "low"}
_OTHER = frozenset(
    (
        *("name", "title", "titel", "description", "beschreibung", "bezeichnung", "meaning"),
        *("bedeutung", "function", "funktion", "setting", "einstellung", "comment", "kommentar"),
        *("remark", "remarks", "bemerkung", "bemerkungen", "anmerkung", "note", "notes", "notiz"),
        *("info", "default", "standard", "werkswert", "range", "bereich", "unit", "einheit"),
    )
)
_WORD = re.compile(r"[^\W_]+")
_PLAIN_NUMBER = re.compile(r"[\s\"']*-?\d+[\s\"']*")
_HINT = re.compile("val|wert|inhalt|content|dez|dec|hex|bin", re.I)
_WIDE = re.compile(r"\s{2,}")

_MOST_LINES = 50
WIDE, NARROW = "  ", " "
"""Columns parted by two or more spaces, and by any."""

_DELIMITERS = ("\t", ";", "|", ",", WIDE, NARROW)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where a row of a list holds its CV number, its value and its page."""

    delimiter: str
    number: int
    values: tuple[tuple[int, Notation], ...]
    """The columns with the value, each with the notation it is written in."""
    page: int | None = None
    index: tuple[int, int] | None = None
    """The columns with the values of CV 31 and CV 32."""
    count: int = 0
    """How many columns have a heading."""


def find_columns(line: str) -> Columns | None:
    """The columns that a line of headings announces, or nothing when it is none."""
    if not _HINT.search(line):
        return None
    for delimiter in _DELIMITERS:
        cells = split_cells(line, delimiter)
        if len(cells) < 2 or any(_PLAIN_NUMBER.fullmatch(cell) for cell in cells):
            continue
        if delimiter == NARROW:
            cells = _joined(cells)
        columns = _columns(cells, delimiter)
        if columns is not None:
            return columns
    return None


def split_cells(line: str, delimiter: str) -> list[str]:
    """The cells of a row, without the quotes and spaces around them."""
    cells = _cells(line, delimiter)
    check_count(cells, CELLS, "cells in this row")
    return cells


def _cells(line: str, delimiter: str) -> list[str]:
    if delimiter == NARROW:
        return line.split()
    if delimiter == WIDE:
        return _WIDE.split(line.strip())
    if delimiter == "|":
        line = line.strip().removeprefix("|").removesuffix("|")
    cells = _quoted_cells(line, delimiter) if '"' in line else None
    return [cell.strip() for cell in cells or line.split(delimiter)]


def logical_lines(
    lines: Sequence[str], start: int, delimiter_of: Callable[[], str]
) -> Iterator[tuple[int, str]]:
    """Each line from an index on, with its number from 1; a quoted cell may hold line ends.

    A quote that is not closed within fifty lines is none. ``delimiter_of`` tells what parts the
    cells by now.
    """
    at = start
    while at < len(lines):
        line, first = lines[at], at
        if '"' in line and (cell := _CELL.get(delimiter_of())):
            block = "\n".join(lines[at : at + _MOST_LINES])
            end = _row_end(block, cell)
            if end > len(line):
                line = block[:end]
                at += line.count("\n")
        at += 1
        yield first + 1, line


def _row_end(block: str, cell: re.Pattern[str]) -> int:
    """Where a row ends: at the first line end outside of quotes, or 0 where a quote stays open."""
    at = 0
    while found := cell.match(block, at):
        if found[1] is not None and found[2] is None:
            return 0
        bare_from = at if found[1] is None else found.end(2)
        end = block.find("\n", bare_from, found.end())
        if end >= 0:
            return end
        at = found.end()
        if not found[4]:
            break
    return len(block)


_CELL = {
    mark: re.compile(rf' *+(?:"((?:[^"]|"")*+)(")?[^{mark}]*+|([^{mark}]*+))([{mark}]|\Z)')
    for mark in ",;\t|"
}
"""One cell and what ends it. A quote opens a cell only at its start; two inside it mean one."""


def _quoted_cells(line: str, delimiter: str) -> list[str] | None:
    """The cells of a row some of which are quoted, or nothing when one is not closed."""
    cells: list[str] = []
    at = 0
    while found := _CELL[delimiter].match(line, at):
        quoted, closed, bare, end = found.groups()
        if quoted is not None and closed is None:
            return None
        cells.append(bare if quoted is None else quoted.replace('""', '"'))
        at = found.end()
        if not end:
            break
    return cells


def _joined(words: list[str]) -> list[str]:
    """Words parted by single spaces, with "CV Nr" and "Wert (dez)" put together again."""
    cells: list[str] = []
    for word in words:
        is_number = bool(cells) and _words(cells[-1]) == ["cv"] and set(_words(word)) <= _NUMBER
        if cells and (word[0] in "([" or (is_number and _words(word))):
            cells[-1] += f" {word}"
        else:
            cells.append(word)
    return cells


def _words(cell: str) -> list[str]:
    """The words of a heading, in small letters, without signs."""
    return _WORD.findall(cell.casefold())


def _columns(cells: list[str], delimiter: str) -> Columns | None:
    """The columns that headings announce, when a CV number and a value are among them."""
    numbers: list[tuple[bool, int]] = []
    values: list[tuple[int, Notation]] = []
    page = high = low = None
    for at, cell in enumerate(cells):
        words = _words(cell)
        part = _page_part(set(words))
        if part == "high":
            high = at
        elif part == "low":
            low = at
        elif part == "page":
            page = at
        elif cell == "#" or (words and set(words) <= _CV | _NUMBER):
            numbers.append((not _CV.intersection(words), at))
        elif notation := _notation(set(words)):
            values.append((at, notation))
        elif delimiter == NARROW and not _OTHER.issuperset(words):
            return None
    if not numbers or not values:
        return None
    if sum(not is_other for is_other, _ in numbers) > 1:
        raise problem(
            "several columns are headed as CV numbers.",
            advice="Keep one column of CV numbers, and put the rows of the others below it.",
        )
    index = (high, low) if high is not None and low is not None else None
    return _settled(Columns(delimiter, min(numbers)[1], tuple(values), page, index, len(cells)))


def _page_part(words: set[str]) -> str:
    """Which part of the index page a column holds: high, low or the page; empty for none of it."""
    if not words <= _PAGE | _BESIDE_PAGE:
        return ""
    is_high, is_low = bool(words & _HIGH), bool(words & _LOW)
    if is_high != is_low:
        return "high" if is_high else "low"
    return "page" if is_high or words & _PAGE else ""


def _notation(words: set[str]) -> Notation | None:
    """The notation of a value column, or nothing when the words name no value."""
    known = words & _NOTATIONS.keys()
    if not known and not words & _VALUE:
        return None
    if not words <= _VALUE | _NOTATIONS.keys() | _BESIDE_VALUE:
        return None
    return _NOTATIONS[known.pop()] if len(known) == 1 else Notation.DECIMAL


def _settled(columns: Columns) -> Columns:
    """The same columns; where the ones that count come first, any space parts them."""
    used = {columns.number, columns.page, *(at for at, _ in columns.values), *(columns.index or ())}
    if columns.delimiter == WIDE and used - {None} == set(range(len(used - {None}))):
        return replace(columns, delimiter=NARROW)
    return columns
