"""Places corrected or added, and new settings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.told import where_text
from cvlib.errors import InputError, did_you_mean, problem
from cvlib.files.amend.change import Change, Wish, numbers_of
from cvlib.files.edit import cite, cited_source, cited_sources, set_keys, uncite
from cvlib.files.layout import PROFILE_ORDER
from cvlib.files.toml_text import value_text
from cvlib.files.toml_tree import Node, data_of, node_of
from cvlib.files.typed_keys import parse_firmware, parse_key
from cvlib.files.written import narrowed, written_firmware
from cvlib.model.cv import parse_numbers
from cvlib.model.profile import Setting, Source, SourceKind
from cvlib.model.ranges import FirmwareRange

PLACE_KEYS = tuple(k for k in PROFILE_ORDER["place"] if k not in ("absent", "sources"))
"""Every key of a place that may be given; sources are given one by one."""
_OWN = ("firmware", "sources", "note")
"""Keys that a new place does not have from the one it is like."""
_OF_ABSENCE = ("firmware", "note")
"""Keys of a place that only says that the setting is not there."""
_EITHER = {"default": "defaults", "defaults": "default"}
"""Keys of a place that say the same in two ways."""
_INDEX = re.compile(r"\[(\d+)\]", re.A)
_CHOOSE = "Choose one with --number or --at VERSION."


def place(change: Change, wish: Wish) -> None:
    """Correct a place of a setting, or add one."""
    if wish.is_on("absent"):
        _absence(change, wish)
        return
    setting = change.own(wish.subject("setting"), is_cited=bool(wish.several("source")))
    is_new = wish.is_on("new")
    values = _values(change, wish, _kind_of(change, setting, wish))
    removed = wish.several("remove")
    sources = _sources(change, wish)
    unwanted = wish.several("uncite")
    if not (values or removed or sources or unwanted):
        raise problem(
            "nothing is given to correct.",
            advice="Give the keys with their right values, such as --cv 144.",
        )
    if is_new:
        table = _like(change, setting, wish)
        held = _fitted(change, setting.id, values, sources)
        _make_room(change, setting, held, sources)
        change.draft.places(setting.id).append(table)
        set_keys(table, values, removed)
        _cite_all(table, sources)
        change.told.did.append(f"{setting.title} ({setting.id}) gets another place.")
    else:
        number = asked_place(change, setting, wish)
        table = change.draft.place(setting.id, number)
        _check_removed(table, removed)
        _put_in_list(change, setting, table, values)
        before = _with_common(change, setting, table)
        if "firmware" not in removed:
            _refit(change, setting, number, values, sources)
        set_keys(table, values, removed)
        for id in set(unwanted) - set(uncite(table, unwanted)):
            raise problem(
                f'this place does not call on "{id}".',
                advice=f"It calls on {', '.join(map(str, setting.places[number].citations))}.",
            )
        change.told.did += _cite_all(table, sources)
        change.told.did += [f"{setting.id} no longer calls on {id}." for id in unwanted]
        now = _with_common(change, setting, table)
        where = where_text(setting.places[number])
        for key in dict.fromkeys((*values, *removed)):
            was = before.get(_EITHER.get(key, key)) if before.get(key) is None else before[key]
            told = f"{shown(was)} → {shown(now.get(key))}"
            change.told.did.append(f"{setting.id} at {where}: {key} {told}.")
        _note_tests(change, table, where)
    if is_new or removed or sources or unwanted or values.keys() - {"default", "defaults"}:
        change.note_repeat(setting.id, "it counts", " that have this place")
    change.cited(sources)
    change.told.title = f"{setting.title}, {'another place' if is_new else 'place corrected'}"


def setting(change: Change, wish: Wish) -> None:
    """Add a setting with its first place."""
    id = wish.subject("setting")
    if id in change.profile.settings:
        raise problem(
            f'there is a setting "{id}" already.',
            advice="Correct its places with the form place.",
        )
    values = _values(change, wish, wish.needed("kind"))
    sources = _sources(change, wish)
    _fitted(change, id, values, sources)
    made: dict[str, Any] = {"id": id, "title": wish.needed("title")}
    if wish.text("help-text"):
        made["help"] = wish.text("help-text")
    made |= wish.keys("risk", "repeat")
    made["place"] = [{**values, "sources": sources} if sources else values]
    change.draft.add_setting(made)
    change.cited(sources)
    change.told.title = f"{made['title']}, a new setting"
    change.told.did.append(f"{made['title']} ({id}) is a setting of its own from now on.")


def _absence(change: Change, wish: Wish) -> None:
    """Write down that documents say of a setting that it is not there."""
    sources = _sources(change, wish)
    documents = change.documents(sources)
    other = [key for key in wish.given if key not in (*_OF_ABSENCE, "absent", "source")]
    if other or not documents or len(documents) < len(sources):
        raise problem(
            "an absent place needs the documents that say so, and nothing but --firmware and "
            "--note besides.",
            advice="Write --absent --source handbook-3:2; what a test saw is for the form bench.",
        )
    setting = change.own(wish.subject("setting"))
    values = wish.keys(*_OF_ABSENCE)
    held = _fitted(change, setting.id, values, sources)
    _make_room(change, setting, held, sources)
    table = node_of({"absent": True, **values, "sources": sources})
    change.draft.places(setting.id).append(table)
    change.cited(sources)
    change.told.title = f"{setting.title}, not there"
    named = " and ".join(one.title or one.id for one in documents)
    change.told.did.append(f"{setting.title} ({setting.id}) is not there by {named}.")


def _fitted(
    change: Change, id: str, values: dict[str, Any], sources: Sequence[Any]
) -> FirmwareRange:
    """The firmware of a new place of a setting; what its documents say anyway is not written.

    What only tests saw is narrowed to their firmware. Raises InputError for a place that no
    document is named for, where one that is named for the whole decoder would count instead.
    """
    cited = [change.profile.sources[change.source(cited_source(one))] for one in sources]
    documents = [one for one in cited if one.is_document]
    if cited and not documents and "firmware" not in values:
        values["firmware"] = written_firmware(change.said_by(cited))
    if not cited and (named := change.named_for_all(id)):
        raise problem(
            f'nothing says who lists "{id}" there; it would count as listed in '
            f"{' and '.join(named)}.",
            advice="Name the document with its page, as in --source handbook-2:31.",
        )
    everything = FirmwareRange.everything(change.profile.scheme)
    given = change.profile.range(values["firmware"]) if "firmware" in values else None
    _check_firmware(documents, given)
    if narrowed(given, documents) is None:
        values.pop("firmware", None)
    held = change.said_by(documents) if documents else everything
    return held if given is None else held & given


def _refit(
    change: Change,
    setting: Setting,
    number: int,
    values: dict[str, Any],
    sources: Sequence[Any],
) -> None:
    """Leave the firmware of a corrected place to its documents where they say it."""
    place = setting.places[number]
    new = change.documents(sources)
    if not new and "firmware" not in values:
        return
    documents = [*change.documents(map(str, place.citations)), *new]
    given = change.profile.range(values["firmware"]) if "firmware" in values else place.narrowing
    _check_firmware(documents if "firmware" in values else new, given)
    if given is not None and narrowed(given, documents) is None:
        values.pop("firmware", None)
        table = change.draft.place(setting.id, number)
        if "firmware" in table.table:
            set_keys(table, {}, ["firmware"])
            change.told.did.append(
                f"{setting.id} at {where_text(place)}: holds where its documents speak, "
                f"{change.said_by(documents).text()}."
            )


def _check_firmware(documents: Iterable[Source], firmware: FirmwareRange | None) -> None:
    """Refuse firmware that leaves out all that a document speaks for: it would deny the place."""
    for one in documents:
        if firmware is not None and (one.firmware & firmware).is_empty():
            raise problem(
                f'"{one.id}" speaks for {one.firmware.text()}, and the place is only for '
                f"{firmware.text()}: so it would say that the setting is not there.",
                advice="Give the place firmware that the document speaks for, or leave it to the "
                "document with --remove firmware; add another place with --new.",
            )


def _make_room(
    change: Change, setting: Setting, firmware: FirmwareRange, sources: Sequence[Any]
) -> None:
    """Narrow the other places that call on the same documents to what a new one leaves them.

    Raises InputError where nothing of another place would be left.
    """
    named = {one.id for one in change.documents(sources)}
    for number, place in enumerate(setting.places):
        documents = change.documents(map(str, place.citations))
        shared = [one for one in documents if one.id in named]
        if (change.said_by(shared) & place.firmware & firmware).is_empty():
            continue
        rest, where = place.firmware - firmware, where_text(place)
        if rest.is_empty():
            raise problem(
                f'nothing would be left of the place of "{setting.id}" at {where}, which holds '
                f"for {place.firmware.text()}.",
                advice="Correct that place itself: leave --new out.",
            )
        node = change.draft.place(setting.id, number)
        gone = [one.id for one in shared if (one.firmware & rest).is_empty()]
        uncited = uncite(node, gone)
        left = [one for one in documents if one.id not in uncited]
        needed = narrowed(rest, left)
        if needed is not None:
            set_keys(node, {"firmware": written_firmware(needed)})
        change.told.did.append(
            f"{setting.id} at {where} holds for {rest.text()} from now on; it was "
            f"{place.firmware.text()}."
        )


def asked_place(change: Change, setting: Setting, wish: Wish) -> int:
    """The number, from 0, of the place that is to be corrected.

    Raises InputError where it is not said and the setting has several.
    """
    places = setting.places
    numbers = list(range(len(places)))
    if wish.text("number"):
        asked = int(parse_key("cv", wish.text("number"))) - 1
        if asked not in numbers:
            raise problem(
                f'"{setting.id}" has no place {asked + 1}.', advice=f"It has {len(places)}."
            )
        return asked
    if wish.text("at"):
        version = change.profile.version(wish.text("at"))
        answer = change.resolver.answer(setting, version.key)
        numbers = numbers_of(setting, answer.places(), version)
    if len(numbers) == 1:
        return numbers[0]
    listed = "; ".join(
        f"{n + 1} is {where_text(places[n])} ({places[n].firmware.text()})"
        for n in numbers or range(len(places))
    )
    what = "has several places" if numbers else "has no place in that firmware"
    advice = "Choose one with --number." if wish.text("at") else _CHOOSE
    raise problem(f'"{setting.id}" {what}: {listed}.', advice=advice)


def _like(change: Change, setting: Setting, wish: Wish) -> Node:
    """The table of a new place: like the one chosen, without what is its own, or empty."""
    if not (wish.text("at") or wish.text("number")):
        return Node({})
    node = change.draft.place(setting.id, asked_place(change, setting, wish))
    return node_of({key: held for key, held in data_of(node).items() if key not in _OWN})


def _kind_of(change: Change, setting: Setting, wish: Wish) -> str:
    """The kind by which a default is read: the one given, else that of the place."""
    if wish.text("kind"):
        return wish.text("kind")
    try:
        return setting.places[asked_place(change, setting, wish)].coding.kind
    except InputError:
        return setting.places[0].coding.kind


def _values(change: Change, wish: Wish, kind: str) -> dict[str, Any]:
    values = wish.keys(*PLACE_KEYS, kind=kind)
    if "firmware" in values:
        parse_firmware(wish.text("firmware"), change.profile.scheme)
    return values


def _sources(change: Change, wish: Wish) -> list[Any]:
    """The citations given; a bench test needs to say what it saw."""
    made = [one for text in wish.several("source") for one in parse_key("sources", text)]
    for one in made:
        if isinstance(one, str):
            id = change.source(cited_source(one))
            if change.profile.sources[id].kind is SourceKind.BENCH:
                raise problem(
                    f'"{id}" is a bench test.',
                    advice=f"Say what it saw: {id}=works, {id}=unreliable or {id}=no-effect.",
                )
    return made


def _put_in_list(change: Change, setting: Setting, place: Node, values: dict[str, Any]) -> None:
    """Give one of a repeat its own default in the list that stands for all of them."""
    node, index = change.draft.setting(setting.id), _INDEX.search(setting.id)
    repeat = data_of(node).get("repeat") if node is not None else None
    if "default" not in values or index is None or repeat is None:
        return
    held = _with_common(change, setting, place)
    first = repeat.get("first", 1)
    numbers = list(range(first, first + repeat["count"]))
    if "index" in held:
        numbers = list(parse_numbers(str(held["index"]), 0, 1024, "index"))
    one = held.get("default")
    listed = list(held.get("defaults", () if one is None else [one] * len(numbers)))
    at = numbers.index(int(index[1]))
    has_cases = isinstance(one, list) and any(isinstance(case, dict) for case in one)
    if at >= len(listed) or has_cases:
        raise problem(
            f'"{without_index(setting.id)}" is written once for all {len(numbers)}, and not '
            "every one has a default of its own.",
            advice="Give all of them, as in --defaults 1,1,2.",
        )
    listed[at] = values.pop("default")
    values |= {"defaults": listed} if listed != listed[:1] * len(listed) else {"default": listed[0]}


def _check_removed(table: Node, removed: Iterable[str]) -> None:
    for key in removed:
        if key not in table.table:
            raise problem(
                f'this place has no key "{key}" to take out.',
                advice=did_you_mean(key, table.table) or f"It has {', '.join(table.table)}.",
            )


def _note_tests(change: Change, table: Node, where: str) -> None:
    """Say which bench tests stay with a place that now is another one."""
    tests = [f"{source} ({verdict})" for source, verdict in cited_sources(table) if verdict]
    if tests:
        change.told.notes.append(
            f"Bench tests of {where} stay with this place: {', '.join(tests)}. Take them out if "
            "they were about what it said before."
        )


def _cite_all(place: Node, sources: Iterable[Any]) -> list[str]:
    """Call on sources for a place; what a bench test says takes the place of what it said.

    What is told of those that say something else now.
    """
    told = []
    for new in sources:
        one, id, held = new, cited_source(new), data_of(place).get("sources", [])
        if one in held:
            continue
        was = dict(cited_sources(place)).get(id)
        if isinstance(one, dict) and was is not None:
            former = next(said for said in held if cited_source(said) == id)
            one = {**(former if isinstance(former, dict) else {}), **one}
            uncite(place, [id])
            told.append(f"{id} said {was or 'nothing'} of it, and now {one['verdict']}.")
        cite(place, one)
    return told


def _with_common(change: Change, setting: Setting, place: Node) -> dict[str, Any]:
    """What a place says, with what is common to all places of its setting."""
    written = change.draft.setting(setting.id)
    common = data_of(written).get("common", {}) if written is not None else {}
    return {**common, **data_of(place)}


def shown(value: Any) -> str:
    """A value as the file has it, or that there is none."""
    return "none" if value is None else value_text(node_of(value))
