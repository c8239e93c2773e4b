"""A loco file taken apart at its headings, and rewritten with every remark where it stood."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from cvlib.errors import InputError, Position, problem
from cvlib.files.read.interface import sniff
from cvlib.files.scanner import KeyPath, key_spots
from cvlib.files.text import decode, encode_as, file_name, read_bytes
from cvlib.files.write import replace_file


@dataclass(frozen=True, slots=True)
class Piece:
    """A heading with the remarks right above it and all up to the next one."""

    path: KeyPath
    text: str

    def is_of(self, decoder: int, key: str = "") -> bool:
        """Whether it belongs to a decoder, and there to a list of tables."""
        return self.path[:2] == ("decoder", decoder) and (not key or self.path[2:3] == (key,))


def rewrite_loco(path: Path, kept: str, change: Callable[[str, str], str]) -> None:
    """Change the text of a loco file in one step; its byte-order mark and line ends stay.

    ``kept`` says what a list cannot keep; ``change`` gets the text, with plain line ends, and the
    file's name. Raises InputError, with the file as it was, where it is no loco file or cannot be
    written.
    """
    was = read_bytes(path)
    name = file_name(path)
    text = decode(was, name)
    if sniff(text, str(path)) != "loco":
        raise problem(
            f"a list cannot keep {kept}.",
            advice="Save it as a loco file first; docs/loco-format.md shows one.",
            position=Position(name),
        )
    replace_file(path, encode_as(change(text.replace("\r\n", "\n"), name), was, text), was)


def one_line(name: str) -> InputError:
    """The refusal of a file whose saved values have no headings to edit at."""
    return problem(
        "the saved values are written in one line, which cannot be edited.",
        advice="Write them under the headings [[decoder.saved]] and [decoder.saved.cv].",
        position=Position(name),
    )


def put_together(before: str, texts: Iterable[str]) -> str:
    """The text of a file out of what stands before its headings and the text at each of them."""
    whole = [before, *texts] if before else texts
    return "\n".join(part.strip("\n") + "\n" for part in whole)


def taken_apart(text: str) -> tuple[str, list[Piece]]:
    """What stands before the first heading, and a piece for each heading."""
    lines = text.splitlines(keepends=True)
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
    begins = {_above(lines, number): path for number, path in sorted(found.items())}
    numbers = [*begins, len(lines)]
    pieces = [
        Piece(path, "".join(lines[start : numbers[at + 1]]))
        for at, (start, path) in enumerate(begins.items())
    ]
    return "".join(lines[: numbers[0]]), pieces


def _line_of(starts: Sequence[int], spot: int) -> int:
    return bisect_right(starts, spot) - 1


def _above(lines: Sequence[str], number: int) -> int:
    """The first of the lines of remarks that stand right above a heading."""
    while number and lines[number - 1].lstrip().startswith("#"):
        number -= 1
    return number
