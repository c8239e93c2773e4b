"""The store of definitions: found by file name, read one profile at a time."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from cvlib.errors import InputError, Position, did_you_mean, problem
from cvlib.files import compiled
from cvlib.files.data import definitions_folder
from cvlib.files.text import (
    decode,
    file_name,
    from_here,
    is_folder,
    parse_toml,
    quoted,
    read_bytes,
    real_path,
)
from cvlib.model.profile import Profile
from cvlib.model.ranges import FirmwareRange
from cvlib.model.summary import Summary
from cvlib.model.versions import Scheme

VARIABLE = "CVLIB_DEFINITIONS"
"""The environment variable that names a folder of more definitions."""

BLOCKS = "blocks.toml"
FLEET = "fleet"


def open_store(extra: Path | None = None) -> Store:
    """The shipped store, and the definitions of a folder beside it.

    The folder is the one given, else the one that CVLIB_DEFINITIONS names. It holds folders of
    profiles, as the shipped one does. It adds to the shipped store; where both have a file of the
    same id, the folder's own counts.
    """
    given = extra if extra is not None else _from_environment()
    if given is None:
        return Store(definitions_folder())
    if not is_folder(given):
        raise problem(
            "there is no such folder of definitions.",
            advice=f"Check --definitions or {VARIABLE}.",
            position=Position(file_name(given)),
        )
    return Store(given, definitions_folder())


def _from_environment() -> Path | None:
    named = os.environ.get(VARIABLE)
    return Path(named) if named else None


class Store:
    """Profiles in folders. Files are looked at once: open the store again to see changes."""

    def __init__(self, *folders: Path) -> None:
        self.folders = folders
        """Where its files lie; of two files of the same name that of the first folder counts."""
        self._files: dict[str, Path] = {}
        for folder in reversed(folders):
            self._files |= _found_in(folder)
        self._cache = compiled.cache_folder()
        self._bytes: dict[str, bytes] = {}
        self._profiles: dict[str, Profile] = {}
        self._behind: dict[str, tuple[str, ...]] = {}
        self._loading: list[str] = []

    def ids(self) -> tuple[str, ...]:
        """The ids of all profiles, from the file names alone."""
        names = (name.removesuffix(".toml") for name in self._files)
        return tuple(sorted(name for name in names if not name.endswith("/blocks")))

    def path(self, id: str) -> Path:
        """The file of a profile; raises with the nearest id where there is none."""
        path = self._files.get(f"{id}.toml")
        if path is None or id.endswith("/blocks"):
            raise problem(f"There is no profile {quoted(id)}.", advice=self._nearest(id))
        return path

    def profile(self, id: str) -> Profile:
        """One complete profile; no file is read but its own and those it follows."""
        if id not in self._profiles:
            path = self.path(id)
            kept = compiled.Compiled(id, path, self._cache)
            found = kept.read(self._digest)
            if found is None:
                found = self._load(id)
                kept.write(found[0], {name: self._digest(name) or "" for name in found[1]})
            self._profiles[id], self._behind[id] = found
        return self._profiles[id]

    def _nearest(self, id: str) -> str:
        """Advice for an id that no profile has; the name without its folder is near enough."""
        for known in self.ids():
            if known.endswith(f"/{id.casefold()}"):
                return f'Did you mean "{known}"?'
        return did_you_mean(id[:80], self.ids()) or 'See "cvlib profiles" for those there are.'

    def blocks(self, folder: str) -> tuple[str, str] | None:
        """Name and text of a maker's blocks file, if there is one."""
        name = f"{folder}/{BLOCKS}"
        return self._text(name) if name in self._files else None

    def file_names(self) -> tuple[str, ...]:
        """The name of every file of the store, with the ending."""
        return tuple(sorted(self._files))

    def located(self, name: str) -> Path:
        """Where a file of the store lies, by its name there."""
        return self._files[name]

    def text(self, name: str) -> tuple[str, str]:
        """A file as faults name it, and its text; by its name in the store, with the ending."""
        return self._text(name)

    def block_names(self) -> tuple[str, ...]:
        """The names in the store of the files of shared blocks."""
        return tuple(sorted(name for name in self._files if name.endswith(f"/{BLOCKS}")))

    def drafted(self, name: str, path: Path, data: bytes) -> Store:
        """The same store with other content of one file, as if it were written at a path.

        What is made from that content is not kept for later.
        """
        made = Store()
        made.folders = self.folders
        made._files = self._files | {name: path}
        made._bytes = self._bytes | {name: data}
        made._cache = None
        for id, profile in self._profiles.items():
            if name not in self._behind[id]:
                made._profiles[id], made._behind[id] = profile, self._behind[id]
        return made

    def former(self, files: Mapping[str, bytes | None]) -> Store:
        """The same store with other content of some files; of nothing, where they were not there.

        What is made from it is not kept for later.
        """
        made = Store()
        made.folders, made._cache = self.folders, None
        made._files = {
            name: path for name, path in self._files.items() if files.get(name, b"") is not None
        }
        made._bytes = self._bytes | {name: data for name, data in files.items() if data is not None}
        made._files |= {
            name: self.folders[0] / name for name in made._bytes if name not in self._files
        }
        return made

    def names_behind(self, id: str) -> tuple[str, ...]:
        """The names in the store of the files a profile is made from, its own first."""
        self.profile(id)
        return self._behind[id]

    def files_of(self, id: str) -> tuple[Path, ...]:
        """The files a profile is made from: its own first, then those it follows."""
        return tuple(self._files[name] for name in self.names_behind(id))

    def digests(self) -> dict[str, str]:
        """The digest of every file of the store, by its name there; nothing is kept of the files.

        A file that cannot be read has an empty one.
        """
        found = {}
        for name, path in self._files.items():
            try:
                found[name] = compiled.digest(self._bytes.get(name) or _inner_bytes(path))
            except InputError:
                found[name] = ""
        return found

    def summaries(self) -> tuple[Summary, ...]:
        """What there is, in the order of the ids; settings are not looked at."""
        return tuple(self.summary(id) for id in self.ids())

    def shelf(self, own: str) -> _Shelf:
        """The store as one file of it sees it, for what that file follows."""
        return _Shelf(self, own)

    def _load(self, id: str) -> tuple[Profile, tuple[str, ...]]:
        from cvlib.files.load import load_profile

        if id in self._loading:
            raise problem(f"{id} follows itself.", position=Position(self.shown(f"{id}.toml")))
        self._loading.append(id)
        try:
            name, text = self._text(f"{id}.toml")
            shelf = _Shelf(self, f"{id}.toml")
            return load_profile(text, name, shelf, id), tuple(dict.fromkeys(shelf.used))
        finally:
            self._loading.pop()

    def summary(self, id: str) -> Summary:
        """What a list tells of one profile; its settings are read only if others stand behind."""
        name = f"{id}.toml"
        file = self.shown(name)
        try:
            head = _head(self._text(name)[1], file)
        except InputError as error:
            return Summary(id, file=file, fault=error.faults[0])
        decoder, firmware = _table(head, "decoder"), _table(head, "firmware")
        releases = firmware.get("release")
        return Summary(
            id,
            _word(decoder, "maker"),
            _word(decoder, "name"),
            _word(decoder, "kind"),
            _word(firmware, "scheme"),
            _covered(head, _word(firmware, "scheme")),
            tuple(
                str(release["version"])
                for release in (releases if isinstance(releases, list) else ())
                if isinstance(release, dict) and "version" in release
            ),
            file,
        )

    def _data(self, name: str) -> bytes:
        if name not in self._bytes:
            self._bytes[name] = _inner_bytes(self._files[name])
        return self._bytes[name]

    def _text(self, name: str) -> tuple[str, str]:
        shown = self.shown(name)
        return shown, decode(self._data(name), shown)

    def shown(self, name: str) -> str:
        """How faults name a file of the store: from the working folder on, if it lies in there."""
        return file_name(from_here(self._files[name]))

    def _digest(self, name: str) -> str | None:
        return compiled.digest(self._data(name)) if name in self._files else None


class _Shelf:
    """The store as one profile sees it; remembers which files the profile used."""

    def __init__(self, store: Store, own: str) -> None:
        self.store = store
        self.used = [own]

    def ids(self) -> tuple[str, ...]:
        return self.store.ids()

    def profile(self, id: str) -> Profile:
        found = self.store.profile(id)
        self.used.extend(self.store.names_behind(id))
        return found

    def blocks(self, folder: str) -> tuple[str, str] | None:
        found = self.store.blocks(folder)
        if found is not None:
            self.used.append(f"{folder}/{BLOCKS}")
        return found


def _found_in(folder: Path) -> dict[str, Path]:
    """Every profile and blocks file of a folder, by its name in the store.

    Raises InputError where a folder of a maker cannot be read: what it holds would be answered out
    of another store else.
    """
    found: dict[str, Path] = {}
    at = folder
    try:
        for maker in folder.iterdir():
            if is_folder(maker) and maker.name != FLEET and not maker.name.startswith("."):
                at = maker
                names = [path for path in maker.iterdir() if path.name.endswith(".toml")]
                found |= {f"{maker.name}/{path.name}": path for path in names}
                at = folder
    except OSError as error:
        raise problem(
            f"the folder of definitions cannot be read: {error.strerror or error}.",
            advice="Check its permissions.",
            position=Position(file_name(at)),
        ) from None
    return found


def _inner_bytes(path: Path) -> bytes:
    """What a file of a store holds; raises where a link leads out of the folder of the store."""
    is_link = path.is_symlink() or path.parent.is_symlink()
    if is_link and not real_path(path).is_relative_to(real_path(path.parent.parent)):
        raise problem(
            "a link leads out of the folder of definitions, and is not followed.",
            advice="Put the file itself there.",
            position=Position(file_name(path)),
        )
    return read_bytes(path)


_OTHERS = "setting|lists|page|rule|advisory|question|accepted"
_WANTED = re.compile(rf"^[ \t]*\[(?!\[?[ \t]*(?:{_OTHERS})\b)", re.M)
"""A line that may open a table of which a summary tells something."""


def _head(text: str, name: str) -> dict[str, Any]:
    """The document before its first setting, or all of it where more may stand behind that."""
    cut = text.find("\n[[setting]]")
    if cut >= 0 and not _WANTED.search(text, cut + 1):
        try:
            head = parse_toml(text[: cut + 1], name)
        except InputError:
            head = {}
        if "decoder" in head and "firmware" in head:
            return head
    return parse_toml(text, name)


def _covered(head: dict[str, Any], scheme: str) -> str:
    """The firmware that documents and the maker's word speak for; empty where that is unclear."""
    sources = head.get("source")
    texts: list[str] = []
    for source in sources if isinstance(sources, list) else ():
        if isinstance(source, dict) and source.get("kind") != "bench":
            firmware = source.get("firmware")
            texts += firmware if isinstance(firmware, list) else [str(firmware)]
    try:
        return FirmwareRange.parse(texts, Scheme(scheme)).text() if texts else ""
    except (InputError, ValueError, AttributeError, TypeError):
        return ""


def _table(data: dict[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key)
    return found if isinstance(found, dict) else {}


def _word(data: dict[str, Any], key: str) -> str:
    found = data.get(key)
    return found if isinstance(found, str) else ""
