"""What a match by stopwatch writes into a decoder, and which locos it refuses."""

from collections.abc import Mapping
from typing import Any

import pytest

from cvlib.engine.carry.order import plan
from cvlib.engine.carry.write_sheet import Caution, Setup
from cvlib.engine.compare.compare import Member
from cvlib.engine.compare.curves import curve_of
from cvlib.engine.speed.members import (
    MatchedMember,
    abilities_of,
    check_curves,
    match_by_timings,
    momentum_of,
)
from cvlib.errors import InputError
from engine.test_compare import member
from engine.test_speed import exact

POINTS: dict[str, Any] = {
    "speed.minimum": {"at": "2", "risk": ["motor"]},
    "momentum.acceleration": {"at": "3", "risk": ["motor"]},
    "speed.maximum": {"at": "5", "risk": ["motor"]},
    "speed.middle": {"at": "6", "risk": ["motor"]},
    "configuration.speed-steps": {"at": "29:1", "risk": []},
    "configuration.reversed": {"at": "29:0", "risk": ["motion"]},
}
CHOOSER: dict[str, Any] = {
    "configuration.speed-table": {"at": "29:4", "kind": "switch", "risk": []},
}
TRIMS: dict[str, Any] = {
    "speed.forward-trim": {"at": "66", "scale": "1/128", "risk": ["motor"]},
    "speed.reverse-trim": {"at": "95", "scale": "1/128", "risk": ["motor"]},
}
TABLE: dict[str, Any] = {
    "speed.table": {
        "at": ", ".join(map(str, range(67, 95))),
        "kind": "curve",
        "risk": ["motor"],
    },
}
SAVED = {"2": 6, "3": 9, "5": 200, "6": 103, "29": 3}


def unmarked(settings: Mapping[str, Any]) -> dict[str, Any]:
    """The settings as if nobody had noted what they may do."""
    return {name: {**held, "risk": None} for name, held in settings.items()}


def timed(mine: Member, dead: float = 5, back: float = 1.0) -> MatchedMember:
    """The loco matched with one of its kind that is twice as fast."""
    other = Member("B", mine.layout)
    levels = curve_of(mine.layout)
    assert levels is not None
    timings = [
        *exact("A", levels.forward, 0.6, dead, back),
        *exact("B", levels.forward, 0.3, dead),
    ]
    return match_by_timings([mine, other], timings).members[0]


def written(held: MatchedMember) -> dict[int, int]:
    """The CVs that are written, with their values."""
    return {slot.cv: made.value for slot, made in held.job.writes.items()}


def test_a_table_with_its_chooser_and_trims() -> None:
    """Bit 4 of CV 29 alone, all other bits read and kept though they are saved."""
    saved = {**SAVED, "66": 0, "95": 0}
    held = timed(member("A", POINTS | CHOOSER | TRIMS | TABLE, saved), 0, 0.9)
    assert set(written(held)) == {29, 66, *range(67, 95)}
    (byte,) = (made for slot, made in held.job.writes.items() if slot.cv == 29)
    assert byte.unread == 0xFF & ~0x10
    assert written(held)[66] == 115
    sheet = plan(held.job, Setup())
    assert Caution.MOTOR in sheet.cautions
    assert Caution.UNMARKED not in sheet.cautions


def test_trims_that_are_neutral_stay() -> None:
    """0 and 128 are one trim."""
    for trim in (0, 128):
        saved = {**SAVED, "66": trim, "95": trim}
        held = timed(member("A", POINTS | CHOOSER | TRIMS | TABLE, saved))
        assert not {66, 95} & set(written(held))


def test_a_loco_without_a_table_gets_its_three_points() -> None:
    """CVs 2, 5 and 6, and nothing else."""
    held = timed(member("A", POINTS, SAVED))
    assert held.values.table is None
    assert set(written(held)) <= {2, 5, 6}
    assert written(held)[5] == pytest.approx(102, abs=1)


def test_trims_that_nobody_may_set_count_as_they_are() -> None:
    """Trims of 64 stay: half of 5 + (100 - 5) / 2 is written as 105."""
    saved = {**SAVED, "66": 64, "95": 64}
    held = timed(member("A", POINTS | CHOOSER | TABLE | unmarked(TRIMS), saved))
    assert held.values.forward_trim is None
    assert not {66, 95} & set(written(held))
    assert held.values.table is not None
    assert held.values.table[-1] == 105
    last = [one.off for one in held.values.forecast if one.step == 28]
    assert last == pytest.approx([0, 0], abs=0.01)


@pytest.mark.parametrize(
    ("settings", "table", "points", "trims"),
    [
        (POINTS | CHOOSER | TRIMS | TABLE, True, True, True),
        (POINTS | TRIMS, False, True, True),
        (POINTS | TABLE, False, True, False),
        (POINTS | CHOOSER | unmarked(TABLE), False, True, False),
        (unmarked(POINTS), False, False, False),
    ],
)
def test_only_marked_settings_are_set(
    settings: dict[str, Any], table: bool, points: bool, trims: bool
) -> None:
    """What nobody has noted may harm; and a table is nothing without the bit that chooses it."""
    able = abilities_of(member("A", settings, {}).layout)
    assert (able.has_table, able.has_points, able.has_trims) == (table, points, trims)


@pytest.mark.parametrize(
    ("saved", "words"),
    [
        ({"29": 3, "2": 6, "5": 200}, "Read CVs 6 as"),
        ({"2": 6, "5": 200, "6": 90}, "Read CVs 29 as"),
        ({"29": 19, "2": 6, "5": 200, "6": 90}, "Read CVs 67-94 as"),
        ({"29": 1, "2": 6, "5": 200, "6": 90}, "14 speed steps"),
    ],
)
def test_a_drive_that_is_not_saved_is_asked_for(saved: dict[str, int], words: str) -> None:
    """No factory value stands in for it."""
    with pytest.raises(InputError) as caught:
        check_curves([member("A", POINTS | CHOOSER | TABLE, saved)])
    assert words in str(caught.value)


def test_the_momentum_that_is_to_be_0() -> None:
    """What is 0 already is left out."""
    assert momentum_of(member("A", POINTS, SAVED)) == {3: 9}
    assert momentum_of(member("A", POINTS, {**SAVED, "3": 0})) == {}
