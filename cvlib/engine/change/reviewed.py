"""What comes out of a review: two states of a store, what changed, and which locos are touched."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cvlib.engine.change.effect import DecoderEffect
from cvlib.engine.change.review import StoreReview
from cvlib.engine.known.digest import Step
from cvlib.errors import Fault, Position


@dataclass(frozen=True, slots=True)
class StateName:
    """Which state of a store is meant."""

    called: str
    """As the person called it; "working files" where no revision was given."""
    commit: str
    """The full name of the commit; empty for the working files."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A profile that cannot be read in one of the states."""

    id: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Reviewed:
    """The review of a store between two states."""

    before: StateName
    after: StateName
    folder: str
    """The folder of the store in its repository."""
    review: StoreReview
    unchanged: int
    """Profiles that nothing changed in, looked at by their files alone."""
    broken_before: tuple[Broken, ...] = ()
    broken_after: tuple[Broken, ...] = ()
    older: Mapping[str, str] = field(default_factory=dict)
    """The files that had an older format before, with the format they name."""
    tag: str = ""
    """The newest tag of a store version behind the first state; empty where there is none."""
    version: str = ""
    """The version the store must have next, counted from the tag; empty without a tag."""
    effects: tuple[DecoderEffect, ...] = ()
    """Decoders of the locos asked about whose profile changed."""
    untouched: int = 0
    """Decoders of the locos asked about that nothing changed for."""
    faults: tuple[Fault, ...] = ()
    """What is wrong with loco files that could not be used."""
    positions: Mapping[str, tuple[Position, ...]] = field(default_factory=dict)
    """Of each profile that changed, where it is written, and then where each of its changes is.

    Of each that cannot be read now, where its faults are. Files are named from the top of the
    repository; what is gone is where it was.
    """

    @property
    def step(self) -> Step:
        """The step from the first state to the second."""
        return self.review.step
