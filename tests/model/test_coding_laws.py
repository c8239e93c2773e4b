"""Laws that hold for every kind of value: writing and reading are inverse, and nothing else is."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import coding_strategies
from cvlib.errors import InputError
from cvlib.model.coding import Choice, Coding, Fields, Flags, Number, SignForm, Switch, Value
from cvlib.model.coding_many import Address, Curve, Text
from cvlib.model.named import NamedSpan


@given(st.data())
def test_what_is_read_can_be_written_and_reads_the_same(data: st.DataObject) -> None:
    """A legal value, written and read again, is the same value with the same words."""
    coding = data.draw(coding_strategies.codings())
    reading = coding.decode(data.draw(coding_strategies.parts_of(coding)))
    if reading.fault is None:
        written = coding.encode(reading.value)
        again = coding.decode(written)
        assert (again.value, again.text, again.name) == (reading.value, reading.text, reading.name)
        assert again.fault is None
        assert again.stray == 0


@given(st.data())
def test_parts_come_back_where_nothing_is_lost(data: st.DataObject) -> None:
    """Legal parts come back as they were: minus zero, stray bits and what follows a text apart."""
    coding = data.draw(coding_strategies.codings())
    parts = data.draw(coding_strategies.parts_of(coding))
    reading = coding.decode(parts)
    if reading.fault is not None or reading.stray:
        return
    minus = SignForm.BIT
    if isinstance(coding, Number) and coding.sign is minus and reading.value == coding.offset:
        assert coding.encode(reading.value) == (0,) * len(parts)
    elif isinstance(coding, Curve) and coding.sign is minus and 0x80 in parts:
        assert coding.decode(coding.encode(reading.value)).value == reading.value
    elif isinstance(coding, Text):
        text = str(reading.value)
        assert coding.encode(text) == (*text.encode(), *[0] * (len(parts) - len(text)))
    else:
        assert coding.encode(reading.value) == parts


@given(st.data())
def test_a_faulty_value_cannot_be_written(data: st.DataObject) -> None:
    """What reads as out of range or as no choice is refused when it is to be written."""
    coding = data.draw(coding_strategies.codings())
    reading = coding.decode(data.draw(coding_strategies.parts_of(coding)))
    if reading.fault is not None:
        with pytest.raises(InputError) as raised:
            coding.encode(reading.value)
        assert len(raised.value.faults) == 1
        assert str(raised.value).isprintable()


@given(st.data())
def test_a_name_is_written_as_the_first_value_that_has_it(data: st.DataObject) -> None:
    """The parts of a name read as that name, legal even outside the range."""
    coding = data.draw(coding_strategies.numbers() | coding_strategies.choices())
    spans = coding.names if isinstance(coding, Number) else coding.choices
    for span in spans:
        parts = coding.encode(span.name)
        assert coding.raw(span.name) == parts
        reading = coding.decode(parts)
        assert reading.name == span.name
        assert reading.fault is None
        raw = coding.join(parts)
        assert (coding.signed(raw) if isinstance(coding, Number) else raw) == span.low


@given(st.data())
def test_joining_and_splitting_are_inverse(data: st.DataObject) -> None:
    """Parts joined to one number and split again are the parts; most significant comes first."""
    coding = data.draw(coding_strategies.codings())
    parts = data.draw(coding_strategies.parts_of(coding))
    number = coding.join(parts)
    assert coding.split(number) == parts
    bits = "".join(f"{part:0{width}b}" for part, width in zip(parts, coding.widths, strict=True))
    assert number == int(bits, 2)


@given(st.data(), st.integers(-3, 70000))
def test_a_raw_number_fits_or_is_refused(data: st.DataObject, number: int) -> None:
    """A raw whole number stands for the parts that hold it, or is refused in one line."""
    coding = data.draw(coding_strategies.numbers())
    room = sum(coding.widths)
    low, high = {
        None: (0, (1 << room) - 1),
        SignForm.BIT: (1 - (1 << room - 1), (1 << room - 1) - 1),
        SignForm.TWOS_COMPLEMENT: (-(1 << room - 1), (1 << room - 1) - 1),
    }[coding.sign]
    if low <= number <= high:
        assert coding.signed(coding.join(coding.raw(number))) == number
    else:
        with pytest.raises(InputError, match="does not fit"):
            coding.raw(number)


@given(coding_strategies.numbers(), st.integers(-300, 300), st.integers(0, 9))
def test_numbers_are_written_exactly_or_not_at_all(held: Number, raw: int, tenth: int) -> None:
    """A figure on a step within the range is written; one between two steps never is."""
    figure = held.scaled(raw) + (held.scaled(1) - held.scaled(0)) * tenth / 10
    legal = held.low <= raw <= held.high or any(s.low <= raw <= s.high for s in held.names)
    if tenth == 0 and legal:
        assert held.decode(held.encode(figure)).value == figure
    else:
        with pytest.raises(InputError):
            held.encode(figure)


@given(st.data())
def test_decoding_never_fails(data: st.DataObject) -> None:
    """Whatever the CVs hold, it has words on one line, and only known faults."""
    coding = data.draw(coding_strategies.codings())
    reading = coding.decode(data.draw(coding_strategies.parts_of(coding)))
    assert reading.text
    assert reading.text.isprintable()
    assert coding.legal().isprintable()


WRONG: list[Value] = ["no such name", 10**9, -(10**9), Decimal("0.3"), frozenset(["no"]), (1, 2)]


@given(coding_strategies.codings(), st.sampled_from(WRONG))
def test_what_does_not_fit_is_refused_and_nothing_else_is_raised(
    coding: Coding, value: Value
) -> None:
    """A value of another kind is refused with an input error, or written where it is legal."""
    try:
        parts = coding.encode(value)
    except InputError:
        return
    assert coding.decode(parts).fault is None


def test_equal_codings_are_equal_by_everything_that_tells_them_apart() -> None:
    """Codings are equal when kind, widths and every detail are, and differ with any of them."""
    width = (8,)
    held: list[Coding] = [
        Number(width),
        Number((8, 8), 0, 255),
        Number(width, 1),
        Number(width, 0, 254),
        Number(width, scale=Decimal(2)),
        Number(width, scale=Fraction(1, 255)),
        Number(width, offset=Decimal(2)),
        Number(width, unit="s"),
        Number(width, sign=SignForm.BIT),
        Number(width, sign=SignForm.TWOS_COMPLEMENT),
        Number(width, refers_to="at the motor"),
        Switch(width),
        Choice(width),
        Flags(width),
        Flags(width, ((0, "F1"),)),
        Fields(width),
        Fields(width, (NamedSpan(255, 255, "not used"),)),
        Address(width),
        Curve((8, 8)),
        Curve((8, 8), 1),
        Curve((8, 8), sign=SignForm.BIT),
        Text(width),
    ]
    assert len(set(held)) == len(held)
    assert Number(width, scale=Decimal("2.0")) == Number(width, scale=Decimal(2))
