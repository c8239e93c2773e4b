"""The loco file after carrying: new values in, the former state moved to its history.

The file is taken apart at its headings, so that every remark stays where it stood. The former
readings become tables of the history, word by word; what was not carried stays
among the readings.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.files.loco_file import (
    LocoEdit,
    Piece,
    lines_of,
    one_line,
    put_together,
    put_value,
    rewrite_loco,
    taken_apart,
)
from cvlib.files.scanner import key_spots
from cvlib.files.text import parse_toml
from cvlib.files.toml_text import string_text
from cvlib.model.cv import Page, Slot, parse_page

_READING_HEADING = re.compile(r"""(decoder["']?\s*\.\s*["']?)reading\b""")


@dataclass(frozen=True, slots=True)
class NewValue:
    """One CV value to be saved, with a remark on where it comes from."""

    slot: Slot
    value: int
    remark: str = ""


@dataclass(frozen=True, slots=True)
class NewState:
    """What a decoder of a loco file is to hold from now on."""

    decoder: int
    """Its number in the file, from 0."""
    profile: str
    firmware: str
    was: str
    """What readings were saved for that do not name any firmware; empty where not known."""
    values: tuple[NewValue, ...]
    kept: frozenset[Slot]
    """Saved values that were not carried and stay as they are."""
    note: str
    day: date
    options: Mapping[str, str | int]
    is_said: bool = False
    """Whether a person said ``was`` of all values, so that it is noted at every reading."""


def carry_in_file(path: Path, state: NewState, seen: str = "") -> None:
    """Write a new state of one decoder into a loco file, in one step.

    ``seen`` is the digest of what the file held when it was carried. Raises InputError, with the
    file as it was, where it is no loco file or cannot be written.
    """

    def text(before: str, name: str) -> str:
        return carried_text(before, state, name)

    def data(document: dict[str, Any]) -> None:
        _carried_data(document["decoder"][state.decoder], state)

    rewrite_loco(
        path, LocoEdit("firmware and history", "carry", text, data, seen, with_readings=True)
    )


def carried_text(text: str, state: NewState, name: str = "the file") -> str:
    """The text of a loco file with the new state of one decoder in it.

    Raises InputError where its readings are not written under headings of their own.
    """
    decoder: dict[str, Any] = parse_toml(text, name)["decoder"][state.decoder]
    before, pieces = taken_apart(text)
    former = [piece for piece in pieces if piece.is_of(state.decoder, "reading")]
    older = [piece for piece in pieces if piece.is_of(state.decoder, "history")]
    heads = [piece for piece in pieces if piece.path == ("decoder", state.decoder)]
    if not heads or (not former and decoder.get("reading")):
        raise one_line(name)
    remark = _former_profile(decoder, state)
    tables = [_table(held, state) for held in decoder.get("reading", ())]
    made = [*filter(None, tables), _carried(state), *(held.text for held in older)]
    made += [_former(piece, state, remark) for piece in former]
    moved = [*former, *older]
    if dict(decoder.get("options", {})) != dict(state.options):
        moved += [piece for piece in pieces if piece.is_of(state.decoder, "options")]
    others = [piece for piece in pieces if piece not in moved]
    last = max(at for at, piece in enumerate(others) if piece.is_of(state.decoder))
    has_table = any(piece.is_of(state.decoder, "options") for piece in others)
    texts = [_head(p.text, state, has_table) if p in heads else p.text for p in others]
    texts[last + 1 : last + 1] = made
    return put_together(before, texts)


def _head(text: str, state: NewState, has_table: bool) -> str:
    """The decoder's own keys with profile, firmware and options as they are now.

    Options under a heading of their own are right already.
    """
    import tomlkit

    document = tomlkit.parse(text)
    held: Any = document["decoder"]
    table = held[0]
    if _is_update(table, state):
        table.pop("state", None)
    for key, value in (("profile", state.profile), ("firmware", state.firmware)):
        if table.get(key) != value:
            table[key] = value
    if not has_table and dict(table.get("options", {})) != dict(state.options):
        table.pop("options", None)
        if state.options:
            options = tomlkit.inline_table()
            options.update(state.options)
            table["options"] = options
    return tomlkit.dumps(document)


def _is_update(decoder: Mapping[str, Any], state: NewState) -> bool:
    """Whether the firmware is another, so that what is noted of the update before is past."""
    return bool(decoder.get("firmware") != state.firmware)


def _former_profile(decoder: Mapping[str, Any], state: NewState) -> str:
    """What the history says of values saved under another profile; empty where it is the same."""
    profile = str(decoder.get("profile", ""))
    return f"profile {profile}" if profile and profile != state.profile else ""


def _former(piece: Piece, state: NewState, remark: str) -> str:
    """A former reading under its heading in the history."""
    lines = lines_of(piece.text)
    at = next(n for n, line in enumerate(lines) if not line.lstrip().startswith("#"))
    lines[at] = _READING_HEADING.sub(r"\1history", lines[at], count=1)
    if len(piece.path) == 4:
        keys = {path[-1] for path in key_spots(piece.text)}
        meant = _meant(keys, state)
        added = [f"{key} = {string_text(was)}\n" for key, was in meant.items()]
        added += [f"note = {string_text(remark)}\n"] if remark and "note" not in keys else []
        lines[at] = lines[at].rstrip("\n") + "\n"
        lines[at + 1 : at + 1] = added
    return "".join(lines)


def _meant(keys: Container[object], state: NewState) -> dict[str, str]:
    """What a reading with these keys is to say of what its values were saved for."""
    is_named = "saved-for" in keys or ("firmware" in keys and not state.is_said)
    return {} if is_named or not state.was else {"saved-for": state.was}


def _carried_data(decoder: dict[str, Any], state: NewState) -> None:
    """What the decoder's data are to be with the new state."""
    former = decoder.pop("reading", [])
    kept = [table_data(*stays) for held in former if (stays := _stays(held, state))]
    decoder["reading"] = [*kept, table_data(_about(state), state.values)]
    note = _former_profile(decoder, state)
    remark = {"note": note} if note else {}
    history = decoder.pop("history", [])
    history += ({**_meant(held, state), **remark, **held} for held in former)
    if history:
        decoder["history"] = history
    if decoder.get("options", {}) != dict(state.options):
        decoder.pop("options", None)
        decoder |= {"options": dict(state.options)} if state.options else {}
    if _is_update(decoder, state):
        decoder.pop("state", None)
    decoder |= {"profile": state.profile, "firmware": state.firmware}


def _table(held: Mapping[str, Any], state: NewState) -> str:
    """What stays of a reading as text; empty where nothing does."""
    stays = _stays(held, state)
    return written_table(*stays) if stays else ""


def _stays(
    held: Mapping[str, Any], state: NewState
) -> tuple[dict[str, Any], list[NewValue]] | None:
    """What stays of a reading: the CVs that were not carried."""
    values = [NewValue(Slot(int(cv)), value) for cv, value in held.get("cv", {}).items()]
    for page, table in held.get("page", {}).items():
        where: Page = parse_page(page)
        values += [NewValue(Slot(int(cv), where), value) for cv, value in table.items()]
    kept = [value for value in values if value.slot in state.kept]
    if not kept:
        return None
    known = ("date", "how", "firmware", "saved-for", "state", "note")
    about = {key: held[key] for key in known if key in held}
    return about | _meant(about, state), kept


def _carried(state: NewState) -> str:
    return written_table(_about(state), state.values)


def _about(state: NewState) -> dict[str, Any]:
    return {
        "date": state.day,
        "how": "carried",
        "firmware": state.firmware,
        "note": state.note,
    }


def table_data(about: Mapping[str, Any], values: Iterable[NewValue]) -> dict[str, Any]:
    """A reading as the data of a loco file."""
    table: dict[str, Any] = dict(about)
    for held in values:
        put_value(table, held.slot, held.value)
    return table


def written_table(about: Mapping[str, Any], values: Iterable[NewValue]) -> str:
    """A reading, the values of each index page in a table of their own."""
    lines = ["[[decoder.reading]]"]
    for key, value in about.items():
        lines.append(
            f"{key} = {value.isoformat() if isinstance(value, date) else string_text(value)}"
        )
    by_page: dict[Page | None, list[NewValue]] = {}
    for held in values:
        by_page.setdefault(held.slot.page, []).append(held)
    for page, found in sorted(by_page.items(), key=lambda item: item[0] or (-1, -1)):
        lines += ["", f'[decoder.reading.page."{page}"]' if page else "[decoder.reading.cv]"]
        for held in found:
            remark = f"  # {held.remark}" if held.remark else ""
            lines.append(f"{held.slot.cv} = {held.value}{remark}")
    return "\n".join(lines) + "\n"
