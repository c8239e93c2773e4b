"""What can go wrong, as one line a person at a workbench can act on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from unicodedata import category


@dataclass(frozen=True, slots=True)
class Position:
    """A spot in a file: its name, and the line and column (from 1) where known."""

    file: str
    line: int | None = None
    column: int | None = None
    end: tuple[int, int] | None = field(default=None, compare=False, repr=False)
    """Line and column behind what is written there, where known."""

    def __str__(self) -> str:
        """The position as ``file:line:column``, as far as it is known."""
        parts = [self.file]
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        return ":".join(parts)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with an input: where, what, and what to do about it."""

    problem: str
    position: Position | None = None
    advice: str = ""
    stands_for: int = field(default=1, compare=False, repr=False)
    """How many faults it tells of, where it counts those that are not told."""

    def __str__(self) -> str:
        """The fault on one line; what cannot be printed is shown by its escape."""
        where = f"{self.position}: " if self.position else ""
        what_to_do = f" {self.advice}" if self.advice else ""
        return one_line(f"{where}{self.problem}{what_to_do}")


def one_line(text: str) -> str:
    """The text with line breaks and other unprintable characters written as escapes."""
    return "".join(
        shown if shown.isprintable() else shown.encode("unicode_escape").decode() for shown in text
    )


def visible(text: str, keep: str = "") -> str:
    """The text as text only: what would steer a screen or turn its letters about is U+FFFD.

    Spaces of every width are plain ones. ``keep`` are characters that may be, such as line ends.
    """
    if text.isprintable():
        return text
    return "".join(
        char if char.isprintable() or char in keep else " " if category(char) == "Zs" else "\ufffd"
        for char in text
    )


class CvlibError(Exception):
    """The root of every error cvlib raises on purpose; carries one or more faults."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class InputError(CvlibError):
    """Something given to cvlib cannot be used: a file, a value, a name."""


class UndecidedError(CvlibError):
    """One answer was needed and several fit; the faults name what would decide."""


def problem(text: str, *, advice: str = "", position: Position | None = None) -> InputError:
    """An input error with a single fault."""
    return InputError(Fault(text, position, advice))


@contextmanager
def in_file(name: str) -> Iterator[None]:
    """Input errors raised meanwhile tell the file, where they tell no position; empty: as is."""
    try:
        yield
    except InputError as error:
        if not name:
            raise
        where = Position(name)
        faults = (replace(f, position=f.position or where) for f in error.faults)
        raise InputError(*faults) from None


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like the given one, or nothing when none is close."""
    choices = list(known)
    folded = {choice.casefold(): choice for choice in reversed(choices)}
    if name.casefold() in folded:
        return folded[name.casefold()]
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Advice that names the nearest known name, or an empty text."""
    match = nearest(name, known)
    return f'Did you mean "{match}"?' if match else ""
