"""The definitions that changed since a revision, with those that take settings from them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path, PurePosixPath

from cvlib.engine.lint.finding import Linted
from cvlib.errors import InputError, Position, problem
from cvlib.files.followed import followed_names
from cvlib.files.git import Commit, Repository
from cvlib.files.lint.drafted import added
from cvlib.files.lint.linting import lint, named_files
from cvlib.files.revisions import is_profile_name
from cvlib.files.store import Store
from cvlib.files.text import file_name, real_path

_ELSEWHERE = "Run it in a clone, or name a folder in one with --definitions."


@dataclass(frozen=True, slots=True)
class Changed:
    """What differs from a revision in the working folder of a repository."""

    top: Path
    """The folder of the working files."""
    names: frozenset[str]
    """Files of the store that changed, or take settings from one that did; by name there."""
    paths: frozenset[Path]
    """Every file that changed and is still there, in the store or not, without links."""
    lines: Mapping[str, tuple[range, ...]]
    """The changed lines of every file that changed, by its path from the top."""
    was: Mapping[str, bytes | None]
    """What each file of the store held that changed; nothing where it was not there."""

    def without_known(self, store: Store, linted: Linted, today: date | None = None) -> Linted:
        """What was found without that which was found at the revision too, which is counted."""
        before = store.former(self.was)
        names = self.names & set(before.file_names())
        old = lint(before, today=today, chosen=names).remarks if names and linted.remarks else ()
        new = tuple(added(old, linted.remarks))
        return replace(linted, remarks=new, known=len(linted.remarks) - len(new))

    def narrowed(self, store: Store, paths: Collection[Path]) -> tuple[list[Path], set[str]]:
        """What of some files and folders is to be looked at, or of the whole store without any.

        First the files beside the store that changed, then files of the store by name: those that
        changed, and those that take settings from one that did.
        """
        named = [file for path in paths for file in named_files(path)]
        if not named:
            return [], set() if paths else set(self.names)
        inside = {real_path(store.located(name)): name for name in store.file_names()}
        known = {path: inside.get(real_path(path), "") for path in named}
        beside = [
            path for path, name in known.items() if not name and real_path(path) in self.paths
        ]
        return beside, set(known.values()) & self.names


def changed_since(store: Store, revision: str) -> Changed:
    """What changed since a revision: committed, staged, unsaved, or not known to git yet.

    The repository is the one that the further definitions lie in, else that of the working folder.
    Raises InputError where there is none, or no such revision in it.
    """
    repository = Repository(_start(store), _ELSEWHERE)
    if repository.top is None:
        raise problem(
            "a bare repository has no working files.",
            advice=_ELSEWHERE,
            position=Position(file_name(repository.start)),
        )
    top = repository.top.resolve()
    if not any(folder.resolve().is_relative_to(top) for folder in store.folders):
        raise problem(
            "the definitions that are looked at do not lie in this repository.",
            advice="Name those that do with --definitions.",
            position=Position(file_name(repository.start)),
        )
    commit = repository.commit(revision)
    lines = repository.changed_since(commit)
    changed = {real_path(top / name) for name in lines}
    return Changed(
        top,
        _concerned(store, changed),
        frozenset(path for path in changed if path.is_file()),
        lines,
        _former(store, repository, commit, changed),
    )


def top_of(store: Store) -> Path:
    """The folder from which the files of a store are named elsewhere: the top of its repository.

    The working folder where there is no repository.
    """
    try:
        top = Repository(_start(store)).top
    except InputError:
        top = None
    return (top or Path.cwd()).resolve()


def _start(store: Store) -> Path:
    """A folder in the repository: that of the further definitions, else the working folder."""
    own, *shipped = store.folders
    return own if shipped else Path.cwd()


def _concerned(store: Store, changed: set[Path]) -> frozenset[str]:
    """The files of a store that changed, and those that follow one of them, also over several."""
    found = {name for name in store.file_names() if real_path(store.located(name)) in changed}
    gone = _gone(store, changed)
    behind = {name: _followed(store, name) for name in store.file_names()}
    while more := {
        name for name, named in behind.items() if name not in found and named & (found | gone)
    }:
        found |= more
    return frozenset(found)


def _former(
    store: Store, repository: Repository, commit: Commit, changed: set[Path]
) -> dict[str, bytes | None]:
    """What the files of a store that changed held at a commit; nothing: they were not there."""
    found: dict[str, bytes | None] = {}
    top = (repository.top or repository.start).resolve()
    for folder in store.folders:
        if not folder.resolve().is_relative_to(top):
            continue
        held = repository.files(commit, PurePosixPath(folder.resolve().relative_to(top)))
        for name in {*held, *store.file_names()}:
            if is_profile_name(name) and real_path(folder / name) in changed:
                found.setdefault(name, held.get(name))
    return found


def _gone(store: Store, changed: set[Path]) -> set[str]:
    """The names in the store of files that are not there any more."""
    folders = [folder.resolve() for folder in store.folders]
    return {
        path.relative_to(folder).as_posix()
        for folder in folders
        for path in changed
        if path.is_relative_to(folder) and not path.exists()
    }


def _followed(store: Store, name: str) -> set[str]:
    """What a file names as followed; nothing where it cannot be read."""
    try:
        return set(followed_names(store.text(name)[1]))
    except InputError:
        return set()
