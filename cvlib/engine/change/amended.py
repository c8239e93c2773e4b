"""What a correction of a profile comes to: the words for it, the diff and the changed answers."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.engine.change.review import ProfileReview, review
from cvlib.model.profile import Profile, Source


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
    is_written: bool = False


def effect_of(before: Profile, after: Profile) -> ProfileReview | None:
    """What a corrected profile answers otherwise than before."""
    found = review({before.id: before}, {after.id: after}).profiles
    return found[0] if found else None
