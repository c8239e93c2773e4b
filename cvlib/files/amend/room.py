"""Room made for a new place: its firmware taken out of the other places of the setting."""

from __future__ import annotations

from cvlib.engine.known.told import where_text
from cvlib.errors import problem
from cvlib.files.amend.change import Change
from cvlib.files.edit import cited_source, set_keys
from cvlib.files.toml_tree import Node, data_of
from cvlib.files.written import written_firmware
from cvlib.model.profile import Setting, SourceKind
from cvlib.model.ranges import FirmwareRange


def make_room(change: Change, setting: Setting, firmware: FirmwareRange) -> None:
    """Let the other places of a setting end where firmware of a new one begins, or begin behind it.

    Documents that speak for nothing of what is left are no longer called on there.
    Raises InputError where nothing of another place would be left.
    """
    for number, place in enumerate(setting.places):
        held = place.firmware
        if (held & firmware).is_empty():
            continue
        if held.is_everything():
            held = change.resolver.coverage_of(setting.id)
        rest = held - firmware
        where = where_text(place)
        if rest.is_empty():
            raise problem(
                f'nothing would be left of the place of "{setting.id}" at {where}, which holds for '
                f"{place.firmware.text()}.",
                advice="Correct that place itself: leave --new out.",
            )
        node = change.draft.place(setting.id, number)
        set_keys(node, {"firmware": written_firmware(rest)})
        change.told.did.append(
            f"{setting.id} at {where} holds for {rest.text()} from now on; it was "
            f"{place.firmware.text()}."
        )
        _forget(change, node, rest)


def _forget(change: Change, place: Node, firmware: FirmwareRange) -> None:
    """Take out the documents that speak for none of a place's firmware any more."""
    sources = place.table.get("sources")
    if sources is None:
        return
    gone = [
        node for node in sources.items if not _meets(change, cited_source(data_of(node)), firmware)
    ]
    for node in gone:
        sources.items.remove(node)
    if not sources.items:
        del place.table["sources"]


def _meets(change: Change, id: str, firmware: FirmwareRange) -> bool:
    source = change.profile.sources.get(id)
    is_document = source is not None and source.kind is not SourceKind.BENCH
    return not (source and is_document) or not (source.firmware & firmware).is_empty()
