"""Two states of a store side by side: which answers changed, and for which firmware."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.change.review_items import Item, ItemChange, Wording, items_of, wording_of
from cvlib.engine.known.digest import (
    Step,
    content,
    largest,
    place_content,
    step_between,
    touched,
)
from cvlib.engine.known.line import WORDS, answer_facets, same_said, side_by_side
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area
from cvlib.model.facet import Facet
from cvlib.model.profile import Profile, Setting
from cvlib.model.ranges import FirmwareRange, points_in_order


class Kind(StrEnum):
    """How an answer differs from what it was."""

    ADDED = "added"
    """The setting exists, or may exist, where it did not."""
    REMOVED = "removed"
    MOVED = "moved"
    """Other CVs, page or bits, or another second number of the CV."""
    RECODED = "recoded"
    """Other kind, range, scale, unit or names of values."""
    DEFAULT = "default"
    CONDITION = "condition"
    """It exists for other values of another setting."""
    MARKS = "marks"
    """Read-only, volatile and the like."""
    CANDIDATES = "candidates"
    """Disputed before and after, but between other places."""
    BESIDE = "beside"
    """What the documents say where a bench test goes before them."""
    IMPROVED = "improved"
    """Better known than before."""
    LOST = "lost"
    """Not as well known as before."""
    STANDING = "standing"
    """As well known as before, but on other ground."""


_RANK = {
    Standing.DISPUTED: 0,
    Standing.ASSUMED: 1,
    Standing.FAULTY: 1,
    Standing.BEFORE: 2,
    Standing.BEYOND: 2,
    Standing.BETWEEN: 3,
    Standing.DOCUMENTED: 4,
    Standing.BENCH: 5,
}
"""How well an answer is known; a place that a bench test found without effect is no help."""


@dataclass(frozen=True, slots=True)
class SettingChange:
    """One setting whose answer changed in the same way for some firmware."""

    setting: str
    title: str
    kinds: tuple[Kind, ...]
    """The gravest first; never empty."""
    firmware: FirmwareRange
    releases: tuple[str, ...]
    """The known releases among that firmware, oldest first."""
    before: Answer | None
    """Nothing: the profile did not have the setting at all."""
    after: Answer | None

    @property
    def is_area(self) -> bool:
        """Whether it is about CVs without a meaning of their own."""
        sides = (self.before, self.after)
        places = [place for answer in sides if answer for place in answer.places()]
        return bool(places) and all(isinstance(place.coding, Area) for place in places)


@dataclass(frozen=True, slots=True)
class ProfileReview:
    """What changed in one profile; answers first, then what they rest on, then words."""

    before: Profile | None
    """Nothing: the profile is new."""
    after: Profile | None
    changes: tuple[SettingChange, ...] = ()
    items: tuple[Item, ...] = ()
    wording: tuple[Wording, ...] = ()
    step: Step = Step.NONE

    @property
    def id(self) -> str:
        """The id of the profile, as it is now where it still exists."""
        held = self.after or self.before
        return held.id if held else ""

    @property
    def was(self) -> str:
        """The id it had before, where that was another one."""
        if self.before is None or self.after is None or self.before.id == self.after.id:
            return ""
        return self.before.id

    @property
    def is_recounted(self) -> bool:
        """Whether its firmware is counted by another scheme, so that no version means the same."""
        if self.before is None or self.after is None:
            return False
        return self.before.scheme is not self.after.scheme

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all changed."""
        told = self.changes or self.items or self.wording or self.was
        return bool(self.before and self.after) and not told


@dataclass(frozen=True, slots=True)
class StoreReview:
    """What changed in a store."""

    profiles: tuple[ProfileReview, ...]
    """Those in which something changed, by id."""
    step: Step

    @property
    def is_empty(self) -> bool:
        """Whether the two states say the same in the same words."""
        return not self.profiles


def review(
    before: Mapping[str, Profile],
    after: Mapping[str, Profile],
    renamed: Mapping[str, str] | None = None,
    *,
    files_differ: bool = False,
) -> StoreReview:
    """What changed from one state of some profiles to another.

    ``renamed`` gives the new id for an old one. ``files_differ`` says that a file of the store is
    not what it was: that alone makes the step a patch.
    """
    ids = dict(renamed or {})
    found = [_profile_review(held, after.get(ids.get(name, name))) for name, held in before.items()]
    known = {ids.get(name, name) for name in before}
    found += [_profile_review(None, held) for name, held in after.items() if name not in known]
    told = sorted((one for one in found if not one.is_empty), key=lambda one: one.id)
    least = Step.PATCH if files_differ or told else Step.NONE
    return StoreReview(tuple(told), largest(least, *(one.step for one in told)))


def _profile_review(before: Profile | None, after: Profile | None) -> ProfileReview:
    if before is None or after is None:
        return ProfileReview(before, after, step=Step.MINOR if after else Step.MAJOR)
    items, wording = items_of(before, after), wording_of(before, after)
    if before.scheme is not after.scheme:
        return ProfileReview(before, after, (), items, wording, Step.MAJOR)
    old, new = Resolver(before), Resolver(after)
    changes = tuple(_changes(old, new))
    told = {change.setting for change in changes}
    items = (*_unresolved(before, after, told), *items)
    step = step_between(old, new)
    if before.id != after.id:
        step = Step.MAJOR
    elif changes or items or wording:
        step = largest(step, Step.PATCH)
    return ProfileReview(before, after, changes, items, wording, step)


def _changes(before: Resolver, after: Resolver) -> Iterator[SettingChange]:
    old, new = before.profile.settings, after.profile.settings
    asked = touched(before.profile, after.profile)
    for name in dict.fromkeys((*new, *old)):
        if name in asked:
            yield from setting_changes(before, after, name)


def setting_changes(before: Resolver, after: Resolver, name: str) -> Iterator[SettingChange]:
    """The changes of one setting, firmware with the same change together, oldest first."""
    sides = (before, after)
    held = tuple(side.profile.settings.get(name) for side in sides)
    firmware: dict[str, FirmwareRange] = {}
    answers: dict[str, tuple[Answer | None, Answer | None]] = {}
    for span, old, new in side_by_side(before, after, name):
        if kinds_of(old, new):
            key = repr((old and content(old), new and content(new)))
            answers.setdefault(key, (old, new))
            firmware[key] = firmware[key] | span if key in firmware else span
    titled = held[1] or held[0]
    for key, (old, new) in answers.items():
        yield SettingChange(
            name,
            titled.title if titled else name,
            kinds_of(old, new),
            firmware[key],
            _releases(sides, firmware[key]),
            old,
            new,
        )


def _releases(sides: Iterable[Resolver], firmware: FirmwareRange) -> tuple[str, ...]:
    listed = {
        release.version.key: str(release.version)
        for side in sides
        for release in side.profile.releases
        if release.version in firmware
    }
    return tuple(listed[key] for key in points_in_order(listed))


def kinds_of(old: Answer | None, new: Answer | None) -> tuple[Kind, ...]:
    """Every way in which an answer differs from the one before; empty where it does not.

    A setting that the profile does not have counts as one that does not exist.
    """
    exists, existed = _exists(new), _exists(old)
    if old is None or new is None or exists != existed:
        if exists == existed:
            return ()
        return (Kind.ADDED,) if exists else (Kind.REMOVED,)
    if same_said(old, new):
        return ()
    told = answer_facets(old, new)
    is_placed = not (old.is_disputed or new.is_disputed)
    found = list(dict.fromkeys(kind for facet, kind in _KINDS if is_placed and facet in told))
    if old.is_disputed and new.is_disputed and told - WORDS:
        found.append(Kind.CANDIDATES)
    if (old.beside or new.beside) and not same_said(old.documented(), new.documented()):
        found.append(Kind.BESIDE)
    if old.standing is not new.standing:
        found.append(_standing_kind(old.standing, new.standing))
    return tuple(found)


def _exists(answer: Answer | None) -> bool:
    return answer is not None and answer.may_exist


_KINDS = (
    (Facet.CVS, Kind.MOVED),
    (Facet.CODING, Kind.RECODED),
    (Facet.RANGE, Kind.RECODED),
    (Facet.DEFAULT, Kind.DEFAULT),
    (Facet.CONDITION, Kind.CONDITION),
    (Facet.MARKS, Kind.MARKS),
)


def _standing_kind(old: Standing, new: Standing) -> Kind:
    if _RANK[old] == _RANK[new]:
        return Kind.STANDING
    return Kind.IMPROVED if _RANK[new] > _RANK[old] else Kind.LOST


def _unresolved(before: Profile, after: Profile, told: set[str]) -> Iterator[Item]:
    """Settings that are written in another way though no answer for them changed."""
    for name in dict.fromkeys((*after.settings, *before.settings)):
        old, new = before.settings.get(name), after.settings.get(name)
        if name in told or (old and new and _claims(old) == _claims(new)):
            continue
        change = ItemChange.CHANGED if old and new else ItemChange.ADDED
        yield Item("setting", name, change if new else ItemChange.REMOVED)


def _claims(setting: Setting) -> list[object]:
    return [(place.firmware, place.narrowing, place_content(place)) for place in setting.places]
