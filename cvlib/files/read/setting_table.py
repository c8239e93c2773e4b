"""A table of CVs as handbooks print it: a setting a row, headings in any order, English or German.

Every row becomes keys of the profile format. What is no key of a row is left to the maker of the
profile: ids, and the kind of value where the row does not say it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.bounds import ROWS, check_count
from cvlib.files.read.faults import raise_faults
from cvlib.files.read.headings import WIDE, logical_lines, split_cells
from cvlib.files.read.row_words import read_row_words
from cvlib.files.text import quoted
from cvlib.files.typed_keys import parse_key

_WORD = re.compile(r"[^\W_]+")
_DELIMITERS = ("\t", ";", "|", ",", WIDE)
_MOST_FAULTS = 20
_MOST_LINES = 50
_RULE = re.compile(r"[\s|:=+-]*")

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "cv": (
        "cv",
        "cvs",
        "cv nr",
        "cv no",
        "cv number",
        "cv nummer",
        "cv range",
        "nr",
        "no",
        "nummer",
    ),
    "bits": ("bit", "bits"),
    "page": (
        *("page", "index page", "indexseite", "seite", "cv page", "cv31 cv32", "cv31 32"),
        *("cv 31 cv 32", "cv 31 32", "index"),
    ),
    "high": ("cv31", "cv 31", "page high", "index high"),
    "low": ("cv32", "cv 32", "page low", "index low"),
    "id": ("id", "kennung"),
    "group": ("group", "gruppe", "category", "kategorie", "section", "abschnitt", "chapter"),
    "title": (
        *("title", "titel", "name", "setting", "einstellung", "function", "funktion"),
        *("bezeichnung", "meaning", "bedeutung", "parameter"),
    ),
    "help": ("help", "hilfe", "description", "beschreibung", "explanation", "erklärung", "info"),
    "kind": ("kind", "type", "art", "typ"),
    "min": ("min", "minimum", "lowest", "from", "von", "kleinster wert"),
    "max": ("max", "maximum", "highest", "to", "bis", "größter wert"),
    "allowed": (
        *("range", "bereich", "wertebereich", "value range", "values", "werte", "value", "wert"),
        *("allowed", "erlaubt"),
    ),
    "choices": ("choices", "auswahl", "options", "optionen", "möglichkeiten"),
    "flags": ("flags", "schalter bits"),
    "risk": ("risk", "harm", "risiko", "gefahr"),
    "default": (
        *("default", "standard", "vorgabe", "factory", "factory value", "default value"),
        *("werkswert", "werkseinstellung", "werk", "standardwert", "ab werk"),
    ),
    "unit": ("unit", "einheit"),
    "scale": ("scale", "factor", "faktor", "step", "schritt", "schrittweite"),
    "offset": ("offset", "versatz"),
    "sign": ("sign", "vorzeichen"),
    "read-only": (
        *("read only", "readonly", "nur lesen", "schreibgeschützt"),
        *("access", "zugriff", "r w"),
    ),
    "reserved": ("reserved", "reserviert"),
    "internal": ("internal", "intern"),
    "volatile": ("volatile", "flüchtig"),
    "firmware": ("firmware", "version", "versions", "ab version"),
    "when": ("when", "condition", "bedingung", "wenn"),
    "note": ("note", "notes", "remark", "remarks", "bemerkung", "anmerkung", "hinweis", "notiz"),
    "printed": ("handbook page", "printed page", "handbuchseite", "source", "quelle", "pg"),
}
"""Each column and the headings that stand for it, in small letters."""

KINDS: Mapping[str, tuple[str, ...]] = {
    "number": ("number", "zahl", "wert", "value", "integer"),
    "switch": ("switch", "schalter", "bool", "boolean", "on off", "ein aus", "ja nein", "bit"),
    "choice": ("choice", "auswahl", "list", "liste", "enum", "option"),
    "flags": ("flags", "bits", "bitmask", "bitmaske", "bitfeld"),
    "address": ("address", "adresse"),
    "curve": ("curve", "kurve", "kennlinie", "table", "tabelle"),
    "text": ("text", "string"),
    "fields": ("fields", "felder", "byte", "register"),
}
"""Each kind of value and the words that people use for it."""

_NAMED = {word: key for key, words in HEADINGS.items() for word in words}
_KINDS = {word: kind for kind, words in KINDS.items() for word in words}
_CV = re.compile(r"(?:cvs?[\s.:#_-]*)?(\d[\d\s,+–-]*)(?:\s*@\s*(\d+/\d+))?", re.I | re.A)
_CV_BITS = re.compile(
    r"(?:cv[\s.:#_-]*)?(\d+)[\s,;]+bits?[\s.:]*([0-7](?:\s*-\s*[0-7])?)", re.I | re.A
)
_WHOLE = re.compile(r"\d{1,4}", re.A)
_NUMBER = re.compile(r"\s*\d+\s*", re.A)
_PAGE = re.compile(r"\s*[:.,]\s*")
_ARROW = re.compile(r"\S\s*(?:->|→|=>)\s*\S")
_OF = "firmware "
_VERSION = r"\d+(?:\.\d+)+"
_FIRMWARE = re.compile(
    rf"(?:v|version|firmware|fw)?\s*(?P<from>ab |from )?(?P<old>{_VERSION})"
    rf"(?:\s*(?:to|bis|-|–)\s*(?P<new>{_VERSION}))?",
    re.I | re.A,
)
_WORDS = ("title", "help", "note", "group", "choices", "allowed", "flags")
_THERE = ("x", "✓", "✔", "•", "yes", "ja", "y", "j", "+")
_NOT_THERE = ("", "-", "–", "no", "nein", "n")


Condition: TypeAlias = tuple[int, tuple[int, ...]]
"""A CV and some of its values."""


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One row of a table."""

    position: Position
    keys: Mapping[str, Any]
    """Keys of a place, as a profile gives them; no kind where the row does not say it."""
    title: str
    id: str = ""
    group: str = ""
    help: str = ""
    printed: str = ""
    """The page of the handbook."""
    default: str = ""
    """What a factory reset leaves, as it is written: the kind of value decides what it means."""
    risk: Sequence[str] | None = None
    """What it may harm; nothing where the row does not say it."""
    condition: Condition | None = None
    """The CV that decides whether it is there, and its values for which it is."""
    variant: str = ""
    """What people call the case of that condition."""
    is_default_only: bool = False
    """Whether it only gives another default of what another row names."""
    cases: tuple[tuple[Condition, str], ...] = ()
    """Defaults under a condition, as they are written."""
    repeat: Mapping[str, int] | None = None
    """How it recurs, where several rows are one setting: title and id have the place of ``n``."""
    defaults: tuple[str, ...] = ()
    """Of several rows that are one: the default of each."""

    detail: str = ""
    """Words behind the title that are no unit, scale or names."""

    def detail_differs(self, known: Mapping[str, Any]) -> bool:
        """Whether the words behind its title say something else than is known of the place."""
        return bool(self.detail) and self.detail not in (known.get("note"), known.get("help"))

    @property
    def typed(self) -> str:
        """The CV as a person types it to mean this row alone: with its condition, if it has one."""
        if self.condition is None:
            return self.where
        cv, values = self.condition
        return f"{self.where} [CV{cv}={'/'.join(map(str, values))}]"

    @property
    def where(self) -> str:
        """The CV and bits as they are typed, such as ``51.7``, ``257@16/2`` or ``17+18``."""
        cvs = self.keys.get("cvs", self.keys.get("cv"))
        text = "+".join(map(str, cvs)) if isinstance(cvs, list) else str(cvs)
        page = f"@{self.keys['page']}" if "page" in self.keys else ""
        return f"{text}{page}.{self.keys['bits']}" if "bits" in self.keys else f"{text}{page}"


@dataclass(frozen=True, slots=True)
class SettingTable:
    """All rows of a table, and the headings that mean nothing to it."""

    rows: tuple[SettingRow, ...]
    unused: tuple[str, ...] = ()


def read_setting_table(text: str, name: str) -> SettingTable:
    """The settings that a table lists.

    Raises InputError with every fault, each at its line.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    start, delimiter, columns, unused = _headings(lines, name)
    versions = {key: key.removeprefix(_OF) for key in columns if key.startswith(_OF)}
    rows: list[SettingRow] = []
    faults: list[Fault] = []
    group = ""
    for number, line in logical_lines(lines, start + 1, lambda: delimiter):
        position = Position(name, number)
        cells = split_cells(line, delimiter)
        given = {key: cells[at] for key, at in columns.items() if at < len(cells) and cells[at]}
        if not given or _RULE.fullmatch(line) or line.lstrip().startswith("#"):
            continue
        by_firmware = [given.pop(key) if key in given else "" for key in versions]
        if "cv" not in given and len(list(filter(None, cells))) == 1:
            group = next(filter(None, cells))
            continue
        try:
            rows += [
                _row({**given, **more}, group, position)
                for more in _by_firmware(given, list(versions.values()), by_firmware)
            ]
            check_count(rows, ROWS, "rows in this table", Position(name, number))
        except InputError as error:
            faults += [Fault(one.problem, position, one.advice) for one in error.faults]
    raise_faults(faults, _MOST_FAULTS)
    if not rows:
        raise problem(
            "there are headings here but no CVs.",
            advice="Give each CV a row under the headings.",
            position=Position(name),
        )
    return SettingTable(tuple(rows), unused)


def _headings(lines: Sequence[str], name: str) -> tuple[int, str, dict[str, int], tuple[str, ...]]:
    """The line of headings: its number from 0, what parts its cells, and the columns."""
    for number, line in enumerate(lines[:_MOST_LINES]):
        for delimiter in _DELIMITERS:
            cells = split_cells(line, delimiter)
            found = [_column(cell) for cell in cells]
            is_cv = "cv" in found or sum(one.startswith(_OF) for one in found) > 1
            if is_cv and len(set(filter(None, found))) > 1 and not _NUMBER.fullmatch(cells[0]):
                columns = {key: found.index(key) for key in dict.fromkeys(found) if key}
                unused = [c for at, c in enumerate(cells) if c and columns.get(found[at]) != at]
                return number, delimiter, columns, tuple(unused)
    raise problem(
        "there are no headings here that name a CV and what it is.",
        advice='Begin with a line such as "cv,title,min,max,default,unit".',
        position=Position(name, 1),
    )


def _column(heading: str) -> str:
    """The key that a heading stands for; of a column for some firmware that firmware."""
    words = " ".join(_WORD.findall(heading.casefold()))
    found = _FIRMWARE.fullmatch(heading.strip())
    if words in _NAMED or not found:
        return _NAMED.get(words, "")
    if found["new"]:
        return f"{_OF}{found['old']} to {found['new']}"
    return f"{_OF}{'>=' if found['from'] else '=='}{found['old']}"


def _by_firmware(
    given: Mapping[str, str], versions: Sequence[str], cells: Sequence[str]
) -> list[dict[str, str]]:
    """What columns for single firmware add to a row: a row for each CV that they give.

    A mark in a column says that the row holds there, a number which CV it has there.
    """
    if not versions:
        return [{}]
    found: dict[str, list[str]] = {}
    for version, cell in zip(versions, cells, strict=True):
        word = cell.casefold()
        if word in _NOT_THERE:
            continue
        if not _WHOLE.fullmatch(word) and word not in _THERE:
            raise problem(
                f"{quoted(cell)} under {version} is neither a mark nor a CV number.",
                advice="Write x where the setting is there, or the number of its CV.",
            )
        found.setdefault(cell if _WHOLE.fullmatch(word) else given.get("cv", ""), []).append(
            version
        )
    if list(found.values()) == [list(versions)]:
        return [{"cv": cv} for cv in found]
    return [{"cv": cv, "firmware": "; ".join(held)} for cv, held in found.items()]


def _row(given: Mapping[str, str], group: str, position: Position) -> SettingRow:
    if not given.get("cv"):
        raise problem("this row has no CV.", advice="Give its number, such as 27.")
    for key, cell in given.items():
        if key not in _WORDS and _ARROW.search(cell):
            raise problem(
                f"{quoted(cell)} says what was and what is.",
                advice="Make a table of each firmware, and give the later one to amend table.",
            )
    words = read_row_words(given.get("title") or given.get("help", ""))
    title = words.title
    if not title:
        raise problem(f"CV {given['cv']} has no title.", advice="Say what people call it.")
    keys: dict[str, Any] = dict(words.keys)
    given = {**given, **({"named": words.names} if words.names else {})}  # type: ignore[dict-item]
    faults: list[Fault] = []
    for part in (_where, _kind, _values, _rest):
        try:
            keys |= part(given, keys)
        except InputError as error:
            faults += [
                Fault(f"CV {given['cv']}: {f.problem}", None, f.advice) for f in error.faults
            ]
    printed = given.get("printed", "")
    if "page" in given and _WHOLE.fullmatch(given["page"]):
        printed = printed or given["page"]
    if faults:
        raise InputError(*faults)
    said = given.get("help", "") if "title" in given else ""
    return SettingRow(
        position,
        keys,
        title,
        given.get("id", ""),
        given.get("group", group),
        " ".join((said or words.help).split()),
        printed,
        given.get("default", ""),
        keys.pop("risk", None),
        words.condition,
        words.variant,
        words.is_default_only,
        detail=words.help,
    )


def _where(given: Mapping[str, str], _keys: Mapping[str, Any]) -> dict[str, Any]:
    """The CV or CVs, the bits and the index page."""
    text = given["cv"].strip()
    made: dict[str, Any] = {}
    page = _PAGE.sub("/", given.get("page", ""))
    if "high" in given and "low" in given:
        page = f"{given['high']}/{given['low']}"
    bits = given.get("bits", "")
    if found := _CV_BITS.fullmatch(text):
        text, bits = found[1], bits or found[2]
    found = _CV.fullmatch(text)
    if found is None:
        raise problem(
            f"{quoted(text)} is no CV number.", advice='Write 27, "17, 18", 67-94 or 257@16/2.'
        )
    numbers = re.sub(r"\s", "", found[1]).replace("–", "-").replace("+", ",").strip(",-")
    if _WHOLE.fullmatch(numbers):
        made["cv"] = int(numbers)
    else:
        made["cvs"] = parse_key("cvs", numbers)
    page = found[2] or page
    if page and not _WHOLE.fullmatch(page):
        made["page"] = page
    if bits:
        made["bits"] = bits.replace(" ", "")
    return made


def _kind(given: Mapping[str, str], _keys: Mapping[str, Any]) -> dict[str, Any]:
    text = given.get("kind", "")
    if not text:
        return {}
    word = " ".join(_WORD.findall(text.casefold()))
    if word not in _KINDS:
        raise problem(
            f"there is no kind of value {quoted(text)}.", advice=f"Write {', '.join(KINDS)}."
        )
    return {"kind": _KINDS[word]}


def _values(given: Mapping[str, str], keys: Mapping[str, Any]) -> dict[str, Any]:
    """The values allowed: a range, names, or both, as far as the row says."""
    made: dict[str, Any] = {}
    kind = keys.get("kind", "")
    names: dict[str, str] = {}
    behind: Any = given.get("named", {})
    for key in ("allowed", "choices"):
        if text := given.get(key, ""):
            try:
                made["range"] = parse_key("range", text)
            except InputError:
                names = parse_key("choices", text)
    if "min" in given or "max" in given:
        ends = [given.get("min") or "0", given.get("max") or "255"]
        made["range"] = [parse_key("cv", end) for end in ends]
    if "flags" in given:
        return {"kind": "flags", "flags": parse_key("flags", given["flags"])}
    if not names and behind and kind in ("", "number", "choice"):
        return {**made, **_named(behind, made, keys)}
    if not names:
        return made
    if kind == "number" or (not kind and ("range" in made or "unit" in given)):
        return {**made, "kind": "number", "values": names}
    if kind == "flags":
        return {"flags": names}
    return {"kind": kind or "choice", **({} if kind == "switch" else {"choices": names})}


def _named(
    names: dict[str, str], made: Mapping[str, Any], keys: Mapping[str, Any]
) -> dict[str, Any]:
    """Names that stand behind a title: all that there is to choose from, or some special values."""
    held = [[int(one) for one in span.split("-")] for span in names]
    count = sum(span[-1] - span[0] + 1 for span in held)
    low, high = made.get("range", (0, 0))
    is_all = count == high - low + 1 if "range" in made else len(held) > 1
    if keys.get("kind") == "number" or keys.keys() & {"unit", "scale"} or not is_all:
        return {"kind": "number", "values": names}
    return {"kind": "choice", "choices": names}


def _rest(given: Mapping[str, str], _keys: Mapping[str, Any]) -> dict[str, Any]:
    """Everything else that a place says."""
    made = {
        key: parse_key(key, given[key])
        for key in ("unit", "scale", "offset", "sign", "firmware", "when", "note", "risk")
        if key in given
    }
    for key in ("read-only", "reserved", "internal", "volatile"):
        if key in given and _is_marked(key, given[key]):
            made[key] = True
    return made


def _is_marked(key: str, text: str) -> bool:
    """Whether a cell says yes, with a mark, in a word or as access: R, or R/W."""
    word = text.casefold().replace(" ", "")
    if key == "read-only" and word in ("r", "ro", "r/w", "rw", "w"):
        return word in ("r", "ro")
    return word in _THERE or (word not in _NOT_THERE and bool(parse_key(key, text)))
