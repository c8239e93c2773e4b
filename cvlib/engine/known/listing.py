"""The settings that belong to a firmware and those that do not; two firmwares side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cvlib.engine.known.line import (
    WORDS,
    Difference,
    Known,
    Stretch,
    answer_facets,
    differences,
    differing_slots,
    known_at,
    stretches,
    version_within,
)
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.trade_words import Sought, finds
from cvlib.errors import Fault, UndecidedError, did_you_mean, problem
from cvlib.model.answer import Answer
from cvlib.model.cv import FIRST_CV, LAST_CV, Page, Slot, parse_numbers, parse_slot
from cvlib.model.profile import Place, Profile, Setting, is_about
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which settings a person asked for; empty means all of them."""

    words: tuple[str, ...] = ()
    """Each must stand in the id, the title or the help."""
    groups: tuple[str, ...] = ()
    """Groups, or the ids of settings."""
    slots: tuple[Slot, ...] = ()
    """A CV without page stands for that CV on every page."""
    find: tuple[Sought, ...] = ()
    """What to look for by words of the trade; each must find the setting."""

    @classmethod
    def of(
        cls,
        words: Iterable[str],
        groups: Iterable[str],
        cvs: Iterable[str],
        find: Iterable[Sought] = (),
    ) -> Wanted:
        """What a person typed; CVs are written ``27``, ``67-94`` or ``257@16/2``.

        Raises :class:`~cvlib.errors.InputError` for a CV that does not exist.
        """
        slots: list[Slot] = []
        for text in cvs:
            if "-" in text or "," in text:
                slots += map(Slot, parse_numbers(text, FIRST_CV, LAST_CV, "the list of CVs"))
            else:
                slots.append(parse_slot(text))
        return cls(tuple(words), tuple(groups), tuple(slots), tuple(find))

    def wants(self, setting: Setting, places: Iterable[Place]) -> bool:
        """Whether a setting with these places is one of those asked for."""
        if self.groups and not is_about(self.groups, setting.id):
            return False
        said = f"{setting.id} {setting.title} {setting.help}"
        text = said.casefold()
        if not all(finds(word, said) for word in self.find):
            return False
        if not all(word.casefold() in text for word in self.words):
            return False
        return not self.slots or any(self._meets(place) for place in places)

    def _meets(self, place: Place) -> bool:
        own = [field.slot for field in place.fields]
        if place.also_at is not None:
            own.append(Slot(place.also_at))
        return any(
            slot.cv == asked.cv and asked.page in (None, slot.page)
            for slot in own
            for asked in self.slots
        )


@dataclass(frozen=True, slots=True)
class Entry:
    """One setting of a profile and what is known of it at the firmware."""

    setting: Setting
    answer: Answer


@dataclass(frozen=True, slots=True)
class Listing:
    """The settings asked for, at one firmware."""

    profile: Profile
    version: FirmwareVersion
    stated: bool
    """Whether the person named the firmware; if not, the profile knows one generation only."""
    known: Known
    """How the firmware lies to the documents of the profile."""
    present: tuple[Entry, ...]
    """Settings that exist there, or may exist where that is disputed; in CV order."""
    absent: tuple[Entry, ...]
    """Settings asked for that do not exist there; in the order of the profile."""


@dataclass(frozen=True, slots=True)
class Compared:
    """What one firmware has that another has not, matched by setting."""

    before: Listing
    after: Listing
    differences: tuple[Difference, ...]
    slots: tuple[Slot, ...]
    """The CVs that mean something else, in order."""


def listing(resolver: Resolver, firmware: str, asked: Wanted) -> Listing:
    """The settings asked for at a firmware.

    Raises :class:`~cvlib.errors.UndecidedError` where no firmware is given and the profile knows
    several generations, :class:`~cvlib.errors.InputError` for a group that does not exist.
    """
    profile = resolver.profile
    check_groups(profile, asked.groups)
    version, known = _decided(resolver, firmware)
    entries = [
        Entry(profile.settings[name], answer) for name, answer in resolver.at(version).items()
    ]
    present = [
        entry
        for entry in entries
        if not entry.answer.is_absent and asked.wants(entry.setting, entry.answer.places())
    ]
    absent = [
        entry
        for entry in entries
        if entry.answer.is_absent and asked.wants(entry.setting, entry.setting.places)
    ]
    present.sort(key=_by_place)
    return Listing(profile, version, bool(firmware), known, tuple(present), tuple(absent))


def compared(before: Listing, after: Listing) -> Compared:
    """What differs from one listing to the other; both were asked for the same settings."""
    old, new = (
        {entry.setting.id: entry.answer for entry in (*side.present, *side.absent)}
        for side in (before, after)
    )
    order = {entry.setting.id: at for at, entry in enumerate((*after.present, *before.present))}
    found = sorted(differences(old, new), key=lambda one: order.get(one.setting, len(order)))
    return Compared(before, after, tuple(found), differing_slots(found))


def _decided(resolver: Resolver, firmware: str) -> tuple[FirmwareVersion, Known]:
    if firmware:
        version = one_firmware(resolver, firmware)
        return version, known_at(resolver.coverage, version.key)
    found = stretches(resolver)
    if all(_alike(one.answers, found[0].answers) for one in found):
        covered = next((one for one in found if one.known is Known.COVERED), found[-1])
        return version_within(resolver.profile, covered), covered.known
    raise _undecided(resolver.profile, found)


def _alike(one: tuple[Answer, ...], other: tuple[Answer, ...]) -> bool:
    """Whether two stretches say the same of every setting, however well they know it."""
    return not any(answer_facets(a, b) - WORDS for a, b in zip(one, other, strict=True))


def _undecided(profile: Profile, found: tuple[Stretch, ...]) -> UndecidedError:
    reads = list(dict.fromkeys(str(part.field.slot) for part in profile.parts))
    told = f" The decoder answers its version in {', '.join(reads)}." if reads else ""
    first = Fault(
        f"{profile.id}: the settings depend on the firmware, and {len(found)} stretches fit.",
        advice=f"Give one with --firmware.{told}",
    )
    texts = [_stretch_text(profile, one) for one in found]
    if len(texts) > MOST_LINES:
        texts = ["; ".join(texts)]
    return UndecidedError(first, *(Fault(f"{profile.id}: {text}.") for text in texts))


def _stretch_text(profile: Profile, stretch: Stretch) -> str:
    releases = [str(r.version) for r in profile.releases if r.version in stretch.firmware]
    known = f" ({', '.join(releases)})" if releases else ""
    return f"{stretch.firmware.text()}, {KNOWN_WORDS[stretch.known]}{known}"


MOST_SHOWN = 80
"""Characters shown of a group that does not exist."""

MOST_LINES = 18
"""Stretches that fit up to which each gets a line of its own."""

KNOWN_WORDS = {
    Known.COVERED: "documented",
    Known.GAP: "gap: no document",
    Known.BEFORE: "before all documents",
    Known.BEYOND: "beyond all documents",
}
"""How a stretch lies to the documents, in words."""


def check_groups(profile: Profile, groups: Iterable[str]) -> None:
    """Refuse a name that is neither a group nor a setting of the profile."""
    for group in groups:
        if not any(is_about((group,), name) for name in profile.settings):
            known = dict.fromkeys(setting.group for setting in profile.settings.values())
            raise problem(
                f'No group "{group[:MOST_SHOWN]}" in {profile.id}.',
                advice=did_you_mean(group[:MOST_SHOWN], [*known, *profile.settings])
                or f"Groups are {', '.join(known)}.",
            )


def _by_place(entry: Entry) -> tuple[int, Page, int, str]:
    fields = next((place.fields for place in entry.answer.places() if place.fields), ())
    if not fields:
        return 0, Page(-1, -1), 0, entry.setting.id
    return *fields[0].slot.order, fields[0].shift, ""
