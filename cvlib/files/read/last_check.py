"""The record that a check leaves in a loco file: [decoder.checked] and the tables below it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any, TypeAlias

from cvlib.errors import InputError, did_you_mean
from cvlib.files.scanner import KeyPath
from cvlib.files.text import quoted
from cvlib.model.cv import WHOLE, Page, Slot, make_slot, parse_page
from cvlib.model.loco import CheckedValue, LastCheck

ADVICE = 'The program writes this table: delete it, or run "cvlib check --record" again.'

Note: TypeAlias = Callable[[KeyPath, str, str], None]
"""Takes a fault: where, what, and what to do."""

_KEYS = ("date", "profile", "firmware", "digest", "cv", "page")
_VALUE_KEYS = ("value", "digest", "means")
_NUMBER = re.compile(r"\d{1,4}", re.ASCII)


def last_check(value: object, path: KeyPath, fault: Note) -> LastCheck | None:
    """The record in a decoder's table; nothing where there is none or its head is faulty."""
    if value is None:
        return None
    table = _table(value, path, _KEYS, fault)
    if table is None:
        return None
    day = table.get("date")
    if not isinstance(day, date) or isinstance(day, datetime):
        fault((*path, "date"), "the check has no day.", ADVICE)
        day = None
    made = LastCheck(
        day.isoformat() if day else "",
        _text(table, path, "profile", fault),
        _text(table, path, "firmware", fault),
        _text(table, path, "digest", fault),
        dict(_values(table, path, fault)),
    )
    return made if day else None


def _table(
    value: object, path: KeyPath, known: tuple[str, ...] | None, fault: Note
) -> Mapping[str, Any] | None:
    if not isinstance(value, dict):
        fault(path, f"{path[-1]} must be a table.", ADVICE)
        return None
    for key in value if known is not None else ():
        if key not in (known or ()):
            advice = did_you_mean(key[:80], known or ()) or ADVICE
            fault((*path, key), f"unknown key {quoted(key)}.", advice)
    return value


def _text(table: Mapping[str, Any], path: KeyPath, key: str, fault: Note) -> str:
    value = table.get(key)
    if isinstance(value, str) and value.strip() and value.isprintable():
        return value
    fault((*path, key), f"{key} must be text on one line.", ADVICE)
    return ""


def _values(
    table: Mapping[str, Any], path: KeyPath, fault: Note
) -> Iterator[tuple[Slot, CheckedValue]]:
    yield from _page(table.get("cv", {}), (*path, "cv"), None, fault)
    pages = _table(table.get("page", {}), (*path, "page"), None, fault)
    for name, held in (pages or {}).items():
        at = (*path, "page", name)
        try:
            page = parse_page(name)
        except InputError as error:
            fault(at, error.faults[0].problem, ADVICE)
            continue
        yield from _page(held, at, page, fault)


def _page(
    held: object, path: KeyPath, page: Page | None, fault: Note
) -> Iterator[tuple[Slot, CheckedValue]]:
    """The values of CVs that lie on the same page."""
    for key, entry in (_table(held, path, None, fault) or {}).items():
        at = (*path, key)
        try:
            slot = make_slot(int(key) if _NUMBER.fullmatch(key) else 0, page)
        except InputError as error:
            fault(at, error.faults[0].problem, ADVICE)
            continue
        told = _table(entry, at, _VALUE_KEYS, fault)
        if told is None:
            continue
        value = told.get("value")
        if type(value) is not int or not 0 <= value <= WHOLE:
            fault((*at, "value"), f"{slot} must have a value from 0 to 255.", ADVICE)
            continue
        words = (_text(told, at, name, fault) for name in ("digest", "means"))
        yield slot, CheckedValue(value, *words)
