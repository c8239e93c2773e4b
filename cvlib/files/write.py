"""A file replaced as a whole, or left exactly as it was."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import BinaryIO

from cvlib.errors import InputError, Position, problem
from cvlib.files.text import file_name, read_bytes


def replace_file(path: Path, data: bytes, was: bytes) -> None:
    """Put other bytes into a file in one step; it never holds half of them.

    ``was`` is what the file held when it was read. A link stays a link, and permissions stay.
    Raises InputError, with the file as it was, where it changed meanwhile or cannot be written.
    """
    target = Path(os.path.realpath(path))
    if read_bytes(target) != was:
        raise problem(
            "the file was changed by something else meanwhile.",
            advice="Nothing was written; run the command again.",
            position=Position(file_name(path)),
        )
    try:
        _replace(target, data)
    except OSError as error:
        raise _refusal(path, error) from None


def create_file(path: Path, data: bytes) -> None:
    """Make a new file, and the folders to it; a file that is there is never overwritten.

    Raises InputError, with nothing left behind, where it is there or cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _refusal(path.parent, error) from None
    try:
        with path.open("xb") as file:
            _fill(path, file, data)
    except FileExistsError:
        raise problem(
            "there is a file of that name already.",
            advice="Nothing was written; choose another name, or move that file away.",
            position=Position(file_name(path)),
        ) from None
    except OSError as error:
        raise _refusal(path, error) from None
    _settle(path.parent)


def append_to(path: Path, data: bytes) -> None:
    """Put more bytes at the end of a file, which is made where it is not there.

    Raises InputError where it cannot be written.
    """
    try:
        with path.open("ab") as file:
            file.write(data)
    except OSError as error:
        raise _refusal(path, error) from None


def _fill(path: Path, file: BinaryIO, data: bytes) -> None:
    """Write a file that was just made; take it away again where that stops half-way."""
    try:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _replace(target: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:60]}.", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(target.stat().st_mode & 0o7777)
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _settle(target.parent)


def _settle(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        return
    finally:
        os.close(handle)


def _refusal(path: Path, error: OSError) -> InputError:
    if isinstance(error, PermissionError):
        text = "you may not write this file or its folder."
        advice = "Nothing was changed; check the permissions."
    else:
        text = f"the file cannot be written: {error.strerror or error}."
        advice = "Nothing was changed; check the disk."
    return problem(text, advice=advice, position=Position(file_name(path)))
