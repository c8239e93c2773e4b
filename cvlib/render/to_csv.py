"""Rows as CSV that a spreadsheet takes for text and numbers, never for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from cvlib.errors import visible

_FORMULA = re.compile(r"\s*+[=+\-@＝＋－＠].")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?", re.A)

Cell = str | int


def to_csv(rows: Iterable[Sequence[Cell]]) -> str:
    r"""The rows as text; a cell that begins like a formula has an apostrophe before it.

    Numbers stay numbers: -5 is no formula.

    >>> to_csv([("=1+1", -5, "-5", "-x")])
    "'=1+1,-5,-5,'-x\\n"
    """
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


def _cell(cell: Cell) -> Cell:
    if isinstance(cell, int):
        return cell
    text = visible(cell, "\n")
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text.strip()) else text
