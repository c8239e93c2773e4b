"""A result put on the output, in the form asked for and fit for where it goes."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import TYPE_CHECKING

from cvlib.cli.exits import leave_quietly
from cvlib.cli.options import Format

if TYPE_CHECKING:
    from cvlib.render.view import Block

WIDEST = 120
"""Columns used at most: longer lines are hard to read."""

IN_ASCII = str.maketrans(
    {
        "…": "...",
        "–": "-",
        "—": "-",
        "−": "-",
        "─": "-",
        "→": "->",
        "·": "-",
        "•": "*",
        "×": "x",
        "≤": "<=",
        "≥": ">=",
        "“": '"',
        "”": '"',
        "’": "'",
        "µ": "u",
        "°": " deg ",
    }
)
"""What stands in for characters that an old console cannot show."""


def show(
    form: Format,
    blocks: Callable[[], list[Block]],
    data: Callable[[], Mapping[str, object]],
) -> None:
    """Print a result: its blocks as text or Markdown, or its data as JSON."""
    match form:
        case Format.TEXT:
            from cvlib.render.to_terminal import to_terminal

            _write(to_terminal(blocks(), width(), colour=wants_colour()))
        case Format.MARKDOWN:
            from cvlib.render.to_markdown import to_markdown

            _write(to_markdown(blocks()), "utf-8")
        case Format.JSON:
            from cvlib.render.to_json import to_json

            _write(to_json(data()), "utf-8")


def show_or_put(
    form: StrEnum,
    blocks: Callable[[], list[Block]],
    data: Callable[[], Mapping[str, object]],
    rows: Callable[[], str] | None = None,
    page: Callable[[], str] | None = None,
) -> None:
    """Print a result that is also made as rows, or as a page: by itself one of its blocks."""
    if form == "csv" and rows is not None:
        put(rows())
    elif form == "html":
        from cvlib.render.to_html import to_html

        put(page() if page else to_html(blocks()))
    else:
        show(Format(form.value), blocks, data)


def put(text: str) -> None:
    """Print a text that is made to be kept in a file, as UTF-8."""
    _write(text, "utf-8")


def width() -> int:
    """The columns there are: those of the terminal or of ``COLUMNS``, else 80."""
    return max(20, min(shutil.get_terminal_size((80, 24)).columns, WIDEST))


def wants_colour() -> bool:
    """Whether colours are wanted: by NO_COLOR and FORCE_COLOR, else on a terminal that has them."""
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    if not sys.stdout.isatty() or os.environ.get("TERM") in ("dumb", "unknown"):
        return False
    if os.name != "nt":
        return True
    from rich.console import detect_legacy_windows

    return not detect_legacy_windows()


def _write(text: str, encoding: str = "") -> None:
    used = encoding or sys.stdout.encoding or "utf-8"
    try:
        written = text.encode(used)
    except UnicodeEncodeError:
        written = text.translate(IN_ASCII).encode(used, "backslashreplace")
    stream = getattr(sys.stdout, "buffer", None)
    try:
        if stream is None:
            sys.stdout.write(written.decode(used))
        else:
            sys.stdout.flush()
            stream.write(written)
        sys.stdout.flush()
    except BrokenPipeError:
        leave_quietly()
