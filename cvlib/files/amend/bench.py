"""A bench test written into a profile: what was seen of which settings at one firmware."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import where_text
from cvlib.errors import problem
from cvlib.files.amend.change import Change, Wish, numbers_of
from cvlib.files.edit import cite, cited_sources
from cvlib.files.typed_keys import parse_key, parse_verdict
from cvlib.model.cv import Slot, parse_slot
from cvlib.model.profile import Place, Setting, SourceKind, Verdict
from cvlib.model.versions import FirmwareVersion

_VERBS = {
    Verdict.WORKS: "works",
    Verdict.UNRELIABLE: "acts, but not as the handbook says,",
    Verdict.NO_EFFECT: "has no effect",
}


@dataclass(frozen=True, slots=True)
class Seen:
    """What a bench test saw of one place of a setting."""

    setting: str
    slot: Slot | None
    """The CV that was tried; nothing where the setting has only one place to try."""
    at: str
    """A firmware that has the place, where several are on that CV; empty: not said."""
    verdict: Verdict


def bench(change: Change, wish: Wish) -> None:
    """Add a bench test, or further settings to one that is there."""
    seen = [seen_of(text, wish) for text in wish.subjects]
    if not seen:
        raise problem(
            "bench needs a setting.", advice='Give it as in "braking.mode=works"; several may be.'
        )
    version = change.version(wish.needed("firmware"))
    source = _source(change, wish, version)
    for one in seen:
        setting = change.own(one.setting)
        number = tested_place(change.resolver, setting, version, one.slot, one.at)
        node = change.draft.place(setting.id, number)
        said = dict(cited_sources(node)).get(source)
        if said is not None:
            raise problem(
                f'"{source}" already speaks for this place of "{setting.id}": {said or "cited"}.',
                advice="One bench test says one thing of a place. It is corrected with the form "
                f"place, as in --source {source}={one.verdict.value}.",
            )
        citation = {"source": source, "verdict": one.verdict.value, **wish.keys("page")}
        cite(node, citation)
        where = where_text(setting.places[number])
        change.told.did.append(
            f"{setting.title} ({setting.id}) at {where}: {_VERBS[one.verdict]} in {version}."
        )
        change.note_repeat(setting.id, "the test counts", ", also those that were not tried")
    titles = list(dict.fromkeys(change.profile.setting(one.setting).title for one in seen))
    shown = titles if len(titles) < 4 else [*titles[:2], f"{len(titles) - 2} more"]
    change.told.title = f"{', '.join(shown)} on the bench at {version}"
    change.told.evidence.append(source)


def tested_place(
    resolver: Resolver,
    setting: Setting,
    version: FirmwareVersion,
    slot: Slot | None,
    at: str,
) -> int:
    """The number of the place that a bench test tried: the one on the CV, else the only one there.

    Of several places on one CV it is the one that the firmware ``at`` has.
    Raises InputError where none or several come into question.
    """
    answer = resolver.answer(setting, version.key)
    likely = [*answer.places(), *answer.tried]
    asked = setting.places
    if slot is not None:
        asked = tuple(p for p in asked if any(field.slot == slot for field in p.fields))
        likely = [place for place in likely if place in asked] or list(asked)
    if at:
        held = resolver.profile.version(at)
        asked = tuple(place for place in asked if held in place.firmware)
        there = resolver.answer(setting, held.key).places()
        likely = [place for place in asked if place in there] or list(asked)
        if not asked:
            raise problem(
                f'no such place of "{setting.id}" is in firmware {held}.',
                advice=f"Its places: {_choices(setting, setting.places)}.",
            )
    numbers = numbers_of(setting, likely, version)
    if len(numbers) == 1:
        return numbers[0]
    if not asked:
        raise problem(
            f'no place of "{setting.id}" is on {slot}.',
            advice=f"Its places: {_choices(setting, setting.places)}. Another one is added with "
            "the form place and --new.",
        )
    if not numbers:
        raise problem(
            f'"{setting.id}" has no place in firmware {version} by what is known.',
            advice=f"Name the CV that was tried: {_choices(setting, setting.places)}.",
        )
    raise problem(
        f'it is not clear which place of "{setting.id}" was tried.',
        advice=f"Name its CV: {_choices(setting, [setting.places[at] for at in numbers])}.",
    )


def _choices(setting: Setting, places: Iterable[Place]) -> str:
    """The places as they are typed; with a firmware where several are on one CV."""
    held = [place for place in places if place.fields]
    slots = [place.fields[0].slot for place in held]
    named = []
    for place, slot in zip(held, slots, strict=True):
        first = place.firmware.begins_with()
        at = f":{first}" if slots.count(slot) > 1 and first is not None else ""
        named.append(f"{setting.id}@{slot.typed}{at}")
    return " or ".join(dict.fromkeys(named)) or "none"


def seen_of(text: str, wish: Wish) -> Seen:
    """What a word such as ``braking.mode@142=works`` or ``lights.front@60:3.0=works`` says."""
    name, equals, verdict = text.partition("=")
    id, at, cv = name.strip().partition("@")
    said = verdict if equals else wish.text("verdict")
    if not said.strip():
        raise problem(
            f'nothing says what was seen of "{id}".',
            advice=f"Write {id}=works, {id}=unreliable or {id}=no-effect.",
        )
    typed, _, version = (cv if at else wish.text("cv")).partition(":")
    return Seen(id, parse_slot(typed) if typed else None, version.strip(), parse_verdict(said))


def _source(change: Change, wish: Wish, version: FirmwareVersion) -> str:
    """The id of the bench source: one that is there, or a new one."""
    sources = change.profile.sources
    named = wish.text("source")
    if named in sources:
        held = sources[named]
        if held.kind is not SourceKind.BENCH or version not in held.firmware:
            raise problem(
                f'"{named}" is no bench test at firmware {version}.',
                advice="Leave --source out for a new one.",
            )
        return named
    day = parse_key("date", wish.text("date", change.today.isoformat()))
    id = named or _free_id(day, list(sources))
    change.draft.add(
        {
            "id": id,
            "kind": "bench",
            **wish.keys("title"),
            "date": day,
            "firmware": f"=={version}",
            **wish.keys("where", "note"),
        },
        "source",
    )
    change.told.did.append(f"Bench test {id} of {day.isoformat()} is added to the sources.")
    return id


def _free_id(day: date, taken: list[str]) -> str:
    """An id by the month; by the day, then counted, where others have it."""
    for id in (f"bench-{day:%Y-%m}", f"bench-{day:%Y-%m-%d}"):
        if id not in taken:
            return id
    counted = 2
    while f"bench-{day:%Y-%m-%d}-{counted}" in taken:
        counted += 1
    return f"bench-{day:%Y-%m-%d}-{counted}"
