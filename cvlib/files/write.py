"""The one door through which every file is written: whole, or exactly as it was.

:func:`create_file` makes a file, :func:`replace_file` puts other bytes into one that was read, and
:func:`rewrite_file` changes one as it stands. All three do, under the lock of the folder: look
whether the file is still the one that was read, make the new bytes, put them on the disk beside
it, read them back, ask ``holds`` whether they say what was meant, keep the former state where
``cause`` names the command that writes, and rename. The lock is held for that only: ask people
before. ``entered`` is what a person typed in; it is put beside the file where a write is refused.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from decimal import Decimal
from pathlib import Path
from typing import IO, Any, TypeAlias

from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.compiled import digest
from cvlib.files.disk import (
    check_mine,
    half_file,
    locked,
    put_new,
    refusal,
    settle,
    target_of,
)
from cvlib.files.history import keep_former
from cvlib.files.text import decode, file_name, parse_toml, read_bytes

Holds: TypeAlias = Callable[[bytes], bool]
"""Whether bytes, read back from the disk, say what was meant."""

_MOST_ASIDE = 100


def replace_file(
    path: Path,
    data: bytes,
    was: bytes,
    holds: Holds,
    *,
    cause: str = "",
    entered: bytes = b"",
) -> None:
    """Put other bytes into a file in one step; it never holds half of them.

    ``was`` is what the file held when it was read. A link stays a link, and permissions stay.
    Raises InputError, with the file as it was, where it changed meanwhile or cannot be written.
    """
    rewrite_file(path, lambda _: data, holds, seen=digest(was), cause=cause, entered=entered)


def rewrite_file(
    path: Path,
    change: Callable[[bytes], bytes],
    holds: Holds,
    *,
    seen: str = "",
    cause: str = "",
    entered: bytes = b"",
) -> None:
    """Change what a file holds in one step; where nothing changes, nothing is written.

    ``change`` gets its bytes as they are under the lock. ``seen`` is their digest when the answer
    that is written was made from them; empty where the change fits whatever stands there.
    """
    with _kept_aside(path, entered), _in_plain_words(path):
        target = target_of(path)
        read_bytes(target)
        with locked(target.parent):
            was = read_bytes(target)
            if seen and digest(was) != seen:
                raise problem(
                    "the file was changed by something else meanwhile.",
                    advice="Nothing was written; run the command again.",
                    position=Position(file_name(path)),
                )
            data = change(was)
            if data == was:
                return
            check_mine(target, path)
            with half_file(target.parent, target.name, data, target) as half:
                if not holds(data):
                    raise _other_meaning(path)
                if cause:
                    keep_former(target, was, cause)
                half.replace(target)
            settle(target.parent)


def create_file(
    path: Path, data: bytes, holds: Holds, *, within: Path | None = None, entered: bytes = b""
) -> None:
    """Make a new file, and the folders to it; a file that is there is never overwritten.

    ``within`` is the folder that no link on the way may leave. Raises InputError, with no file
    left behind, where there is one or it cannot be written.
    """
    with _kept_aside(path, entered), _in_plain_words(path):
        target = target_of(path.parent, within if within is not None else path.parent) / path.name
        path.parent.mkdir(parents=True, exist_ok=True)
        with locked(target.parent):
            if not holds(data):
                raise _other_meaning(path)
            try:
                put_new(target, data)
            except FileExistsError:
                raise problem(
                    "there is a file of that name already.",
                    advice="Nothing was written; choose another name, or move that file away.",
                    position=Position(file_name(path)),
                ) from None
        settle(target.parent.parent)


def put_file(path: Path, data: bytes, folder: Path) -> bool:
    """Make a file hold just these bytes, in one step; whether anything had to be written.

    For files that are made from others and hold nothing of anybody's own. ``folder`` is the locked
    one above it, where the temporary file goes; no link may lead out of it. Before anybody notes
    that many of them are written, the system has to settle its disks.
    """
    with _in_plain_words(path):
        target = target_of(path, folder)
        if target.is_file() and target.read_bytes() == data:
            return False
        target.parent.mkdir(parents=True, exist_ok=True)
        with half_file(folder, target.name, data, is_lasting=False) as half:
            half.replace(target)
    return True


def remove_file(path: Path, folder: Path) -> None:
    """Take away a file that was made from others, where it is there; no link may lead out."""
    with _in_plain_words(path):
        target_of(path.parent, folder)
        path.unlink(missing_ok=True)


def append_to(path: Path, data: bytes) -> None:
    """Put more bytes at the end of a file, which is made where it is not there.

    For the summary of a job alone, which its runner reads as it grows. Raises InputError where it
    cannot be written.
    """
    try:
        with path.open("ab") as file:
            file.write(data)
    except OSError as error:
        raise refusal(path, error) from None


def any_text(data: bytes) -> bool:
    """What plain text is meant to hold: itself."""
    return isinstance(data, bytes)


def says(meant: Any) -> Holds:
    """Whether bytes are TOML of just this data; comments and layout are free."""

    def holds(data: bytes) -> bool:
        try:
            return _same(parse_toml(decode(data, ""), ""), meant)
        except InputError:
            return False

    return holds


def _same(one: Any, other: Any) -> bool:
    """Whether two values are the same data: 1, 1.0 and true are three."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, (float, Decimal)) and isinstance(other, (float, Decimal)):
        return float(one) == float(other)
    return type(one) is type(other) and bool(one == other)


def _other_meaning(shown: Path) -> InputError:
    return problem(
        "the new text, read back, does not say what was meant.",
        advice="Nothing was written; please report it, with the file if you can.",
        position=Position(file_name(shown)),
    )


@contextmanager
def _in_plain_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise refusal(path, error) from None
    except ValueError as error:  # a name that no file can have
        raise problem(
            f"the file cannot be written: {error}.", position=Position(file_name(path))
        ) from None


@contextmanager
def _kept_aside(path: Path, entered: bytes) -> Iterator[None]:
    """Where a write is refused, what was entered is put into a file, and the line names it."""
    try:
        yield
    except InputError as error:
        if not entered:
            raise
        told = _aside(path, entered)
        raise InputError(
            *(
                Fault(one.problem, one.position, f"{one.advice} {told}".strip())
                for one in error.faults
            )
        ) from None


def _put_whole(file: IO[bytes], data: bytes, path: Path) -> None:
    """Put bytes into a new file, which goes where they do not all go in."""
    try:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    except OSError:
        with suppress(OSError):
            path.unlink()
        raise


def _aside(path: Path, entered: bytes) -> str:
    """Put what was entered beside a file, else among the temporary files; says where it is."""
    for number in range(_MOST_ASIDE):
        again = f"-{number + 1}" if number else ""
        try:
            beside = path.with_name(f"{path.name}.not-written{again}")
            with beside.open("xb") as file:
                _put_whole(file, entered, beside)
            return f"What was entered is in {file_name(beside)}."
        except FileExistsError:
            continue
        except (OSError, ValueError):
            break
    try:
        handle, name = tempfile.mkstemp(prefix="cvlib-", suffix=f"-{path.name[:40]}.not-written")
        with os.fdopen(handle, "wb") as file:
            _put_whole(file, entered, Path(name))
        return f"What was entered is in {file_name(Path(name))}."
    except OSError:
        return "What was entered could not be kept either."
