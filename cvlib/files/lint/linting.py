"""Every definition of a store, and files named beside it, looked through for faults."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TypeAlias

from cvlib.engine.lint.finding import Linted, LintFinding, LintRule, Whole
from cvlib.engine.lint.rules import INVALID, SOUND_ALONE, UNNEEDED, lint_profile, lint_whole
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.lint.accepted import Accepted
from cvlib.files.lint.rest import rest_of
from cvlib.files.lint.spots import Locators, position_of
from cvlib.files.load import check_blocks, load_profile
from cvlib.files.locate import Locator
from cvlib.files.read.interface import ENDINGS, read_file
from cvlib.files.read.timings import is_timings, parse_timings
from cvlib.files.store import BLOCKS, Store
from cvlib.files.text import decode, decode_list, file_name, read_bytes, real_path
from cvlib.findings.remark import Remark
from cvlib.model.profile import Profile

Watch: TypeAlias = Callable[[Collection[str]], Iterable[str]]
"""Goes through names and may show how far it has come."""

_CLOSED = Fault("you may not look into this folder.", None, "Change its permissions.")
_PROFILE = re.compile(r"^\[decoder\]", re.M)
_BLOCKS = re.compile(r"^\[\[block\]\]", re.M)


@dataclass(frozen=True, slots=True)
class _File:
    """A profile or a blocks file that could be read."""

    locator: Locator
    accepted: Accepted
    profile: Profile | None = None
    bad: tuple[range, ...] | None = None
    """Of a file that cannot be read whole, the lines of its faulty tables."""


@dataclass(slots=True)
class _Linting:
    """What has been read and found so far."""

    store: Store
    today: date
    locators: Locators
    files: dict[str, _File] = field(default_factory=dict)
    """By the name as it is shown."""
    shown: dict[str, str] = field(default_factory=dict)
    """Of each id, and of each blocks file, the name as it is shown."""
    remarks: list[Remark] = field(default_factory=list)
    faulty: set[str] = field(default_factory=set)
    """Names, as they are shown, of files that could not be read."""
    accepted: list[str] = field(default_factory=list)
    """Of each finding that is accepted, the file that it is in."""
    about: frozenset[str] | None = None
    """The profiles of which what shows only between files is asked; nothing: of all."""

    def invalid(self, faults: Iterable[Fault], name: str) -> None:
        self.faulty.add(name)
        for fault in faults:
            spot = fault.position or Position(name)
            self.remarks.append(_remark(INVALID, spot, fault.problem, fault.advice))

    def blocks(self, name: str, text: str, shown: str) -> None:
        try:
            check_blocks(text, shown)
        except InputError as error:
            self.invalid(error.faults, shown)
            return
        locator = Locator(text, shown)
        self.files[shown] = _File(locator, Accepted(locator.data))
        self.shown[name] = shown

    def profile(self, id: str, text: str, shown: str, load: Callable[[], Profile]) -> None:
        try:
            profile = load()
        except InputError as error:
            self.invalid(error.faults, shown)
            rest = rest_of(text, shown, self.store.shelf(f"{id}.toml"), id, error)
            if rest is not None:
                self.invalid(rest.faults, shown)
                locator = Locator(rest.text, shown)
                accepted = Accepted(locator.data)
                self.files[shown] = _File(locator, accepted, rest.profile, rest.bad)
            return
        locator = Locator(text, shown)
        self.files[shown] = _File(locator, Accepted(locator.data), profile)
        self.shown[id or profile.id] = shown

    def note(self, file: _File, rule: LintRule, finding: LintFinding) -> None:
        """Take a finding down, unless the file it is in or that of the profile accepts it."""
        if file.profile is None:
            spot = file.locator.find(finding.spot) or Position(file.locator.name, 1, 1)
        else:
            spot = position_of(file.profile, finding.spot, file.locator, self.locators)
        if file.bad is not None and spot.line in (1, *chain.from_iterable(file.bad)):
            return  # what it is about was left out
        # Both files are asked, not only the first that accepts it: both tables are of use then.
        own = file.accepted.takes(rule, finding)
        there = self.files.get(spot.file, file).accepted.takes(rule, finding)
        if own or there:
            self.accepted.append(spot.file)
        else:
            about, other = str(finding.spot), self._other(file, finding)
            remark = _remark(rule, spot, finding.message, finding.advice, about)
            self.remarks.append(replace(remark, other=None if other == spot else other))

    def _other(self, file: _File, finding: LintFinding) -> Position | None:
        """Where the other end of a finding is written."""
        beside = self.files.get(self.shown.get(finding.beside, ""), file)
        if finding.other is None or beside.profile is None:
            return None
        return position_of(beside.profile, finding.other, beside.locator, self.locators)


def lint(
    store: Store,
    paths: Iterable[Path] = (),
    today: date | None = None,
    watch: Watch = iter,
    chosen: Collection[str] | None = None,
    *,
    alone: bool = False,
) -> Linted:
    """What is wrong with the definitions of a store, or just with some files.

    ``paths`` names files and folders, of the store or not: only what is wrong with them is told.
    ``chosen`` limits the work to some files of the store, by their name there with the ending.
    ``alone``: no other file is read than those and what they follow, so that nothing is said of
    what only shows between all of them.
    ``watch`` goes through the files twice: while they are read, and while the rules are asked.
    Raises InputError where a path does not exist.
    """
    paths = tuple(paths)
    named = [file for path in paths for file in named_files(path)]
    inside = {real_path(store.located(name)): name for name in store.file_names()}
    names = [inside[real_path(path)] for path in named if real_path(path) in inside]
    others = [path for path in named if real_path(path) not in inside]
    wanted = None if chosen is None and not paths else {*(chosen or ()), *names}
    work = _Linting(store, today or date.today(), Locators(store))
    if wanted is not None:
        work.about = frozenset(name.removesuffix(".toml") for name in wanted)
    closed = list(_closed(store.folders if wanted is None else paths))
    for path in closed:
        work.invalid([_CLOSED], file_name(path))
    _read_store(work, watch, _needed(store, wanted) if alone and wanted else store.file_names())
    for path in others:
        _read_other(work, path)
    looked = _look(work, wanted, [file_name(path) for path in others], watch)
    _look_across(work, is_whole=not alone)
    _unneeded(work, looked)
    told = set(map(store.shown, wanted or ())) | set(map(file_name, (*others, *closed)))
    found = {one for one in work.remarks if wanted is None or one.position.file in told}
    remarks = tuple(sorted(found, key=lambda one: one.order))
    accepted = sum(wanted is None or file in told for file in work.accepted)
    profiles = len(store.ids()) if wanted is None else sum(not _is_blocks(n) for n in wanted)
    blocks = len(store.block_names()) if wanted is None else sum(map(_is_blocks, wanted))
    return Linted(remarks, accepted, profiles, blocks, len(others))


def _is_blocks(name: str) -> bool:
    return name.endswith(f"/{BLOCKS}")


def named_files(path: Path) -> Iterator[Path]:
    """A file as it is; of a folder every file that can be a definition or a loco.

    Raises InputError where there is neither.
    """
    if _told(path.is_dir):
        below = (Path(folder, name) for folder, _, names in os.walk(path) for name in names)
        inside = (file for file in below if file.suffix.casefold() in ENDINGS)
        yield from sorted(file for file in inside if _told(file.is_file))
    elif _told(path.exists):
        yield path
    else:
        raise problem(
            "there is no such file or folder.",
            advice="Check the name, and whether you may look into its folder.",
            position=Position(file_name(path)),
        )


def _told(look: Callable[[], bool]) -> bool:
    """What a look at a path tells; no where its folder is closed to us."""
    try:
        return look()
    except OSError:
        return False


def _closed(folders: Iterable[Path]) -> Iterator[Path]:
    """Folders that may not be looked into, wherever they lie in some others."""
    for top in folders:
        for folder, inside, _ in os.walk(top):
            yield from (
                path
                for path in (Path(folder, name) for name in inside)
                if not _told(path.is_symlink) and not os.access(path, os.R_OK | os.X_OK)
            )


def _needed(store: Store, names: Iterable[str]) -> tuple[str, ...]:
    """Some files of a store with those that they follow."""
    found = dict.fromkeys(names)
    for name in tuple(found):
        if not _is_blocks(name):
            with suppress(InputError):
                found.update(dict.fromkeys(store.names_behind(name.removesuffix(".toml"))))
    return tuple(found)


def _read_store(work: _Linting, watch: Watch, names: Collection[str]) -> None:
    store = work.store
    for name in watch(names):
        try:
            shown, text = store.text(name)
        except InputError as error:
            work.invalid(error.faults, store.shown(name))
            continue
        if _is_blocks(name):
            work.blocks(name.removesuffix(".toml"), text, shown)
        else:
            id = name.removesuffix(".toml")
            work.profile(id, text, shown, partial(store.profile, id))


def _read_other(work: _Linting, path: Path) -> None:
    name = file_name(path)
    try:
        data = read_bytes(path)
        sniffed = decode_list(data, name)
        if _BLOCKS.search(sniffed):
            work.blocks("", decode(data, name), name)
        elif _PROFILE.search(sniffed):
            text = decode(data, name)
            work.profile("", text, name, lambda: load_profile(text, name, work.store))
        elif is_timings(sniffed):
            parse_timings(sniffed, name)
        else:
            read_file(path)
    except InputError as error:
        work.invalid(error.faults, name)


def _look(
    work: _Linting, wanted: Collection[str] | None, others: Iterable[str], watch: Watch
) -> set[str]:
    """Ask the rules about each profile that is wanted; gives the names of the files looked at."""
    store = work.store
    if wanted is None:
        names = {store.shown(name) for name in store.file_names()}
    else:
        names = {store.shown(name) for name in store.file_names() if _concerns(store, name, wanted)}
    looked = [name for name in work.files if name in {*names, *others}]
    for name in watch(looked):
        file = work.files[name]
        if file.profile is not None:
            codes = None if file.bad is None else SOUND_ALONE
            for rule, finding in lint_profile(file.profile, file.locator.data, work.today, codes):
                work.note(file, rule, finding)
    return set(looked)


def _concerns(store: Store, name: str, wanted: Collection[str]) -> bool:
    """Whether a file is wanted, or is a profile that takes from a blocks file that is wanted."""
    if name in wanted or _is_blocks(name):
        return name in wanted
    if not any(map(_is_blocks, wanted)):
        return False
    try:
        behind = store.names_behind(name.removesuffix(".toml"))
    except InputError:
        return False
    return any(_is_blocks(one) and one in wanted for one in behind)


def _look_across(work: _Linting, *, is_whole: bool) -> None:
    """Ask the rules about the store as a whole, or about the part of it that was read."""
    read = {id: work.files[shown] for id, shown in work.shown.items()}
    whole = Whole(
        {id: file.profile for id, file in read.items() if file.profile is not None},
        {id: file.locator.data for id, file in read.items() if file.profile is None},
        is_whole and not work.faulty,
        work.about,
    )
    for rule, id, finding in lint_whole(whole):
        work.note(read[id], rule, finding)


def _unneeded(work: _Linting, looked: Collection[str]) -> None:
    """What is accepted and not found, in the files that were looked through whole.

    What a blocks file accepts shows only with all the profiles that take from it.
    """
    for name in looked:
        file = work.files[name]
        if file.bad is not None or (file.profile is None and work.faulty):
            continue
        for path, what, advice in file.accepted.unneeded():
            work.remarks.append(_remark(UNNEEDED, file.locator.position(path), what, advice))


def _remark(rule: LintRule, spot: Position, what: str, advice: str = "", about: str = "") -> Remark:
    return Remark(rule.code, rule.severity, spot, what, advice, about)
