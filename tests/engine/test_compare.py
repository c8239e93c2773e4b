"""Locos side by side in their own units, and the values that bring one closest to another."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.engine.account.cells import State
from cvlib.engine.account.claims import Layout
from cvlib.engine.compare.compare import Compared, Member, compare
from cvlib.engine.compare.match import Matched, Missing, match
from cvlib.engine.compare.motion import Form
from make import resolver, values

COMMON: dict[str, Any] = {
    "speed.minimum": {"at": "2", "default": 0},
    "momentum.acceleration": {"at": "3", "measure": "momentum"},
    "momentum.deceleration": {"at": "4", "measure": "momentum"},
    "momentum.acceleration-adjustment": {
        "at": "23",
        "measure": "momentum",
        "sign": "bit",
        "range": [-127, 127],
    },
    "speed.maximum": {"at": "5", "default": 1},
    "speed.middle": {"at": "6", "default": 1},
    "configuration.speed-table": {"at": "29:4", "kind": "switch", "default": 0},
}
TABLE: dict[str, Any] = {
    "speed.forward-trim": {"at": "66", "default": 0},
    "speed.table": {"at": ", ".join(map(str, range(67, 95))), "kind": "curve"},
    "speed.reverse-trim": {"at": "95", "default": 0},
}


def member(name: str, settings: Mapping[str, Any], saved: Mapping[str, int]) -> Member:
    """A loco with one decoder of the given settings."""
    held = resolver({"sources": {"h": ">=1"}, "settings": dict(settings)})
    return Member(name, Layout(held, held.profile.version("1"), values(saved), {}))


def pair(
    mine: Mapping[str, Any],
    theirs: Mapping[str, Any],
    saved: Mapping[str, int],
    other: Mapping[str, int],
) -> Compared:
    """Two locos compared."""
    return compare((member("A", mine, saved), member("B", theirs, other)))


DISTANCE = {"braking.distance": {"at": "40", "unit": "cm", "scale": 2}}
FINER = {"braking.distance": {"at": "44, 45", "unit": "mm", "range": [10, 2000]}}


def test_figures_are_compared_in_one_unit() -> None:
    """Steps of 2 cm against millimetres: 80 cm is 800 mm, and 75 cm is 5 cm less."""
    (row,) = pair(DISTANCE, FINER, {"40": 40}, {"44": 3, "45": 32}).rows
    assert row.differs is False
    assert row.apart == (Decimal(0), Decimal(0))
    (row,) = pair(DISTANCE, FINER, {"40": 40}, {"44": 2, "45": 238}).rows
    assert row.differs is True
    assert row.apart[1] == Decimal(-5)
    assert row.unit == "cm"


def test_what_one_cannot_express_is_told() -> None:
    """75 cm cannot be set in steps of 2 cm; 400 cm is too long for the other."""
    (row,) = pair(DISTANCE, FINER, {"40": 200}, {"44": 2, "45": 238}).rows
    assert [cell.cannot for cell in row.cells] == [(1,), (0,)]
    (row,) = pair(DISTANCE, {}, {"40": 20}, {}).rows
    assert row.cells[1].state is State.ABSENT
    assert row.cells[0].cannot == (1,)


def test_a_value_that_is_not_saved_is_not_invented() -> None:
    """An unsaved setting shows its factory value, but it is no difference."""
    factory = {"braking.distance": {"at": "40", "unit": "cm", "default": 9}}
    (row,) = pair(DISTANCE, factory, {"40": 20}, {}).rows
    assert row.cells[1].state is State.UNSAVED
    assert row.cells[1].text == "9 cm"
    assert row.differs is None


def test_only_what_matters_for_running_is_shown() -> None:
    """Lamps are compared only when everything is asked for."""
    lamps = {"lights.level": {"at": "60"}}
    members = (member("A", lamps, {"60": 1}), member("B", lamps, {"60": 2}))
    assert compare(members).rows == ()
    assert [row.setting for row in compare(members, everything=True).rows] == ["lights.level"]


def test_figures_measured_against_something_else_have_no_distance() -> None:
    """A voltage at the rails and one at the motor differ, by an amount that nobody knows."""
    rails = {"speed.limit": {"at": "40", "unit": "V", "refers-to": "at the rails"}}
    motor = {"speed.limit": {"at": "40", "unit": "V", "refers-to": "at the motor"}}
    (row,) = pair(rails, motor, {"40": 12}, {"40": 12}).rows
    assert row.differs is True
    assert row.apart == (Decimal(0), None)


def test_seconds_to_full_speed_of_both() -> None:
    """CV 3 with CV 23 by the standards' sum: 15 and 10 times 0.896 s."""
    result = pair(COMMON, COMMON, {"3": 10, "23": 5, "4": 0}, {"3": 15, "23": 133})
    assert [held.speeding_up for held in result.times] == [Decimal("13.440"), Decimal("8.960")]
    assert [held.slowing_down for held in result.times] == [Decimal(0), None]


LINE = {str(67 + at): 9 * (at + 1) for at in range(28)}


def test_curves_of_different_form_are_compared_as_curves() -> None:
    """A table that draws the three-point curve of another loco does not deviate from it."""
    three = {"2": 9, "5": 252, "6": 126, "29": 0}
    result = pair(COMMON, {**COMMON, **TABLE}, three, {**LINE, "29": 16})
    assert [held.form for held in result.curves if held] == [Form.THREE_POINT, Form.TABLE]
    assert result.forward[1] is not None
    assert result.forward[1].drive == 0
    faster = pair(COMMON, {**COMMON, **TABLE}, three, {**LINE, "29": 16, "94": 255, "95": 64})
    assert faster.forward[1] is not None
    assert (faster.forward[1].step, faster.forward[1].drive) == (28, 3)
    assert faster.reverse[1] is not None
    assert faster.reverse[1].drive < -100


def matched(
    mine: Mapping[str, Any],
    theirs: Mapping[str, Any],
    saved: Mapping[str, int],
    other: Mapping[str, int],
) -> Matched:
    """The first loco matched to the second."""
    return match(member("A", mine, saved), member("B", theirs, other))


def written(found: Matched) -> dict[str, int]:
    """The CVs that a match asks to write."""
    return {name: held.value for name, held in found.bytes.items()}


def test_a_match_speaks_in_the_locos_own_units() -> None:
    """753 mm are set as 76 cm in steps of 2 cm, and the rest is told."""
    found = matched(DISTANCE, FINER, {"40": 5}, {"44": 2, "45": 241})
    assert written(found) == {"40": 38}
    (proposal,) = found.proposals
    assert (proposal.wanted, proposal.got) == (Decimal("75.3"), Decimal(76))


def test_a_match_copies_a_three_point_curve() -> None:
    """Both have CVs 2, 5 and 6: they are set alike, and the table is switched off."""
    mine = {**LINE, "2": 1, "5": 1, "6": 1, "29": 22}
    found = matched({**COMMON, **TABLE}, COMMON, mine, {"2": 9, "5": 200, "6": 90, "29": 6})
    assert written(found) == {"2": 9, "5": 200, "6": 90, "29": 6}
    assert found.before is not None
    assert found.after is not None
    assert found.before.drive != 0
    assert found.after.drive == 0


def test_a_match_writes_a_table_for_a_table() -> None:
    """The other loco runs by its table with a trim: this one gets the trimmed curve as a table."""
    theirs = {**LINE, "66": 64, "29": 18}
    mine = {"2": 1, "5": 1, "6": 1, "29": 2, "66": 200}
    found = matched({**COMMON, **TABLE}, {**COMMON, **TABLE}, mine, theirs)
    assert found.after is not None
    assert abs(found.after.drive) <= 0.5
    assert written(found)["29"] == 18
    assert written(found)["66"] == 0


def test_a_match_fits_three_points_to_a_table() -> None:
    """Without a table of its own the loco gets the three points that come closest."""
    curve = {str(67 + at): round(255 * ((at + 1) / 28) ** 2) for at in range(28)}
    found = matched(COMMON, {**COMMON, **TABLE}, {"2": 0, "29": 0}, {**curve, "29": 16})
    assert found.before is not None
    assert found.after is not None
    assert abs(found.after.drive) < abs(found.before.drive)
    assert set(written(found)) <= {"2", "5", "6"}


@pytest.mark.parametrize(
    ("mine", "why"),
    [({}, Missing.ABSENT), ({"braking.distance": {"at": "40", "unit": "s"}}, "unit")],
)
def test_what_cannot_be_matched_is_told(mine: Mapping[str, Any], why: object) -> None:
    """A setting that is not there, or that has another unit, is told with the reason."""
    found = matched(mine, FINER, {"99": 1}, {"44": 2, "45": 241})
    assert [held.why for held in found.unmatched] == [why]
    assert not found.bytes


def test_a_value_that_is_not_legal_is_no_model() -> None:
    """What the other loco's decoder does not allow is not copied."""
    found = matched(DISTANCE, FINER, {"40": 5}, {"44": 0, "45": 1})
    assert [held.why for held in found.unmatched] == [Missing.NOT_ALLOWED]


@given(st.integers(0, 255), st.integers(10, 2000))
def test_a_matched_loco_needs_nothing_more(mine: int, theirs: int) -> None:
    """Matching twice proposes nothing the second time."""
    other = {"44": theirs >> 8, "45": theirs & 0xFF}
    first = matched(DISTANCE, FINER, {"40": mine}, other)
    after = {"40": mine} | written(first)
    assert written(matched(DISTANCE, FINER, after, other)) == {}
