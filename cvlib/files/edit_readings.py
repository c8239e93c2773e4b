"""A loco file with a further reading of a decoder, and what is known of it now; the rest stays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.files.edit_loco import NewValue, table_data, written_table
from cvlib.files.loco_file import LocoEdit, one_line, put_together, rewrite_loco, taken_apart
from cvlib.files.text import file_name, parse_toml
from cvlib.files.toml_text import string_text
from cvlib.files.write import create_file, says
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
    day: date | None
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


def keep_readings(
    path: Path, found: NewReadings, cause: str, seen: str = "", entered: bytes = b""
) -> None:
    """Write readings into a loco file, in one step.

    ``cause`` is the command that writes, ``seen`` the digest of what the file held when it was
    read. Raises InputError, with the file as it was, where it is no loco file or cannot be written.
    """

    def text(before: str, name: str) -> str:
        return read_text(before, found, name)

    def data(document: dict[str, Any]) -> None:
        _read_data(document["decoder"][found.decoder], found)

    edit = LocoEdit("firmware and dates", cause, text, data, seen, entered, found.has_reading)
    rewrite_loco(path, edit)


def new_loco(path: Path, name: str, role: str, found: NewReadings) -> None:
    """Make a loco file of one decoder with its first reading; a file that is there is refused."""
    decoder = {key: value for key, value in (("role", role),) if value}
    meant: dict[str, Any] = {"format": 2, "loco": {"name": name}, "decoder": [decoder]}
    head = f"format = 2\n\n[loco]\nname = {string_text(name)}\n\n[[decoder]]\n"
    head += f"role = {string_text(role)}\n" if role else ""
    _read_data(decoder, found)
    create_file(path, read_text(head, found, file_name(path)).encode("utf-8"), says(meant))


def read_text(text: str, found: NewReadings, name: str = "the file") -> str:
    """The text of a loco file with the readings of one decoder added at its end."""
    decoder: dict[str, Any] = parse_toml(text, name)["decoder"][found.decoder]
    before, pieces = taken_apart(text)
    heads = [piece for piece in pieces if piece.path == ("decoder", found.decoder)]
    has_own = any(piece.is_of(found.decoder, "reading") for piece in pieces)
    if not heads or (decoder.get("reading") and not has_own):
        raise one_line(name)
    known = _known(decoder, found)
    texts = [_head(p.text, known) if p in heads else p.text for p in pieces]
    held = decoder.get("reading", [])
    number = _place(held, found)
    last = max(
        (
            at
            for at, p in enumerate(pieces)
            if p.is_of(found.decoder, "reading") and p.path[3] < number  # type: ignore[operator]
        ),
        default=pieces.index(heads[0]),
    )
    is_new = table_data(_about(found), _ordered(found)) not in held
    if is_new and found.has_reading:
        texts.insert(last + 1, _table(found))
    return put_together(before, texts)


def _place(readings: Sequence[Mapping[str, Any]], found: NewReadings) -> int:
    """The number of a new reading among those of the decoder: behind all that are not newer."""
    newer = (at for at, held in enumerate(readings) if found.day and held.get("date"))
    return next((at for at in newer if readings[at]["date"] > found.day), len(readings))


def _head(text: str, known: Mapping[str, str]) -> str:
    """The text of the decoder's own keys as they are known now."""
    import tomlkit

    document = tomlkit.parse(text)
    held: Any = document["decoder"]
    table = held[0]
    for key, value in known.items():
        if not value:
            table.pop(key, None)
        elif table.get(key) != value:
            table[key] = value
    return tomlkit.dumps(document)


def _known(decoder: Mapping[str, Any], found: NewReadings) -> dict[str, str]:
    """The decoder's own keys as they are now; empty: the key goes.

    A profile that it names stays. What became of the values at an earlier update says nothing
    once the firmware is another; an older reading says nothing of what is so now.
    """
    known = {"profile": found.profile} if found.profile and "profile" not in decoder else {}
    readings = decoder.get("reading", ())
    if found.has_reading and _place(readings, found) < len(readings):
        return known
    if found.firmware and found.firmware != decoder.get("firmware"):
        known |= {"firmware": found.firmware} | ({"state": ""} if "state" in decoder else {})
    return known | ({"state": found.state} if found.state else {})


def _read_data(decoder: dict[str, Any], found: NewReadings) -> None:
    """What the decoder's data are to be with the readings."""
    known = _known(decoder, found)
    decoder |= {key: value for key, value in known.items() if value}
    if known.get("state") == "":
        del decoder["state"]
    table, held = table_data(_about(found), _ordered(found)), decoder.get("reading", [])
    if found.has_reading and table not in held:
        held.insert(_place(held, found), table)
        decoder["reading"] = held


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
