"""How CV bytes stand for values, case by case; the cases are the tables in cases/coding."""

from decimal import Decimal
from typing import Any

import pytest

from cvlib.errors import InputError
from cvlib.model.coding import Coding, Flags, Value
from make import Table, coding, read_cases

CASES = list(read_cases("coding"))
every_case = pytest.mark.parametrize("case", [pytest.param(case, id=id) for id, _, case in CASES])


def made(case: Table) -> Coding:
    """The coding of a case."""
    return coding(case["coding"], tuple(case.get("widths", (8,))))


def as_value(held: Coding, written: Any) -> Value:
    """A value of a data file as the model has it."""
    if isinstance(written, list):
        return frozenset(written) if isinstance(held, Flags) else tuple(written)
    return Decimal(str(written)) if isinstance(written, float) else written


@every_case
def test_decode(case: Table) -> None:
    """Parts have the listed value and words, and what is listed without a fault is legal."""
    held = made(case)
    for parts, value, words in case["reads"]:
        reading = held.decode(tuple(parts))
        assert reading.value == as_value(held, value), parts
        assert reading.text == words, parts
        listed = [tuple(p) for p, _ in case.get("faults", ())]
        assert (reading.fault is None) is (tuple(parts) not in listed), parts


@every_case
def test_faults_names_and_stray_bits(case: Table) -> None:
    """What is not allowed, what a special value is called, and which bits mean nothing."""
    held = made(case)
    for parts, fault in case.get("faults", ()):
        assert held.decode(tuple(parts)).fault == fault, parts
    for parts, name in case.get("named", ()):
        assert held.decode(tuple(parts)).name == name, parts
    for parts, stray in case.get("strays", ()):
        assert held.decode(tuple(parts)).stray == stray, parts
    for parts, words in case.get("words", ()):
        assert held.decode(tuple(parts)).text == words, parts


@every_case
def test_encode(case: Table) -> None:
    """A value or a name is written as the listed parts."""
    held = made(case)
    for value, parts in case.get("writes", ()):
        assert held.encode(as_value(held, value)) == tuple(parts), value


@every_case
def test_encode_refuses(case: Table) -> None:
    """What cannot be written is refused with one line that says what can."""
    held = made(case)
    for value, error in case.get("refuses", ()):
        with pytest.raises(InputError) as raised:
            held.encode(as_value(held, value))
        assert str(raised.value) == error, value


@every_case
def test_raw(case: Table) -> None:
    """A value as a profile writes it stands for the listed parts, legal or not."""
    held = made(case)
    for written, parts in case.get("raws", ()):
        assert held.raw(written) == tuple(parts), written


@every_case
def test_raw_refuses(case: Table) -> None:
    """What does not fit the CVs, or has no such name, is refused with one line."""
    held = made(case)
    for written, error in case.get("refuses-raw", ()):
        with pytest.raises(InputError) as raised:
            held.raw(written)
        assert str(raised.value) == error, written


@every_case
def test_legal_values_in_words(case: Table) -> None:
    """The legal values are told as listed."""
    if "legal" in case:
        assert made(case).legal() == case["legal"]


@pytest.mark.parametrize("text", ["NaN", "sNaN", "Infinity", "-Infinity", "1e999999", "1e-999999"])
def test_no_figure_is_too_odd_to_be_refused(text: str) -> None:
    """Not a number, infinite, huge and tiny figures are refused in one line like any other."""
    held = coding({"scale": 0.1, "unit": "s"})
    with pytest.raises(InputError) as raised:
        held.encode(Decimal(text))
    assert len(str(raised.value)) < 200


def test_a_long_figure_is_not_rounded_into_a_legal_one() -> None:
    """A figure that misses a step by less than any decimal shown is still refused."""
    with pytest.raises(InputError):
        coding({}).encode(Decimal("5." + "0" * 40 + "1"))
