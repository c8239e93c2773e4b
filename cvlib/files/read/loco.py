"""Loco files: what is saved of one loco, in TOML of format 2, or of format 1 as before.

Read by hand and strictly, so that one loco costs no heavy import: every key must be known, every
value right, and all faults of the file are told at once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import date, datetime
from functools import partial
from typing import Any, TypeVar

from cvlib.errors import Fault, InputError, Position, did_you_mean
from cvlib.files.bounds import TEXT
from cvlib.files.read.faults import raise_faults
from cvlib.files.read.last_check import last_check
from cvlib.files.read.trials import bench_trials
from cvlib.files.scanner import KeyPath
from cvlib.files.text import TomlPositions, one_line, parse_toml, quoted
from cvlib.model.cv import WHOLE, Page, Slot, make_slot, parse_page
from cvlib.model.formulas import LONGEST_ADDRESS
from cvlib.model.loco import Loco, Reading, SavedDecoder, SavedValue, State, latest_values

FORMAT = 2
"""The newest format of loco files that is read.

Format 1 had "saved" tables for readings, and their "firmware" was what is "saved-for" now.
"""

WAYS = ("read", "written", "typed", "carried")
"""How a value can have been obtained."""

_MOST_FAULTS = 100
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_CV_KEY = re.compile(r"-?\d{1,9}", re.A)
_OTHER_CV_KEY = re.compile(r"CV[\s._-]*(\d{1,4})", re.A | re.I)
_FIRMWARE_ADVICE = 'Write the version in quotes: as a number 3.10 would be 3.1, "3.10" stays 3.10.'
_NEW_KEYS = ("saved-for", "state")
"""Keys of a reading that format 1 did not know."""
_OF_THE_OTHER = {
    "saved": 'In format 2 it is "reading", and what was its "firmware" is "saved-for".',
    **dict.fromkeys(("reading", *_NEW_KEYS), "That is of format 2; this file has format 1."),
}
"""What to do about a key of the other format."""
_PROFILE_KEYS = frozenset(("setting", "firmware", "identity", "source", "rule"))

Table = dict[str, Any]
T = TypeVar("T")


def read_loco(text: str, name: str) -> Loco:
    """The loco that a TOML text describes; raises InputError with every fault, each positioned."""
    return _Reading(parse_toml(text, name), TomlPositions(text), name).loco()


class _Reading:
    """One walk over a loco file that gathers its faults."""

    def __init__(self, document: Table, positions: TomlPositions, name: str) -> None:
        self._document = document
        self._positions = positions
        self._name = name
        self._faults: list[Fault] = []
        given, tables = document.get("format"), document.get("decoder")
        has_saved = any(
            isinstance(table, dict) and "saved" in table
            for table in (tables if isinstance(tables, list) else ())
        )
        self._is_old = given == 1 or (given != FORMAT and has_saved)

    def loco(self) -> Loco:
        """The loco, when nothing in the file is wrong."""
        self._check_format()
        document = self._document
        self._check_keys(document, (), ("format", "loco", "decoder", "trial"))
        head = self._table(document.get("loco"), ("loco",), ("name", "address", "note"))
        if head is None and "loco" not in document:
            self._fault((), "the [loco] table is missing.", 'Write [loco] and name = "…".')
        loco = Loco(
            self._text(head, ("loco",), "name", is_required=True),
            tuple(self._decoders()),
            self._name,
            self._address(head or {}),
            self._text(head, ("loco",), "note", is_long=True),
            trials=tuple(bench_trials(document.get("trial"), self._fault)),
        )
        self._check_roles()
        self._faults.sort(key=lambda fault: self._order(fault.position))
        raise_faults(self._faults, _MOST_FAULTS)
        return loco

    def _fault(self, path: KeyPath, what: str, advice: str = "") -> None:
        self._faults.append(Fault(what, self._position(path), advice))

    def _position(self, path: KeyPath) -> Position:
        return self._positions.position(self._name, path)

    @staticmethod
    def _order(position: Position | None) -> tuple[int, int]:
        return (position.line or 0, position.column or 0) if position else (0, 0)

    def _check_format(self) -> None:
        """Note a missing or wrong format; stop at once where the rest cannot be understood."""
        document = self._document
        given = document.get("format")
        right = 1 if self._is_old else FORMAT
        advice = f"Write format = {right} in the first line."
        if isinstance(document.get("decoder"), dict) and _PROFILE_KEYS & document.keys():
            what = "this is a profile, not a loco file."
            self._fault((), what, "Name a profile with --profile, and give a loco file here.")
            raise_faults(self._faults, _MOST_FAULTS)
        if given is None:
            self._fault((), "the format is missing.", advice)
        elif type(given) is not int or given < 1:
            self._fault(("format",), f"the format must be {right}, not {_shown(given)}.", advice)
        elif given > FORMAT:
            what = f"this file has format {_shown(given)}; only 1 and {FORMAT} are known here."
            self._fault(("format",), what, "Install a newer cvlib to read it.")
            raise_faults(self._faults, _MOST_FAULTS)

    def _check_keys(self, table: Table, path: KeyPath, known: Collection[str]) -> None:
        """Note every key that is not known, with the nearest one that is."""
        for key in table:
            if key not in known:
                advice = _OF_THE_OTHER.get(key) if path[:1] == ("decoder",) else ""
                advice = advice or did_you_mean(key[:80], known)
                advice = advice or f"Known here: {', '.join(known)}."
                self._fault((*path, key), f"unknown key {quoted(key)}.", advice)

    def _table(self, value: object, path: KeyPath, known: Collection[str]) -> Table | None:
        """The value as a table with known keys; nothing when it is missing or no table."""
        if value is None:
            return None
        if isinstance(value, dict):
            self._check_keys(value, path, known)
            return value
        advice = f"Write the heading [{path[-1]}] and its keys below it."
        if isinstance(value, list):
            advice = f"Write [{path[-1]}] in single brackets, once."
        self._fault(path, f"{path[-1]} must be a table, not {_kind(value)}.", advice)
        return None

    def _tables(
        self, value: object, path: KeyPath, known: Collection[str]
    ) -> Iterator[tuple[KeyPath, Table]]:
        """Each table of a list of tables with its path; nothing when it is missing."""
        heading = ".".join(part for part in path if isinstance(part, str))
        advice = f"Write the heading [[{heading}]] in double brackets."
        if value is not None and not isinstance(value, list):
            what = f"{path[-1]} must be a list of tables, not {_kind(value)}."
            self._fault(path, what, advice)
        for at, table in enumerate(value if isinstance(value, list) else ()):
            if isinstance(table, dict):
                self._check_keys(table, (*path, at), known)
                yield (*path, at), table
            else:
                what = f"{path[-1]} must hold tables, not {_kind(table)}."
                self._fault((*path, at), what, advice)

    def _text(
        self,
        table: Table | None,
        path: KeyPath,
        key: str,
        *,
        advice: str = "",
        is_required: bool = False,
        is_long: bool = False,
    ) -> str:
        """The text under a key, on one line unless it may be long; empty when missing."""
        if table is None:
            return ""
        if key not in table:
            if is_required:
                self._fault(path, f"{key} is missing.", f'Write {key} = "…".')
            return ""
        value = table[key]
        path = (*path, key)
        if not isinstance(value, str):
            advice = advice or "Put it in quotes."
            self._fault(path, f"{key} must be text, not {_kind(value)}.", advice)
        elif not value.strip():
            self._fault(path, f"{key} is empty.", "Write something, or leave the key out.")
        elif _CONTROL.search(value) or ("\n" in value and not is_long):
            self._fault(path, f"{key} must be plain text on one line.", "Remove the backslashes.")
        elif len(value) > TEXT:
            self._fault(path, f"{key} has more than {TEXT} characters.", "Shorten it.")
        else:
            return value
        return ""

    def _address(self, head: Table) -> int | None:
        """The address of the loco, 1-10239."""
        value = head.get("address")
        if value is None or (type(value) is int and 1 <= value <= LONGEST_ADDRESS):
            return value
        what = f"address must be a whole number from 1 to {LONGEST_ADDRESS}, not {_shown(value)}."
        self._fault(("loco", "address"), what, "Write it without quotes.")
        return None

    def _decoders(self) -> Iterator[SavedDecoder]:
        """Every decoder of the file."""
        value = self._document.get("decoder")
        if value is None or value == []:
            self._fault((), "the file has no decoder.", "Write [[decoder]] and its keys below it.")
        key = "saved" if self._is_old else "reading"
        known = ("profile", "role", "firmware", "state", "options", key, "history", "checked")
        for path, table in self._tables(value, ("decoder",), known):
            tuple(self._readings(table.get("history"), (*path, "history")))
            readings = tuple(self._readings(table.get(key), (*path, key)))
            firmware = self._text(table, path, "firmware", advice=_FIRMWARE_ADVICE)
            states = [r.state for r in readings if r.state and r.firmware == firmware]
            yield SavedDecoder(
                latest_values(readings, firmware),
                self._text(table, path, "profile"),
                self._text(table, path, "role"),
                firmware,
                self._options(table.get("options"), (*path, "options")),
                last_check(table.get("checked"), (*path, "checked"), self._fault),
                self._state(table, path) or State((*states[-1:], State.UNKNOWN)[0]),
                readings,
            )

    def _state(self, table: Table, path: KeyPath) -> State:
        """What became of the values at the last update; unknown when missing."""
        said, known = self._text(table, path, "state"), [state.value for state in State if state]
        if said and said not in known:
            advice = did_you_mean(said[:80], known) or f"Use one of: {', '.join(known)}."
            self._fault((*path, "state"), f"state cannot be {quoted(said)}.", advice)
        return State(said) if said in known else State.UNKNOWN

    def _check_roles(self) -> None:
        """Note decoders of one loco that their roles do not tell apart."""
        decoders = self._document.get("decoder")
        if not isinstance(decoders, list) or len(decoders) < 2:
            return
        seen: dict[str, int] = {}
        for at, decoder in enumerate(decoders):
            role = decoder.get("role") if isinstance(decoder, dict) else ""
            path: KeyPath = ("decoder", at)
            if role is None:
                what = "this loco has several decoders, and this one has no role."
                self._fault(path, what, 'Write role = "motor", or another word that fits.')
            elif isinstance(role, str) and role.strip():
                first = seen.setdefault(role.strip().casefold(), at)
                if first != at:
                    line, _ = self._positions.find(("decoder", first, "role"))
                    what = f"the role {quoted(role)} is taken already, in line {line}."
                    self._fault((*path, "role"), what, "Give each decoder a role of its own.")

    def _options(self, value: object, path: KeyPath) -> Mapping[str, str | int]:
        """The facts fixed at build time: setting ids and choices."""
        if value is None:
            return {}
        if not isinstance(value, dict):
            what = f"options must be a table, not {_kind(value)}."
            self._fault(path, what, 'Write options = { "setting.id" = "choice" }.')
            return {}
        options: dict[str, str | int] = {}
        for key, choice in value.items():
            if not key.isprintable():
                self._fault((*path, key), f"{quoted(key)} is no setting id.", "Mend the key.")
            elif isinstance(choice, dict):
                what = f"the option {quoted(key)} has a table for its choice."
                self._fault((*path, key), what, 'Put the whole setting id in quotes: "group.name".')
            elif isinstance(choice, int) and abs(choice) <= 0xFFFFFFFF:
                options[key] = int(choice)
            elif isinstance(choice, str):
                options[key] = self._text({key: choice}, path, key)
            else:
                what = f"the option {quoted(key)} must be text or a number, not {_shown(choice)}."
                self._fault((*path, key), what, "Write the name of a choice in quotes.")
        return options

    def _readings(self, value: object, path: KeyPath) -> Iterator[Reading]:
        """The readings of a decoder, in the order of the file."""
        new = () if self._is_old else _NEW_KEYS
        known = ("date", "how", "firmware", *new, "note", "cv", "page")
        for at, table in self._tables(value, path, known):
            note = self._text(table, at, "note", is_long=True)
            firmware = self._text(table, at, "firmware", advice=_FIRMWARE_ADVICE)
            meant = firmware
            if not self._is_old:
                meant = self._text(table, at, "saved-for", advice=_FIRMWARE_ADVICE)
            day = self._date(table.get("date"), (*at, "date"))
            how = self._how(table, at)
            state = State.UNKNOWN if self._is_old else self._state(table, at)
            values = {
                slot: SavedValue(slot, number, meant, day, how, self._position(key), firmware)
                for slot, number, key in self._numbers(table, at)
            }
            yield Reading(values, day, how, firmware, meant, state, note)

    def _date(self, value: object, path: KeyPath) -> str:
        """The day as 2026-03-14; empty when missing."""
        if isinstance(value, date) and not isinstance(value, datetime):
            return value.isoformat()
        if value is not None:
            what = f"date must be a day, not {_kind(value)}."
            self._fault(path, what, "Write it without quotes and time: date = 2026-03-14.")
        return ""

    def _how(self, table: Table, path: KeyPath) -> str:
        """How the values were obtained; empty when missing."""
        how = self._text(table, path, "how")
        if how and how not in WAYS:
            advice = did_you_mean(how[:80], WAYS) or f"Use one of: {', '.join(WAYS)}."
            self._fault((*path, "how"), f"how cannot be {quoted(how)}.", advice)
        return how

    def _numbers(self, saved: Table, path: KeyPath) -> Iterator[tuple[Slot, int, KeyPath]]:
        """Each CV of one saved table, with its value and the path of its key."""
        plain = saved.get("cv")
        yield from self._cvs(plain, (*path, "cv"), None)
        pages = saved.get("page")
        if pages is not None and not isinstance(pages, dict):
            what = f"page must hold tables of CVs, not {_kind(pages)}."
            self._fault((*path, "page"), what, 'Write [decoder.reading.page."16/2"].')
            return
        for key, table in (pages or {}).items():
            at = (*path, "page", key)
            page = self._tried(at, partial(parse_page, key))
            if page is not None:
                yield from self._cvs(table, at, page)

    def _cvs(
        self, table: object, path: KeyPath, page: Page | None
    ) -> Iterator[tuple[Slot, int, KeyPath]]:
        """Each CV of one table, all on the same page."""
        if table is not None and not isinstance(table, dict):
            what = f"{quoted(str(path[-1]))} must be a table of CVs, not {_kind(table)}."
            self._fault(path, what, "Write one CV and its value a line, such as 27 = 3.")
            return
        seen: set[Slot] = set()
        for key, value in (table or {}).items():
            at = (*path, key)
            slot = self._slot(key, page, at)
            if slot is None or not self._fits(slot, value, at):
                continue
            if slot in seen:
                self._fault(at, f"{slot} is in this table twice.", "Keep the one that is right.")
            seen.add(slot)
            yield slot, value, at

    def _slot(self, key: str, page: Page | None, path: KeyPath) -> Slot | None:
        """The slot that a key names; nothing after a fault."""
        if _CV_KEY.fullmatch(key):
            return self._tried(path, partial(make_slot, int(key), page))
        advice = "CV numbers run from 1 to 1024."
        if found := _OTHER_CV_KEY.fullmatch(key):
            advice = f"Write the number alone: {found[1]} = …"
        elif "@" in key:
            advice = 'CVs on a page go under [decoder.reading.page."16/2"].'
        self._fault(path, f"{quoted(key)} is not a CV number.", advice)
        return None

    def _fits(self, slot: Slot, value: object, path: KeyPath) -> bool:
        """Whether the value is one that a CV can hold; if not, a fault is noted."""
        if type(value) is int and 0 <= value <= WHOLE:
            return True
        if type(value) is int:
            what, advice = f"{slot} cannot hold {_shown(value)}.", "CV values run from 0 to 255."
        else:
            what = f"{slot} must be a whole number, not {_shown(value)}."
            advice = "Write a number from 0 to 255 without quotes, such as 3, 0x03 or 0b11."
        self._fault(path, what, advice)
        return False

    def _tried(self, path: KeyPath, make: Callable[[], T]) -> T | None:
        """What the function makes; nothing after noting its faults."""
        try:
            return make()
        except InputError as error:
            for fault in error.faults:
                self._fault(path, fault.problem, fault.advice)
            return None


def _kind(value: object) -> str:
    """What sort of value it is, in plain words."""
    if isinstance(value, bool):
        return "true or false"
    for sort, words in (
        (str, "text"),
        (int, "a number"),
        (float, "a number"),
        (dict, "a table"),
        (list, "a list"),
        (datetime, "a date with a time"),
        (date, "a date"),
    ):
        if isinstance(value, sort):
            return words
    return "a time"


def _shown(value: object) -> str:
    """A value as an error shows it: itself where it is short, else its kind."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) or (isinstance(value, int) and value.bit_length() <= 64):
        return one_line(str(value))
    return "a huge number" if isinstance(value, int) else _kind(value)
