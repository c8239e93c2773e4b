"""Everything to be said about who a decoder is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cvlib.engine.bench.evidence import Evidence
from cvlib.engine.bench.identify import Candidate, Identified
from cvlib.engine.bench.next_read import Suggestion
from cvlib.engine.bench.situation import Hint
from cvlib.errors import Fault
from cvlib.model.cv import Slot


@dataclass(frozen=True, slots=True)
class Told:
    """A candidate with what each read says of it."""

    candidate: Candidate
    evidence: tuple[Evidence, ...]
    """What speaks for it first."""
    titles: Mapping[Slot, tuple[str, ...]]
    """For each CV read the titles of the settings that live there; empty where not looked up."""


@dataclass(frozen=True, slots=True)
class Identification:
    """Everything to be said about who a decoder is."""

    found: Identified
    told: tuple[Told, ...]
    suggestions: tuple[Suggestion, ...]
    hints: tuple[Hint, ...]
    is_saved: bool
    """Whether the reads are saved values of a file, and not answers of a decoder on the bench."""
    profile: str = ""
    """The one profile that was looked at; empty: all were."""
    name: str = ""
    """The loco or list the values are from."""
    version: str = ""
    """For saved values: the firmware that the version CVs among them name, if they do."""
    rival: str = ""
    """For saved values: the firmware of the nearest other generation."""
    versus: tuple[Evidence, ...] = ()
    """For saved values: what tells the best candidate from that other generation."""
    faults: tuple[Fault, ...] = ()
    """Profiles that could not be looked at."""
