"""What a list of profiles tells of one, without its settings."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.errors import Fault


@dataclass(frozen=True, slots=True)
class Summary:
    """One profile of a list; the words are empty where its file does not say."""

    id: str
    maker: str = ""
    name: str = ""
    kind: str = ""
    scheme: str = ""
    covered: str = ""
    """The range of firmware that documents or the maker's word speak for."""
    releases: tuple[str, ...] = ()
    """Versions known to exist, as written and in the order of the file."""
    file: str = ""
    fault: Fault | None = None
    """Why the file cannot be read, where it cannot."""
