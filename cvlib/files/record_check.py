"""The record of a check written into a loco file; everything else in the file stays as it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.engine.bench.outcome import FleetChecked
from cvlib.engine.change.recheck import Unrecorded, record_of
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.loco_file import LocoEdit, put_value, rewrite_loco, taken_apart
from cvlib.files.scanner import comment_spots
from cvlib.files.text import parse_toml
from cvlib.files.toml_text import string_text
from cvlib.model.cv import Page
from cvlib.model.loco import CheckedValue, LastCheck


@dataclass(frozen=True, slots=True)
class Recording:
    """What came of leaving the outcome of a check in the loco files."""

    missed: tuple[Fault, ...]
    """Decoders whose check leaves nothing, for their firmware is not known."""
    failed: tuple[Fault, ...]
    """Files that could not be written."""

    def told(self) -> tuple[Fault, ...]:
        """All of it."""
        return (*self.missed, *self.failed)


def record_all(result: FleetChecked, day: date) -> Recording:
    """Leave the outcome of a check in the loco files it was read from."""
    missed: list[Fault] = []
    failed: list[Fault] = []
    for held in result.locos:
        records: dict[int, LastCheck] = {}
        for at, decoder in enumerate(held.decoders):
            made = record_of(decoder, day)
            if isinstance(made, Unrecorded):
                role = f" for {decoder.decoder.role}" if decoder.decoder.role else ""
                what = f"nothing is recorded{role}: {made.reason}"
                missed.append(Fault(what, Position(held.loco.file), made.advice))
            else:
                records[at] = made
        try:
            if records:
                record_checks(Path(held.loco.path), records, held.loco.digest)
        except InputError as error:
            failed.extend(error.faults)
    return Recording(tuple(missed), tuple(failed))


def record_checks(path: Path, records: Mapping[int, LastCheck], seen: str = "") -> None:
    """Write the records of some decoders, by their number in the file from 0, in one step.

    ``seen`` is the digest of what the file held when it was checked. Raises InputError, with the
    file as it was, where it is a list or cannot be written.
    """

    def change(text: str, name: str) -> str:
        for number, record in records.items():
            text = recorded_text(text, number, record, name)
        return text

    def data(document: dict[str, Any]) -> None:
        for number, record in records.items():
            document["decoder"][number]["checked"] = _data(record)

    rewrite_loco(path, LocoEdit("the record of a check", "check", change, data, seen))


def recorded_text(text: str, number: int, record: LastCheck, name: str = "the file") -> str:
    """The text of a loco file with the record of one decoder's check in it.

    An older record goes; remarks stay, also those that stood in it.
    """
    before, pieces = taken_apart(text)
    own = [piece for piece in pieces if piece.is_of(number, "checked")]
    others = [piece for piece in pieces if piece not in own]
    places = [at for at, piece in enumerate(others) if piece.is_of(number)]
    decoder: dict[str, Any] = parse_toml(text, name)["decoder"][number]
    if not places or ("checked" in decoder and not own):
        raise problem(
            "the decoder is written in one line, which cannot be edited.",
            advice="Write it under the heading [[decoder]].",
            position=Position(name),
        )
    remarks = "".join(
        piece.text[spot:].partition("\n")[0] + "\n"
        for piece in own
        for spot in comment_spots(piece.text)
    )
    made = _written(record) + (f"\n{remarks}" if remarks else "")
    head = "".join([before, *(piece.text for piece in others[: places[-1] + 1])]).rstrip("\n")
    tail = "".join(piece.text for piece in others[places[-1] + 1 :])
    return f"{head}\n\n{made}" + (f"\n{tail}" if tail else "")


def _data(record: LastCheck) -> dict[str, Any]:
    """The record as the data of a loco file."""
    made: dict[str, Any] = {"date": date.fromisoformat(record.date)}
    made |= {key: getattr(record, key) for key in ("profile", "firmware", "digest")}
    for slot, held in record.values.items():
        told = {"value": held.value, "digest": held.digest, "means": held.means}
        put_value(made, slot, told)
    return made


def _written(record: LastCheck) -> str:
    lines = ["[decoder.checked]", f"date = {record.date}"]
    lines += [f"{key} = {string_text(getattr(record, key))}" for key in ("profile", "firmware")]
    lines += [f"digest = {string_text(record.digest)}"]
    pages: dict[Page | None, list[tuple[int, CheckedValue]]] = {}
    for slot, held in record.values.items():
        pages.setdefault(slot.page, []).append((slot.cv, held))
    for page, values in pages.items():
        lines += ["", f'[decoder.checked.page."{page}"]' if page else "[decoder.checked.cv]"]
        lines += _values(values)
    return "\n".join(lines) + "\n"


def _values(values: Iterable[tuple[int, CheckedValue]]) -> Iterable[str]:
    for cv, held in values:
        told = f"value = {held.value}, digest = {string_text(held.digest)}"
        yield f"{cv} = {{ {told}, means = {string_text(held.means)} }}"
