"""The bench trials in a loco file, [[trial]]: the plan made before the first run, and the runs."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from math import isfinite
from typing import Any

from cvlib.errors import did_you_mean
from cvlib.files.bounds import TEXT
from cvlib.files.read.last_check import Note
from cvlib.files.scanner import KeyPath
from cvlib.files.text import quoted
from cvlib.model.trial import (
    MOST_CONDITIONS,
    MOST_RUNS,
    BenchTrial,
    Run,
    TrialCondition,
    TrialQuestion,
)

KEYS = (
    *("date", "setting", "question", "role", "firmware", "to", "margin", "unit", "step", "looks"),
    *("seed", "conditions", "order", "values", "note", "runs"),
)
CONDITION_KEYS = ("name", "value", "wish")
RUN_KEYS = ("condition", "stop", "missed", "date", "note")
UNITS = ("cm", "s")
ADVICE = '"cvlib trial plan" writes these tables; docs/trial.md says what each key means.'
MOST_FIGURE = 100_000
_MOST_LOOKS = 3


def bench_trials(value: object, fault: Note) -> Iterator[BenchTrial]:
    """Every trial of a loco file that has no fault; what is wrong with the others is noted."""
    if value is not None and not isinstance(value, list):
        fault(("trial",), "trial must be a list of tables.", "Write the heading [[trial]].")
    for at, table in enumerate(value if isinstance(value, list) else ()):
        reading = _TrialReading(("trial", at), fault)
        made = reading.trial(table)
        if made is not None and not reading.is_faulty:
            yield made


class _TrialReading:
    """One walk over one trial that notes its faults."""

    def __init__(self, path: KeyPath, fault: Note) -> None:
        self._path = path
        self._note = fault
        self.is_faulty = False

    def trial(self, table: object) -> BenchTrial | None:
        """The trial; nothing where it is no table."""
        path = self._path
        if not self._is_table(table, path, KEYS):
            return None
        held: Mapping[str, Any] = table  # type: ignore[assignment]  # a table, as just looked at
        conditions = tuple(self._conditions(held.get("conditions"), (*path, "conditions")))
        names = [one.name for one in conditions]
        said, known = self._text(held, path, "question"), [one.value for one in TrialQuestion]
        if said and said not in known:
            self._fault((*path, "question"), f"question cannot be {quoted(said)}.", _of(known))
        unit = self._text(held, path, "unit")
        if unit and unit not in UNITS:
            self._fault((*path, "unit"), f"unit cannot be {quoted(unit)}.", _of(UNITS))
        return BenchTrial(
            self._text(held, path, "setting"),
            TrialQuestion(said) if said in known else TrialQuestion.STOPS,
            conditions,
            self._figure(held.get("margin"), (*path, "margin")),
            unit,
            self._figure(held.get("step"), (*path, "step")),
            tuple(self._looks(held.get("looks"), (*path, "looks"))),
            tuple(self._order(held.get("order"), (*path, "order"), names)),
            self._day(held, path, needed=True),
            self._text(held, path, "firmware", needed=False),
            self._text(held, path, "to", needed=False),
            self._text(held, path, "role", needed=False),
            self._whole(held.get("seed", 0), (*path, "seed"), 0),
            dict(self._values(held.get("values", {}), (*path, "values"))),
            tuple(self._runs(held.get("runs", []), (*path, "runs"), names)),
            self._text(held, path, "note", needed=False),
        )

    def _fault(self, path: KeyPath, what: str, advice: str = ADVICE) -> None:
        self.is_faulty = True
        self._note(path, what, advice)

    def _is_table(self, value: object, path: KeyPath, known: Collection[str]) -> bool:
        if not isinstance(value, dict):
            self._fault(path, f"{_last(path)} must be a table.")
            return False
        for key in value:
            if key not in known:
                advice = did_you_mean(key[:80], known) or f"Known here: {', '.join(known)}."
                self._fault((*path, key), f"unknown key {quoted(key)}.", advice)
        return True

    def _list(self, value: object, path: KeyPath, most: int, least: int = 1) -> list[Any]:
        if not isinstance(value, list) or not least <= len(value) <= most:
            span = f"{least} to {most}" if least else f"up to {most}"
            self._fault(path, f"{_last(path)} must be a list of {span} entries.")
            return []
        return value

    def _text(
        self, table: Mapping[str, Any], path: KeyPath, key: str, *, needed: bool = True
    ) -> str:
        value = table.get(key)
        if value is None and not needed:
            return ""
        if isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= TEXT:
            return value
        self._fault((*path, key), f"{key} must be text on one line, in quotes.")
        return ""

    def _figure(self, value: object, path: KeyPath, *, least: bool = True) -> float:
        is_figure = isinstance(value, int | float | Decimal) and not isinstance(value, bool)
        made = float(value) if is_figure and abs(value) <= MOST_FIGURE else -1.0  # type: ignore[arg-type]
        if isfinite(made) and (made > 0 or (made == 0 and not least)):
            return made
        self._fault(path, f"{_last(path)} must be a figure above 0, up to {MOST_FIGURE}.")
        return 1.0

    def _whole(self, value: object, path: KeyPath, least: int, most: int = 2**31) -> int:
        if type(value) is int and least <= value <= most:
            return value
        self._fault(path, f"{_last(path)} must be a whole number from {least} to {most}.")
        return least

    def _day(self, table: Mapping[str, Any], path: KeyPath, *, needed: bool = False) -> str:
        value = table.get("date")
        if isinstance(value, date) and not isinstance(value, datetime):
            return value.isoformat()
        if value is not None or needed:
            advice = "Write it without quotes and time: date = 2026-03-14."
            self._fault((*path, "date"), "date must be a day.", advice)
        return ""

    def _looks(self, value: object, path: KeyPath) -> Iterator[int]:
        last = 0
        for at, look in enumerate(self._list(value, path, _MOST_LOOKS)):
            last = self._whole(look, (*path, at), last + 1, MOST_RUNS)
            yield last

    def _order(self, value: object, path: KeyPath, names: Sequence[str]) -> Iterator[str]:
        for at, number in enumerate(self._list(value, path, MOST_RUNS)):
            held = self._whole(number, (*path, at), 1, len(names))
            yield from names[held - 1 : held]

    def _conditions(self, value: object, path: KeyPath) -> Iterator[TrialCondition]:
        seen: set[str] = set()
        for at, table in enumerate(self._list(value, path, MOST_CONDITIONS)):
            here = (*path, at)
            if not self._is_table(table, here, CONDITION_KEYS):
                continue
            name = self._text(table, here, "name")
            if name in seen:
                self._fault((*here, "name"), f"there are two conditions {quoted(name)}.")
            seen.add(name)
            raw, wish = table.get("value"), table.get("wish")
            yield TrialCondition(
                name,
                None if raw is None else self._whole(raw, (*here, "value"), -(2**31)),
                None if wish is None else self._figure(wish, (*here, "wish")),
            )

    def _values(self, value: object, path: KeyPath) -> Iterator[tuple[str, str]]:
        if not isinstance(value, dict):
            self._fault(path, "values must be a table.")
            return
        for key in value:
            yield key, self._text(value, path, key)

    def _runs(self, value: object, path: KeyPath, known: Collection[str]) -> Iterator[Run]:
        for at, table in enumerate(self._list(value, path, MOST_RUNS, 0)):
            here = (*path, at)
            if not self._is_table(table, here, RUN_KEYS):
                continue
            name, missed = table.get("condition"), table.get("missed", False)
            if name not in known:
                what = "the run has none of the conditions of the plan."
                self._fault((*here, "condition"), what, _of(known))
            if missed is not True and "stop" not in table:
                advice = "Write stop = 81.5, or missed = true."
                self._fault(here, "the run has no stop.", advice)
            elif missed not in (True, False) or (missed and "stop" in table):
                self._fault((*here, "missed"), "missed can only be true, without a stop.")
            stop = self._figure(table.get("stop", 1), (*here, "stop"), least=False)
            yield Run(
                str(name),
                None if missed else stop,
                self._day(table, here),
                self._text(table, here, "note", needed=False),
            )


def _last(path: KeyPath) -> str:
    return str(next((part for part in reversed(path) if isinstance(part, str)), "trial"))


def _of(known: Collection[str]) -> str:
    return f"Use one of: {', '.join(known)}." if known else ADVICE
