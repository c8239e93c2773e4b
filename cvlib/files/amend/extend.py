"""Places carried on to further firmware, where a new document lists the same settings as before."""

from __future__ import annotations

from collections.abc import Sequence

from cvlib.errors import problem
from cvlib.files.amend.change import Change
from cvlib.files.edit import set_keys
from cvlib.files.toml_tree import Node, data_of
from cvlib.files.written import written_firmware
from cvlib.model.profile import is_about
from cvlib.model.ranges import FirmwareRange


def extend(change: Change, firmware: FirmwareRange, same_as: str, about: Sequence[str]) -> None:
    """Let the places of one firmware hold for further firmware as well.

    Only settings that the document is about are carried on, and only from a firmware for which a
    document speaks already.
    """
    profile = change.profile
    version = profile.version(same_as)
    if version not in change.resolver.coverage:
        raise problem(
            f"no document speaks for firmware {version}, so nothing can be the same as there.",
            advice="Name a firmware that a handbook covers.",
        )
    places = entries = 0
    for setting in profile.settings.values():
        if setting.origin or (about and not is_about(about, setting.id)):
            continue
        for number, place in enumerate(setting.places):
            if version in place.firmware:
                places += _carry_on(change.draft.place(setting.id, number), change, firmware)
    for entry in () if about else _follows(change):
        if version in profile.range(data_of(entry)["firmware"]):
            entries += _carry_on(entry, change, firmware)
    told = f"{places} places" + (f" and {entries} entries of follows" if entries else "")
    change.told.did.append(
        f"{told} that hold in firmware {version} hold for {firmware.text()} as well."
    )


def _carry_on(node: Node, change: Change, firmware: FirmwareRange) -> int:
    """Add firmware to a table's own; how many tables that changed: one or none."""
    given = data_of(node).get("firmware")
    if given is None:
        return 0
    held = change.profile.range(given)
    both = held | firmware
    if both == held:
        return 0
    set_keys(node, {"firmware": written_firmware(both)})
    return 1


def _follows(change: Change) -> list[Node]:
    """The entries of ``follows`` that hold for some firmware only."""
    held = change.draft.root.table["decoder"].table.get("follows")
    entries = held.items if held is not None else []
    return [one for one in entries if isinstance(one.value, dict) and "firmware" in one.table]
