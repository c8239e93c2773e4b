"""Profiles as plain data for a cold start: built from the files they come from, never believed
without them.

A profile is kept as a table of rows, each a class and its values; a value that is no plain scalar
is the number of an earlier row, so equal parts are stored and rebuilt once. Before the table is
looked at, its mark must be one that only this user's key gives, and the digest of every file behind
it must agree. The folder counts only where it is the user's own and nobody else can write to it.
"""

from __future__ import annotations

import marshal
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from pathlib import Path
from stat import S_ISDIR, S_ISLNK, S_ISREG
from typing import Any

from cvlib.model import (
    assignment,
    coding,
    coding_many,
    conditions,
    cv,
    profile,
    ranges,
    units,
    versions,
)
from cvlib.model.named import NamedSpan

try:
    from _blake2 import blake2b
except ImportError:  # another Python than CPython; there the long way is the only one
    from hashlib import blake2b

VARIABLE = "CVLIB_CACHE"
"""The environment variable that names the folder for compiled profiles."""

_MOST_BYTES = 32 * 1024 * 1024
_PACKAGE = Path(__file__).resolve().parent.parent
_ROOMS = (".", "model", "engine", "engine/known", "files", "files/shapes", "files/meaning")

_CLASSES: tuple[type, ...] = (
    *(coding.Number, coding.Switch, coding.Choice, coding.Flags, coding.Fields, coding.Area),
    *(NamedSpan, coding_many.Address, coding_many.Curve, coding_many.Text),
    *(conditions.When, conditions.Condition, conditions.Rule),
    *(cv.Page, cv.Slot, cv.Field, ranges.FirmwareRange, versions.FirmwareVersion),
    *(profile.Source, profile.Citation, profile.Marks, profile.Place, profile.Setting),
    profile.DefaultCase,
    *(profile.Answered, profile.Identity, profile.VersionPart, profile.Release),
    *(profile.IndexPages, profile.Advisory, profile.Question, profile.Profile),
    *(coding.SignForm, coding_many.AddressForm, conditions.Test, units.Measure),
    *(versions.Scheme, profile.SourceKind, profile.Verdict, profile.Risk, Decimal, Fraction),
    *(profile.Extent, profile.Absence, assignment.Topic, assignment.Assignment),
)
_TUPLE, _DICT, _SET = -1, -2, -3
_TAGS: dict[type, int] = {
    **{kept: number for number, kept in enumerate(_CLASSES)},
    tuple: _TUPLE,
    dict: _DICT,
    frozenset: _SET,
}
_SCALARS = frozenset((str, int, bool, type(None)))


def digest(data: bytes) -> str:
    """The digest of a file's bytes."""
    return blake2b(data, digest_size=20).hexdigest()


def cache_folder() -> Path | None:
    """Where compiled profiles are kept: CVLIB_CACHE, else the user's usual cache folder."""
    given = os.environ.get(VARIABLE)
    return Path(given) if given else _usual_folder()


def _usual_folder() -> Path | None:
    if sys.platform == "win32":
        given = os.environ.get("LOCALAPPDATA")
        return Path(given) / "cvlib" / "Cache" if given else None
    home = os.environ.get("HOME")
    if sys.platform == "darwin":
        return Path(home) / "Library" / "Caches" / "cvlib" if home else None
    given = os.environ.get("XDG_CACHE_HOME")
    if given and Path(given).is_absolute():
        return Path(given) / "cvlib"
    return Path(home) / ".cache" / "cvlib" if home else None


class Compiled:
    """The compiled form of one profile in a cache folder; without a folder nothing is kept."""

    def __init__(self, id: str, path: Path, folder: Path | None) -> None:
        self.id = id
        name = f"{id.replace('/', '+')}-{digest(os.fsencode(path))[:12]}.cvlib"
        self.path = folder / name if folder else None

    def read(
        self, digest_of: Callable[[str], str | None]
    ) -> tuple[profile.Profile, tuple[str, ...]] | None:
        """The profile and the names of the files behind it; nothing where anything has changed.

        ``digest_of`` gives the digest of a file of the store by its name there.
        """
        if self.path is None:
            return None
        try:
            payload = kept_payload(self.path, _MOST_BYTES)
            if payload is None:
                return None
            stamp, id, files, rows = marshal.loads(payload)
            if stamp != _stamp() or id != self.id:
                return None
            if any(digest_of(name) != known for name, known in files):
                return None
            found = _unpacked(rows)
        except (OSError, EOFError, ValueError, TypeError, LookupError, ArithmeticError):
            return None
        if not isinstance(found, profile.Profile):
            return None
        return found, tuple(name for name, _ in files)

    def write(self, made: profile.Profile, digests: Mapping[str, str]) -> None:
        """Keep a profile made from files with these digests; where that fails, nothing is kept."""
        if self.path is None:
            return
        table: Any = (_stamp(), self.id, tuple(digests.items()), _packed(made))
        keep_payload(self.path, marshal.dumps(table))


def kept_payload(path: Path, most: int) -> bytes | None:
    """What was kept in a file of at most so many bytes; nothing where its mark disagrees.

    Raises OSError where the file cannot be read.
    """
    key = _key()
    if key is None or not _is_own(path.parent):
        return None
    data = _own_bytes(path, most)
    mark, payload = data[:_MARK_LENGTH], data[_MARK_LENGTH:]
    return payload if mark == _mark(payload, key) else None


def keep_payload(path: Path, payload: bytes) -> None:
    """Keep bytes in a file in one step, their mark before them; where that fails, nothing is."""
    key = _key()
    if key is not None:
        _keep(path, _mark(payload, key) + payload)


def _keep(path: Path, data: bytes, *, is_first: bool = False) -> None:
    """Put bytes into a file in one step; with ``is_first`` only where there is none."""
    own = path.with_name(f"{path.name}.{os.getpid()}.{os.urandom(6).hex()}")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_own(path.parent):
            return
        handle = os.open(own, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        if is_first and hasattr(os, "link"):
            os.link(own, path)
            own.unlink()
        else:
            own.replace(path)
    except OSError:
        with suppress(OSError):
            own.unlink(missing_ok=True)


_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_OTHERS_WRITE = 0o022
_KEY_LENGTH = 32

notes: dict[str, None] = {}
"""What is to be told of the cache when all is done, each once."""


def _is_own(folder: Path) -> bool:
    """Whether a folder is a real one of this user's, to which nobody else can write.

    On Windows the rights of the folder decide, which are not looked at.
    """
    try:
        known = folder.lstat()
    except FileNotFoundError:
        return False
    if S_ISDIR(known.st_mode) and _is_ours(known):
        return True
    what = "a link" if S_ISLNK(known.st_mode) else "open to others, or belongs to them"
    what = what if S_ISDIR(known.st_mode) or S_ISLNK(known.st_mode) else "no folder"
    name = "".join(char if char.isprintable() else "?" for char in str(folder))
    notes[f"the cache folder {name} is {what}; it is not used."] = None
    return False


def _is_ours(known: os.stat_result) -> bool:
    if sys.platform == "win32":
        return True
    return known.st_uid == os.geteuid() and not known.st_mode & _OTHERS_WRITE


def _own_bytes(path: Path, most: int) -> bytes:
    """What an ordinary file of this user's holds, up to a limit; no link or pipe is opened."""
    with os.fdopen(os.open(path, os.O_RDONLY | _NO_LINK), "rb") as file:
        known = os.fstat(file.fileno())
        return file.read(most) if S_ISREG(known.st_mode) and _is_ours(known) else b""


@cache
def _key() -> bytes | None:
    """The user's secret with which kept files are marked, so that nobody else can make any.

    It lies in the usual cache folder, wherever the others are kept. Nothing where there is none.
    """
    folder = _usual_folder()
    if folder is None:
        return None
    path = folder / "key"
    for _ in range(2):
        with suppress(OSError):
            if _is_own(folder):
                found = _own_bytes(path, _KEY_LENGTH + 1)
                if len(found) == _KEY_LENGTH:
                    return found
                path.unlink()  # cut short, or no file of ours
        _keep(path, os.urandom(_KEY_LENGTH), is_first=True)
    return None


def _mark(payload: bytes, key: bytes) -> bytes:
    return blake2b(payload, digest_size=20, key=key).hexdigest().encode("ascii") + b"\n"


_MARK_LENGTH = len(_mark(b"", b""))


@cache
def _stamp() -> tuple[object, ...]:
    """What changes whenever the code that makes or reads compiled profiles may have changed."""
    named = (_PACKAGE / "__init__.py").read_bytes()  # holds the version
    found: list[object] = [named, sys.implementation.cache_tag, marshal.version]
    for room in _ROOMS:
        with os.scandir(_PACKAGE / room) as entries:
            for entry in sorted(entries, key=lambda entry: entry.name):
                if entry.name.endswith(".py"):
                    known = entry.stat()
                    found.append((room, entry.name, known.st_size, known.st_mtime_ns))
    return tuple(found)


def code_stamp() -> tuple[object, ...]:
    """What changes with the code; for whatever else is kept beside the compiled profiles."""
    return _stamp()


def _packed(made: profile.Profile) -> list[tuple[int, tuple[object, ...]]]:
    """The rows that stand for a profile, the profile itself last."""
    rows: list[tuple[int, tuple[object, ...]]] = []
    known: dict[object, tuple[int]] = {}
    names = {kept: [one.name for one in fields(kept)] for kept in _CLASSES if is_dataclass(kept)}

    def put(value: Any) -> tuple[int]:
        kind = type(value)
        inner: Iterable[Any]
        if issubclass(kind, tuple):
            inner = value
        elif kind is dict:
            inner = [part for pair in value.items() for part in pair]
        elif kind is frozenset:
            inner = sorted(value)
        elif kind in (Decimal, Fraction):
            inner = (str(value),)
        elif issubclass(kind, Enum):
            inner = (value.value,)
        else:
            inner = [getattr(value, name) for name in names[kind]]
        row = tuple([part if type(part) in _SCALARS else put(part) for part in inner])
        # With the kinds of its parts: 1 and True are equal, but differ here.
        key = _TAGS[kind], row, tuple(map(type, row))
        found = known.get(key)
        if found is None:
            found = known[key] = (len(rows),)
            rows.append((_TAGS[kind], row))
        return found

    put(made)
    return rows


def _unpacked(rows: list[tuple[int, tuple[Any, ...]]]) -> object:
    """What the last row stands for."""
    built: list[Any] = []
    for tag, row in rows:
        values = [built[part[0]] if type(part) is tuple else part for part in row]
        if tag >= 0:
            built.append(_CLASSES[tag](*values))
        elif tag == _TUPLE:
            built.append(tuple(values))
        elif tag == _SET:
            built.append(frozenset(values))
        else:
            built.append(dict(zip(values[::2], values[1::2], strict=True)))
    return built[-1]
