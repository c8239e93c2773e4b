"""Every definition of a store, and files named beside it, looked through for faults."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from cvlib.engine.lint.finding import Linted, LintFinding, LintMessage
from cvlib.engine.lint.rules import lint_profile
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.load import check_blocks, load_profile
from cvlib.files.locate import Locator
from cvlib.files.read.interface import ENDINGS, read_file
from cvlib.files.store import Store
from cvlib.files.text import decode, file_name, read_bytes
from cvlib.model.profile import Profile, Setting

INVALID = "invalid"
"""The code of every fault that keeps a file from being read; its words say which fault."""

_PROFILE = re.compile(r"^\[decoder\]", re.M)
_BLOCKS = re.compile(r"^\[\[block\]\]", re.M)


def lint(store: Store, paths: Iterable[Path]) -> Linted:
    """What is wrong with the definitions of a store and with the files and folders named.

    Raises InputError where a path does not exist.
    """
    named = [file for path in paths for file in _files(path)]
    known = {store.path(id).resolve() for id in store.ids()}
    known |= {path.resolve() for path in store.block_files()}
    others = [path for path in named if path.resolve() not in known]
    found = [*_of_store(store), *(one for path in others for one in _of_file(store, path))]
    messages = sorted(set(found), key=lambda one: one.order)
    blocks = len(store.block_names())
    return Linted(tuple(messages), len(store.ids()), blocks, len(others))


def _files(path: Path) -> Iterator[Path]:
    """A file as it is; of a folder every file that can be a definition or a loco."""
    if path.is_dir():
        inside = (file for file in path.rglob("*") if file.suffix.casefold() in ENDINGS)
        yield from sorted(file for file in inside if file.is_file())
    elif path.exists():
        yield path
    else:
        raise problem(
            "there is no such file or folder.",
            advice="Check the name.",
            position=Position(file_name(path)),
        )


def _of_store(store: Store) -> Iterator[LintMessage]:
    for name in store.block_names():
        shown, text = store.text(name)
        try:
            check_blocks(text, shown)
        except InputError as error:
            yield from _invalid(error.faults, shown)
    for id in store.ids():
        try:
            profile = store.profile(id)
        except InputError as error:
            yield from _invalid(error.faults, str(store.path(id)))
            continue
        places = Places(store, profile, *store.text(f"{id}.toml"))
        yield from (places.message(finding) for finding in lint_profile(profile))


def _of_file(store: Store, path: Path) -> Iterator[LintMessage]:
    name = file_name(path)
    try:
        text = decode(read_bytes(path), name)
        if _BLOCKS.search(text):
            check_blocks(text, name)
        elif _PROFILE.search(text):
            profile = load_profile(text, name, store)
            places = Places(store, profile, name, text)
            yield from (places.message(finding) for finding in lint_profile(profile))
        else:
            read_file(path)
    except InputError as error:
        yield from _invalid(error.faults, name)


def _invalid(faults: Iterable[Fault], name: str) -> Iterator[LintMessage]:
    for fault in faults:
        yield LintMessage(INVALID, fault.position or Position(name), fault.problem, fault.advice)


class Places:
    """Where the settings of one profile are written: in its own file or in those it follows."""

    def __init__(self, store: Store, profile: Profile, name: str, text: str) -> None:
        self.store = store
        self.profile = profile
        self.name = name
        self.own = Locator(text, name)
        self._others: dict[str, Locator] = {}

    def message(self, finding: LintFinding) -> LintMessage:
        """A finding with its spot; at the top of the file where the setting is not found."""
        setting = self.profile.settings[finding.setting]
        position = self._position(setting, finding.place) or Position(self.name, 1, 1)
        return LintMessage(finding.code, position, finding.message, finding.advice)

    def _position(self, setting: Setting, place: int | None) -> Position | None:
        if not setting.origin:
            return self.own.setting(setting.id, place)
        folder, at_blocks, block = setting.origin.partition("/blocks/")
        if at_blocks:
            return self._other(f"{folder}/blocks.toml").setting(setting.id, place, block)
        standard = setting.origin.partition("@")[0]
        return self._other(f"{standard}.toml").setting(setting.id, place)

    def _other(self, name: str) -> Locator:
        if name not in self._others:
            shown, text = self.store.text(name)
            self._others[name] = Locator(text, shown)
        return self._others[name]
