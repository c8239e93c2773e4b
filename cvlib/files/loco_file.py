"""A loco file taken apart at its headings, and rewritten with every remark where it stood."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cvlib.errors import InputError, Position, problem
from cvlib.files.read.interface import sniff
from cvlib.files.scanner import KeyPath, comment_spots, key_spots
from cvlib.files.text import decode, encode_as, file_name, parse_toml, typed
from cvlib.files.write import rewrite_file, says
from cvlib.model.cv import Slot

_FORMAT_1 = re.compile(r"""(?m)^([ \t]*["']?format["']?[ \t]*=[ \t]*)1\b""")
_SAVED = re.compile(r"""(decoder["']?\s*\.\s*["']?)saved\b""")


@dataclass(frozen=True, slots=True)
class Piece:
    """A heading with the remarks right above it and all up to the next one."""

    path: KeyPath
    text: str

    def is_of(self, decoder: int, key: str = "") -> bool:
        """Whether it belongs to a decoder, and there to a list of tables."""
        return self.path[:2] == ("decoder", decoder) and (not key or self.path[2:3] == (key,))


@dataclass(frozen=True, slots=True)
class LocoEdit:
    """A change of a loco file: its text, and apart from that what the file is to say then."""

    kept: str
    """What a list cannot keep."""
    cause: str
    """The command that writes."""
    text: Callable[[str, str], str]
    """From the text, with plain line ends, and the file's name to the new text."""
    data: Callable[[dict[str, Any]], None]
    """Makes the same change to the data of the file."""
    seen: str = ""
    """The digest of what the file held when the change was worked out; empty: whatever it holds."""
    entered: bytes = b""
    """What a person typed in for it."""
    with_readings: bool = False
    """Whether it writes readings, so that a file of format 1 is brought to format 2 first."""


def put_value(table: dict[str, Any], slot: Slot, told: Any) -> None:
    """Put what is said of a CV where a loco file has it: under "cv", or under its page."""
    cvs = table if slot.page is None else table.setdefault("page", {})
    cvs.setdefault(str(slot.page) if slot.page else "cv", {})[str(slot.cv)] = told


def rewrite_loco(path: Path, edit: LocoEdit) -> None:
    """Change a loco file in one step; its byte-order mark and line ends stay.

    Raises InputError, with the file as it was, where it is no loco file or cannot be written.
    """
    name = file_name(path)
    meant: dict[str, Any] = {}

    def change(was: bytes) -> bytes:
        text = decode(was, name)
        if sniff(text, str(path)) != "loco":
            raise problem(
                f"a list cannot keep {edit.kept}.",
                advice=f"Make a loco file of it first: {typed('cvlib', 'keep', 'LOCO.toml', name)}",
                position=Position(name),
            )
        plain = text.replace("\r\n", "\n")
        meant.update(parse_toml(plain, name))
        if edit.with_readings and meant["format"] == 1:
            _bring_to_format_2(meant)
            plain = _text_in_format_2(plain)
            if parse_toml(plain, name) != meant:
                raise one_line(name)
        made = edit.text(plain, name)
        edit.data(meant)
        return encode_as(made, was, text)

    rewrite_file(path, change, says(meant), seen=edit.seen, cause=edit.cause, entered=edit.entered)


def one_line(name: str) -> InputError:
    """The refusal of a file whose saved values have no headings to edit at."""
    return problem(
        "the saved values are written in one line, which cannot be edited.",
        advice="Write them under the headings [[decoder.reading]] and [decoder.reading.cv].",
        position=Position(name),
    )


def _text_in_format_2(text: str) -> str:
    """The text of a file of format 1 in the words of format 2, with every remark where it stood.

    What format 1 called saved is a reading, and its "firmware" what the values were saved for.
    """
    before, pieces = taken_apart(text)
    texts = [_piece_in_format_2(piece) for piece in pieces]
    return _FORMAT_1.sub(r"\g<1>2", "".join((before, *texts)), count=1)


def _piece_in_format_2(piece: Piece) -> str:
    if piece.path[:1] != ("decoder",) or piece.path[2:3] not in (("saved",), ("history",)):
        return piece.text
    lines = lines_of(piece.text)
    for path, spot in key_spots(piece.text).items():
        at = piece.text.count("\n", 0, spot)
        if path[3:] == ("firmware",) and len(piece.path) == 4:
            lines[at] = lines[at].replace("firmware", "saved-for", 1)
        elif lines[at].lstrip().startswith("["):
            lines[at] = _SAVED.sub(r"\1reading", lines[at], count=1)
    return "".join(lines)


def _bring_to_format_2(document: dict[str, Any]) -> None:
    """The same change to the data of a file."""
    document["format"] = 2
    for decoder in document["decoder"]:
        for key, name in (("saved", "reading"), ("history", "history")):
            tables = decoder.pop(key, None)
            if tables is not None:
                decoder[name] = [
                    {"saved-for" if k == "firmware" else k: v for k, v in table.items()}
                    for table in tables
                ]


def put_together(before: str, texts: Iterable[str]) -> str:
    """The text of a file out of what stands before its headings and the text at each of them."""
    whole = [before, *texts] if before else texts
    return "\n".join(part.strip("\n") + "\n" for part in whole)


def taken_apart(text: str) -> tuple[str, list[Piece]]:
    """What stands before the first heading, and a piece for each heading."""
    lines = lines_of(text)
    starts: list[int] = []
    spot = 0
    for line in lines:
        starts.append(spot)
        spot += len(line)
    found: dict[int, KeyPath] = {}
    for path, at in key_spots(text).items():
        number = _line_of(starts, at)
        if lines[number].lstrip().startswith("[") and len(path) > len(found.get(number, ())):
            found[number] = path
    remarks = {_line_of(starts, at) for at in comment_spots(text)}
    begins = {_above(remarks, number): path for number, path in sorted(found.items())}
    numbers = [*begins, len(lines)]
    pieces = [
        Piece(path, "".join(lines[start : numbers[at + 1]]))
        for at, (start, path) in enumerate(begins.items())
    ]
    return "".join(lines[: numbers[0]]), pieces


def lines_of(text: str) -> list[str]:
    """The lines of a text with their ends; nothing but a line feed ends one."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _line_of(starts: Sequence[int], spot: int) -> int:
    return bisect_right(starts, spot) - 1


def _above(remarks: Collection[int], number: int) -> int:
    """The first of the lines of remarks that stand right above a heading."""
    while number - 1 in remarks:
        number -= 1
    return number
