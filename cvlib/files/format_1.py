"""Profile and blocks files of format 1 in the words of format 2; nothing is surer than it was.

Format 1 took every document for whole: what it did not list did not exist in its firmware, and
what stood in the file for that firmware was documented, whoever was cited. Format 2 lets a document
speak for what cites it alone, until somebody says that it was read from first to last page.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from cvlib.engine.change.tidied import FormatChange
from cvlib.errors import InputError, Position, did_you_mean, problem
from cvlib.files.layout import PROFILE, layout_of
from cvlib.files.text import decode, encode_as, parse_toml
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Node, data_of, node_of, read_tree
from cvlib.model.profile import Extent, Source, is_about
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Scheme

if TYPE_CHECKING:
    from cvlib.files.faults import Path
    from cvlib.files.meaning.places import Known
    from cvlib.files.shapes.profile import Follow, ProfileFile
    from cvlib.files.shapes.settings import SettingShape


def in_newer_format(
    data: bytes, name: str, whole: Collection[str] = ()
) -> tuple[bytes, FormatChange | None]:
    """The bytes of a file in format 2, and what that came to; nothing where it was no format 1.

    ``whole`` are documents that somebody has read from first to last page.
    Raises InputError where the file is faulty, or has no such document.
    """
    text = decode(data, name)
    held = parse_toml(text, name)
    is_old = type(held.get("format")) is int and held["format"] == 1
    if not is_old or not ("block" in held or isinstance(held.get("decoder"), dict)):
        _refuse_whole(whole, name)
        return data, None
    document = read_tree(text.replace("\r\n", "\n"), name)
    document.root.table["format"].value = 2
    if layout_of(document.root) is not PROFILE:
        return data, None
    change = _change(document.root, text, name, whole)
    return encode_as(write_tree(document, PROFILE), data, text), change


def _refuse_whole(whole: Collection[str], name: str) -> None:
    if whole:
        raise problem(
            '"--whole" is for a profile of format 1, and this is none.',
            advice='Write extent = "whole" at the source in the file.',
            position=Position(name),
        )


def _change(root: Node, text: str, name: str, whole: Collection[str]) -> FormatChange:
    """Change the tree of a sound file; one with faults is refused with all of them."""
    from cvlib.files.faults import Faults, toml_data
    from cvlib.files.meaning.follows import blocks_file
    from cvlib.files.meaning.places import Known
    from cvlib.files.meaning.profile import sources_of
    from cvlib.files.shapes.check import checked
    from cvlib.files.shapes.profile import ProfileFile

    faults = Faults(name, text, {**toml_data(text, name), "format": 2})
    if "block" in root.table:
        blocks_file(faults)
        if faults.found:
            raise InputError(*faults.found)
        _refuse_whole(whole, name)
        return FormatChange()
    file = checked(ProfileFile, faults.data, faults)
    if file is None or faults.found:
        raise InputError(*faults.found)
    kinds = {one.id: one.kind for one in file.source}
    known = Known(Scheme(file.firmware.scheme), kinds, {}, faults)
    known = replace(known, sources=sources_of(known, file.source))
    change = _Profile(root, known, whole).change(file)
    if faults.found:
        raise InputError(*faults.found)
    return change


@dataclass(frozen=True, slots=True)
class _Spot:
    """One place of a setting, in the tree and in what format 1 meant by it."""

    node: Node
    written: tuple[str, ...]
    """Its ranges as they stand there."""
    firmware: FirmwareRange
    is_cited: bool
    """Whether it cites anybody, be it a bench test."""
    cited: list[Source]
    """The documents it cites."""
    common: list[Node]
    """The citations that it has from those of all places of its setting."""

    def cite(self, source: Source) -> None:
        """Let the place cite one document more."""
        held = self.node.table.setdefault("sources", Node([]))
        held.items.extend([*self.common, Node(source.id)])
        self.common.clear()
        self.cited.append(source)


class _Profile:
    """One profile of format 1 on its way to format 2."""

    def __init__(self, root: Node, known: Known, whole: Collection[str]) -> None:
        self.root = root
        self.known = known
        self.documents = {id: one for id, one in known.sources.items() if one.is_document}
        self.whole = whole
        self.lost: dict[str, list[str]] = {}
        self.ranges = self.assumed = self.added = self.kept = 0
        for id in whole:
            self._set_whole(id)

    def _set_whole(self, id: str) -> None:
        if id not in self.documents:
            raise problem(
                f'there is no document "{id}" to have read.',
                advice=did_you_mean(id[:80], self.documents),
                position=Position(self.known.faults.name),
            )
        self.documents[id] = replace(self.documents[id], extent=Extent.WHOLE)
        for node in self.root.table["source"].items:
            if node.table["id"].value == id:
                node.table["extent"] = Node("whole")

    def change(self, file: ProfileFile) -> FormatChange:
        """Change the tree, and tell what that came to."""
        for at, shape in enumerate(file.setting):
            self._setting(shape, self.root.table["setting"].items[at], ("setting", at, "place"))
        follows = file.decoder.follows
        for at, follow in enumerate(follows):
            self._follow(follow, ("decoder", "follows", at, "firmware"))
        absences = tuple((id, tuple(names)) for id, names in self.lost.items())
        return FormatChange(
            *(self.ranges, self.assumed, len(follows), self.added, self.kept, absences),
            whole=tuple(self.whole),
        )

    def _setting(self, shape: SettingShape, node: Node, path: Path) -> None:
        spots = list(self._spots(shape, node, path))
        self._cite_what_is_claimed(shape.id, spots)
        common = node.table.get("common", Node({}))
        if "sources" in common.table and not any(spot.common for spot in spots):
            common.below += common.table.pop("sources").all_remarks()
        cited = self._together(one for spot in spots for one in spot.cited)
        gone = dict(self._gone(shape.id, spots, cited))
        whole = (one for one in self.documents.values() if one.extent is Extent.WHOLE)
        told = cited | self._together(s for s in whole if s.speaks_for(shape.id))
        here = FirmwareRange.union((spot.firmware for spot in spots), self.known.scheme) & told
        for spot in spots:
            self._narrow(spot)
            self.assumed += not spot.cited
        for id, firmware in gone.items():
            if here.lies_before(firmware.oldest) and here.lies_after(firmware.oldest):
                # The range was left open for this document, between two that have the setting.
                self._deny(node, self.documents[id], firmware)
            else:
                self.lost.setdefault(id, []).append(shape.id)

    def _spots(self, shape: SettingShape, node: Node, path: Path) -> Iterator[_Spot]:
        """The places of a setting that say where it lives."""
        from cvlib.files.meaning.places import firmware_of
        from cvlib.files.shapes.places import AbsentPlace

        common = node.table.get("common", Node({}))
        for at, place in enumerate(shape.place):
            firmware = firmware_of(self.known, place.firmware, (*path, at, "firmware"))
            if firmware is None or firmware.is_empty() or isinstance(place, AbsentPlace):
                continue
            inner = node.table["place"].items[at]
            own = inner.table.get("sources", Node([])).items
            shared = common.table.get("sources", Node([])).items
            names = dict.fromkeys(one.source for one in place.sources)
            yield _Spot(
                inner,
                tuple(place.firmware or ()),
                firmware,
                bool(names),
                [self.documents[id] for id in names if id in self.documents],
                [node_of(data_of(one)) for one in shared if len(place.sources) > len(own)],
            )

    def _cite_what_is_claimed(self, setting: str, spots: list[_Spot]) -> None:
        """Let documents that would deny a place speak for it, where format 1 had it in their
        firmware: those that other places of the setting cite, and those that are whole.

        So do all of them where it cites somebody, and no document that speaks for its firmware,
        and where documents say something else of older and of newer firmware: what lies between
        them would not be open any more.
        """
        about = [one for one in self.documents.values() if one.speaks_for(setting)]
        whole = [one for one in about if one.extent is Extent.WHOLE]
        cited = {one.id for spot in spots for one in spot.cited}
        told = self._together([*whole, *(self.documents[id] for id in cited)])
        for spot in spots:
            rest = (spot.firmware & self._together(about)) - self._spoken(spot)
            other = told - spot.firmware
            is_void = (spot.firmware & self._spoken(spot)).is_empty() and bool(
                spot.cited or (spot.is_cited and whole)
            )
            is_void |= any(other.lies_before(at) and other.lies_after(at) for at, _ in rest.spans)
            self._cite(spot, [one for one in about if one.id in cited or is_void])
            if spot.is_cited or spot.cited:
                self._cite(spot, whole)
        if cited != {one.id for spot in spots for one in spot.cited}:
            self._cite_what_is_claimed(setting, spots)  # what was added may deny other places

    def _cite(self, spot: _Spot, sources: Iterable[Source]) -> None:
        """Let documents speak for a place that no other does in some of their firmware."""
        for source in sources:
            if not ((spot.firmware & source.firmware) - self._spoken(spot)).is_empty():
                spot.cite(source)
                self.added += 1

    def _together(self, sources: Iterable[Source]) -> FirmwareRange:
        """All firmware that some sources speak for."""
        return FirmwareRange.union((one.firmware for one in sources), self.known.scheme)

    def _spoken(self, spot: _Spot) -> FirmwareRange:
        """The firmware of the documents that a place cites."""
        return self._together(spot.cited)

    def _gone(
        self, setting: str, spots: list[_Spot], cited: FirmwareRange
    ) -> Iterator[tuple[str, FirmwareRange]]:
        """The documents whose silence denied a setting, each with where nobody denies it now."""
        about = [one for one in self.documents.values() if one.speaks_for(setting)]
        told = cited | self._together(s for s in about if s.extent is Extent.WHOLE)
        told |= FirmwareRange.union((spot.firmware for spot in spots), self.known.scheme)
        for source in about:
            firmware = source.firmware - told
            if not firmware.is_empty():
                yield source.id, firmware

    def _narrow(self, spot: _Spot) -> None:
        """Take those ends of a range out of a place that its documents have themselves."""
        if not (spot.cited and spot.written):
            return
        cited = self._spoken(spot)
        left = _without_ends(spot.written, cited, spot.firmware & cited)
        if left == spot.written:
            return
        self.ranges += 1
        node = spot.node.table["firmware"]
        if left:
            node.value = left[0] if len(left) == 1 else [Node(one) for one in left]
            return
        del spot.node.table["firmware"]
        remarks = [one for one in node.all_remarks() if one]
        if remarks:
            _, first = PROFILE.sorted(("setting", "place"), spot.node.table)[0]
            first.above = [*remarks, *first.above]

    def _deny(self, node: Node, source: Source, firmware: FirmwareRange) -> None:
        """Write down that a document does not have a setting."""
        table: dict[str, Any] = {"absent": True, "sources": [source.id]}
        if firmware != source.firmware:
            table["firmware"] = list(firmware.texts())
        node.table["place"].items.append(node_of(table))
        self.kept += 1

    def _follow(self, follow: Follow, path: Path) -> None:
        """Note the documents whose silence denied what is taken over for some firmware only."""
        from cvlib.files.meaning.places import firmware_of

        firmware = firmware_of(self.known, follow.firmware, path)
        if firmware is None or follow.firmware is None:
            return
        whole = (one for one in self.documents.values() if one.extent is Extent.WHOLE)
        told = firmware | self._together(one for one in whole if not one.about)
        for source in self.documents.values():
            is_meant = not source.about or any(is_about(source.about, n) for n in follow.only or ())
            if is_meant and not (source.firmware - told).is_empty():
                self.lost.setdefault(source.id, []).append(follow.from_)


def _without_ends(
    written: tuple[str, ...], cited: FirmwareRange, meant: FirmwareRange
) -> tuple[str, ...]:
    """The ranges without those comparisons that are ends of what the documents speak for.

    None of them is left where the documents alone say the same.
    """
    ends = set(cited.cuts())
    left = [[part.strip() for part in text.split(",")] for text in written]
    for texts in left:
        for part in tuple(texts):
            if not ends.issuperset(FirmwareRange.parse(part, cited.scheme).cuts()):
                continue
            texts.remove(part)
            if not all(left):
                if cited == meant:
                    return ()
                texts.append(part)
            elif _meaning(left, cited.scheme) & cited != meant:
                texts.append(part)
        texts.sort(key=lambda part: part.startswith("<"))
    return tuple(", ".join(texts) for texts in left)


def _meaning(parts: Iterable[Iterable[str]], scheme: Scheme) -> FirmwareRange:
    return FirmwareRange.parse([", ".join(texts) for texts in parts], scheme)
