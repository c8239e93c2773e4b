"""Settings that change, one row each: their documented places, oldest first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.timeline import Life
from cvlib.model.answer import Standing
from cvlib.model.facet import same_placing
from cvlib.model.profile import Place
from cvlib.model.ranges import FirmwareRange
from cvlib.render.phrases import firmware_words
from cvlib.render.places import values_text
from cvlib.render.view import Column, Line, Piece, Role, Table
from cvlib.render.views.settings import named, short_where

ALIKE = 3
"""Settings that recur, from how many of the same story on they share a row."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """Firmware over which documents give a setting the same place, or none."""

    firmware: FirmwareRange
    place: Place | None


def overview(lives: Iterable[Life]) -> Table:
    """One row for each setting, or for several that recur and changed in the same way."""
    rows = [_row(group) for group in alike(lives)]
    return Table((Column("setting"), Column("documented places, oldest first")), tuple(rows))


def alike(lives: Iterable[Life]) -> list[list[Life]]:
    """The settings one by one; those that recur and changed in the same way together."""
    groups: dict[tuple[object, ...], list[Life]] = {}
    for life in lives:
        groups.setdefault(_gist(life), []).append(life)
    return [
        shared
        for group in groups.values()
        for shared in ([group] if len(group) >= ALIKE else [[life] for life in group])
    ]


def chapters(life: Life) -> tuple[Chapter, ...]:
    """The documented places of a setting in order; what no document says is left out."""
    found: list[Chapter] = []
    for stretch in life.stretches:
        answer = stretch.answers[0]
        told = answer.documented()
        if told.standing is not Standing.DOCUMENTED or (told.place is None and not found):
            continue
        last = found[-1] if found else None
        if last and same_placing(last.place, told.place):
            found[-1] = Chapter(last.firmware | stretch.firmware, last.place)
        else:
            found.append(Chapter(stretch.firmware, told.place))
    return tuple(found)


def _row(lives: list[Life]) -> tuple[Line, ...]:
    first, last = lives[0].setting, lives[-1].setting
    more = (Piece("\n"), Piece(f"and {len(lives) - 1} more, up to {last.id}", Role.FAINT))
    name = (*named(first.title, first.id), *(more if len(lives) > 1 else ()))
    return name, tuple(_told(lives[0]))


def _told(life: Life) -> Iterator[Piece]:
    """One line for each chapter; the values too where they are what changed."""
    story = chapters(life)
    codings = {chapter.place.coding for chapter in story if chapter.place}
    for number, chapter in enumerate(story):
        yield Piece(f"{chr(10) if number else ''}{_span(chapter.firmware)}: ")
        if chapter.place is None:
            yield Piece("gone")
            continue
        yield Piece(short_where(chapter.place), Role.STRONG)
        if len(codings) > 1:
            yield Piece(f", {values_text(chapter.place.coding)}", Role.FAINT)


def _span(firmware: FirmwareRange) -> str:
    """From the oldest to the newest of it, whatever lies between."""
    return firmware_words(
        FirmwareRange.between(firmware.oldest, firmware.spans[-1][1], firmware).text()
    )


def _gist(life: Life) -> tuple[object, ...]:
    """What settings that recur share when they changed in the same way."""
    story = tuple(
        (_span(chapter.firmware), chapter.place.coding if chapter.place else None)
        for chapter in chapters(life)
    )
    return without_index(life.setting.id), story
