"""Factory values of one firmware version, checked against every other version of its decoder.

What has to be found is worked out from the two CV tables alone: settings of the same name and
function type are the same, and everything else follows from where they lie. For neighbouring
versions the list of changes must say so too. Sources: see data/README.md.
"""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise, permutations

import pytest

from cvlib.engine.account.check import Checked, Saved, check
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.cv import Slot, bits_of
from firmware.rows import FURTHER, Row, read_rows
from firmware.tables import (
    Entry,
    Types,
    entries,
    factory_values,
    owners,
    type_codes,
    types_in,
)
from firmware.test_rows import HERE, METAS, PROJECTS

BUILT_IN = "fixed when the decoder was built"

UNKNOWING = {"unknown", "undecided", "disputed"}
"""Verdicts that a firmware with a whole CV table never deserves."""

SUMMARIES = 3
"""Rows of the accessory decoder's list of changes that speak of whole blocks in words."""

_SLOT = re.compile(r"CV(?P<cv>\d+)(?: bits (?P<bits>[\d-]+))?(?: \[type=(?P<type>\w+)\])?")
_BOTH = "current position, or return time if automatic return is set"
_TAGS = re.compile(r"(?:\[[^\]]*\]\s*)*")

CHANGES = ("older-only", "newer-only", "reused", "recoded", "asleep")
"""The verdicts that tell of a change from one firmware to another."""


@dataclass(frozen=True)
class Case:
    """Factory values of a version for a decoder of some types, and what another makes of them."""

    project: str
    old: str
    new: str
    types: Types
    switched: bool = False
    """Whether the switches are on that decide between two settings of one CV."""
    values: dict[int, int] = field(default_factory=dict)


LABELS = {project: [table["label"] for table in METAS[project]["version"]] for project in PROJECTS}
PAIRS = [
    pytest.param(project, old, new, id=f"{project} {old} in {new}")
    for project in PROJECTS
    for old, new in permutations(LABELS[project], 2)
]


@cache
def table(project: str, label: str) -> list[Row]:
    """The rows of one version."""
    return read_rows(HERE / "data" / project / f"{label}.csv")


@cache
def resolver(project: str) -> Resolver:
    """The answers of the project's profile."""
    return Resolver(open_store().profile(f"open/{project}"))


def decoders(project: str, old: str, new: str) -> Iterator[Types]:
    """The function types to try: each that the older table knows, or else the newer one."""
    kinds = types_in(table(project, old)) or types_in(table(project, new)) or {""}
    for kind in sorted(kinds):
        if kind in ("FSIGNAL2", "FSIGNAL3"):
            yield {1: kind, 2: FURTHER, 3: FURTHER}
        else:
            yield {1: kind, 2: kind} if kind else {}


def cases(project: str, old: str, new: str) -> Iterator[Case]:
    """Every decoder to try, with the factory values of the old version."""
    rows = table(project, old)
    for types in decoders(project, old, new):
        found = entries(rows, types)
        stated = [one for one in found if not one.is_further]
        values = factory_values(stated, types, type_codes(rows))
        yield Case(project, old, new, types, values=values)
        switches = [one for one in found if one.name[0] in _switch_names(found)]
        if switches:
            on = {**values}
            for one in switches:
                on[one.cv] |= one.mask
            yield Case(project, old, new, types, True, on)


def _switch_names(found: list[Entry]) -> set[str]:
    return {one.row.switch[0] for one in found if one.row.switch is not None}


def checked(case: Case) -> Checked:
    """The check of the case."""
    held = resolver(case.project)
    old, new = held.profile.version(case.old), held.profile.version(case.new)
    values = {Slot(cv): value for cv, value in case.values.items()}
    options = {f"address[{n}].type": kind for n, kind in case.types.items()}
    return check(held, new, Saved(values, dict.fromkeys(values, old), options))


@dataclass(frozen=True)
class Wanted:
    """What has to be found of one bit: the verdict, the setting of old, and where it is now."""

    verdict: str
    title: str
    where: str


def wanted(case: Case) -> dict[tuple[int, int], Wanted]:
    """What the two tables say of each bit that means something else, or nothing, in the new one."""
    old = entries(table(case.project, case.old), case.types)
    new = entries(table(case.project, case.new), case.types)
    found: dict[tuple[int, int], Wanted] = {}
    for cv in case.values:
        for bit in range(8):
            before = owners(old, cv, bit, case.values)
            after = owners(new, cv, bit, case.values)
            verdict = change(case, before, after, cv) if before else ""
            if verdict:
                where = "" if verdict == "recoded" else new_place(case, before[0], new)
                found[cv, bit] = Wanted(verdict, before[0].name[0], where)
    return found


def new_place(case: Case, entry: Entry, new: list[Entry]) -> str:
    """Where a setting lives in the other version; before V7 the types are no CV."""
    home = next((place_text(one) for one in new if one.name == entry.name), "")
    is_type = entry.name[0].startswith("function type of ")
    has_types = any(row.type for row in table(case.project, case.new))
    return home or (BUILT_IN if is_type and has_types else "")


def change(case: Case, before: list[Entry], after: list[Entry], cv: int) -> str:
    """The verdict on a bit by what it was and what it is, nothing where that is the same."""
    was, now = before[0], after[0] if after else None
    if now is not None and was.name == now.name:
        same = was.is_byte or now.is_byte or was.coding == now.coding
        return "" if same else "recoded"
    if any(one.name == was.name for one in after):
        return ""
    if now is not None and all(one.name != now.name for one in before):
        return "reused"
    labels = LABELS[case.project]
    if labels.index(case.old) > labels.index(case.new):
        return "newer-only"
    later = labels[labels.index(case.new) + 1 :]
    returns = any(
        one.name == was.name and one.cv == cv
        for label in later
        for one in entries(table(case.project, label), case.types)
    )
    return "asleep" if returns else "older-only"


def place_text(entry: Entry) -> str:
    """A CV and its bits in words."""
    if entry.mask == 255:
        return f"CV {entry.cv}"
    plural = "s" if entry.mask.bit_count() > 1 else ""
    return f"bit{plural} {entry.row.bits} of CV {entry.cv}"


def told(result: Checked) -> dict[tuple[int, int], Wanted]:
    """What the check finds of each bit that means something else, or nothing, in the new one."""
    found: dict[tuple[int, int], Wanted] = {}
    for finding in result.findings:
        if finding.code not in CHANGES or not finding.was:
            continue
        for bits in finding.bits:
            for bit in bits_of(bits.mask):
                assert (bits.cv, bit) not in found
                (was,) = {one.title for one in finding.was}
                homes = [one.where for one in finding.lives_at if one.title == was]
                found[bits.cv, bit] = Wanted(finding.code, was, homes[0] if homes else "")
    return found


@pytest.mark.parametrize(("project", "old", "new"), PAIRS)
def test_factory_values_in_another_version(project: str, old: str, new: str) -> None:
    """Each setting that moved, changed or went is found, with its new place, and no other is."""
    for case in cases(project, old, new):
        result = checked(case)
        assert told(result) == wanted(case), case
        assert not {account.verdict for account in result.accounts} & UNKNOWING, case


@dataclass(frozen=True)
class Listed:
    """One row of a list of changes: what it is about, on either side."""

    kind: str
    title: str
    type: str
    old: tuple[int, str]
    """CV and bits; CV 0 where the setting is new."""
    new: tuple[int, str]


def listed(project: str, old: str, new: str) -> list[Listed]:
    """The rows that a list of changes has between two versions, its summaries apart."""
    path = HERE / "data" / project / "changes.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if (row["from"], row["to"]) == (old, new)]
    found = []
    for row in rows:
        texts = [row["old_slot"], row["new_slot"]]
        sides = [_SLOT.fullmatch(text) for text in texts]
        if all(side or not text for side, text in zip(sides, texts, strict=True)):
            slots = [(int(one["cv"]), one["bits"] or "") if one else (0, "") for one in sides]
            kind = next(one["type"] or "" for one in sides if one)
            before = row["meaning"].partition(" => ")[0]
            title = _TAGS.sub("", before).partition("; ")[0]
            found.append(Listed(row["kind"], title, kind, slots[0], slots[1]))
    return found


def built_for(types: Types, kind: str) -> bool:
    """Whether a change of the settings of a type is one of this decoder."""
    return not kind or kind in types.values()


NEIGHBOURS = [
    pytest.param(project, old, new, id=f"{project} {old} to {new}")
    for project in PROJECTS
    for old, new in pairwise(LABELS[project])
]
AS_LISTED = {
    "moved": {"older-only", "reused"},
    "removed": {"older-only", "reused"},
    "reused": {"reused"},
    "meaning-detail": {"recoded", "read-only"},
}
"""What a check may call each kind of change. Where its old CV is in use again, that goes before."""

NOT_OF_BITS = {
    ("meaning-detail", "configuration byte"): "its settings are read-only, its free bits are zero",
    ("moved", "servo position pattern for 4 commands"): "all its bits are settings, each listed",
    ("reused", "block parameter mode byte of address 1"): "a summary of the rows of all types",
    ("reused", "current position"): "V6.3 has two settings there",
    ("removed", _BOTH): "these are the two",
}
"""Changes in the lists that are of no bits of their own, and why."""


@pytest.mark.parametrize(("project", "old", "new"), NEIGHBOURS)
def test_neighbours_differ_as_listed(project: str, old: str, new: str) -> None:
    """Each listed move, re-use, re-coding and removal is found, and a move names the new place."""
    changes = [one for one in listed(project, old, new) if one.kind in AS_LISTED]
    seen: set[Listed] = set()
    for case in cases(project, old, new):
        result = checked(case)
        found = told(result)
        verdicts = {
            (account.slot.cv, bit): account.verdict
            for account in result.accounts
            for bit in bits_of(account.mask)
        }
        for one in (one for one in changes if built_for(case.types, one.type)):
            for bit in own_bits(case, one):
                seen.add(one)
                assert verdicts[one.old[0], bit] in AS_LISTED[one.kind], (case, one)
                if one.kind == "moved":
                    assert found[one.old[0], bit].where == slot_text(*one.new), (case, one)
    assert {(one.kind, one.title) for one in changes if one not in seen} <= NOT_OF_BITS.keys()


def own_bits(case: Case, change: Listed) -> list[int]:
    """The bits of a listed change that are its setting's own in the older version.

    Bits of a byte without a row of their own are none where only access to it changed. The list has
    one setting where V6.3 has two, so nothing is asked of these.
    """
    old = entries(table(case.project, case.old), case.types)
    new = entries(table(case.project, case.new), case.types)
    if any(one.row.switch is not None and one.cv == change.new[0] for one in new):
        return []
    firsts = {bit: owners(old, change.old[0], bit, case.values)[:1] for bit in range(8)}
    return [
        bit
        for bit, found in firsts.items()
        for first in found
        if first.name[0] == change.title and not (first.is_byte and change.kind == "meaning-detail")
    ]


def slot_text(cv: int, bits: str) -> str:
    """A CV and its bits in words."""
    return f"bit{'s' if '-' in bits else ''} {bits} of CV {cv}" if bits else f"CV {cv}"


def test_the_lists_of_changes_are_read() -> None:
    """Of all rows only the written summaries, which name no single CV, are passed over."""
    read = {
        project: sum(len(listed(project, *pair)) for pair in pairwise(LABELS[project]))
        for project in PROJECTS
    }
    rows = {
        project: len((HERE / "data" / project / "changes.csv").read_text("utf-8").splitlines()) - 1
        for project in PROJECTS
    }
    assert read == {**rows, "universal-accessory": rows["universal-accessory"] - SUMMARIES}


def test_every_kind_of_change_occurs() -> None:
    """The tables hold moves with and without re-use, re-codings, removals and a return."""
    kinds = {
        one.verdict
        for project, old, new in (pair.values for pair in NEIGHBOURS)
        for case in cases(project, old, new)
        for one in told(checked(case)).values()
    }
    assert kinds >= {"older-only", "reused", "recoded"}
