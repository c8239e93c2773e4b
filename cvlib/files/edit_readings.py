"""The loco file after a session at the bench: firmware and readings in, dated, the rest kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.files.edit_loco import NewValue, table_data, written_table
from cvlib.files.loco_file import LocoEdit, one_line, put_together, rewrite_loco, taken_apart
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
    how: str = "read"
    saved_for: str = ""
    """What the values were meant for; empty where nobody says."""

    @property
    def has_reading(self) -> bool:
        """Whether there is more than the decoder's own keys."""
        return bool(self.values or self.silent)


def keep_readings(path: Path, found: NewReadings, seen: str = "", entered: bytes = b"") -> None:
    """Write readings into a loco file, in one step.

    ``seen`` is the digest of what the file held when it was read. Raises InputError, with the file
    as it was, where it is no loco file or cannot be written.
    """

    def text(before: str, name: str) -> str:
        return read_text(before, found, name)

    def data(document: dict[str, Any]) -> None:
        _read_data(document["decoder"][found.decoder], found)

    edit = LocoEdit("firmware and dates", "probe", text, data, seen, entered, found.has_reading)
    rewrite_loco(path, edit)


def read_text(text: str, found: NewReadings, name: str = "the file") -> str:
    """The text of a loco file with the readings of one decoder added at its end."""
    decoder: dict[str, Any] = parse_toml(text, name)["decoder"][found.decoder]
    before, pieces = taken_apart(text)
    heads = [piece for piece in pieces if piece.path == ("decoder", found.decoder)]
    has_own = any(piece.is_of(found.decoder, "reading") for piece in pieces)
    if not heads or (decoder.get("reading") and not has_own):
        raise one_line(name)
    texts = [_head(p.text, found) if p in heads else p.text for p in pieces]
    last = max(
        (at for at, p in enumerate(pieces) if p.is_of(found.decoder, "reading")),
        default=pieces.index(heads[0]),
    )
    is_new = table_data(_about(found), _ordered(found)) not in decoder.get("reading", ())
    if is_new and found.has_reading:
        texts.insert(last + 1, _table(found))
    return put_together(before, texts)


def _head(text: str, found: NewReadings) -> str:
    """The text of the decoder's own keys as they are known now."""
    import tomlkit

    document = tomlkit.parse(text)
    held: Any = document["decoder"]
    table = held[0]
    for key, value in _known(table, found).items():
        if table.get(key) != value:
            table[key] = value
    return tomlkit.dumps(document)


def _known(decoder: Mapping[str, Any], found: NewReadings) -> dict[str, str]:
    """The decoder's own keys that the session settles, a profile it names already apart."""
    profile = "" if "profile" in decoder else found.profile
    keys = {"profile": profile, "firmware": found.firmware, "state": found.state}
    return {key: value for key, value in keys.items() if value}


def _read_data(decoder: dict[str, Any], found: NewReadings) -> None:
    """What the decoder's data are to be with the readings."""
    decoder |= _known(decoder, found)
    if not found.has_reading:
        return
    table = table_data(_about(found), _ordered(found))
    if table not in decoder.get("reading", ()):
        decoder.setdefault("reading", []).append(table)


def _table(found: NewReadings) -> str:
    return written_table(_about(found), _ordered(found))


def _ordered(found: NewReadings) -> list[NewValue]:
    ordered = sorted(found.values.items(), key=lambda item: item[0].order)
    return [NewValue(slot, value) for slot, value in ordered]


def _about(found: NewReadings) -> dict[str, Any]:
    silent = ", ".join(f"CV {slot.typed}" for slot in found.silent)
    note = "; ".join(filter(None, (found.note, f"no answer: {silent}" if silent else "")))
    about: dict[str, Any] = {
        "date": found.day,
        "how": found.how,
        "firmware": found.firmware,
        "saved-for": found.saved_for,
        "state": found.state,
        "note": note,
    }
    return {key: value for key, value in about.items() if value}
