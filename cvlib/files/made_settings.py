"""The settings of a new profile out of the rows of a table: ids, kinds and evidence."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cvlib.engine.change.made import MadeSetting
from cvlib.errors import Fault, InputError
from cvlib.files.read.setting_table import SettingRow
from cvlib.files.typed_keys import parse_key
from cvlib.files.written import narrowed, written_place
from cvlib.model.cv import WHOLE, Slot, parse_bits, parse_numbers, parse_page
from cvlib.model.profile import Profile, Setting, Source, group_of, is_about
from cvlib.model.ranges import FirmwareRange

_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})
_LONGEST = 60
OTHER = "other"
"""The group of a setting of which the table names none."""


@dataclass(frozen=True, slots=True)
class MadeSettings:
    """The tables of the settings, where each comes from, and what becomes of a standard's."""

    tables: tuple[dict[str, Any], ...]
    told: tuple[MadeSetting, ...]
    without: tuple[str, ...]
    """What a standard brings in vain."""
    listed: tuple[str, ...]
    """Settings of the standard without a row of their own, in bits that the table lists."""


def settings_of_rows(
    rows: Sequence[SettingRow],
    standard: Profile | None,
    source: Source,
    *,
    is_complete: bool,
) -> MadeSettings:
    """The settings of a table as tables of a profile.

    A row on the very CV and bits of a setting of the standard has its id, and its coding where the
    row says nothing of that. A row with a page calls on the source itself, and one with firmware of
    its own is narrowed to it. ``is_complete``: what the standard has beyond the table is left out.
    Raises InputError with every fault.
    """
    known = _Standard(standard)
    tables: dict[str, dict[str, Any]] = {}
    told: list[MadeSetting] = []
    faults: list[Fault] = []
    lines: list[tuple[Slot, int]] = []
    claims: list[tuple[Slot, int]] = []
    counts: dict[str, int] = {}
    for row in rows:
        try:
            claimed = _claimed(row.keys)
            lines += claimed
            held = known.at(claimed)
            keys = _completed(row, held, known.is_split(claimed))
        except InputError as error:
            faults += [Fault(one.problem, row.position, one.advice) for one in error.faults]
            continue
        id = row.id or (held.id if held else _new_id(row, tables, counts))
        place = {**_narrowing(row, source), **keys}
        if row.printed:
            place["sources"] = [f"{source.id}:{row.printed}"]
        if id in tables and "firmware" not in row.keys:
            what = f'"{id}" is in the table twice.'
            faults.append(Fault(what, row.position, "Give each an id, or a firmware of its own."))
            continue
        if id in tables:
            tables[id]["place"].append(place)
            continue
        made = {"id": id, "title": row.title}
        if row.help:
            made["help"] = row.help
        usual = held.risk if held is not None and id == held.id else None
        risk = row.risk if row.risk is not None or usual is None else sorted(usual)
        tables[id] = {**made, **({} if risk is None else {"risk": risk}), "place": [place]}
        told.append(MadeSetting(id, row.position.line or 0, held is not None and id == held.id))
        if keys["kind"] != "fields":
            claims += claimed
    if faults:
        raise InputError(*faults)
    gone = known.gone(tables, claims, {slot for slot, _ in lines}, is_complete=is_complete)
    kept = [one for one in known.settings if one.id not in tables and one.id not in gone]
    listed = tuple(one.id for one in kept if _meets(one, lines))
    return MadeSettings(tuple(tables.values()), tuple(told), known.named(gone), listed)


def _narrowing(row: SettingRow, source: Source) -> dict[str, Any]:
    """The firmware of a row, where it is less than what the source speaks for."""
    given = row.keys.get("firmware")
    if given is None:
        return {}
    needed = narrowed(FirmwareRange.parse(given, source.firmware.scheme), [source])
    return {} if needed is None else {"firmware": given}


class _Standard:
    """The settings that the new profile takes over, by what they occupy."""

    def __init__(self, standard: Profile | None) -> None:
        held = standard.settings.values() if standard else ()
        self.settings = [one for one in held if one.places and not one.is_area]
        self._by_claim = {
            tuple((field.slot, field.mask) for field in one.places[-1].fields): one
            for one in self.settings
        }

    def at(self, claimed: Sequence[tuple[Slot, int]]) -> Setting | None:
        """The setting on the very same CVs and bits."""
        return self._by_claim.get(tuple(claimed))

    def is_split(self, claimed: Sequence[tuple[Slot, int]]) -> bool:
        """Whether the standard has settings of their own in the bits of a single whole CV."""
        if len(claimed) != 1 or claimed[0][1] != WHOLE:
            return False
        return any(
            slot == claimed[0][0] and mask != WHOLE
            for one in self.settings
            for slot, mask in _claims_of(one)
        )

    def gone(
        self,
        own: Collection[str],
        claims: Sequence[tuple[Slot, int]],
        listed: Collection[Slot],
        *,
        is_complete: bool,
    ) -> set[str]:
        """The settings that the decoder has otherwise, or lacks by a table that lists every CV.

        A table may leave out what every decoder has to have.
        """
        return {
            one.id
            for one in self.settings
            if one.id not in own
            and (
                _meets(one, claims)
                or (
                    is_complete
                    and not any(slot in listed for slot, _ in _claims_of(one))
                    and one.places[-1].marks.requirement != "mandatory"
                )
            )
        }

    def named(self, gone: Collection[str]) -> tuple[str, ...]:
        """Settings by their ids; a whole group by its name."""
        found: dict[str, None] = {}
        for id in (one.id for one in self.settings if one.id in gone):
            group = group_of(id)
            whole = [one.id for one in self.settings if is_about([group], one.id)]
            found[group if set(whole) <= set(gone) else id] = None
        return tuple(found)


def _meets(setting: Setting, claims: Sequence[tuple[Slot, int]]) -> bool:
    """Whether a setting has bits in common with some claims."""
    own = _claims_of(setting)
    return any(s == slot and m & mask for s, m in own for slot, mask in claims)


def _claims_of(setting: Setting) -> list[tuple[Slot, int]]:
    return [(field.slot, field.mask) for field in setting.places[-1].fields]


def _claimed(keys: Mapping[str, Any]) -> list[tuple[Slot, int]]:
    """What a row occupies: CVs with their bits."""
    page = parse_page(keys["page"]) if "page" in keys else None
    mask = parse_bits(keys["bits"]) if "bits" in keys else WHOLE
    cvs = keys.get("cvs", [keys.get("cv", 0)])
    numbers = parse_numbers(cvs, 1, 1024, "cvs") if isinstance(cvs, str) else cvs
    return [(Slot(cv, page), mask) for cv in numbers]


def _completed(row: SettingRow, standard: Setting | None, is_split: bool) -> dict[str, Any]:
    """The keys of a row with a kind: its own, the standard's, or one that fits what it says."""
    keys = row.keys
    made = {key: held for key, held in keys.items() if key != "firmware"}
    says = [key for key in ("kind", "range", "choices", "values", "flags", "unit") if key in keys]
    usual = written_place(standard.places[-1], ()) if standard is not None else {}
    is_usual = set(says) <= {"range", "kind"} and keys.get("kind", usual.get("kind")) is not None
    if not says and is_split:
        made["kind"] = "fields"
    elif is_usual and keys.get("kind", usual.get("kind")) == usual.get("kind"):
        coding = {key: held for key, held in usual.items() if key not in _NOT_CODING}
        made = {**coding, **made}
        if coding["kind"] == "address":
            made["range"] = coding["range"]
    elif "kind" not in made:
        made["kind"] = _likely(made)
    if made["kind"] == "address" and "form" not in made:
        made["form"] = "plain"
    if made["kind"] in ("switch", "choice", "flags", "fields", "text"):
        made.pop("range", None)
    if row.default:
        made["default"] = parse_key("default", row.default, made["kind"])
    return made


_NOT_CODING = (
    *("firmware", "cv", "cvs", "page", "bits", "default", "sources", "note", "requirement"),
    *("uniform", "when", "also-at"),
)


def _likely(keys: Mapping[str, Any]) -> str:
    if "choices" in keys:
        return "choice"
    bits = str(keys.get("bits", ""))
    if re.fullmatch(r"\d", bits) and keys.get("range", [0, 1]) == [0, 1] and "unit" not in keys:
        return "switch"
    if len(_claimed(keys)) > 2:
        return "curve"
    return "number"


def _new_id(row: SettingRow, taken: Mapping[str, Any], counts: dict[str, int]) -> str:
    """An id from the group and the title; counted where another setting has it.

    ``counts`` are the last numbers given, so that many rows of one title are no long search.
    """
    name, group = slug(row.title), slug(row.group)
    if not group:
        first, _, rest = name.partition("-")
        group, name = (first, rest) if rest else (OTHER, name)
    name = name.removeprefix(group).strip("-") or "value"
    id = made = f"{group}.{name}"
    while made in taken:
        counts[id] = counts.get(id, 1) + 1
        made = f"{id}-{counts[id]}"
    return made


def slug(text: str) -> str:
    """A text as part of an id: lower-case words joined by hyphens.

    >>> slug("Größte Geschwindigkeit (CV 5)")
    'groesste-geschwindigkeit-cv-5'
    """
    plain = text.casefold().translate(_LETTERS)
    plain = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:_LONGEST].strip("-")
