"""Profiles made by `cvlib new` and `cvlib amend table` say what each version's table says.

Sources: the repositories and commits that the meta.toml of each folder in data/ names. The rows are
read here anew, without the reader that made the profiles.
"""

import csv
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cvlib.engine.known.identity import expected_answers
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.answer import Answer
from cvlib.model.coding import Choice, Fields, Number, Switch
from cvlib.model.coding_many import Address, Curve
from cvlib.model.cv import Slot, bits_text
from cvlib.model.profile import Place, Setting

HERE = Path(__file__).parent / "data"
PROJECTS = ("rp2040-motor", "tiny1606-motor", "accessory-core-typed")
METAS = {
    project: tomllib.loads((HERE / project / "meta.toml").read_text(encoding="utf-8"))
    for project in PROJECTS
}
TABLES = [
    pytest.param(project, table, id=f"{project} {table['label']}")
    for project in PROJECTS
    for table in METAS[project]["version"]
]
ALSO = {16: (16, 17), 48: (48, 49, 50, 52)}
"""Types that have the rows of another one (notes in meta.toml of accessory-core-typed)."""
RENAMED = {"PID sampling time at speed step above 2": "PID sampling time"}
"""Rows on the CV of a setting whose name theirs begins with: one setting, called otherwise."""
_TAG = re.compile(r"\[([^\]]*)\] ?")
_TYPE = re.compile(r"CV27=(\d+) .*")


@dataclass(frozen=True)
class Row:
    """One row of a version's table."""

    cv: int
    page: str
    bits: str
    default: int | None
    span: tuple[int, int] | None
    title: str
    detail: str
    type: int | None
    is_read_only: bool


def rows_of(project: str, file: str) -> list[Row]:
    """All rows of one table."""
    with (HERE / project / file).open(encoding="utf-8", newline="") as lines:
        return [_row(cells) for cells in csv.DictReader(lines)]


def _row(cells: Mapping[str, str]) -> Row:
    tags = _TAG.findall(cells["meaning"])
    title, _, detail = _TAG.sub("", cells["meaning"]).partition("; ")
    types = [int(found[1]) for tag in tags if (found := _TYPE.fullmatch(tag))]
    assert len(types) + tags.count("ro") == len(tags), tags
    return Row(
        int(cells["cv"]),
        cells["page"].replace(":", "/"),
        "" if cells["bits"] == "0-7" else cells["bits"],
        int(cells["default"]) if cells["default"] else None,
        (int(cells["min"]), int(cells["max"])) if cells["min"] and cells["max"] else None,
        title,
        detail,
        types[0] if types else None,
        "ro" in tags,
    )


@dataclass(frozen=True)
class Claim:
    """One CV of a setting at a firmware."""

    setting: Setting
    place: Place
    number: int
    """Which of its CVs it is."""

    @property
    def types(self) -> tuple[int, ...]:
        """The types that it exists for; none: all."""
        return tuple(int(value) for when in self.place.when for value in when.values)

    def is_row(self, row: Row) -> bool:
        """Whether it is what a row names."""
        title = self.setting.title
        names = (
            row.title,
            RENAMED.get(row.title, row.title),
            f"{row.title}, CV {row.cv}",
            f"{row.title}, the whole CV",
        )
        half = re.sub(r" (?:high|low) byte$", "", row.title)
        in_curve = isinstance(self.place.coding, Curve) and row.title.startswith(title)
        is_named = title in names or (len(self.place.fields) == 2 and title == half) or in_curve
        types = ALSO.get(row.type, (row.type,)) if row.type is not None else ()
        return is_named and (self.types == types or bool(self._case(row)))

    def _case(self, row: Row) -> list[int]:
        """The default that a row gives for its type alone."""
        if not row.detail.endswith("default for this type"):
            return []
        return [
            case.parts[0]
            for case in self.place.cases
            if any(row.type in when.values for when in case.when)
        ]

    def default(self, row: Row) -> int | None:
        """The factory value for a row."""
        if found := self._case(row):
            return found[0]
        rest = [case.parts for case in self.place.cases if not case.when]
        parts = rest[0] if rest else self.place.default
        return None if parts is None else parts[self.number]


def claims_at(
    answers: Mapping[str, Answer], profile: Any
) -> dict[tuple[int, str, str], list[Claim]]:
    """What a firmware has on each CV, page and bits, but for what only a standard says."""
    found: dict[tuple[int, str, str], list[Claim]] = {}
    for id, answer in answers.items():
        setting = profile.settings[id]
        for place in () if setting.origin else answer.places():
            for number, part in enumerate(place.fields):
                page = str(part.slot.page) if part.slot.page else ""
                bits = "" if part.bits is None else bits_text(part.mask)
                claim = Claim(setting, place, number)
                found.setdefault((part.slot.cv, page, bits), []).append(claim)
    return found


def unlike(row: Row, claim: Claim) -> Iterator[str]:
    """In what a setting and a row differ."""
    place, coding = claim.place, claim.place.coding
    if claim.default(row) != row.default:
        yield f"default {claim.default(row)}, in the table {row.default}"
    # Tables that mark no CV as read-only leave CV 7 to the standard (NMRA S-9.2.2, CV 7).
    by_standard = claim.setting.id == "identity.version" and not row.is_read_only
    if place.marks.read_only is not row.is_read_only and not by_standard:
        yield f"read-only {place.marks.read_only}, in the table {row.is_read_only}"
    if row.span is not None and not _spans(coding, row.span, len(place.fields)):
        yield f"allowed {coding.legal()}, in the table {row.span}"


def _spans(coding: Any, span: tuple[int, int], width: int) -> bool:
    match coding:
        case Address() if width == 2:
            return span in ((192, 231), (0, 255)) and (coding.low, coding.high) == (0, 10239)
        case Number() | Curve() | Address():
            return (coding.low, coding.high) == span
        case Choice():
            held = [(one.low, one.high) for one in coding.choices]
            return min(held)[0] == span[0] and max(held)[1] == span[1]
        case Switch():
            return span == (0, 1)
        case _:
            return isinstance(coding, Fields)


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_each_row_is_a_setting_and_each_setting_a_row(project: str, table: Any) -> None:
    """CV, page, bits, type, factory value, range and mark of every row, and nothing beyond them."""
    profile = open_store().profile(f"open/{project}")
    answers = Resolver(profile).at(profile.version(table["label"]))
    claims = claims_at(answers, profile)
    rows = rows_of(project, table["file"])
    assert len(rows) == table["rows"]
    wrong: list[str] = []
    met: set[tuple[str, int]] = set()
    for row in rows:
        held = [one for one in claims.get((row.cv, row.page, row.bits), []) if one.is_row(row)]
        if len(held) != 1 and not (row.cv == 27 and row.title.endswith(" values")):
            wrong.append(f"{len(held)} settings are {row}")
        for one in held:
            met.add((one.setting.id, one.number))
            is_selector = row.cv == 27 and project == "accessory-core-typed"
            wrong += [] if is_selector else [f"{one.setting.id}: {t}" for t in unlike(row, one)]
    every = {(one.setting.id, one.number) for held in claims.values() for one in held}
    wrong += [f"no row is {id}" for id, _ in sorted(every - met)]
    assert wrong == []


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_each_version_is_a_document_of_its_own(project: str, table: Any) -> None:
    """Repository, commit and file stand in the source, and CV 7 answers what the table says."""
    profile = open_store().profile(f"open/{project}")
    version = profile.version(table["label"])
    (source,) = [one for one in profile.sources.values() if version in one.firmware]
    assert f"{METAS[project]['repo']}, commit {table['commit']}, " in source.where
    assert source.date == table["date"]
    answers = expected_answers(profile, version)
    if project != "accessory-core-typed":
        assert answers[Slot(7)].value == table["cv7"]
    else:
        assert Slot(7) not in answers


def test_one_cv_had_five_meanings() -> None:
    """CV 47 by version, from the tables alone (notes in meta.toml of rp2040-motor)."""
    profile = open_store().profile("open/rp2040-motor")
    seen: list[str] = []
    for table in METAS["rp2040-motor"]["version"]:
        answers = Resolver(profile).at(profile.version(table["label"]))
        rows = [one.title for one in rows_of("rp2040-motor", table["file"]) if one.cv == 47]
        held = [one.setting.title for one in claims_at(answers, profile).get((47, "", ""), [])]
        assert held == rows
        seen += [one for one in held if one not in seen]
    assert len(seen) == 5


def test_a_scale_changed_under_one_version_number() -> None:
    """CV 47 was value/10000 and became value/255 while CV 7 stayed 2 (v1.0)."""
    profile = open_store().profile("open/rp2040-motor")
    found = []
    for label in ("v1.0-PRERELEASE", "v1.0-RELEASE"):
        answers = Resolver(profile).at(profile.version(label))
        (claim,) = claims_at(answers, profile)[47, "", ""]
        assert isinstance(claim.place.coding, Number)
        found.append(Fraction(claim.place.coding.exact(100)))
    assert found == [Fraction(100, 10000), Fraction(100, 255)]


@pytest.mark.parametrize(
    ("label", "cv"), [("2022-07-28_f09c4ff", 260), ("v0.1", 257), ("v1.1-RELEASE", 257)]
)
def test_the_order_of_bytes_was_reversed(label: str, cv: int) -> None:
    """The high byte of the function map stood last, and stands first since v0.1 (fd017ea)."""
    profile = open_store().profile("open/rp2040-motor")
    answer = Resolver(profile).at(profile.version(label))["output-map[0].forward-byte-3"]
    assert answer.place is not None
    assert answer.place.fields[0].slot.cv == cv
