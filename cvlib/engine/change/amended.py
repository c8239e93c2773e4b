"""What a correction of a profile comes to: the words for it, the diff and the changed answers."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.engine.change.review import ProfileReview, review
from cvlib.model.profile import Profile, Source


@dataclass(frozen=True, slots=True)
class TableLine:
    """What a table of a further document has otherwise about one setting."""

    setting: str
    """Its id; of one that recurs with ``[n]``."""
    what: str
    """moved, recoded, new default, new, gone and the like, as many as hold."""
    was: str
    now: str
    line: int
    """The line of the table; 0 for what is not in it."""
    count: int = 1
    """How many settings it stands for."""


@dataclass(frozen=True, slots=True)
class Amended:
    """A correction that was tried, and perhaps written."""

    form: str
    """The form of the correction, such as bench, place or delete."""
    file: str
    """The file as it is shown."""
    before: Profile
    after: Profile
    title: str
    """What it is about, in a few words."""
    did: tuple[str, ...]
    """What it does, a sentence each."""
    evidence: tuple[Source, ...]
    """The sources that it rests on."""
    notes: tuple[str, ...]
    """What the person should look at."""
    effect: ProfileReview | None
    """Which answers changed, and for which firmware; nothing where not even words did."""
    diff: str
    lines: tuple[TableLine, ...] = ()
    """What a table has otherwise, row by row."""
    is_written: bool = False


def effect_of(before: Profile, after: Profile) -> ProfileReview | None:
    """What a corrected profile answers otherwise than before."""
    found = review({before.id: before}, {after.id: after}).profiles
    return found[0] if found else None
