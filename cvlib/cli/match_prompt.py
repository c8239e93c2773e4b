"""Timings taken at a prompt: one run at a time, each written at once and taken back at will."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.cli.prompts import ask_each

if TYPE_CHECKING:
    from cvlib.files.read.timings import TimingRow

HELP = (
    'Type the time, such as "24.1 s" or "1:02.5"; more laps as "3 laps 24.1 s"; several times as '
    '"7.6 / 7.5 s"; "stands" where it does not move; "undo"; "quit".'
)


def enter_timings(path: Path) -> None:
    """Ask for each time that is missing, or too short to tell enough, until all are there."""
    from cvlib.render.phrases import counted

    done: list[TimingRow] = []

    def question() -> str:
        return next(map(_question, _rows(path)), "")

    def take(text: str) -> None:
        row = _rows(path)[0]
        _take(path, row, text)
        done.append(row)

    def undo() -> None:
        if done:
            _fill(path, done.pop())
        else:
            print("There is no time to take back.", file=sys.stderr)

    ask_each(question, take, undo, HELP, lambda: len(_rows(path)))
    left = len(_rows(path))
    said = f"{counted(left, 'run is', 'runs are')} left." if left else "All runs are timed."
    print(f"cvlib: {said} They stand in {path}.", file=sys.stderr)


def _question(row: TimingRow) -> str:
    from cvlib.engine.speed.timings import way_word

    text = f"{row.loco}, step {row.step}, {way_word(row.is_forward)}"
    if row.is_done:
        more = row.timing.repeats_wanted - len(row.seconds)
        text += (
            f": {row.timing.mean:.1f} s tell the speed to {200 * row.timing.error:.1f} %. "
            f"{max(more, 1)} more times, or {row.timing.laps_wanted * row.laps} laps"
        )
    return text


def _rows(path: Path) -> list[TimingRow]:
    from cvlib.files.read.timings import read_timings

    return [r for r in read_timings(path)[0].rows if not r.is_done or not r.timing.is_precise]


def _take(path: Path, row: TimingRow, text: str) -> None:
    """Write down one answer; times over the same laps as before are added to those."""
    from cvlib.files.read.timings import parse_laps, parse_times

    laps, time = parse_laps(text)
    parse_times(time)
    if row.is_done and laps in (0, row.laps) and row.seconds:
        before = " / ".join(f"{one:g} s" for one in row.seconds)
        time, laps = f"{before} / {time}", row.laps
    _fill(path, row, laps, time)


def _fill(path: Path, row: TimingRow, laps: int = 0, time: str | None = None) -> None:
    """Write laps and time into the row; without a time what it held before."""
    from cvlib.files.read.timings import read_timings
    from cvlib.files.text import decode_list, encode_as, file_name
    from cvlib.files.write import replace_file

    held, was = read_timings(path)
    cells = dict(enumerate(row.cells))
    old_laps = cells.get(held.columns.get("laps", -1), "")
    old_time = cells.get(held.columns["time"], "")
    new = held.filled(row, str(laps) if laps else old_laps, old_time if time is None else time)
    made = encode_as(new, was, decode_list(was, file_name(path)))
    replace_file(path, made, was, lambda read: read == made)
