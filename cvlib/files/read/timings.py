"""Stopwatch timings as people type them: a row for each run, figures with their units.

A line of headings says which column holds what; ``match plan`` prints such a list to be filled in.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cvlib.engine.compare.motion import STEPS
from cvlib.engine.speed.timings import Timing
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.bounds import CELLS, ROWS, check_count
from cvlib.files.read.headings import split_cells
from cvlib.files.text import decode_list, file_name, quoted, read_bytes
from cvlib.files.typed_keys import split_measure
from cvlib.model.unit_table import factor

HEADINGS = ("run", "loco", "step", "direction", "length", "laps", "time", "remark")
"""The columns of a plan, in their order."""

_NEEDED = ("loco", "step", "direction", "length", "time")
_NAMES = {
    **{name: name for name in HEADINGS},
    "lok": "loco",
    "fahrstufe": "step",
    "richtung": "direction",
    "länge": "length",
    "runden": "laps",
    "zeit": "time",
    "bemerkung": "remark",
}
_WAYS = {
    **dict.fromkeys(("forward", "forwards", "f", "fwd", "ahead", "vorwärts", "v"), True),
    **dict.fromkeys(("reverse", "r", "rev", "back", "backward", "rückwärts", "zurück"), False),
}
STANDS = ("stands", "stand", "steht")
"""What is typed where the loco does not move at a step."""

_MINUTES = re.compile(r"(\d{1,3}):(\d{2}(?:[.,]\d{1,3})?)\s*(?:min|s)?", re.A)
_UNIT = re.compile(r"[(\[]?\s*(mm|cm|m|in|ft|s|min)\s*[)\]]?\Z", re.I | re.A)
_LAPS = re.compile(r"(\d{1,3})\s*(?:laps?|x|runden?)\s*,?\s*(.+)", re.I | re.A)
_MOST_LAPS = 200
_PLAIN = {"mm/s": 0.001, "cm/s": 0.01, "m/s": 1.0, "in/s": 0.0254}
_PROTOTYPE = {"km/h": 1 / 3.6, "mph": 0.44704}


@dataclass(frozen=True, slots=True)
class TimingRow:
    """One row of a list of timings, perhaps not filled in yet."""

    position: Position
    cells: tuple[str, ...]
    loco: str
    step: int
    is_forward: bool
    length: float
    """Metres of one lap."""
    laps: int
    seconds: tuple[float, ...]
    is_done: bool

    @property
    def timing(self) -> Timing:
        """The timing as it is written."""
        distance = self.laps * self.length
        held = self.loco, self.step, self.is_forward, distance, self.seconds
        return Timing(*held, self.position)


@dataclass(frozen=True, slots=True)
class TimingList:
    """A list of timings, with what is needed to fill in a row of it."""

    lines: tuple[str, ...]
    delimiter: str
    columns: dict[str, int]
    rows: tuple[TimingRow, ...]

    @property
    def timings(self) -> tuple[Timing, ...]:
        """What was timed, in the order of the rows."""
        return tuple(row.timing for row in self.rows if row.is_done)

    def filled(self, row: TimingRow, laps: str, time: str) -> str:
        """The whole text with the laps and the time of one row filled in."""
        cells = list(row.cells) + [""] * (max(self.columns.values()) + 1 - len(row.cells))
        cells[self.columns["time"]] = time
        if "laps" in self.columns:
            cells[self.columns["laps"]] = laps
        out = io.StringIO()
        csv.writer(out, delimiter=self.delimiter, lineterminator="").writerow(cells)
        lines = list(self.lines)
        lines[(row.position.line or 1) - 1] = out.getvalue()
        return "\n".join(lines) + "\n"


def read_timings(path: Path) -> tuple[TimingList, bytes]:
    """The timings of a file, and its bytes; raises InputError with every fault of it."""
    data = read_bytes(path)
    return parse_timings(decode_list(data, file_name(path)), file_name(path)), data


def is_timings(text: str) -> bool:
    """Whether a list has the headings of one of timings, so that it is none of CVs."""
    lines = _lines(text)
    start, delimiter = _heading(lines)
    try:
        _columns(split_cells(lines[start], delimiter), Position("", start + 1))
    except InputError:
        return False
    return True


def _lines(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").rstrip().split("\n")


def _heading(lines: Sequence[str]) -> tuple[int, str]:
    """Which line has the headings, and what parts its cells."""
    start = next((at for at, line in enumerate(lines) if line.strip() and line[0] != "#"), 0)
    return start, max(";\t,", key=lines[start].count)


def parse_timings(text: str, name: str) -> TimingList:
    """The timings of a text; raises InputError with every fault."""
    lines = _lines(text)
    check_count(lines, ROWS, "rows", Position(name))
    start, delimiter = _heading(lines)
    columns, units = _columns(split_cells(lines[start], delimiter), Position(name, start + 1))
    rows: list[TimingRow] = []
    faults: list[Fault] = []
    for number, line in enumerate(lines[start + 1 :], start + 2):
        cells, where = split_cells(line, delimiter), Position(name, number)
        check_count(cells, CELLS, "cells of a row", where)
        if not any(cells) or line.startswith("#"):
            continue
        try:
            rows.append(_row(cells, columns, units, where))
        except InputError as error:
            faults += [
                Fault(one.problem, one.position or where, one.advice) for one in error.faults
            ]
    if faults:
        raise InputError(*faults)
    return TimingList(tuple(lines), delimiter, columns, tuple(rows))


def _columns(cells: Sequence[str], where: Position) -> tuple[dict[str, int], dict[str, str]]:
    """Which column holds what, and the unit that a heading gives its figures."""
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for at, cell in enumerate(cells):
        word, _, rest = cell.strip().casefold().partition(" ")
        if (known := _NAMES.get(word)) and known not in columns:
            columns[known] = at
            if found := _UNIT.fullmatch(rest):
                units[known] = found[1]
    lacking = [name for name in _NEEDED if name not in columns]
    if lacking:
        raise problem(
            f"no column is headed {' or '.join(lacking)}.",
            advice=f'The headings are "{",".join(HEADINGS)}"; "cvlib match plan --format csv" '
            "prints such a list.",
            position=where,
        )
    return columns, units


def _row(
    cells: list[str], columns: dict[str, int], units: dict[str, str], where: Position
) -> TimingRow:
    def cell(name: str) -> str:
        at = columns.get(name)
        return cells[at] if at is not None and at < len(cells) else ""

    if len(cells) > max(columns.values()) + 1 and any(cells[max(columns.values()) + 1 :]):
        raise problem(
            "this row has more cells than there are headings.",
            advice="Where commas part the cells, write 24.1 s and not 24,1 s.",
        )
    step = cell("step")
    if not step.isdecimal() or not 1 <= int(step[:4]) <= STEPS:
        raise problem(
            f"{quoted(step)} is no speed step.", advice=f"Steps are 1 to {STEPS}, of {STEPS}."
        )
    way = _WAYS.get(cell("direction").casefold())
    if way is None:
        raise problem(
            f"{quoted(cell('direction'))} is no direction.", advice="Write forward or reverse."
        )
    time, laps = cell("time"), cell("laps") or "1"
    if not laps.isdecimal() or not 1 <= int(laps[:4]) <= _MOST_LAPS:
        raise problem(f"{quoted(laps)} is no number of laps.", advice=f"Write 1 to {_MOST_LAPS}.")
    length = parse_figure(cell("length"), "m", units.get("length", ""))
    seconds = parse_times(time, units.get("time", "")) if time else ()
    held = cell("loco").removeprefix("'"), int(step), way, length, int(laps), seconds, bool(time)
    return TimingRow(where, tuple(cells), *held)


def parse_times(text: str, unit: str = "") -> tuple[float, ...]:
    """The seconds of one or more times parted by "/"; none where the loco stands.

    >>> parse_times("7.6 / 7,5 s"), parse_times("1:02.5"), parse_times("stands")
    ((7.6, 7.5), (62.5,), ())
    """
    if text.strip().casefold() in STANDS:
        return ()
    parts = [part.strip() for part in text.split("/")]
    last = split_measure(parts[-1])
    unit = last[1] if last and last[1] else unit
    return tuple(
        int(found[1]) * 60 + float(found[2].replace(",", "."))
        if (found := _MINUTES.fullmatch(part))
        else parse_figure(part, "s", unit)
        for part in parts
    )


def parse_laps(text: str) -> tuple[int, str]:
    """The laps and the time of an answer such as ``3 laps 24.1 s``; 0 laps where none are said."""
    found = _LAPS.fullmatch(text.strip())
    return (int(found[1]), found[2]) if found else (0, text)


def parse_figure(text: str, of: str, unit: str = "") -> float:
    """A length or a time in metres or seconds; its unit stands with it, or in the heading."""
    figure, given = split_measure(text) or (0.0, "")
    usual = "12.4 s" if of == "s" else "180 cm"
    if figure <= 0:
        raise problem(f"{quoted(text)} is not understood.", advice=f"Write it as {usual}.")
    given = given or unit
    share = factor(given, of) if given else None
    if share is None:
        what = f'"{given}" is no unit for it' if given else "a unit is missing"
        raise problem(f"{quoted(text)}: {what}.", advice=f"Write the unit with it, as {usual}.")
    return figure * float(share)


def parse_speed(text: str, scale: float) -> float:
    """Metres a second of a speed: ``25 cm/s``, or ``60 km/h`` of the prototype at a scale."""
    figure, unit = split_measure(text) or (0.0, "")
    if unit not in _PLAIN | _PROTOTYPE:
        raise problem(
            f"{quoted(text)} is no speed.",
            advice="Write 25 cm/s or 0.25 m/s, or 60 km/h with --scale 87.",
        )
    if unit in _PLAIN:
        return figure * _PLAIN[unit]
    if not scale:
        raise problem(
            f"{quoted(text)} is a speed of the prototype.", advice="Give the scale: --scale 87."
        )
    return figure * _PROTOTYPE[unit] / scale
