"""A profile through all firmware: its generations, and settings one by one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.known.line import Known, Stretch
from cvlib.engine.known.timeline import Generation, Life, Timeline
from cvlib.model.answer import Answer, Side
from cvlib.model.profile import Place, Profile
from cvlib.render.phrases import counted, firmware_words
from cvlib.render.places import Data, default_text, place_data, values_text
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)
from cvlib.render.views.overview import overview
from cvlib.render.views.settings import SIDES, short_where, standing_line
from cvlib.render.views.sources import source_ids, source_texts

KNOWN_WORDS = {
    Known.COVERED: "documented",
    Known.GAP: "gap: no document",
    Known.BEFORE: "before: no document",
    Known.BEYOND: "beyond: no document",
}
"""How a stretch of firmware lies to the documents."""

MOST_IN_FULL = 12
"""Settings asked for up to which each is told in full."""


def view(timeline: Timeline, *, one_by_one: bool = False) -> list[Block]:
    """The generations and what changes; some settings, or all with ``one_by_one``, in full."""
    profile = timeline.profile
    blocks: list[Block] = [
        Heading(f"{profile.maker} {profile.name} through all firmware", 1),
        Paragraph((Piece(profile.id, Role.CODE),)),
    ]
    if timeline.whole:
        blocks += [Gap(), *_generations(timeline.generations)]
    if _is_brief(timeline) and not one_by_one:
        blocks += [Gap(), Heading("Settings that change", 2), overview(timeline.lives)]
    else:
        for life in timeline.lives:
            blocks += [Gap(), *_life(profile, life)]
    return [*blocks, Gap(), *_closing(timeline, one_by_one=one_by_one)]


def _is_brief(timeline: Timeline) -> bool:
    """Whether the settings are too many to be told in full unless that is asked for."""
    return bool(timeline.lives) and (timeline.whole or len(timeline.lives) > MOST_IN_FULL)


def data(timeline: Timeline) -> Data:
    """The timeline as data; docs/schema/output-timeline.schema.json describes it."""
    profile = timeline.profile
    return {
        "profile": profile.id,
        "maker": profile.maker,
        "name": profile.name,
        "generations": [_generation_data(one) for one in timeline.generations],
        "settings": [_life_data(profile, life) for life in timeline.lives],
        "unchanged": timeline.steady,
    }


def _generations(generations: Iterable[Generation]) -> Iterator[Block]:
    """A row for each stretch: many stretches make the table long and not wide."""
    columns = (
        Column("firmware"),
        Column("known releases"),
        Column("how known"),
        Column("settings"),
        Column("changes"),
    )
    rows = [
        (
            plain(firmware_words(one.firmware.text())),
            plain(", ".join(str(release.version) for release in one.releases) or "-"),
            _known(one),
            _count(one),
            plain(_changes(one)),
        )
        for one in generations
    ]
    yield Table(columns, tuple(rows))
    yield Paragraph(
        faint(
            "Changes are counted setting by setting, against the last firmware before for which "
            "a document speaks."
        )
    )


def _known(one: Generation) -> Line:
    words = f"{KNOWN_WORDS[one.known]}{' in part' if one.partly else ''}"
    if one.tests:
        words += ", bench test"
    return (Piece(words, Role.PLAIN if one.known is Known.COVERED else Role.FAINT),)


def _count(one: Generation) -> Line:
    if not one.disputed:
        return plain(str(one.settings))
    return Piece(f"{one.settings}, "), Piece(f"{one.disputed} disputed", Role.WARNING)


def _changes(one: Generation) -> str:
    if one.changes is None:
        return "-"
    counts = {
        "added": one.changes.added,
        "removed": one.changes.removed,
        "moved": one.changes.moved,
        "recoded": one.changes.recoded,
    }
    return ", ".join(f"{number} {name}" for name, number in counts.items() if number) or "none"


def _life(profile: Profile, life: Life) -> Iterator[Block]:
    setting = life.setting
    yield Heading(f"{setting.title} ({setting.id})", 2)
    if setting.help:
        yield Paragraph(plain(setting.help))
    columns = (
        Column("firmware"),
        Column("standing", shrinks=False),
        Column("place, values"),
        Column("sources"),
    )
    rows = [row for stretch in life.stretches for row in _rows(profile, stretch)]
    yield Table(columns, tuple(rows))


def _rows(profile: Profile, stretch: Stretch) -> Iterator[tuple[Line, ...]]:
    answer = stretch.answers[0]
    gap = (Piece("\n"), Piece(KNOWN_WORDS[stretch.known], Role.FAINT))
    firmware = (
        Piece(firmware_words(stretch.firmware.text())),
        *(gap if stretch.known is not Known.COVERED else ()),
    )
    for number, place in enumerate(answer.possible()):
        sources = source_texts(profile, answer, place, stretch.firmware) if place else []
        yield (
            plain("") if number else firmware,
            faint("or") if number else standing_line(answer.standing),
            _place(answer, place),
            plain("; ".join(sources)),
        )
    for failed in answer.failures():
        for place in failed.places():
            sources = source_texts(profile, failed, place, stretch.firmware)
            yield (
                *(plain(""), faint("tried"), _place(failed, place)),
                plain("; ".join(sources)),
            )


def _place(answer: Answer, place: Place | None) -> Line:
    if place is None:
        side = answer.side
        known = f", known to {SIDES[side]} firmware" if side and side is not Side.NEITHER else ""
        return plain(f"does not exist{known}")
    default = default_text(place)
    more = f"{values_text(place.coding)}{f', default {default}' if default else ''}"
    return (Piece(short_where(place)), Piece("\n"), *faint(more))


def _closing(timeline: Timeline, *, one_by_one: bool) -> Iterator[Block]:
    said = []
    if not timeline.lives:
        said.append("No setting changes its place at any firmware.")
    elif timeline.whole:
        moving = sum(life.changes for life in timeline.lives)
        said.append(f"{counted(moving, 'setting changes', 'settings change')}.")
    if timeline.steady:
        never = counted(timeline.steady, "setting never changes", "settings never change")
        said.append(f"{never}.")
    if said:
        yield Paragraph(plain(" ".join(said)))
    brief = _is_brief(timeline) and not one_by_one
    ways = ["--setting ID tells one in full"] if brief else []
    ways += ["--all shows every setting"] if timeline.steady else []
    if ways:
        yield Paragraph(faint(f"More: {'; '.join(ways)}."), hang=2)


def _generation_data(one: Generation) -> Data:
    changes = one.changes
    return {
        "firmware": one.firmware.text(),
        "known": one.known.value,
        "partly": one.partly,
        "releases": [
            {"version": str(r.version), "date": r.date, "label": r.label} for r in one.releases
        ],
        "tests": list(one.tests),
        "settings": one.settings,
        "disputed": one.disputed,
        "changes": None
        if changes is None
        else {
            "added": changes.added,
            "removed": changes.removed,
            "moved": changes.moved,
            "recoded": changes.recoded,
        },
    }


def _life_data(profile: Profile, life: Life) -> Data:
    """A setting with each of its places once; stretches name them by number, from 0."""
    places: list[Place] = []
    stretches: list[Data] = []
    for stretch in life.stretches:
        answer = stretch.answers[0]
        shown = answer.candidates or (answer.place,)
        places += [place for place in shown if place is not None and place not in places]
        sources = (source_ids(profile, answer, place, stretch.firmware) for place in shown if place)
        stretches.append(
            {
                "firmware": stretch.firmware.text(),
                "known": stretch.known.value,
                "standing": answer.standing.value,
                "side": answer.side.value if answer.side else None,
                "places": [None if place is None else places.index(place) for place in shown],
                "sources": list(dict.fromkeys(id for ids in sources for id in ids)),
            }
        )
    return {
        "id": life.setting.id,
        "title": life.setting.title,
        "group": life.setting.group,
        "changes": life.changes,
        "places": [place_data(place) for place in places],
        "stretches": stretches,
    }
