"""The loco file after a session at the bench: firmware and readings in, dated, the rest kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.files.edit_loco import NewValue, written_table
from cvlib.files.loco_file import one_line, put_together, rewrite_loco, taken_apart
from cvlib.files.text import parse_toml
from cvlib.model.cv import Slot


@dataclass(frozen=True, slots=True)
class NewReadings:
    """What was read of one decoder of a loco file, and the firmware it turned out to have."""

    decoder: int
    """Its number in the file, from 0."""
    profile: str
    """Written where the file names none; empty: leave as it is."""
    firmware: str
    """The installed firmware; empty: leave as it is."""
    values: Mapping[Slot, int]
    silent: tuple[Slot, ...]
    """CVs that gave no answer; they go into the note."""
    day: date
    note: str
    state: str = ""
    """What became of the values at the last update; empty: leave as it is."""


def keep_readings(path: Path, found: NewReadings) -> None:
    """Write readings into a loco file, in one step.

    Raises InputError, with the file as it was, where it is no loco file or cannot be written.
    """
    rewrite_loco(path, "firmware and dates", lambda text, name: read_text(text, found, name))


def read_text(text: str, found: NewReadings, name: str = "the file") -> str:
    """The text of a loco file with the readings of one decoder added at its end."""
    decoder: dict[str, Any] = parse_toml(text, name)["decoder"][found.decoder]
    before, pieces = taken_apart(text)
    heads = [piece for piece in pieces if piece.path == ("decoder", found.decoder)]
    has_own = any(piece.is_of(found.decoder, "saved") for piece in pieces)
    if not heads or (decoder.get("saved") and not has_own):
        raise one_line(name)
    texts = [_head(p.text, found) if p in heads else p.text for p in pieces]
    last = max(
        (at for at, p in enumerate(pieces) if p.is_of(found.decoder, "saved")),
        default=pieces.index(heads[0]),
    )
    table = _table(found) if found.values or found.silent else ""
    if table.strip() and table.strip() not in {one.strip() for one in texts}:
        texts.insert(last + 1, table)
    return put_together(before, texts)


def _head(text: str, found: NewReadings) -> str:
    """The decoder's own keys with profile and firmware as they are known now."""
    import tomlkit

    document = tomlkit.parse(text)
    held: Any = document["decoder"]
    table = held[0]
    if found.profile and "profile" not in table:
        table["profile"] = found.profile
    if found.firmware and table.get("firmware") != found.firmware:
        table["firmware"] = found.firmware
    if found.state and table.get("state") != found.state:
        table["state"] = found.state
    return tomlkit.dumps(document)


def _table(found: NewReadings) -> str:
    silent = ", ".join(f"CV {slot.typed}" for slot in found.silent)
    note = "; ".join(filter(None, (found.note, f"no answer: {silent}" if silent else "")))
    about: dict[str, Any] = {"date": found.day, "how": "read"}
    if found.firmware:
        about["firmware"] = found.firmware
    if note:
        about["note"] = note
    ordered = sorted(found.values.items(), key=lambda item: item[0].order)
    return written_table(about, [NewValue(slot, value) for slot, value in ordered])
