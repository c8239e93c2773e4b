"""Former states of a file: kept beside it whenever it is written, and one of them put back.

They lie in ``.cvlib/history/NAME.states``, a file each, oldest first by their number:
``000007-20261130T110233Z-carry.former`` is the state that a carry replaced. Going back leaves the
state that was there as one with ``undo`` and the number of the state that took its place, so that
the next step back knows where it stands.
"""

from __future__ import annotations

import os
import re
import stat
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cvlib.errors import InputError, Position, problem
from cvlib.files.disk import check_mine, half_file, locked, put_new, refusal, settle, target_of
from cvlib.files.text import file_name, is_folder, read_bytes

FOLDER = ".cvlib"
MOST = 20
"""The states of one file that are kept."""

_NAME = re.compile(
    r"(\d{6,18})-(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)Z-([a-z]+)(\d*)\.former", re.ASCII
)
_TIME = "%Y%m%dT%H%M%SZ"
_IGNORE = b"*\n"
"""Git is told to look at nothing in the folder."""


@dataclass(frozen=True, slots=True)
class FormerFile:
    """A former state of a file."""

    number: int
    until: str
    """When something else took its place: ISO date and time, UTC."""
    cause: str
    """The command that replaced it."""
    path: Path
    back_to: int = 0
    """Of one that ``undo`` replaced: the number of the state that was put there."""


def former_files(path: Path) -> list[FormerFile]:
    """The former states of a file, oldest first; none where nothing was ever written over it."""
    found: list[FormerFile] = []
    folder = _folder(target_of(path))
    _check_plain(folder)
    try:
        inside = sorted(folder.iterdir()) if is_folder(folder) else []
    except OSError as error:
        raise refusal(folder, error) from None
    for one in inside:
        if (name := _NAME.fullmatch(one.name)) and not one.is_symlink():
            until = "{}-{}-{}T{}:{}:{}Z".format(*name.groups()[1:7])
            found.append(FormerFile(int(name[1]), until, name[8], one, int(name[9] or 0)))
    return found


def keep_former(target: Path, was: bytes, cause: str) -> None:
    """Keep what a file holds, just before it is replaced; the folder's lock is held.

    A state that is kept already is not kept twice in a row.
    """
    known = former_files(target)
    is_mark = cause.startswith("undo")
    if known and not is_mark and read_bytes(known[-1].path) == was:
        return
    number = known[-1].number + 1 if known else 1
    _prepare(target)
    stamp = datetime.now(UTC).strftime(_TIME)
    put_new(_folder(target) / f"{number:06d}-{stamp}-{cause}.former", was, target.parent)
    for one in known[: max(0, len(known) + 1 - MOST)]:
        one.path.unlink()


def put_back(path: Path, number: int = 0) -> tuple[FormerFile, int]:
    """Put a former state of a file in its place: the one before, or the one of a number.

    Gives it, and the number under which is kept what the file held.
    Raises InputError, with the file as it was, where there is none.
    """
    target = target_of(path)
    try:
        with locked(target.parent):
            return _put_back(target, path, number)
    except OSError as error:
        raise refusal(path, error) from None


def _put_back(target: Path, shown: Path, number: int) -> tuple[FormerFile, int]:
    now = read_bytes(target)
    check_mine(target, shown)
    known = former_files(target)
    at = _position(known, now)
    older = [one for one in known if at is None or one.number < at]
    wanted = [one for one in known if one.number == number] if number else older[-1:]
    while not number and wanted and read_bytes(wanted[0].path) == now:
        wanted = [one for one in older if one.number < wanted[0].number][-1:]
    if not wanted:
        raise _no_state(known, shown, number)
    found = wanted[0]
    data = read_bytes(found.path)
    if at is None:
        keep_former(target, now, f"undo{found.number}")
    with half_file(target.parent, target.name, data, target) as half:
        half.replace(target)
    settle(target.parent)
    if at is None:
        return found, known[-1].number + 1
    mark = known[-1]
    name = re.sub(r"undo\d+", f"undo{found.number}", mark.path.name)
    with suppress(OSError):  # the file is put back already; the next step finds its place by itself
        mark.path.rename(mark.path.with_name(name))
    return found, at


def _position(known: list[FormerFile], now: bytes) -> int | None:
    """The number of the state that a step back has put in place; nothing where none has."""
    if not known or known[-1].cause != "undo":
        return None
    reached = (one for one in reversed(known) if one.number <= known[-1].back_to)
    return next((one.number for one in reached if read_bytes(one.path) == now), None)


def _no_state(known: list[FormerFile], shown: Path, number: int) -> InputError:
    where = Position(file_name(shown))
    if number and known:
        numbers = ", ".join(str(one.number) for one in known)
        return problem(
            f"there is no state {number}.", advice=f"Kept are {numbers}.", position=where
        )
    if known:
        return problem("this is the oldest state that is kept.", position=where)
    return problem(
        "no former state of this file is kept.",
        advice="States are kept whenever cvlib itself writes over a file.",
        position=where,
    )


def _folder(target: Path) -> Path:
    return target.parent / FOLDER / "history" / f"{target.name}.states"


def _check_plain(folder: Path) -> None:
    """Raise InputError where the way to the states leads over a link, or to somebody else."""
    for one in (folder.parent.parent, folder.parent, folder):
        try:
            known = one.lstat()
        except FileNotFoundError:
            return
        is_ours = sys.platform == "win32" or known.st_uid == os.geteuid()
        if not stat.S_ISDIR(known.st_mode) or not is_ours:
            raise problem(
                "former states cannot be kept here: this is no folder of your own.",
                advice="Nothing was written; move it away.",
                position=Position(file_name(one)),
            )


def _prepare(target: Path) -> None:
    folder = _folder(target)
    folder.mkdir(parents=True, exist_ok=True)
    _check_plain(folder)
    if not (target.parent / FOLDER / ".gitignore").exists():
        put_new(target.parent / FOLDER / ".gitignore", _IGNORE, target.parent)
    settle(folder.parent)
