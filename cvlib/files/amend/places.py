"""Places corrected or added, and new settings."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from cvlib.engine.known.told import where_text
from cvlib.errors import InputError, did_you_mean, problem
from cvlib.files.amend.change import Change, Wish
from cvlib.files.amend.room import make_room
from cvlib.files.edit import cite, cited_source, cited_sources, set_keys
from cvlib.files.layout import PROFILE_ORDER
from cvlib.files.toml_text import value_text
from cvlib.files.toml_tree import Node, data_of, node_of
from cvlib.files.typed_keys import parse_firmware, parse_key
from cvlib.model.facet import same_placing
from cvlib.model.profile import Setting, SourceKind

PLACE_KEYS = tuple(key for key in PROFILE_ORDER["place"] if key != "sources")
"""Every key of a place that may be given; sources are given one by one."""
_OWN = ("firmware", "sources", "note")
"""Keys that a new place does not have from the one it is like."""


def place(change: Change, wish: Wish) -> None:
    """Correct a place of a setting, or add one."""
    setting = change.own(wish.subject("setting"))
    is_new = wish.is_on("new")
    values = _values(change, wish, _kind_of(change, setting, wish))
    removed = wish.several("remove")
    sources = _sources(change, wish)
    if not (values or removed or sources):
        raise problem(
            "nothing is given to correct.",
            advice="Give the keys with their right values, such as --cv 144.",
        )
    if is_new:
        table = _like(change, setting, wish)
        # What only a test saw beats the documents at its own firmware and takes nothing from them.
        is_test = bool(sources) and all(isinstance(one, dict) for one in sources)
        if "firmware" in values and not is_test:
            make_room(change, setting, change.profile.range(values["firmware"]))
        change.draft.places(setting.id).append(table)
        set_keys(table, values, removed)
        _cite_all(table, sources)
        change.told.did.append(f"{setting.title} ({setting.id}) gets another place.")
    else:
        number = asked_place(change, setting, wish)
        table = change.draft.place(setting.id, number)
        _check_removed(table, removed)
        before = _with_common(change, setting, table)
        set_keys(table, values, removed)
        _cite_all(table, sources)
        now = _with_common(change, setting, table)
        where = where_text(setting.places[number])
        for key in dict.fromkeys((*values, *removed)):
            told = f"{_shown(before.get(key))} → {_shown(now.get(key))}"
            change.told.did.append(f"{setting.id} at {where}: {key} {told}.")
        _note_tests(change, table, where)
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
    made: dict[str, Any] = {"id": id, "title": wish.needed("title")}
    if wish.text("help-text"):
        made["help"] = wish.text("help-text")
    made |= wish.keys("risk", "repeat")
    made["place"] = [{**values, "sources": sources} if sources else values]
    change.draft.add_setting(made)
    change.cited(sources)
    change.told.title = f"{made['title']}, a new setting"
    change.told.did.append(f"{made['title']} ({id}) is a setting of its own from now on.")


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
        numbers = [
            n for n in numbers if any(same_placing(places[n], one) for one in answer.places())
        ]
    if len(numbers) == 1:
        return numbers[0]
    listed = "; ".join(
        f"{n + 1} is {where_text(places[n])} ({places[n].firmware.text()})"
        for n in numbers or range(len(places))
    )
    what = "has several places" if numbers else "has no place in that firmware"
    raise problem(
        f'"{setting.id}" {what}: {listed}.', advice="Choose one with --number or --at VERSION."
    )


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
                    advice=f"Say what it saw: --source {id}=works, or {id}=no-effect.",
                )
    return made


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


def _cite_all(place: Node, sources: Iterable[Any]) -> None:
    """Call on sources for a place that it does not call on yet."""
    held = data_of(place).get("sources", [])
    for one in sources:
        if one not in held:
            cite(place, one)


def _with_common(change: Change, setting: Setting, place: Node) -> dict[str, Any]:
    """What a place says, with what is common to all places of its setting."""
    written = change.draft.setting(setting.id)
    common = data_of(written).get("common", {}) if written is not None else {}
    return {**common, **data_of(place)}


def _shown(value: Any) -> str:
    """A value as the file has it, or that there is none."""
    return "none" if value is None else value_text(node_of(value))
