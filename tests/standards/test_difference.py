"""The two standards, resolved and compared by cvlib itself, differ where their tables do.

Sources: NMRA S-9.2.2 (2012-07), tables 1-3; RailCommunity RCN-225 (2025-07-27).
"""

import csv
import re
from pathlib import Path

import pytest

from cvlib.api import open_store, settings_against
from cvlib.engine.known.line import Change, differences
from cvlib.engine.known.listing import Compared

DATA = Path(__file__).parent / "data"
NMRA = ("nmra-s-9.2.2-2012-07.csv", "multifunction")
RCN = ("rcn-225-2025-07-27.csv", "vehicle")

# Bits of another CV, and bits that a note calls reserved or zero, count for nothing.
_NUMBERS = r"\bbits? (\d(?:-\d)?(?: \d(?:-\d)?)*)\b"
BITS = re.compile(rf"(?<!CV 29 ){_NUMBERS}")
MEANINGLESS = re.compile(rf"{_NUMBERS} (?:reserved|is 0)")

Row = dict[str, str]


def rows(table: str, kind: str) -> dict[int, Row]:
    """The row of every CV of one decoder kind."""
    with (DATA / table).open(encoding="utf-8", newline="") as file:
        return {
            cv: row
            for row in csv.DictReader(file)
            if row["decoder_kind"] == kind
            for cv in range(int(row["cv_first"]), int(row["cv_last"]) + 1)
        }


def meaningful_bits(note: str) -> set[int]:
    """The bits to which a note gives a meaning."""
    found: set[int] = set()
    for text in BITS.findall(MEANINGLESS.sub("", note)):
        for part in text.split():
            low, _, high = part.partition("-")
            found |= set(range(int(low), int(high or low) + 1))
    return found


def is_different(one: Row, other: Row) -> bool:
    """Whether two rows differ in status, in the bits that mean something, or in values
    that are commands."""
    if one["status"] != other["status"]:
        return True
    if not one["note"] or not other["note"]:
        return False
    commands = ("are commands" in one["note"]) != ("are commands" in other["note"])
    return commands or meaningful_bits(one["note"]) != meaningful_bits(other["note"])


def expected() -> set[int]:
    """The CVs in which the two tables differ."""
    nmra, rcn = rows(*NMRA), rows(*RCN)
    return {cv for cv in range(1, 1025) if is_different(nmra[cv], rcn[cv])}


@pytest.fixture(scope="module")
def compared() -> Compared:
    """RCN-225 against NMRA S-9.2.2."""
    return settings_against(open_store(), "standard/rcn-225", "", "standard/nmra-s-9.2.2")


def test_the_tables_differ_in_the_cvs_that_are_known() -> None:
    """The list that the tables' own README names, worked out from the rows."""
    spans = "10 12 15-16 20 22 28 65 96 97-104 107-111 769-879 892-896"
    ends = [(span.partition("-")[0], span.rpartition("-")[2]) for span in spans.split()]
    assert expected() == {cv for low, high in ends for cv in range(int(low), int(high) + 1)}


def test_the_resolved_standards_differ_in_those_cvs(compared: Compared) -> None:
    """CV by CV, what the standards mean differs exactly where their tables do."""
    assert {slot.cv for slot in compared.slots} == expected()
    assert all(slot.page is None for slot in compared.slots)


def test_it_does_not_matter_which_way_round(compared: Compared) -> None:
    """Seen from the other side the same CVs differ, and what was added is removed."""
    back = settings_against(open_store(), "standard/nmra-s-9.2.2", "", "standard/rcn-225")
    assert back.slots == compared.slots
    added = {one.setting for one in compared.differences if one.change is Change.ADDED}
    removed = {one.setting for one in back.differences if one.change is Change.REMOVED}
    assert added == removed


def test_every_setting_that_differs_lies_on_those_cvs(compared: Compared) -> None:
    """Apart from defaults and marks, which say nothing of what a value means."""
    for one in compared.differences:
        if one.change in (Change.DEFAULT, Change.MARKS, Change.STANDING):
            continue
        places = [p for answer in (one.before, one.after) if answer for p in answer.places()]
        cvs = {field.slot.cv for place in places for field in place.fields}
        assert cvs & expected(), one.setting


def test_a_standard_does_not_differ_from_itself(compared: Compared) -> None:
    """Nothing differs between equal states."""
    answers = {entry.setting.id: entry.answer for entry in compared.after.present}
    assert differences(answers, answers) == ()
