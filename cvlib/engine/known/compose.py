"""A complete profile out of its own part and what it takes over from standards and blocks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from cvlib.engine.known.neighbours import inside_repeats, rule_is_inside, without_index
from cvlib.model.conditions import Rule
from cvlib.model.profile import (
    Absence,
    Citation,
    IndexPages,
    Place,
    Profile,
    Risk,
    Setting,
    is_about,
)
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class Taken:
    """What one entry of ``follows`` brings, already in terms of the decoder's firmware."""

    id: str
    title: str
    settings: tuple[Setting, ...]
    rules: tuple[Rule, ...] = ()
    pages: tuple[IndexPages, ...] = ()
    is_standard: bool = False


def from_standard(
    standard: Profile,
    edition: FirmwareVersion,
    id: str,
    narrowing: FirmwareRange | None,
    firmware: FirmwareRange,
    documents: tuple[Citation, ...] = (),
) -> Taken:
    """A standard's edition as a decoder takes it over.

    ``documents`` are those of the decoder that list its settings, and ``firmware`` is where they
    do, cut down to the narrowing. Citations name the edition and keep the page; the standard's own
    sources speak for the standard, not for the decoder.
    """
    settings = []
    for setting in standard.settings.values():
        places = tuple(
            replace(
                place,
                firmware=firmware,
                narrowing=narrowing,
                citations=tuple(dict.fromkeys((*documents, *_recited(place.citations, id)))),
            )
            for place in setting.places
            if edition in place.firmware
        )
        if places:
            settings.append(replace(setting, places=places, origin=id))
    rules = tuple(
        replace(rule, firmware=narrowing, source=_recited_text(rule.source, standard, id))
        for rule in standard.rules
        if rule.firmware is None or edition in rule.firmware
    )
    title = f"{standard.maker} {standard.name}, edition {edition}"
    return Taken(id, title, tuple(settings), rules, standard.pages, True)


def from_block(
    id: str,
    title: str,
    settings: Iterable[Setting],
    rules: Iterable[Rule],
    firmware: FirmwareRange,
) -> Taken:
    """A shared block as a decoder takes it over, for the given firmware of the decoder only."""
    kept = []
    for setting in settings:
        places = tuple(_within(setting.places, firmware))
        if places:
            absences = tuple(_limited(setting.absences, firmware))
            kept.append(replace(setting, places=places, absences=absences, origin=id))
    held = []
    for rule in rules:
        asked = firmware if rule.firmware is None else rule.firmware & firmware
        if not asked.is_empty():
            held.append(replace(rule, firmware=_limit(asked)))
    return Taken(id, title, tuple(kept), tuple(held))


def chosen(taken: Taken, only: Sequence[str], without: Sequence[str]) -> Taken:
    """What is left of it: just ``only`` (everything when empty), and nothing of ``without``.

    Rules stay while one of their settings does; index pages are left behind with ``only``.
    """
    if not only and not without:
        return taken
    settings = tuple(
        setting
        for setting in taken.settings
        if (not only or is_about(only, setting.id)) and not is_about(without, setting.id)
    )
    kept = {setting.id for setting in settings}
    rules = tuple(rule for rule in taken.rules if kept.intersection(rule.settings()))
    pages = () if only else taken.pages
    return replace(taken, settings=settings, rules=rules, pages=pages)


def unmatched(names: Iterable[str], settings: Iterable[str]) -> list[str]:
    """The names that stand for none of the settings, neither as an id nor as a group."""
    ids = list(settings)
    return [name for name in names if not any(is_about((name,), setting) for setting in ids)]


def compose(own: Profile, taken: Sequence[Taken], without: Sequence[str] = ()) -> Profile:
    """The complete profile: later entries replace earlier ones, the profile's own replace all.

    Where two entries bring the same setting for firmware that has nothing in common, the places
    are joined. Rules and pages come along, except rules all of whose settings are gone. What
    depends on a neighbour that a repeat does not have is left out.
    """
    merged = _merged(own.settings, [chosen(entry, (), without) for entry in taken])
    settings = inside_repeats(merged)
    rules: dict[str, list[Rule]] = {}
    replaced = {without_index(rule.id) for rule in own.rules}
    for entry in taken:
        for rule in entry.rules:
            if without_index(rule.id) in replaced:
                rules[rule.id] = []
            elif any(name in settings for name in rule.settings()):
                rules[rule.id] = _joined_rules(rules.get(rule.id, []), rule)
    for rule in own.rules:
        rules[rule.id] = [rule]
    pages = dict.fromkeys([*own.pages, *(page for entry in taken for page in entry.pages)])
    return replace(
        own,
        settings=settings,
        rules=tuple(
            rule for held in rules.values() for rule in held if rule_is_inside(rule, settings)
        ),
        pages=tuple(pages),
        follows=tuple(dict.fromkeys(entry.id for entry in taken)),
        standards={entry.id: entry.title for entry in taken if entry.is_standard},
    )


def _merged(own: Mapping[str, Setting], taken: Sequence[Taken]) -> dict[str, Setting]:
    held: dict[str, list[Setting]] = {}
    for entry in taken:
        for setting in entry.settings:
            earlier = held.get(setting.id, [])
            held[setting.id] = [*(one for one in earlier if _apart(one, setting)), setting]
    found = {id: _joined(settings) for id, settings in held.items()} | dict(own)
    topics = {one.id: one.topic for entry in taken for one in entry.settings if one.topic}
    return {
        id: replace(one, topic=topics[id]) if one.topic is None and id in topics else one
        for id, one in found.items()
    }


def _joined(settings: Sequence[Setting]) -> Setting:
    """One setting with the places of all; the last one gives the words, all give their risks."""
    if len(settings) == 1:
        return settings[0]
    places = tuple(place for setting in settings for place in setting.places)
    absences = tuple(absence for setting in settings for absence in setting.absences)
    marks = [setting.risk for setting in settings if setting.risk is not None]
    risk = frozenset[Risk]().union(*marks) if len(marks) == len(settings) else None
    return replace(settings[-1], places=places, absences=absences, risk=risk)


def _apart(one: Setting, other: Setting) -> bool:
    return all(
        (mine.firmware & theirs.firmware).is_empty()
        for mine in one.places
        for theirs in other.places
    )


def _joined_rules(earlier: list[Rule], rule: Rule) -> list[Rule]:
    """Earlier rules of the same id stay only where their firmware has nothing in common."""
    kept = [
        one
        for one in earlier
        if one.firmware and rule.firmware and (one.firmware & rule.firmware).is_empty()
    ]
    return [*kept, rule]


def _within(places: Iterable[Place], firmware: FirmwareRange) -> Iterable[Place]:
    if firmware.is_everything():
        yield from places
        return
    for place in places:
        common = place.firmware & firmware
        if not common.is_empty():
            narrowing = firmware if place.narrowing is None else place.narrowing & firmware
            yield replace(place, firmware=common, narrowing=narrowing)


def _limited(absences: Iterable[Absence], firmware: FirmwareRange) -> Iterable[Absence]:
    for one in absences:
        narrowing = firmware if one.narrowing is None else one.narrowing & firmware
        yield one if firmware.is_everything() else replace(one, narrowing=narrowing)


def _recited(citations: Iterable[Citation], id: str) -> Iterable[Citation]:
    for one in citations:
        yield Citation(id, one.page, None, one.note)
    if not citations:
        yield Citation(id)


def _recited_text(source: str, standard: Profile, id: str) -> str:
    """Who demands a rule, the standard's own source ids replaced by the edition's."""
    name, colon, page = source.partition(":")
    return f"{id}{colon}{page}" if name in standard.sources else source


def _limit(firmware: FirmwareRange) -> FirmwareRange | None:
    return None if firmware.is_everything() else firmware
