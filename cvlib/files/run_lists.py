"""Runs as people type them: at a prompt, or a list with one run a line."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from cvlib.errors import Fault, InputError, Position, did_you_mean, in_file, problem
from cvlib.files.bounds import TEXT
from cvlib.files.read.trials import MOST_FIGURE
from cvlib.files.text import decode, file_name, quoted, read_bytes
from cvlib.files.typed_keys import parse_day, split_measure
from cvlib.model.trial import MOST_RUNS, BenchTrial, Run
from cvlib.model.unit_table import factor

MISSED = ("missed", "miss", "m")
_ODD = re.compile(
    r"""\d|"|[^\W\d_]{1,2}\b
    |(?:mil|inch|foot|feet|yard|met[er]{2}|centimet[er]{2}|millimet[er]{2}|parsec|sec|second|minute
    |hour|step|degree)(?:es|s)?\b""",
    re.IGNORECASE | re.VERBOSE,
)
"""How a word begins that may belong to the figure before it: a figure, or the name of a unit."""
_HEADED = re.compile(r"[^(\[]*[(\[]\s*([^)\]]*?)\s*[)\]]?\s*")
_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "run": ("run", "no", "nr", "number"),
    "condition": ("condition", "entry speed", "speed", "value", "firmware"),
    "stop": ("stop", "stopped at", "distance", "measured", "time", "reading"),
    "date": ("date", "day"),
    "note": ("note", "remark", "remarks"),
}


def parse_stop(text: str, unit: str, headed: str = "") -> float | None:
    """What was measured, in a unit; nothing for ``missed``.

    Without a unit it is that of the heading, ``headed``, else that of the trial.

    >>> parse_stop("81,5", "cm"), parse_stop("812 mm", "cm"), parse_stop("missed", "cm")
    (81.5, 81.2, None)
    """
    typed = text.strip()
    if typed.casefold() in MISSED:
        return None
    found = split_measure(typed)
    if not found:
        raise problem(
            f'"{typed}" is no measured stop.',
            advice=f'Type a figure such as "81.5" or "81.5 {unit}", or "missed".',
        )
    figure, said = found
    size = factor(said or headed or unit, unit)
    if size is None:
        raise problem(
            f'"{said}" is no unit that turns into {unit}.',
            advice="Use s or min." if unit == "s" else "Use cm, mm, m or in.",
        )
    value = figure * float(size)
    if value > MOST_FIGURE:
        raise problem(f"{typed} is too much.", advice="Look for a point left out.")
    return round(value, 6)


def parse_run(text: str, trial: BenchTrial, condition: str, day: str) -> Run:
    """A run as typed at the prompt: ``81.5``, ``81.5 cm slipped``, ``missed``, ``fast: 81.5``.

    What stands before a colon is the condition, where it was another than the one due; what
    follows the figure is a remark.
    """
    named, colon, rest = text.partition(":")
    name = named.strip() if colon else condition
    _check_condition(name, trial)
    return _run_of(name, rest if colon else text, trial.unit, day)


def _check_condition(name: str, trial: BenchTrial) -> None:
    known = [one.name for one in trial.conditions]
    if name not in known:
        raise problem(
            f'there is no condition "{name}".',
            advice=did_you_mean(name, known) or f"Conditions are {', '.join(known)}.",
        )


def _run_of(
    condition: str, text: str, unit: str, day: str, *, headed: str = "", note: str = ""
) -> Run:
    """A run of a typed stop, behind which a remark may stand."""
    words = text.split(None, 1)
    first, more = (*words, "")[:2] if words else ("", "")
    said, _, remark = more.partition(" ")
    if _is_unit(said):
        first, more = f"{first} {said}", remark.strip()
    if _ODD.match(more):
        raise problem(
            f"{quoted(text)} is not understood.",
            advice=f'Type one figure with its unit, such as "81.5 {unit}"; a remark of such a '
            'word begins with a dash: "81.5 - 2nd try".',
        )
    told = "; ".join(filter(None, (more.lstrip("-– "), note)))
    check_remark("the remark", told)
    return Run(condition, parse_stop(first, unit, headed), day, told)


def check_remark(what: str, text: str) -> None:
    """Raise InputError for a text that a loco file cannot hold in a trial."""
    if not text.isprintable():
        raise problem(
            f"{what} holds line breaks or signs that cannot be shown: {quoted(text)}.",
            advice="Type it on one line, in plain signs.",
        )
    if len(text) > TEXT:
        raise problem(f"{what} has more than {TEXT} characters.", advice="Make it shorter.")


def _is_unit(word: str) -> bool:
    found = split_measure(f"1 {word}")
    return found is not None and any(factor(found[1], one) for one in ("cm", "s"))


def read_runs(path: Path, trial: BenchTrial, day: str) -> tuple[Run, ...]:
    """The runs of a list: with a heading, or each line a stop in the order of the plan.

    Raises InputError with every fault, each with its line.
    """
    name = file_name(path)
    text = decode(read_bytes(path), name)
    lines = text.lstrip("\ufeff").splitlines()
    first = next((line for line in lines if line.strip()), "")
    delimiter = next((sign for sign in "\t;" if sign in first), ",")
    columns: list[str] = []
    headed = ""
    numbers: set[int] = set()
    due = list(trial.due())
    found: list[Run] = []
    faults: list[Fault] = []
    for number, cells in enumerate(csv.reader(lines, delimiter=delimiter), 1):
        row = [cell.strip().lstrip("'") for cell in cells]
        if not any(row):
            continue
        if not columns:
            columns = _columns(row)
            if "stop" in columns:
                headed = _headed_unit(
                    row[columns.index("stop")], trial.unit, Position(name, number)
                )
                continue
            has_names = row[0] in [one.name for one in trial.conditions]
            columns = ["condition", "stop", "date", "note"] if has_names else ["stop"]
        if columns == ["stop"]:
            row = [lines[number - 1].strip().lstrip("'")]  # a comma is one of the figure
        held = dict(zip(columns, row, strict=False))
        if not held.get("stop"):
            continue
        try:
            with in_file(""):
                _check_width(row, columns)
                _check_number(held.get("run", ""), numbers, len(trial.runs))
                usual = due[len(found)] if len(found) < len(due) else trial.order[-1]
                found.append(_run(held, trial, usual, day, headed))
        except InputError as error:
            where = Position(name, number)
            faults += [replace(one, position=where) for one in error.faults]
    if not found and not faults:
        faults.append(Fault("no run is in this list.", Position(name), "Write one run a line."))
    if len(found) > MOST_RUNS:
        faults.append(Fault(f"more than {MOST_RUNS} runs.", Position(name), "Split the list."))
    if faults:
        raise InputError(*faults)
    return tuple(found)


def _check_width(row: list[str], columns: list[str]) -> None:
    if any(row[len(columns) :]):
        raise problem(
            f"the line has {len(row)} entries, and there are {len(columns)} columns.",
            advice="Put a figure with a comma in quotes, or part the columns by semicolons.",
        )


def _columns(row: list[str]) -> list[str]:
    """What the columns of a heading hold; a name that is not known is passed over."""
    titles = [re.sub(r"\s*[(\[].*", "", cell).casefold() for cell in row]
    return [
        next((key for key, names in _COLUMNS.items() if title in names), f"?{at}")
        for at, title in enumerate(titles)
    ]


def _headed_unit(cell: str, unit: str, where: Position) -> str:
    """The unit in a heading such as ``stop (in)``; empty where it has none."""
    found = _HEADED.fullmatch(cell)
    said = (split_measure(f"1 {found[1]}") or (1.0, found[1]))[1] if found else ""
    if said and factor(said, unit) is None:
        raise problem(
            f"{quoted(cell)}: what stands in brackets is no unit that turns into {unit}.",
            advice=f"Head the column stop ({unit}).",
            position=where,
        )
    return said


def _check_number(text: str, seen: set[int], kept: int) -> None:
    """Raise InputError for a run of a filled list that is entered already."""
    if not text.isdecimal() or len(text) > 9:
        return
    number = int(text)
    if number <= kept:
        raise problem(
            f"run {number} is entered already.",
            advice=f"The file holds {kept} runs: leave the rows up to {kept} out, or number those "
            f"that are new from {kept + 1}.",
        )
    if number in seen:
        raise problem(f"run {number} stands there twice.", advice="Give each a number of its own.")
    seen.add(number)


def _run(held: Mapping[str, str], trial: BenchTrial, usual: str, day: str, headed: str) -> Run:
    name = held.get("condition") or usual
    _check_condition(name, trial)
    made = parse_day(held.get("date") or day).isoformat()
    note = held.get("note", "")
    return _run_of(name, held["stop"], trial.unit, made, headed=headed, note=note)
