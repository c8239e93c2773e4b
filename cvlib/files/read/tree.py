"""XML, JSON and tables as the text of one XML tree, each thing in the line where it was.

JSON: each key is an element of that name, or ``key`` where it cannot be a name, with the attribute
``key``; each entry of a list is an ``item``. A table has a ``row`` for each line and in it a
``cell`` for each cell, with the attribute ``head`` where the recipe says which line has headings.
"""

from __future__ import annotations

import json
import re

from cvlib.errors import InputError, Position, problem
from cvlib.files.read.headings import split_cells
from cvlib.files.read.xpath_rows import MOST_NESTED
from cvlib.files.text import UTF_8_MARK, decode_any, quoted
from cvlib.model.recipe import Recipe

MOST_MARKS = 100_000
"""Tags and attributes of XML, signs of JSON, cells of a table."""

_DECLARED = re.compile(rb"""<\?xml\s[^>]*?\bencoding\s*=\s*["']([^"'>]*)""")
_WIDE = ("utf-16", "utf-16le", "utf-16be")
_NARROW = ("utf-8", "us-ascii", "iso-8859-1", "iso-8859-15", "windows-1252")
"""The names of the encodings that XML may say, as registered with IANA."""
_NO_CHAR = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*+"|[][{},:]|[^][{},:"\s]++|\s++')


def text_of(data: bytes, name: str, kind: str) -> str:
    """The text of a file; XML is what its first line says (XML 1.0, 4.3.3), or else refused."""
    if kind != "xml":
        return decode_any(data, name)
    found = _DECLARED.search(data[:400].replace(b"\0", b""))
    said = found[1].decode("ascii", "replace").lower() if found else ""
    if data[:2] in (b"<\0", b"\0<"):
        data = (b"\xff\xfe" if data[:1] == b"<" else b"\xfe\xff") + data
    is_wide = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    fitting = _WIDE if is_wide else _NARROW[:1] if data.startswith(UTF_8_MARK) else _NARROW
    try:
        if not said or said in fitting:
            return decode_any(
                data if is_wide else data.decode(said or "utf-8").encode("utf-8"), name
            )
    except UnicodeDecodeError:
        decode_any(data, name)  # says so where it is no text at all
    claim = f"the first line says {quoted(said)}" if said else "XML is UTF-8 if it says nothing"
    raise problem(
        f"{claim}, and the file is written in another encoding.",
        advice='Save it as UTF-8 and write encoding="UTF-8" in the first line.',
        position=Position(name, 1),
    )


def tree_of(text: str, name: str, recipe: Recipe) -> str:
    """The tree as XML; raises InputError where the text is not of that kind, or has too much."""
    if recipe.kind == "json":
        return _from_json(text, name)
    if recipe.kind == "table":
        return _from_table(text, name, recipe.delimiter, recipe.headings)
    if "<!ENTITY" in text:
        line = text.count("\n", 0, text.index("<!ENTITY")) + 1
        raise problem(
            "the file declares entities, which are never followed.",
            advice="Write out what they stand for, and remove them.",
            position=Position(name, line),
        )
    _bounded(text.count("<") + text.count("="), name, "tags and attributes")
    return text


def _bounded(count: int, name: str, what: str) -> None:
    if count > MOST_MARKS:
        raise problem(
            f"there are more than {MOST_MARKS} {what}.",
            advice="Is it the right list?",
            position=Position(name),
        )


def _from_json(text: str, name: str) -> str:
    _bounded(sum(map(text.count, "[{,:")), name, "lists, entries and keys")
    try:
        json.loads(text, parse_int=str, parse_float=str)
    except json.JSONDecodeError as error:
        position = Position(name, error.lineno, error.colno)
        what = f"this is no JSON ({error.msg})."
        raise problem(what, advice="Mend it, or choose another kind.", position=position) from None
    except RecursionError:
        raise _too_deep(name) from None
    made = ["<json>"]
    held: list[tuple[bool, str]] = []  # the open lists (true) and objects, each with its end tag
    key: str | None = None
    for found in _TOKEN.finditer(text):
        token = found[0]
        if token.isspace():
            made.append(token)
        elif token in ("]", "}"):
            made.append(held.pop()[1])
        elif token in (",", ":"):
            continue
        elif key is None and held and not held[-1][0]:
            key = json.loads(token)
        else:
            start, end = _tags(key) if held else ("", "")
            key = None
            if token in ("[", "{"):
                held.append((token == "[", end))
                made.append(start)
            else:
                value = json.loads(token) if token.startswith('"') else token
                made += (start, _safe("" if token == "null" else value), end)
            if len(held) >= MOST_NESTED:
                raise _too_deep(name)
    return "".join([*made, "</json>"])


def _tags(key: str | None) -> tuple[str, str]:
    """The tags of an element of JSON: of a key, or of an entry of a list."""
    if key is None:
        return "<item>", "</item>"
    tag = key if _NAME.fullmatch(key) else "key"
    return f'<{tag} key="{_safe(key)}">', f"</{tag}>"


_SAFE = str.maketrans(
    {**dict.fromkeys("\n\r\t", " "), "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}
)


def _safe(text: str) -> str:
    """The text on one line as XML writes it, with what XML cannot hold replaced."""
    return _NO_CHAR.sub("\N{REPLACEMENT CHARACTER}", text).translate(_SAFE)


def _too_deep(name: str) -> InputError:
    return problem(
        "the file is nested too deeply.",
        advice=f"At most {MOST_NESTED} things may stand inside one another.",
        position=Position(name),
    )


def _from_table(text: str, name: str, delimiter: str, headings: int) -> str:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    cells = [split_cells(line, delimiter) if line.strip() else [] for line in lines]
    _bounded(sum(map(len, cells)), name, "cells")
    heads = cells[headings - 1] if 0 < headings <= len(cells) else []
    made: list[str] = []
    for at, row in enumerate(cells):
        inner = ""
        for number, cell in enumerate(row):
            head = f' head="{_safe(heads[number])}"' if number < len(heads) else ""
            inner += f"<cell{head}>{_safe(cell)}</cell>"
        made.append(f"<row>{inner}</row>" if inner and at >= headings else "")
    return "<table>" + "\n".join(made) + "</table>"
