"""Firmware ranges and releases word for word, as a profile file writes them, each with its spot."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from cvlib.engine.lint.finding import Spot, Subject
from cvlib.model.profile import Citation
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version

_COMPARISON = re.compile(r"(==|>=|<=|>|<)\s*([^\s,<>=]+)", re.ASCII)
_RANGED = ("source", "rule", "advisory", "question")


@dataclass(frozen=True, slots=True)
class WrittenRange:
    """A firmware range as a file writes it."""

    spot: Spot
    """Of its key."""
    texts: tuple[str, ...]
    is_list: bool

    def at(self, number: int) -> Spot:
        """The spot of one of its texts."""
        return _below(self.spot, number) if self.is_list else self.spot


@dataclass(frozen=True, slots=True)
class Bound:
    """One comparison of a range."""

    spot: Spot
    sign: str
    text: str
    """The version as it is spelt."""
    version: FirmwareVersion

    @property
    def table(self) -> tuple[str, str]:
        """The table that it stands in."""
        return self.spot.table, self.spot.id


@dataclass(frozen=True, slots=True)
class WrittenRelease:
    """A release as the file lists it."""

    text: str
    version: FirmwareVersion
    date: str
    """ISO date, or empty."""

    @property
    def spot(self) -> Spot:
        """Where its version stands."""
        return Spot("firmware.release", self.text, key=("version",))


def ranges_of(data: Mapping[str, Any]) -> Iterator[WrittenRange]:
    """Every firmware range that a profile file writes, in the order of its kinds of tables."""
    for at, entry in entries_of(data):
        yield from _range(entry, Spot("decoder", key=("follows", at)))
    for at, answer in enumerate(data.get("identity", {}).get("answers", ())):
        yield from _range(answer, Spot("identity", key=("answers", at)))
    for table in _RANGED:
        for one in data.get(table, ()):
            yield from _range(one, Spot(table, one["id"]))
    for setting in data.get("setting", ()):
        for spot, place in places_of(setting):
            yield from _range(place, spot)


def places_of(setting: Mapping[str, Any]) -> Iterator[tuple[Spot, Mapping[str, Any]]]:
    """The place tables of a setting; those that say that it is not there are no places of it."""
    number = 0
    for at, place in enumerate(setting.get("place", ())):
        if place.get("absent"):
            yield Spot("setting", setting["id"], key=("place", at)), place
        else:
            yield Spot("setting", setting["id"], number), place
            number += 1


def entries_of(data: Mapping[str, Any], name: str = "") -> Iterator[tuple[int, Mapping[str, Any]]]:
    """What a profile follows, entry by entry, or those of one name, each with its number."""
    for at, entry in enumerate(data.get("decoder", {}).get("follows", ())):
        held = entry if isinstance(entry, Mapping) else {"from": entry}
        if name in ("", held["from"]):
            yield at, held


def citations_of(table: Mapping[str, Any]) -> Iterator[Citation]:
    """The sources that a table of a file names, with their pages."""
    for one in table.get("sources", ()):
        if isinstance(one, Mapping):
            yield Citation(one["source"], one.get("page", ""))
        else:
            source, _, page = one.partition(":")
            yield Citation(source, page)


def _range(table: Mapping[str, Any], spot: Spot) -> Iterator[WrittenRange]:
    given = table.get("firmware")
    if given:
        is_list = not isinstance(given, str)
        yield WrittenRange(_below(spot, "firmware"), tuple(given) if is_list else (given,), is_list)


def _below(spot: Spot, key: str | int) -> Spot:
    return Spot(spot.table, spot.id, spot.place, (*spot.key, key))


def bounds_of(subject: Subject) -> Iterator[Bound]:
    """Every comparison of every range."""
    scheme = subject.profile.scheme
    for written in ranges_of(subject.data):
        for at, text in enumerate(written.texts):
            for sign, version in _COMPARISON.findall(text):
                yield Bound(written.at(at), sign, version, version_of(version, scheme))


def releases_of(subject: Subject) -> list[WrittenRelease]:
    """The releases as the file lists them."""
    scheme = subject.profile.scheme
    found = []
    for table in subject.data.get("firmware", {}).get("release", ()):
        text, day = table["version"], table.get("date")
        found.append(WrittenRelease(text, version_of(text, scheme), str(day)[:10] if day else ""))
    return found


@lru_cache(maxsize=4096)
def meant_by(text: str, scheme: Scheme) -> FirmwareRange:
    """The range that one text of a file that could be read stands for."""
    return FirmwareRange.parse(text, scheme)


@lru_cache(maxsize=4096)
def version_of(text: str, scheme: Scheme) -> FirmwareVersion:
    """The version that a text of a file that could be read stands for."""
    return parse_version(text, scheme)
