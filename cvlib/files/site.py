"""A folder of pages: written through the one door, only where something changed.

What each profile puts into shared pages is kept in a database in the folder, so that nothing of
the store need be held in memory, and of a changed store only what changed is made again. Whoever
may write the folder may write its pages; so the database is trusted no more than they are.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from cvlib.errors import Position, problem
from cvlib.files.compiled import digest
from cvlib.files.data import code_files
from cvlib.files.disk import HALF, LOCK, locked
from cvlib.files.text import file_name
from cvlib.files.write import put_file, remove_file

KEPT = ".cvlib-pages.db"
"""The database in the folder; no page needs it."""

_TABLES = """
create table if not exists stamp (text text);
create table if not exists profile
  (id text primary key, files text, page text, name text, kind text, sentence text);
create table if not exists thing (id integer primary key, profile text, data text);
create table if not exists word (word text, thing integer);
create table if not exists use
  (profile text, cv integer, title text, at text, place text, firmware text);
create table if not exists due (kind text, name text, unique (kind, name));
create index if not exists thing_profile on thing (profile);
create index if not exists word_word on word (word);
create index if not exists word_thing on word (thing);
create index if not exists use_cv on use (cv);
create index if not exists use_profile on use (profile);
"""


class ProfilePages(NamedTuple):
    """What one profile puts into the catalogue."""

    id: str
    name: str
    kind: str
    sentence: str
    page: str
    words: tuple[tuple[str, str], ...]
    """Words of the index, each with what it leads to."""
    uses: tuple[tuple[int, str, str, str, str], ...]
    """CVs, each with title, place on the page, where, and firmware."""
    behind: tuple[str, ...]
    """The files of the store that it is made from."""


class SiteFolder:
    """The folder, locked, with what is kept of its profiles."""

    def __init__(self, folder: Path, kept: sqlite3.Connection) -> None:
        self.folder = folder
        self._kept = kept
        self.written: list[str] = []
        """The names of the files that were written."""

    def put(self, name: str, text: str) -> None:
        """Make a file of the folder hold a text."""
        if put_file(self.folder / name, text.encode("utf-8"), self.folder):
            self.written.append(name)

    def keep_only(self, below: str, names: Iterable[str]) -> None:
        """Take away every file below a folder of the site that is none of these."""
        wanted = {self.folder / name for name in names}
        top = self.folder / below
        for path in top.rglob("*") if top.is_dir() and not top.is_symlink() else ():
            if path.suffix in (".html", ".js") and path not in wanted:
                remove_file(path, self.folder)

    def stale(self, ids: Sequence[str], digests: Mapping[str, str]) -> list[str]:
        """The profiles whose pages must be made anew; those that are gone are forgotten."""
        known = {
            row[0]: (row[1], row[2])
            for row in self._kept.execute("select id, files, page from profile")
        }
        for id in known.keys() - set(ids):
            self._forget(id)
        found = []
        for id in ids:
            files, page = known.get(id, ("", ""))
            is_same = files and all(
                digests.get(name) == held for name, held in json.loads(files).items()
            )
            if not is_same or page != self._mark(page_name(id)):
                found.append(id)
        return found

    def keep(self, made: ProfilePages, digests: Mapping[str, str]) -> None:
        """Write the page of a profile, and keep what it puts into the shared ones."""
        name = page_name(made.id)
        self.put(name, made.page)
        had = self._words(made.id), self._uses(made.id), self._name(made.id)
        words, uses = set(made.words), set(made.uses)
        self._forget(made.id, quietly=True)
        self._due("part", {word[:2] for word, _ in words ^ had[0]})
        changed = uses | had[1] if had[2] != made.name else uses ^ had[1]
        self._due("cv", {str(use[0]) for use in changed})
        files = json.dumps({file: digests.get(file, "") for file in made.behind})
        row = (made.id, files, self._mark(name), made.name, made.kind, made.sentence)
        self._kept.execute("insert into profile values (?, ?, ?, ?, ?, ?)", row)
        self._add_words(made.id, words)
        rows = ((made.id, *use) for use in made.uses)
        self._kept.executemany("insert into use values (?, ?, ?, ?, ?, ?)", rows)

    def keep_words(self, group: str, words: Iterable[tuple[str, str]]) -> None:
        """Keep words that lead to pages of no profile, under a name of their own."""
        held = set(words)
        self._due("part", {word[:2] for word, _ in held ^ self._words(group)})
        self._forget(group, quietly=True)
        self._add_words(group, held)

    def _add_words(self, group: str, words: Iterable[tuple[str, str]]) -> None:
        numbers: dict[str, int] = {}
        for word, data in sorted(words):
            if data not in numbers:
                query = "insert into thing (profile, data) values (?, ?)"
                numbers[data] = self._kept.execute(query, (group, data)).lastrowid or 0
            self._kept.execute("insert into word values (?, ?)", (word, numbers[data]))

    def settle(self) -> None:
        """Make all of it last, so that an interruption costs no more than what came after."""
        if hasattr(os, "sync"):
            os.sync()
        self._kept.commit()

    def due(self, kind: str) -> list[str]:
        """The shared pages of a kind that must be made anew."""
        found = self._kept.execute("select name from due where kind = ? order by name", (kind,))
        return [name for (name,) in found]

    def done(self, kind: str, name: str) -> None:
        """Note that a shared page is made."""
        self._kept.execute("delete from due where kind = ? and name = ?", (kind, name))

    def rows(self) -> list[tuple[str, str, str, str]]:
        """Id, name, kind and sentence of every decoder, in the order of their names."""
        order = "select id, name, kind, sentence from profile order by name collate nocase, id"
        return list(self._kept.execute(order))

    def cvs(self) -> list[int]:
        """Every CV that any decoder uses."""
        return [cv for (cv,) in self._kept.execute("select distinct cv from use order by cv")]

    def uses(self, cv: int) -> Iterator[tuple[str, ...]]:
        """Id and name of each decoder that uses a CV, with title, place, where and firmware."""
        return self._kept.execute(
            "select profile.id, name, title, at, place, firmware from use "
            "join profile on profile.id = use.profile where cv = ? "
            "order by title, name collate nocase, use.rowid",
            (cv,),
        )

    def words(self) -> Iterator[str]:
        """Every word of the index."""
        return (w for (w,) in self._kept.execute("select distinct word from word order by word"))

    def part(self, part: str) -> Iterator[tuple[str, str]]:
        """The words that begin with some letters, each with what it leads to, word by word."""
        return self._kept.execute(
            "select word, data from word join thing on thing.id = word.thing "
            "where word >= ? and word < ? and substr(word, 1, 2) = ? order by word, profile, data",
            (part, f"{part}\U0010ffff", part),
        )

    def _words(self, id: str) -> set[tuple[str, str]]:
        query = "select word, data from thing join word on thing.id = thing where profile = ?"
        return set(self._kept.execute(query, (id,)))

    def _uses(self, id: str) -> set[tuple[int, str, str, str, str]]:
        query = "select cv, title, at, place, firmware from use where profile = ?"
        return set(self._kept.execute(query, (id,)))

    def _name(self, id: str) -> str:
        found = self._kept.execute("select name from profile where id = ?", (id,)).fetchone()
        return found[0] if found else ""

    def _forget(self, id: str, *, quietly: bool = False) -> None:
        """Drop what is kept of a profile; ``quietly`` where it is put back at once."""
        if not quietly:
            self._due("part", {word[:2] for word, _ in self._words(id)})
            self._due("cv", {str(use[0]) for use in self._uses(id)})
        inner = "delete from word where thing in (select id from thing where profile = ?)"
        self._kept.execute(inner, (id,))
        for table, key in (("thing", "profile"), ("use", "profile"), ("profile", "id")):
            self._kept.execute(f"delete from {table} where {key} = ?", (id,))

    def _due(self, kind: str, names: Iterable[str]) -> None:
        rows = ((kind, name) for name in names)
        self._kept.executemany("insert or ignore into due values (?, ?)", rows)

    def _mark(self, name: str) -> str:
        """What tells whether a file is the one that was written."""
        with suppress(OSError):
            known = (self.folder / name).stat()
            return f"{known.st_size} {known.st_mtime_ns}"
        return "none"


def page_name(id: str) -> str:
    """The file of a decoder's page, by the id of its profile."""
    return f"decoder/{id}.html"


@contextmanager
def open_site(folder: Path) -> Iterator[SiteFolder]:
    """The folder for pages, made where it is not there.

    Raises InputError where it holds things that are none of ours: they might be overwritten.
    """
    is_new = not folder.exists() or not any(_others(folder))
    if not is_new and not (folder / KEPT).is_file():
        raise problem(
            "the folder holds other things than pages.",
            advice="Nothing was written; name a new folder, or an empty one.",
            position=Position(file_name(folder)),
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise problem(
            f"the folder cannot be made: {error.strerror or error}.",
            advice="Check its name and permissions.",
            position=Position(file_name(folder)),
        ) from None
    with locked(folder):
        kept = _opened(folder)
        try:
            site = SiteFolder(folder, kept)
            yield site
            site.settle()
        finally:
            kept.close()


def _others(folder: Path) -> Iterator[str]:
    """What lies in a folder, apart from what a dead writer left."""
    if not folder.is_dir():
        raise problem("that is no folder.", position=Position(file_name(folder)))
    return (
        path.name for path in folder.iterdir() if path.name != LOCK and not path.name.endswith(HALF)
    )


def _opened(folder: Path) -> sqlite3.Connection:
    """What is kept; empty where the program is another one, or it cannot be read."""
    path = folder / KEPT
    try:
        kept = _connected(path)
        found = kept.execute("select text from stamp").fetchone()
        if found == (_stamp(),):
            return kept
        kept.close()
    except sqlite3.DatabaseError:
        pass
    for ending in ("", "-journal"):
        remove_file(path.with_name(KEPT + ending), folder)
    kept = _connected(path)
    kept.execute("insert into stamp values (?)", (_stamp(),))
    kept.execute("insert into due values ('all', 'all')")
    return kept


def _connected(path: Path) -> sqlite3.Connection:
    kept = sqlite3.connect(path)
    kept.executescript(f"pragma synchronous = normal; {_TABLES}")
    return kept


def _stamp() -> str:
    """What changes with the program and with the documents it shows."""
    known = ((str(path), path.stat()) for path in code_files())
    text = "\n".join(f"{name} {one.st_size} {one.st_mtime_ns}" for name, one in known)
    return digest(text.encode("utf-8", "surrogateescape"))
