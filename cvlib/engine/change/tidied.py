"""What tidying files came to."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.errors import Fault


@dataclass(frozen=True, slots=True)
class TidiedFile:
    """One file that was looked at."""

    file: str
    was_tidy: bool


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
