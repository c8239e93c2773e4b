"""Rows of a firmware's CV table, held against the settings of a profile at that firmware.

A setting is a mapping with the keys id, title, cvs, page, bits, kind, range, default, read_only,
internal, volatile, unused and when. Where it comes from does not matter here. Values are raw:
``range`` is the lowest and highest raw value or nothing, ``default`` a raw value or nothing,
``bits`` a text such as ``5`` or ``0-3`` or empty, ``page`` a text such as ``0/40`` or empty, and
``when`` a list of mappings with the keys setting and is.

A row "A, or B if C is set" stands for two settings on one CV: A while C is off, B while C is on.
"""

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

Setting = Mapping[str, Any]
Key = tuple[int, str, str, str]

_TAG = re.compile(r"\[([^\]]*)\]\s*")
_TYPE_OF = re.compile(r"address\[(\d+)\]\.type")
_INDEX = re.compile(r"\[(\d+)\]")
_EITHER = re.compile(r"(?P<off>.+), or (?P<on>.+) if (?P<switch>.+) is set")
_ONLY = re.compile(r"only type (\w+)")
FURTHER = "FSIGNAL0"
"""The type of the second and third address of a signal, of which the tables have the blocks."""

_UNUSED = ("4-output hardware: unused", "not used by code")
_KNOWN_TAGS = {"ro", "internal", "volatile", _UNUSED[0]}


@dataclass(frozen=True)
class Row:
    """One row of a version's table."""

    cv: int
    page: str
    bits: str
    default: int | None
    span: tuple[int, int] | None
    """Lowest and highest value where the table states them."""
    title: str
    detail: str = ""
    """Unit, scale or codes."""
    type: str = ""
    """The function type the row holds for, or nothing."""
    marks: frozenset[str] = field(default_factory=frozenset)
    """Which of ro, internal, volatile and unused are said of it."""
    first_type: str = ""
    """The function type of the first address of its block, where the row holds for one alone."""
    switch: tuple[str, bool] | None = None
    """The name of the setting that must be off or on for it."""

    @property
    def key(self) -> Key:
        """What tells a row from all others of its table."""
        return (self.cv, self.bits, self.title, self.type)

    @property
    def largest(self) -> int:
        """The largest value that fits into the row's bits."""
        low, _, high = self.bits.partition("-")
        return (1 << (int(high or low) - int(low) + 1)) - 1 if self.bits else 255


def read_rows(path: Path) -> list[Row]:
    """All rows of one table."""
    with path.open(encoding="utf-8", newline="") as lines:
        return [_row(cells) for cells in csv.DictReader(lines)]


def _row(cells: Mapping[str, str]) -> Row:
    text, tags = cells["meaning"], []
    while found := _TAG.match(text):
        tags.append(found[1])
        text = text[found.end() :]
    title, _, detail = text.partition("; ")
    types = [tag.removeprefix("type=") for tag in tags if tag.startswith("type=")]
    strange = {tag for tag in tags if not tag.startswith("type=")} - _KNOWN_TAGS
    assert not strange, f"tags that this test does not know: {strange}"
    marks = {tag for tag in tags if tag in ("ro", "internal", "volatile")}
    if _UNUSED[0] in tags or detail == _UNUSED[1]:
        marks.add("unused")
    stated = cells["min"] and cells["max"]
    return Row(
        cv=int(cells["cv"]),
        page=cells["page"].replace(":", "/"),
        bits=cells["bits"],
        default=int(cells["default"]) if cells["default"] else None,
        span=(int(cells["min"]), int(cells["max"])) if stated else None,
        title=title,
        detail=detail,
        type=types[0] if types else "",
        marks=frozenset(marks),
        first_type=only[1] if (only := _ONLY.fullmatch(detail)) else "",
    )


def halves(row: Row) -> list[Row]:
    """The row itself, or the two that it stands for.

    The detail is of the second. A current position is state that the decoder keeps, as the versions
    before and after say.
    """
    found = _EITHER.fullmatch(row.title)
    if found is None:
        return [row]
    off = replace(row, title=found["off"], detail="", switch=(found["switch"], False))
    on = replace(row, title=found["on"], switch=(found["switch"], True))
    kept = {"internal"} if off.title.startswith("current ") else set()
    return [replace(off, marks=off.marks | kept), on]


def differences(
    rows: Iterable[Row], settings: Iterable[Setting], tabulated: Callable[[Setting], bool]
) -> list[str]:
    """Everything in which settings and table differ, one line each; empty where they agree.

    Settings without CV are facts fixed at build time and have no row. ``tabulated`` tells of a
    setting without row whether the table would have to name it.
    """
    wanted = {row.key: row for whole in rows for row in halves(whole)}
    given = [setting for setting in settings if setting["cvs"]]
    titles = {setting["id"]: setting["title"] for setting in given}
    met: Counter[Key] = Counter()
    found: list[str] = []
    for setting in given:
        key = _key(setting)
        if key in wanted:
            met[key] += 1
            found += [f"{setting['id']}: {line}" for line in _unlike(wanted[key], setting, titles)]
        elif tabulated(setting):
            found.append(f"{setting['id']}: no row of the table is {key}")
    found += [f"no setting is the row {key}" for key in wanted if not met[key]]
    found += [f"{times} settings are the row {key}" for key, times in met.items() if times > 1]
    return found


def _key(setting: Setting) -> Key:
    types = function_types(setting)
    cv = setting["cvs"][0] if len(setting["cvs"]) == 1 else 0
    return (cv, setting["bits"], setting["title"], types[0] if types else "")


def function_types(setting: Setting) -> list[str]:
    """The types of its own address under which a setting exists."""
    own = index_of(setting)
    return [kind for at, kinds in address_types(setting) if at == own for kind in kinds]


def address_types(setting: Setting) -> list[tuple[int, list[str]]]:
    """The addresses whose type decides whether a setting exists, each with the types asked for."""
    return [
        (int(found[1]), condition["is"])
        for condition in setting["when"]
        if (found := _TYPE_OF.fullmatch(condition["setting"]))
    ]


def index_of(setting: Setting) -> int | None:
    """Which of a recurring setting it is, or nothing for one that does not recur."""
    found = _INDEX.search(setting["id"])
    return int(found[1]) if found else None


def _unlike(row: Row, setting: Setting, titles: Mapping[str, str]) -> Iterator[str]:
    if setting["page"] != row.page:
        yield f"page {setting['page']!r}, in the table {row.page!r}"
    if setting["default"] != row.default:
        yield f"default {setting['default']}, in the table {row.default}"
    if not _same_span(row, setting):
        yield f"range {setting['range']}, in the table {row.span or 'not stated'}"
    marks = {name for name in ("internal", "volatile", "unused") if setting[name]}
    marks |= {"ro"} if setting["read_only"] else set()
    if marks != row.marks:
        yield f"marks {sorted(marks)}, in the table {sorted(row.marks)}"
    if not all(_wanted_condition(row, setting, held, titles) for held in setting["when"]):
        yield f"exists only {setting['when']}, in the table for {row.type or 'every type'}"
    if len(setting["when"]) != bool(row.type) + bool(row.switch) + len(_before(row, setting)):
        yield f"exists only {setting['when']}, in the table for {row}"


def _same_span(row: Row, setting: Setting) -> bool:
    span = tuple(setting["range"]) if setting["range"] is not None else None
    if row.span is not None:
        return span == row.span
    if span is None or setting["kind"] == "choice":
        return True
    half = row.largest >> 1
    return span in ((0, row.largest), (-half, half))


def _before(row: Row, setting: Setting) -> dict[int, list[str]]:
    """The types of the addresses before that the further address of a signal of V3.1 asks for."""
    own = index_of(setting)
    if row.type != FURTHER or own is None or setting["id"].startswith("address["):
        return {}
    if row.first_type:
        return {own - 1: [FURTHER], own - 2: [row.first_type]}
    return {own - 1: ["FSIGNAL2", "FSIGNAL3"]}


def _wanted_condition(
    row: Row, setting: Setting, condition: Mapping[str, Any], titles: Mapping[str, str]
) -> bool:
    """Whether a condition is the row's own: on a type, or on a setting of the same address."""
    asked, values = condition["setting"], condition["is"]
    found = _TYPE_OF.fullmatch(asked)
    if found is None:
        same_index = _INDEX.findall(asked) == _INDEX.findall(setting["id"])
        return same_index and row.switch == (titles[asked], values[0]) and len(values) == 1
    if int(found[1]) == index_of(setting):
        return values == [row.type]
    return values == _before(row, setting).get(int(found[1]))
