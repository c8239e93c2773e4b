"""The steps of a safe write: who may, a lock, a whole file beside the old one, and one rename.

A folder is locked by a file in it that is gone again afterwards. Only who holds the lock makes
temporary files there; so one that is found under the lock belongs to nobody who still lives.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from cvlib.errors import InputError, Position, problem
from cvlib.files.text import file_name, real_path

LOCK = ".cvlib.lock"
"""The file that stands for the lock of its folder."""
HALF = ".cvlib-half"
"""The ending of a temporary file."""
PATIENCE = 10.0
"""Seconds that a writer waits for another one; a write takes some hundredths."""

_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""Neither follow a link nor wait for the other end of a pipe, where the system knows that."""
_UNLINKABLE = (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)
"""What a disk says that gives a file no second name."""


def target_of(path: Path, within: Path | None = None) -> Path:
    """The file that is really written; raises where a link leads out of the folder.

    The folder is ``within``, else the one that the path itself lies in.
    """
    target = real_path(path)
    if target.is_relative_to(real_path(within if within is not None else path.parent)):
        return target
    raise problem(
        "a link leads out of this folder, and is not followed.",
        advice="Nothing was written; name the file itself.",
        position=Position(file_name(path)),
    )


def check_mine(target: Path, shown: Path) -> None:
    """Raise InputError where a file is marked read-only or belongs to somebody else."""
    known = target.stat()
    where = Position(file_name(shown))
    if sys.platform != "win32" and known.st_uid != os.geteuid():
        raise problem(
            f"the file belongs to somebody else (user {known.st_uid}).",
            advice="Nothing was written; have its owner do it, or copy it to a folder of your own.",
            position=where,
        )
    if not known.st_mode & stat.S_IWUSR:
        raise problem(
            "the file is marked read-only.",
            advice="Nothing was written; take the mark away first.",
            position=where,
        )


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Nobody else writes in a folder meanwhile; what dead writers left there is gone.

    Raises InputError where the lock is not to be had.
    """
    lock = folder / LOCK
    try:
        handle = _taken(lock)
    except OSError as error:
        raise refusal(lock, error) from None
    try:
        _sweep(folder)
        yield
    finally:
        if sys.platform == "win32":  # there an open file cannot be removed, not even by others
            os.close(handle)
        with suppress(OSError):
            lock.unlink()
        if sys.platform != "win32":
            os.close(handle)


def _taken(lock: Path) -> int:
    """The open file of a lock, once it is ours."""
    end = time.monotonic() + PATIENCE
    while True:
        handle = -1
        try:
            handle = os.open(lock, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o666)
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise OSError(errno.EINVAL, "the lock is no ordinary file")
            if _has_locked(handle) and _is_still(handle, lock):
                return handle
        except PermissionError:
            if sys.platform != "win32":  # where it is just being removed
                raise
        except BaseException:
            if handle >= 0:
                os.close(handle)
            raise
        if handle >= 0:
            os.close(handle)
        if time.monotonic() > end:
            raise problem(
                "another program is writing in this folder.",
                advice="Nothing was written; run the command again when it is done.",
                position=Position(file_name(lock)),
            )
        time.sleep(0.005)


def _has_locked(handle: int) -> bool:
    """Lock an open file, unless somebody else has."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
            return False
        raise
    return True


def _is_still(handle: int, lock: Path) -> bool:
    """Whether a locked file still has its name: the last holder takes it away."""
    if sys.platform == "win32":
        return True
    try:
        return os.path.samestat(os.fstat(handle), lock.lstat())
    except FileNotFoundError:
        return False


def _sweep(folder: Path) -> None:
    """Take away temporary files of writers that died."""
    with os.scandir(folder) as entries:
        left = [entry.path for entry in entries if entry.name.endswith(HALF)]
    for path in left:
        with suppress(OSError):
            Path(path).unlink()


@contextmanager
def half_file(
    folder: Path, name: str, data: bytes, like: Path | None = None, *, is_lasting: bool = True
) -> Iterator[Path]:
    """A temporary file with all the bytes, safe on the disk; it is gone afterwards.

    It has mode, group and attributes of the file that it is to be ``like``. Without ``is_lasting``
    the system writes it to the disk when it likes.
    """
    half = folder / f".{name[:40]}.{os.urandom(6).hex()}{HALF}"
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK
    handle = os.open(half, flags, 0o666 if like is None else 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            if like is not None:
                _make_alike(half, like)
            if is_lasting:
                os.fsync(file.fileno())
        if half.read_bytes() != data:
            raise OSError(errno.EIO, "the disk gives back other bytes than were written")
        yield half
    finally:
        with suppress(OSError):
            half.unlink()


def _make_alike(half: Path, like: Path) -> None:
    from shutil import copystat

    wanted = like.stat()
    if sys.platform != "win32" and wanted.st_gid != half.stat().st_gid:
        with suppress(PermissionError):  # a group that we are not in
            os.chown(half, -1, wanted.st_gid)
    copystat(like, half)
    os.utime(half)


def put_new(target: Path, data: bytes, folder: Path | None = None) -> None:
    """Make a new file that is whole from its first moment; raises FileExistsError.

    ``folder`` is the locked one, where the temporary file goes.
    """
    with half_file(folder or target.parent, target.name, data) as half:
        if sys.platform == "win32":
            half.rename(target)  # refuses there where the name is taken
        else:
            try:
                os.link(half, target)
            except OSError as error:
                if error.errno not in _UNLINKABLE:
                    raise
                if os.path.lexists(target):
                    raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
                half.rename(target)
    settle(target.parent)


def settle(folder: Path) -> None:
    """Make a new name last through a power cut, where the system can do that."""
    if os.name != "posix":
        return
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def refusal(path: Path, error: OSError) -> InputError:
    """What the system has against a write, in plain words."""
    if isinstance(error, PermissionError):
        text = "you may not write this file or its folder."
        advice = "Nothing was changed; check the permissions."
    else:
        text = f"the file cannot be written: {error.strerror or error}."
        advice = "Nothing was changed; check the disk."
    return problem(text, advice=advice, position=Position(file_name(path)))
