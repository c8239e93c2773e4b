"""The index of who answers what, kept beside the compiled profiles and never believed unchecked.

Before it is used, the digest of every file of the store and of the index itself must agree. Of a
changed store only the profiles that changed are read again; where nothing changed, no profile is.
"""

from __future__ import annotations

import gc
import marshal
import os
import sys
import zlib
from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cvlib.engine.bench.index import COLUMN_TYPE, IdentityIndex, ProfilePart, merged, part_of
from cvlib.errors import Fault, InputError
from cvlib.files.compiled import cache_folder, code_stamp, digest, keep_payload, kept_payload
from cvlib.files.store import Store
from cvlib.model.cv import Page, Slot

_MOST_BYTES = 256 * 1024 * 1024
_QUICK = 1
"""The level of packing: columns are alike over long stretches, so that more gains little."""

Files = tuple[tuple[str, str], ...]
"""Names and digests of the files a profile is made from."""


@dataclass(frozen=True, slots=True)
class Opened:
    """An index, and what kept profiles out of it."""

    index: IdentityIndex
    faults: tuple[Fault, ...] = ()
    """The first fault of each profile that cannot be read."""


class _Columns(Mapping[Slot, Sequence[int]]):
    """The columns of a kept index, unpacked when they are first looked at."""

    def __init__(self, packed: Mapping[Slot, bytes]) -> None:
        self._packed = packed
        self._unpacked: dict[Slot, Sequence[int]] = {}

    def __getitem__(self, slot: Slot) -> Sequence[int]:
        if slot not in self._unpacked:
            self._unpacked[slot] = _unpacked(self._packed[slot])
        return self._unpacked[slot]

    def __iter__(self) -> Iterator[Slot]:
        return iter(self._packed)

    def __len__(self) -> int:
        return len(self._packed)

    def get(self, slot: Any, default: Any = None) -> Any:
        """The column of a CV, or the default where no decoder uses it."""
        return self[slot] if slot in self._packed else default


def open_index(store: Store) -> Opened:
    """The index of a store: the one that was kept, with what changed since read anew.

    Raises nothing for profiles with faults; they are left out and told.
    """
    path = _path(store)
    digests = store.digests()
    kept = _read(path)
    known = kept[0] if kept else {}
    ids = store.ids()
    fresh = [id for id in ids if not _is_current(known.get(id), digests)]
    if kept and not fresh and len(ids) == len(known):
        return Opened(kept[1])
    files: dict[str, Files] = {}
    parts: list[ProfilePart] = []
    faults: list[Fault] = []
    numbers = _numbers(kept[1]) if kept else {}
    for id in ids:
        if id not in fresh and kept:
            files[id] = known[id]
            if id in numbers:
                parts.append(kept[1].part(numbers[id]))
            continue
        try:
            part = part_of(store.profile(id))
        except InputError as error:
            faults.append(error.faults[0])
            continue
        parts.append(part)
        files[id] = tuple((name, digests[name]) for name in store.names_behind(id))
    index = merged(parts)
    _write(path, files, index)
    return Opened(index, tuple(faults))


def _path(store: Store) -> Path | None:
    """The file that keeps the index of a store, by the folders the store is made of."""
    folder = cache_folder()
    if folder is None:
        return None
    folders = sorted({str(store.path(id).parent.parent) for id in store.ids()})
    return folder / f"identity-{digest(os.fsencode('|'.join(folders)))[:12]}.cvlib"


def _is_current(files: Files | None, digests: Mapping[str, str]) -> bool:
    return files is not None and all(digests.get(name) == known for name, known in files)


def _numbers(index: IdentityIndex) -> dict[str, int]:
    return {index.listed(number).id: number for number, _, _ in index.spans()}


def _stamp() -> tuple[object, ...]:
    return (*code_stamp(), sys.byteorder, array(COLUMN_TYPE).itemsize)


def _read(path: Path | None) -> tuple[dict[str, Files], IdentityIndex] | None:
    """The kept index and the files behind each of its profiles; nothing where it is not sound."""
    if path is None:
        return None
    try:
        payload = kept_payload(path, _MOST_BYTES)
        if payload is None:
            return None
        stamp, files, plain, columns, rest = _loaded(payload)
        if stamp != _stamp():
            return None
        profiles, rows, expectations, telling = plain
        held = {_slot(*key): packed for key, packed in columns.items()}
        index = IdentityIndex(
            profiles,
            rows,
            expectations,
            _Columns(held),
            _unpacked(rest),
            [_slot(*key) for key in telling],
        )
    except (OSError, EOFError, ValueError, TypeError, LookupError, zlib.error):
        return None
    return dict(files), index


def _loaded(payload: bytes) -> Any:
    """The plain data. It is large and holds no circles, so Python need never look there for any."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        found = marshal.loads(payload)
        gc.freeze()
        return found
    finally:
        if was_on:
            gc.enable()


def _write(path: Path | None, files: Mapping[str, Files], index: IdentityIndex) -> None:
    """Keep an index; where that fails, nothing is kept."""
    if path is None:
        return
    profiles, rows, expectations, telling = index.plain()
    columns = {_key(slot): _packed(index.column(slot)) for slot in index.slots}
    table: Any = (
        _stamp(),
        tuple(files.items()),
        (profiles, rows, expectations, tuple(map(_key, telling))),
        columns,
        _packed(index.rest),
    )
    keep_payload(path, marshal.dumps(table))


def _packed(column: Sequence[int]) -> bytes:
    return zlib.compress(array(COLUMN_TYPE, column).tobytes(), _QUICK)


def _unpacked(packed: bytes) -> Sequence[int]:
    column = array(COLUMN_TYPE)
    column.frombytes(zlib.decompress(packed))
    return column


def _key(slot: Slot) -> tuple[int, int, int]:
    return (slot.cv, *(slot.page or (-1, -1)))


def _slot(cv: int, high: int, low: int) -> Slot:
    return Slot(cv, None if high < 0 else Page(high, low))
