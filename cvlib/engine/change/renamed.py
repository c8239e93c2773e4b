"""Profiles that have another id than before, recognised by what they say."""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.known.digest import place_content
from cvlib.model.profile import Profile, Setting

LEAST = 0.5
"""The share of settings that two profiles must have alike to be taken for the same."""


def renamed(before: Mapping[str, Profile], after: Mapping[str, Profile]) -> dict[str, str]:
    """The new id for each old one that is gone and whose profile lives on under another.

    Only ids that one of the states lacks are looked at. The most alike go together first, each
    once; profiles that count firmware in different ways are never the same.
    """
    gone = [held for name, held in before.items() if name not in after]
    come = [held for name, held in after.items() if name not in before]
    pairs = sorted(
        ((likeness(old, new), old.id, new.id) for old in gone for new in come), reverse=True
    )
    found: dict[str, str] = {}
    for share, old_id, new_id in pairs:
        if share >= LEAST and old_id not in found and new_id not in found.values():
            found[old_id] = new_id
    return found


def likeness(one: Profile, other: Profile) -> float:
    """How much two profiles are alike, from 0 to 1.

    It is the share of the settings of both that have the same id and the same places. What was
    taken over from standards and blocks counts only where neither has settings of its own, for
    decoders of one maker share that.
    """
    if one.scheme is not other.scheme or one.kind != other.kind:
        return 0.0
    mine, theirs = _own(one), _own(other)
    if not mine and not theirs:
        mine, theirs = dict(one.settings), dict(other.settings)
    both = mine.keys() & theirs.keys()
    alike = sum(_gist(mine[name]) == _gist(theirs[name]) for name in both)
    return alike / max(1, len(mine.keys() | theirs.keys()))


def _own(profile: Profile) -> dict[str, Setting]:
    return {name: held for name, held in profile.settings.items() if not held.origin}


def _gist(setting: Setting) -> list[object]:
    return [place_content(place) for place in setting.places]
