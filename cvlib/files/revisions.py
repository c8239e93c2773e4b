"""Two states of a store: as it was at a revision, and at another or in the working files."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from cvlib.engine.change.renamed import renamed
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.data import definitions_folder
from cvlib.files.followed import followed_names
from cvlib.files.git import Commit, Repository
from cvlib.files.meaning.file_format import FORMAT
from cvlib.files.store import FLEET, VARIABLE, Store
from cvlib.files.text import UTF_8_MARK, file_name, from_here, is_folder
from cvlib.model.profile import Profile

USUAL = "definitions"
"""The folder of the store, from the top of a repository, where nothing else is said."""

_FORMAT_LINE = re.compile(rb"^(format[ \t]*=[ \t]*)(\d{1,3})(?=[ \t]*(?:#.*)?\r?$)", re.M)
_FIRST_TABLE = re.compile(rb"^[ \t]*\[", re.M)


@dataclass(frozen=True, slots=True)
class Revisions:
    """Which states of which store are to be compared."""

    base: str
    head: str = ""
    """Empty: the working files, saved or not."""
    repository: Path | None = None
    """A folder in the repository; nothing: the working folder."""
    definitions: Path | None = None
    """The folder of the store; nothing: the usual one."""
    from_fork: bool = False
    """Compare with the commit at which the history of HEAD left that of BASE."""


class State(Store):
    """The store at one moment; what it follows but does not hold comes from the shipped store."""

    def __init__(
        self, shown: str, files: Mapping[str, bytes] | None = None, folder: Path | None = None
    ) -> None:
        """A state of the given files, shown under a name, or of those in a folder."""
        super().__init__(*([folder] if folder else []), definitions_folder())
        if folder is not None:
            held = Store(folder)
            self.names = frozenset(held._files)
            self._bytes |= {name: held._data(name) for name in self.names}
        self._named: dict[str, tuple[str, ...]] = {}
        given = {name: data for name, data in (files or {}).items() if is_profile_name(name)}
        self.older: dict[str, str] = {}
        """The format of each file that has an older one than today's, as it says itself."""
        if files is not None:
            self._cache = None
            self.names = frozenset(given)
            self._files |= {name: Path(f"{shown}/{name}") for name in given}
            self._bytes |= {name: self._as_today(name, data) for name, data in given.items()}

    def own_ids(self) -> tuple[str, ...]:
        """The ids of the profiles of this very store, the shipped ones apart."""
        return tuple(id for id in self.ids() if f"{id}.toml" in self.names)

    def holds(self, id: str) -> bool:
        """Whether there is a profile of that id, shipped or not."""
        return id in self.ids()

    def key(self, id: str) -> Mapping[str, bytes]:
        """The content of every file that a profile may be made from, line ends apart."""
        found: dict[str, bytes] = {}
        waiting = [f"{id}.toml"]
        while waiting:
            name = waiting.pop()
            if name in found or name not in self._files:
                continue
            found[name] = self._data(name).replace(b"\r\n", b"\n")
            waiting += self._followed(name)
        return found

    def _followed(self, name: str) -> tuple[str, ...]:
        if name not in self._named:
            text = self._data(name).decode("utf-8", "replace")
            self._named[name] = followed_names(text)
        return self._named[name]

    def own_content(self) -> Mapping[str, bytes]:
        """The content of every file of this very store, line ends apart."""
        return {name: self._data(name).replace(b"\r\n", b"\n") for name in self.names}

    def _as_today(self, name: str, data: bytes) -> bytes:
        """A file of an older format with today's number, so that it is read as far as it fits."""
        mark = UTF_8_MARK if data.startswith(UTF_8_MARK) else b""
        text = data.removeprefix(mark)
        table = _FIRST_TABLE.search(text)
        head = text[: table.start()] if table else text
        said = _FORMAT_LINE.search(head)
        if said is None:
            self.older[name] = "none"
            return mark + b"format = %d\n" % FORMAT + text
        if int(said[2]) >= FORMAT:
            return data
        self.older[name] = said[2].decode("ascii")
        return mark + text[: said.start(2)] + b"%d" % FORMAT + text[said.end(2) :]


def is_profile_name(name: str) -> bool:
    """Whether a path below the folder of a store is that of a profile or of blocks."""
    maker, _, file = name.partition("/")
    is_file = file.endswith(".toml") and "/" not in file
    return is_file and maker != FLEET and not maker.startswith(".")


@dataclass(frozen=True, slots=True)
class States:
    """The two states, and where they come from."""

    before: State
    after: State
    repository: Repository
    folder: PurePosixPath
    """The folder of the store from the top of the repository."""
    base: Commit
    head: Commit | None
    """Nothing: the working files."""

    def at(self, commit: Commit) -> State:
        """The store at a further commit."""
        return _at(self.repository, commit, self.folder)


def states_of(asked: Revisions) -> States:
    """The two states of a store; raises InputError with one line for whatever is not to be had."""
    repository, folder = _located(asked)
    if repository.top is None and not asked.head:
        raise problem(
            "a bare repository has no working files.",
            advice="Give the second revision as well, such as HEAD.",
            position=Position(file_name(repository.start)),
        )
    base = repository.commit(asked.base)
    head = repository.commit(asked.head) if asked.head else None
    if asked.from_fork:
        base = repository.fork(base, head or repository.commit("HEAD"))
    before = _at(repository, base, folder)
    after = _at(repository, head, folder) if head else _working(repository, folder)
    if not before.names and not after.names:
        raise problem(
            f'there are no decoder profiles in "{folder}", neither before nor after.',
            advice="Name the folder of the store with --definitions.",
            position=Position(file_name(repository.start)),
        )
    return States(before, after, repository, folder, base, head)


def _at(repository: Repository, commit: Commit, folder: PurePosixPath) -> State:
    files = repository.files(commit, folder)
    return State(f"{commit.called}:{folder}", files)


def _working(repository: Repository, folder: PurePosixPath) -> State:
    path = (repository.top or repository.start) / folder
    if not is_folder(path):
        return State(str(path), {})
    return State("", folder=from_here(path))


def _located(asked: Revisions) -> tuple[Repository, PurePosixPath]:
    """The repository, and the folder of the store in it."""
    named = os.environ.get(VARIABLE)
    definitions = asked.definitions or (Path(named) if named else None)
    if asked.repository is not None:
        repository = Repository(asked.repository)
        return repository, _inside(repository, definitions or Path(USUAL))
    if definitions is None:
        repository = Repository(Path.cwd())
        near = repository.top is not None and is_folder(Path(USUAL))
        return repository, (repository.prefix() if near else PurePosixPath()) / USUAL
    there = definitions
    while not is_folder(there) and there != there.parent:
        there = there.parent
    repository = Repository(there)
    if repository.top is None:
        return repository, _inside(repository, definitions)
    return repository, repository.prefix() / PurePosixPath(*definitions.relative_to(there).parts)


def _inside(repository: Repository, folder: Path) -> PurePosixPath:
    """A folder as a path from the top of a repository."""
    if folder.is_absolute() and repository.top is not None:
        try:
            folder = folder.resolve().relative_to(repository.top.resolve())
        except ValueError:
            folder = Path("..")
    if folder.is_absolute() or ".." in folder.parts:
        raise problem(
            "the folder of definitions is not in this repository.",
            advice="Give it from the top of the repository, such as --definitions definitions.",
            position=Position(file_name(folder)),
        )
    return PurePosixPath(*folder.parts)


@dataclass(frozen=True, slots=True)
class Changed:
    """The profiles whose files are not what they were, and those that cannot be read."""

    before: Mapping[str, Profile]
    after: Mapping[str, Profile]
    renamed: Mapping[str, str]
    broken_before: Mapping[str, tuple[Fault, ...]]
    broken_after: Mapping[str, tuple[Fault, ...]]
    unchanged: int
    files_differ: bool


def changed_profiles(before: State, after: State) -> Changed:
    """Both sides of every profile that may have changed; the others are not even read.

    A profile that cannot be read on one side is compared with nothing.
    """
    old, new = set(before.own_ids()), set(after.own_ids())
    same = {id for id in old & new if before.key(id) == after.key(id)}
    held, broken_before = _read(before, sorted(old - same))
    come, broken_after = _read(after, sorted(new - same))
    for id in broken_before.keys() | broken_after.keys():
        if id in old and id in new:
            held.pop(id, None)
            come.pop(id, None)
    return Changed(
        held,
        come,
        renamed(held, come),
        broken_before,
        broken_after,
        len(same),
        before.own_content() != after.own_content(),
    )


def _read(
    state: State, ids: Iterable[str]
) -> tuple[dict[str, Profile], dict[str, tuple[Fault, ...]]]:
    found: dict[str, Profile] = {}
    broken: dict[str, tuple[Fault, ...]] = {}
    for id in ids:
        try:
            found[id] = state.profile(id)
        except InputError as error:
            broken[id] = error.faults
    return found, broken
