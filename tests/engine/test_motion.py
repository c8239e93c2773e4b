"""Speed curves, seconds and trims by the standards' own sums."""

from __future__ import annotations

import csv
import re
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.engine.compare.motion import (
    FULL,
    STEPS,
    Form,
    Speeds,
    drawn,
    fitted,
    largest_deviation,
    middle_step,
    rate,
    seconds_to_full_speed,
    straight_line,
    three_point,
    trim_factor,
    trimmed,
)
from cvlib.model import formulas

EXAMPLES = Path(__file__).parents[1] / "standards" / "data" / "worked-examples.csv"


def examples(topic: str) -> list[tuple[dict[int, int], str, str]]:
    """The worked examples of the standards on a topic: CV values, what is expected, the source."""
    with EXAMPLES.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["topic"] == topic]
    return [
        (
            {int(cv): int(value) for cv, value in re.findall(r"CV(\d+)=(\d+)", row["input"])},
            row["expected"],
            row["source"],
        )
        for row in rows
    ]


@pytest.mark.parametrize(("cvs", "expected", "source"), examples("acceleration adjustment"))
def test_adjusted_acceleration(cvs: dict[int, int], expected: str, source: str) -> None:
    """CV 3 with CV 23 gives the seconds per step that the standard's sum gives, at 28 steps."""
    seconds = seconds_to_full_speed(cvs[3], formulas.adjustment(cvs[23])) / 28
    assert round(seconds, 6) == Decimal(expected), source


@pytest.mark.parametrize(("cvs", "expected", "source"), examples("acceleration seconds per step"))
def test_plain_acceleration(cvs: dict[int, int], expected: str, source: str) -> None:
    """The example printed beside CV 3."""
    assert round(seconds_to_full_speed(cvs[3]) / 28, 6) == Decimal(expected), source


@pytest.mark.parametrize(("cvs", "expected", "source"), examples("forward trim"))
def test_trim(cvs: dict[int, int], expected: str, source: str) -> None:
    """CV 66 is n/128; 0 is not used, which changes nothing."""
    wanted = Fraction(1) if expected == "not used" else Fraction(expected)
    assert trim_factor(cvs[66]) == wanted, source


@pytest.mark.parametrize(("cvs", "expected", "source"), examples("speed table choice"))
def test_the_linear_factory_curve(cvs: dict[int, int], expected: str, source: str) -> None:
    """CV 25 = 2 is a straight line to the full voltage, and its other tables are not told."""
    curve = drawn(Speeds(False, choice=cvs[25]))
    assert curve is not None, source
    assert curve.form is Form.LINE
    assert expected == "linear factory curve"
    assert curve.forward == straight_line()
    assert drawn(Speeds(False, choice=3)) is None


def test_overflow_and_underflow_of_adjustments() -> None:
    """The sum stops at no delay and at the longest there is (NMRA S-9.2.2, 2012-07, CV 23)."""
    assert rate(3, -5) == 0
    assert rate(250, 10) == 255
    assert seconds_to_full_speed(250, 127) == Decimal(255) * Decimal("0.896")


@pytest.mark.parametrize(
    ("minimum", "middle", "maximum", "at"),
    [(0, 0, 0, 14), (10, 1, 1, 14), (10, 100, 200, 14), (10, 100, 200, 5), (200, 100, 50, 14)],
)
def test_three_points_are_met(minimum: int, middle: int, maximum: int, at: int) -> None:
    """Step 1 has CV 2, step 28 has CV 5 and the middle CV 6; 0 and 1 leave the last two unused.

    Source: NMRA S-9.2.2 (2012-07), CVs 2, 5 and 6.
    """
    curve = three_point(minimum, middle, maximum, at)
    assert len(curve) == STEPS
    assert curve[0] == minimum
    assert curve[-1] == (maximum if maximum > 1 else FULL)
    assert middle <= 1 or curve[at - 1] == middle


def test_without_a_middle_the_line_is_straight() -> None:
    """CVs 2 and 5 alone: every step rises by the same."""
    curve = three_point(28, 0, 55)
    assert {high - low for low, high in pairwise(curve)} == {Fraction(1)}


@pytest.mark.parametrize(("choice", "step"), [(0, 14), (1, 14), (127, 14), (129, 1), (154, 26)])
def test_the_place_of_the_middle(choice: int, step: int) -> None:
    """CV 25 from 128 on moves the middle (NMRA S-9.2.2, 2012-07); the count is our reading."""
    assert middle_step(choice) == step


def test_the_table_is_used_when_cv_29_says_so() -> None:
    """With CV 29 bit 4 the curve is CVs 67-94 times the trim of the direction."""
    table = tuple(range(9, 9 * 29, 9))
    curve = drawn(Speeds(True, table, minimum=99, forward_trim=64, reverse_trim=255))
    assert curve is not None
    assert curve.form is Form.TABLE
    assert curve.forward == tuple(Fraction(level, 2) for level in table)
    assert max(curve.reverse) == FULL
    assert drawn(Speeds(True, None)) is None


def test_the_largest_deviation_has_a_side() -> None:
    """Where two curves lie furthest apart, and which one is higher there."""
    flat = (Fraction(10),) * STEPS
    bumped = (*flat[:6], Fraction(4), *flat[7:])
    assert largest_deviation(flat, bumped) == (7, 6)
    assert largest_deviation(bumped, flat) == (7, -6)
    assert largest_deviation(flat, flat)[1] == 0


points = st.tuples(st.integers(0, 255), st.integers(2, 255), st.integers(2, 255))


@given(points)
def test_a_three_point_curve_is_fitted_exactly(values: tuple[int, int, int]) -> None:
    """The points that drew a curve are found again, or others that draw it just as well."""
    curve = three_point(*values)
    assert largest_deviation(three_point(*fitted(curve)), curve)[1] == 0


@given(st.lists(st.integers(0, 255), min_size=28, max_size=28))
def test_a_fit_is_never_worse_than_the_points_of_the_curve(levels: list[int]) -> None:
    """Fitting to any table does at least as well as copying its steps 1, 14 and 28."""
    curve = tuple(map(Fraction, levels))
    copied = three_point(levels[0], max(levels[13], 2), max(levels[27], 2))
    mine = abs(largest_deviation(three_point(*fitted(curve)), curve)[1])
    assert mine <= abs(largest_deviation(copied, curve)[1])


@given(points, st.integers(0, 255))
def test_a_trim_keeps_the_curve_within_the_full_voltage(
    values: tuple[int, int, int], trim: int
) -> None:
    """No trim drives the motor with more than the full voltage, or less than none."""
    assert all(0 <= level <= FULL for level in trimmed(three_point(*values), trim))
