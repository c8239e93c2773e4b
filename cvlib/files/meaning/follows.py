"""What a profile takes over: standards' editions and shared blocks."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from cvlib.engine.known.compose import Taken, chosen, from_block, from_standard, unmatched
from cvlib.errors import InputError, did_you_mean
from cvlib.files.faults import Faults, Path, toml_data
from cvlib.files.meaning.file_format import is_current
from cvlib.files.meaning.places import Known, cited, claimed, firmware_of
from cvlib.files.meaning.settings import rules_of, settings_of
from cvlib.files.shapes.check import checked
from cvlib.files.shapes.profile import BlocksFile, Follow
from cvlib.model.profile import Citation, Profile, Setting, group_of
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Scheme, parse_version


class Shelf(Protocol):
    """What a profile may need of the store it lies in."""

    def ids(self) -> tuple[str, ...]:
        """The ids of all profiles."""

    def profile(self, id: str) -> Profile:
        """A profile that is followed."""

    def blocks(self, folder: str) -> tuple[str, str] | None:
        """Name and text of a maker's blocks file, if there is one."""


class Follows:
    """Takes over what one profile follows, and gathers what is wrong with it."""

    def __init__(self, known: Known, shelf: Shelf, decoder: tuple[Citation, ...] = ()) -> None:
        self.known = known
        self.shelf = shelf
        self.decoder = decoder
        """The sources that speak for every setting which names none itself."""
        self.blocks_faults: list[Faults] = []
        self.is_whole = True
        """Whether everything that is followed could be taken over."""
        self._files: dict[str, tuple[Faults, BlocksFile | None] | None] = {}

    def taken(self, follows: Iterable[Follow]) -> list[Taken]:
        """What each entry brings, in the order of the file."""
        found = []
        for at, follow in enumerate(follows):
            path: Path = ("decoder", "follows", at)
            firmware = firmware_of(self.known, follow.firmware, (*path, "firmware"))
            own = cited(self.known, follow.sources, (*path, "sources"), is_general=True)
            entry = None
            if firmware is not None:
                narrowing = firmware if follow.firmware is not None else None
                take = self._standard if "@" in follow.from_ else self._block
                entry = take(follow.from_, path, narrowing, own)
            if entry is None:
                self.is_whole = False
                continue
            only, without = tuple(follow.only or ()), tuple(follow.without or ())
            self.match((*path, "only"), only, entry.settings)
            self.match((*path, "without"), without, entry.settings)
            found.append(chosen(entry, only, without))
        return found

    def match(self, path: Path, names: tuple[str, ...], settings: Iterable[Setting]) -> None:
        """Note each name that stands for none of the settings."""
        ids = [setting.id for setting in settings]
        for name in unmatched(names, ids):
            advice = did_you_mean(name, groups_and(ids))
            self.known.faults.add(path, f'"{name}" is no setting or group taken over.', advice)

    def _standard(
        self, name: str, path: Path, narrowing: FirmwareRange | None, own: tuple[Citation, ...]
    ) -> Taken | None:
        id, _, edition = name.partition("@")
        faults = self.known.faults
        if id not in self.shelf.ids():
            standards = [known for known in self.shelf.ids() if known.startswith("standard/")]
            faults.unknown(path, "standard", id, standards)
            return None
        try:
            standard = self.shelf.profile(id)
        except InputError as error:
            faults.add(path, f"{id} cannot be followed.", str(error.faults[0]))
            return None
        if standard.kind != "standard":
            faults.add(path, f"{id} is no standard.", "Share settings of decoders in a block.")
            return None
        version = faults.tried(path, parse_version, edition, Scheme.DATE)
        if version is None:
            return None
        if standard.release_of(version) is None:
            editions = ", ".join(str(release.version) for release in standard.releases)
            faults.add(path, f"there is no edition {edition} of {id}.", f"There is {editions}.")
            return None
        documents = own if self.known.documents(own) else ()
        firmware = claimed(self.known, documents, narrowing)
        return from_standard(standard, version, name, narrowing, firmware, documents)

    def _block(
        self, name: str, path: Path, narrowing: FirmwareRange | None, own: tuple[Citation, ...]
    ) -> Taken | None:
        folder, _, rest = name.partition("/")
        wanted = rest.removeprefix("blocks/")
        faults = self.known.faults
        opened = self._opened(folder)
        if opened is None:
            faults.add(path, f"{folder} has no blocks.toml.", "Check the name of the folder.")
            return None
        within, file = opened
        if file is None:
            return None
        ids = [block.id for block in file.block]
        if wanted not in ids:
            faults.unknown(path, "block", name, [f"{folder}/blocks/{id}" for id in ids])
            return None
        at = ids.index(wanted)
        block = file.block[at]
        known = Known(self.known.scheme, self.known.kinds, self.known.sources, within, file.lists)
        shared = cited(known, block.sources, ("block", at, "sources"), is_general=True)
        path = ("block", at, "setting")
        levels, topics = (own, shared), {"": block.topic} if block.topic else None
        settings = settings_of(
            known, block.setting, path, levels, self.decoder, block.risk, topics=topics
        )
        rules = rules_of(known, block.rule, ("block", at, "rule"))
        limit = narrowing or FirmwareRange.everything(known.scheme)
        return from_block(name, block.title, settings.values(), rules, limit)

    def _opened(self, folder: str) -> tuple[Faults, BlocksFile | None] | None:
        if folder not in self._files:
            self._files[folder] = self._open(folder)
        return self._files[folder]

    def _open(self, folder: str) -> tuple[Faults, BlocksFile | None] | None:
        found = self.shelf.blocks(folder)
        if found is None:
            return None
        name, text = found
        within = Faults(name, text, toml_data(text, name))
        self.blocks_faults.append(within)
        return within, blocks_file(within) if is_current(within) else None


def blocks_file(faults: Faults) -> BlocksFile | None:
    """A blocks file in its shape; what is wrong with it is noted."""
    file = checked(BlocksFile, faults.data, faults)
    ids: set[str] = set()
    for at, block in enumerate(file.block if file else ()):
        if block.id in ids:
            faults.twice(("block", at, "id"), "the block", block.id)
        ids.add(block.id)
    return file


def groups_and(ids: Iterable[str]) -> list[str]:
    """Setting ids, and the groups they are in."""
    return list(dict.fromkeys(name for id in ids for name in (id, group_of(id))))
