"""What tidying files came to."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.errors import Fault


@dataclass(frozen=True, slots=True)
class FormatChange:
    """What became of a file that was written in format 1."""

    ranges: int = 0
    """Places whose range, or one end of it, follows from the documents they cite."""
    assumed: int = 0
    """Places that cite no document."""
    followed: int = 0
    """Standards and blocks that are followed, for which nobody is named either."""
    added: int = 0
    """Citations without a page, of documents in whose firmware format 1 had a place, and that would
    deny it without them."""
    kept: int = 0
    """Absences that are written down, because the same range had the setting on both sides."""
    absences: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """For each document the settings, and the blocks followed for some firmware only, that it
    denied by not listing them, and denies no longer."""
    whole: tuple[str, ...] = ()
    """The documents that somebody has read from first to last page."""


@dataclass(frozen=True, slots=True)
class TidiedFile:
    """One file that was looked at."""

    file: str
    was_tidy: bool
    change: FormatChange | None = None
    """What is new in it, where it was written in format 1."""


@dataclass(frozen=True, slots=True)
class Tidied:
    """Every file that was looked at, and those that could not be read or written."""

    files: tuple[TidiedFile, ...]
    faults: tuple[Fault, ...]
    is_check: bool
    """Whether the files were left as they are."""

    @property
    def untidy(self) -> tuple[TidiedFile, ...]:
        """The files that were not laid out as they should be."""
        return tuple(one for one in self.files if not one.was_tidy)
