"""Rows of a table put together that say one thing: a byte and its bits, and settings that recur."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from cvlib.files.read.setting_table import SettingRow

_NUMBER = re.compile(r"\d+", re.A)
_FEWEST = 3
"""Rows from how many on they look like one setting repeated."""
_HALF = re.compile(r"[\s,(]*\b(?:high|low|hohes|niederes)[\s-]+byte\b\)?", re.I)
_HIGH = re.compile(r"\b(?:high|hohes)[\s-]+byte", re.I)
_LONG = 192
_NAMELESS = frozenset(
    (
        *("unnamed", "no meaning stated", "unknown", "reserved", "not used", "unused", "?", "-"),
        *("unbenannt", "unbekannt", "reserviert", "nicht benutzt"),
    )
)
"""What tables write where they have no name for a CV: a name that says of no other CV the same."""
_WHOLE_BYTE = "0-7"
_SAYS = ("kind", "choices", "values", "flags", "unit")


@dataclass(frozen=True, slots=True)
class Recurrence:
    """Rows that look like one setting repeated."""

    title: str
    """With ``{n}`` in place of the index."""
    rows: tuple[SettingRow, ...]
    """In the order of the index."""
    first: int
    step: int
    """CVs from one to the next."""

    def row(self) -> SettingRow:
        """All of them as one row."""
        count = {"count": len(self.rows), "step": self.step, "first": self.first}
        told = [one.default for one in self.rows]
        same = len(set(told)) == 1
        return replace(
            self.rows[0],
            title=self.title,
            repeat=count,
            default=told[0] if same else "",
            defaults=() if same or not all(told) else tuple(told),
        )

    def curve(self) -> SettingRow:
        """All of them as one row of many CVs, one value each."""
        cvs = [one.keys["cv"] for one in self.rows]
        keys = {key: held for key, held in self.rows[0].keys.items() if key != "cv"}
        default = ", ".join(one.default for one in self.rows)
        title = " ".join(self.title.replace("{n}", "").split())
        return replace(
            self.rows[0],
            keys={"cvs": cvs, **keys, "kind": "curve"},
            title=title,
            default=default if all(one.default for one in self.rows) else "",
        )


def settled(rows: Sequence[SettingRow]) -> list[SettingRow]:
    """The rows, those that belong together made one.

    A CV that is named as a whole and as its bits 0-7 is one setting; a row that only gives another
    default joins the one that it is about; a byte whose bits have rows of their own is known as
    such.
    """
    found: list[SettingRow] = []
    split = {(_cv(one), one.condition) for one in rows if "bits" in one.keys}
    for row in rows:
        at = _same(found, row) if row.is_default_only and row.condition else None
        if at is not None and row.condition:
            cases = (*found[at].cases, (row.condition, row.default))
            found[at] = replace(found[at], cases=cases)
        elif row.keys.get("bits") == _WHOLE_BYTE:
            keys = {key: held for key, held in row.keys.items() if key != "bits"}
            at = _whole(found, row)
            if at is None:
                found.append(replace(row, keys=keys))
                continue
            own = {key: held for key, held in found[at].keys.items() if key != "kind"}
            told = row.default or found[at].default
            found[at] = replace(found[at], keys={**own, **keys}, default=told)
        else:
            is_byte = "bits" not in row.keys and (_cv(row), row.condition) in split
            is_bare = is_byte and not any(key in row.keys for key in _SAYS)
            found.append(replace(row, keys={**row.keys, "kind": "fields"}) if is_bare else row)
    return found


def told_apart(rows: Sequence[SettingRow]) -> list[SettingRow]:
    """The rows, those of one name that are not one setting told apart by their CVs."""
    names = Counter((row.title, row.condition) for row in rows if not row.id)
    return [
        replace(row, title=f"{row.title}, CV {row.where}")
        if not row.id and (names[row.title, row.condition] > 1 or row.title.casefold() in _NAMELESS)
        else row
        for row in rows
    ]


def halves(rows: Sequence[SettingRow]) -> Iterator[tuple[SettingRow, SettingRow, SettingRow]]:
    """Each two rows that are the high and the low byte of one figure, with the row that is both."""
    for high, low in pairwise(rows):
        titles = [_HALF.sub(" ", one.title) for one in (high, low)]
        is_pair = _HIGH.search(high.title) and titles[0] == titles[1] != high.title
        if is_pair and "cv" in high.keys and "cv" in low.keys and not high.condition:
            shared = {key: high.keys[key] for key in high.keys if key not in ("cv", "range")}
            default = f"{high.default}, {low.default}" if high.default and low.default else ""
            keys = {"cvs": [high.keys["cv"], low.keys["cv"]], **shared, **_long_range(high, low)}
            title = " ".join(titles[0].split())
            yield high, low, replace(high, keys=keys, title=title, default=default)


def _long_range(high: SettingRow, low: SettingRow) -> dict[str, Any]:
    """The addresses that two bytes hold, the high one counted from 192 (RCN-225, CVs 17 and 18)."""
    ends = [high.keys.get("range"), low.keys.get("range", [0, 255])]
    if ends[0] is None or ends[0][0] < _LONG:
        return {}
    return {"range": [(ends[0][at] - _LONG) * 256 + ends[1][at] for at in (0, 1)]}


def recurrences(rows: Sequence[SettingRow]) -> list[Recurrence]:
    """The rows that look like settings repeated, the longest runs first; no row is in two."""
    runs: dict[tuple[Any, ...], dict[int, SettingRow]] = {}
    for row in rows:
        for title, index in _patterns(row):
            runs.setdefault((title, *_alike(row)), {}).setdefault(index, row)
    found = [one for (title, *_), run in runs.items() for one in _regular(str(title), run)]
    taken: set[int] = set()
    chosen: list[Recurrence] = []
    for one in sorted(found, key=lambda held: -len(held.rows)):
        if taken.isdisjoint(map(id, one.rows)):
            chosen.append(one)
            taken.update(map(id, one.rows))
    return chosen


def folded(
    rows: Sequence[SettingRow], runs: Sequence[tuple[Recurrence, SettingRow]]
) -> list[SettingRow]:
    """The rows, each run of settings repeated as the one row that stands for it."""
    first = {id(run.rows[0]): row for run, row in runs}
    gone = {id(row) for run, _ in runs for row in run.rows}
    return [first.get(id(row), row) for row in rows if id(row) in first or id(row) not in gone]


def _patterns(row: SettingRow) -> Iterator[tuple[str, int]]:
    if row.id or "cv" not in row.keys or row.cases or len(row.title) > 200:
        return
    for number in _NUMBER.finditer(row.title):
        if len(number[0]) <= 3:
            title = f"{row.title[: number.start()]}{{n}}{row.title[number.end() :]}"
            yield title, int(number[0])


def _alike(row: SettingRow) -> tuple[Any, ...]:
    """What all rows of a setting repeated have in common."""
    keys = {key: repr(held) for key, held in row.keys.items() if key not in ("cv",)}
    return (row.condition, row.printed, row.group, not row.default, *sorted(keys.items()))


def _regular(title: str, run: dict[int, SettingRow]) -> Iterator[Recurrence]:
    """The stretches of a run whose indexes follow each other, as many CVs apart each time."""
    held: list[int] = []
    step = 0
    for index in sorted(run):
        apart = run[index].keys["cv"] - run[held[-1]].keys["cv"] if held else 0
        if held and (index != held[-1] + 1 or not apart or (step and apart != step)):
            yield from _run(title, run, held, step)
            held, step = [], 0
        elif held:
            step = apart
        held.append(index)
    yield from _run(title, run, held, step)


def _run(
    title: str, run: dict[int, SettingRow], held: list[int], step: int
) -> Iterator[Recurrence]:
    if len(held) >= _FEWEST:
        yield Recurrence(title, tuple(run[index] for index in held), held[0], step)


def _cv(row: SettingRow) -> tuple[Any, Any]:
    return row.keys.get("cv"), row.keys.get("page")


def _same(found: Sequence[SettingRow], row: SettingRow) -> int | None:
    """The row without a condition that a further default is for."""
    for at, one in enumerate(found):
        if (one.where, one.title, one.condition) == (row.where, row.title, None):
            return at
    return None


def _whole(found: Sequence[SettingRow], row: SettingRow) -> int | None:
    for at, one in enumerate(found):
        if _cv(one) == _cv(row) and one.condition == row.condition and "bits" not in one.keys:
            return at
    return None
