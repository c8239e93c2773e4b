"""One correction while it is made: what was asked for, the draft, and what is to be told of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any, TypeAlias

from cvlib.engine.change.amended import TableLine
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError, did_you_mean, problem
from cvlib.files.edit import Draft, cited_source
from cvlib.files.store import Store
from cvlib.files.toml_tree import data_of
from cvlib.files.typed_keys import parse_key
from cvlib.files.written import written_setting
from cvlib.model.facet import same_placing
from cvlib.model.profile import Place, Profile, Setting, Source
from cvlib.model.ranges import FirmwareRange, is_older
from cvlib.model.versions import FirmwareVersion

_BOUNDING = re.compile(r"(?:==|>=|<=)\s*([^\s,<>=]+)")
_EXISTING = re.compile(r"(?:==|<=|>(?!=))\s*([^\s,<>=]+)")

Typed: TypeAlias = str | tuple[str, ...] | bool
"""What a person gave for a key: words, several of them, or that a switch is on."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A correction as a person asks for it."""

    form: str
    profile: str
    subjects: tuple[str, ...]
    """What it is about: settings, or the id or version of what is new."""
    given: Mapping[str, Typed]
    """Each key that was given, as it was typed."""

    def text(self, key: str, usual: str = "") -> str:
        """The words given for a key."""
        held = self.given.get(key, "")
        return held.strip() or usual if isinstance(held, str) else usual

    def needed(self, key: str) -> str:
        """The same; raises where nothing was given."""
        found = self.text(key)
        if not found:
            raise problem(f"{self.form} needs --{key}.", advice=_see_help(self.form))
        return found

    def several(self, key: str) -> tuple[str, ...]:
        """What was given for a key that may be repeated."""
        held = self.given.get(key, ())
        found = held if isinstance(held, tuple) else (str(held),)
        return tuple(one.strip() for one in found if one.strip())

    def is_on(self, key: str) -> bool:
        """Whether a switch was given."""
        return self.given.get(key) is True

    def subject(self, what: str) -> str:
        """The only thing that it is about."""
        if len(self.subjects) != 1:
            found = f"not {len(self.subjects)}" if self.subjects else "and none is given"
            raise problem(f"{self.form} needs one {what}, {found}.", advice=_see_help(self.form))
        return self.subjects[0].strip()

    def keys(self, *names: str, kind: str = "") -> dict[str, Any]:
        """The given ones of some keys as values of the format; every fault at once."""
        made: dict[str, Any] = {}
        refusals: list[InputError] = []
        for name in names:
            text = self.text(name)
            if not text:
                continue
            try:
                made[name] = parse_key(name, text, kind)
            except InputError as error:
                refusals.append(error)
        if refusals:
            raise InputError(*(fault for error in refusals for fault in error.faults))
        return made


@dataclass(slots=True)
class Told:
    """What is to be told of a correction."""

    title: str = ""
    did: list[str] = field(default_factory=list)
    """What it does, a sentence each."""
    evidence: list[str] = field(default_factory=list)
    """Ids of the sources that it rests on."""
    notes: list[str] = field(default_factory=list)
    """What the person should look at."""
    lines: list[TableLine] = field(default_factory=list)
    """What a table has otherwise, row by row."""


class Change:
    """A correction of one profile."""

    def __init__(self, profile: Profile, draft: Draft, today: date, store: Store) -> None:
        self.store = store
        self.profile = profile
        self.draft = draft
        self.today = today
        self.told = Told()

    @cached_property
    def resolver(self) -> Resolver:
        """The answers before the correction."""
        return Resolver(self.profile)

    def version(self, text: str) -> FirmwareVersion:
        """The firmware that a text names; it is added to the releases where it is not known."""
        version = self.profile.version(text)
        if self.profile.release_of(version) is None:
            self.add_release({"version": str(version)})
            self.told.did.append(f"Firmware {version} is added to the known releases.")
        return version

    def add_release(self, data: Mapping[str, Any]) -> None:
        """Add a release in the order of the versions."""
        if "decoder" not in self.draft.root.table:
            raise problem(
                f"firmware {data['version']} is not listed, and a block lists none.",
                advice="Add it first, with the form release.",
            )
        tables = self.draft.tables("firmware", "release")
        new = self.profile.version(data["version"])
        at = len(tables)
        for number, node in enumerate(tables):
            held = self.profile.version(str(node.table["version"].value))
            if is_older(new, held):
                at = number
                break
        self.draft.add(data, "firmware", "release", at=at)

    def source(self, id: str) -> str:
        """The id of a source that the profile has; raises with the nearest."""
        if id not in self.profile.sources:
            raise problem(
                f'there is no source "{id}" in {self.profile.id}.',
                advice=did_you_mean(id, self.profile.sources)
                or "Add it first, with the form document or bench.",
            )
        return id

    def cited(self, sources: list[Any]) -> None:
        """Note the sources that new citations call on."""
        for one in sources:
            id = cited_source(one)
            if id not in self.told.evidence:
                self.told.evidence.append(self.source(id))

    def documents(self, sources: Iterable[Any]) -> list[Source]:
        """The documents and the maker's words among what citations call on."""
        found = (self.profile.sources.get(cited_source(one)) for one in sources)
        return [one for one in found if one is not None and one.is_document]

    def said_by(self, sources: Iterable[Source]) -> FirmwareRange:
        """All firmware that some sources speak for."""
        return FirmwareRange.union((one.firmware for one in sources), self.profile.scheme)

    def note_repeat(self, id: str, what: str, more: str = "") -> None:
        """Say for which other settings something counts, where one that recurs is written once."""
        alike = [one for one in self.profile.settings if without_index(one) == without_index(id)]
        if len(alike) > 1:
            self.told.notes.append(
                f'"{without_index(id)}" is written once for all {len(alike)}: {what} for '
                f"{alike[0]} to {alike[-1]}{more}."
            )

    def named_for_all(self, id: str) -> list[str]:
        """The documents that count for whatever place of a setting names none itself."""
        decoder = data_of(self.draft.root).get("decoder", {})
        held = self.documents(decoder.get("sources", ()))
        return [one.id for one in held if one.speaks_for(id)]

    def own(self, id: str, *, is_cited: bool = False) -> Setting:
        """A setting of the profile, written in its own file from now on if it was not.

        ``is_cited``: its place is given a document. Raises InputError where none is, and writing it
        down would make the documents of the whole decoder speak for it.
        """
        setting = self.profile.setting(id)
        if setting.origin and self.draft.setting(id) is None:
            if "decoder" not in self.draft.root.table:
                raise problem(f'"{id}" is not in this block.', advice="Leave --in-block out.")
            bare = [one for one in setting.places if not self.documents(map(str, one.citations))]
            named = self.named_for_all(id)
            if named and len(bare) > is_cited:
                raise problem(
                    f'"{id}" is only assumed by {setting.origin}; written into this profile it '
                    f"would count as listed in {' and '.join(named)}.",
                    advice="Look whether a document lists it, and name that one first, as in "
                    f'"cvlib amend place {self.profile.id} {id} --source {named[0]}:31".',
                )
            self.draft.add_setting(written_setting(setting, self.profile.sources))
            self.told.notes.append(
                f'"{id}" was taken over from {setting.origin}. It now stands in this profile, and '
                "what changes there no longer reaches it."
            )
        return setting


def numbers_of(setting: Setting, likely: Iterable[Place], version: FirmwareVersion) -> list[int]:
    """The numbers, from 0, of the places of a setting that an answer at a firmware means.

    Where the answer is put together out of several, it is the one whose documents speak there.
    """
    found: set[int] = set()
    for one in likely:
        alike = [n for n, place in enumerate(setting.places) if same_placing(place, one)]
        here = [n for n in alike if version in setting.places[n].firmware]
        exact = [n for n in alike if setting.places[n] == one]
        found.update(exact or here or alike)
    return sorted(found)


def existing_versions(firmware: str | Iterable[str]) -> list[str]:
    """The versions that a range takes to exist; ``>=`` and ``<`` only name a border.

    >>> existing_versions(">=4.0, <=4.3.9")
    ['4.3.9']
    """
    texts = [firmware] if isinstance(firmware, str) else firmware
    return [version for text in texts for version in _EXISTING.findall(text)]


def bounding_versions(firmware: str | Iterable[str]) -> list[str]:
    """The versions that a document names as those it speaks for, both ends of its range.

    >>> bounding_versions(">=4.0, <=4.3.9")
    ['4.0', '4.3.9']
    """
    texts = [firmware] if isinstance(firmware, str) else firmware
    return [version for text in texts for version in _BOUNDING.findall(text)]


def _see_help(form: str) -> str:
    return f'"cvlib amend {form} --help" shows what there is.'
