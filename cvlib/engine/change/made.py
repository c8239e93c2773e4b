"""What the making of a profile came to."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.model.profile import Profile


@dataclass(frozen=True, slots=True)
class MadeSetting:
    """One setting of a new profile, with the line of the table it comes from."""

    id: str
    line: int
    is_standard: bool
    """Whether the id is that of a standard; otherwise somebody should look at it."""
    where: str = ""
    """Its CV and bits as they are typed."""
    beside: str = ""
    """The setting of the standard that has this number and another name."""


@dataclass(frozen=True, slots=True)
class MadeProfile:
    """A new profile, as the loader read it back from the text that was made."""

    profile: Profile
    file: str
    text: str
    settings: tuple[MadeSetting, ...]
    without: tuple[str, ...]
    """Settings and groups of the standard that the decoder lacks by the table."""
    unused: tuple[str, ...]
    """Headings of the table that were not understood."""
    folder: str = ""
    """The folder of definitions that it goes to; empty where it goes among the shipped ones."""
    is_complete: bool = False
    """Whether the table was said to list every CV."""
    offers: tuple[str, ...] = ()
    """Rows that look like one setting repeated, in words."""
    is_written: bool = False
