"""Whatever two codings are: a value goes over exactly, to the nearest step, or not at all."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, composite

from cvlib.engine.carry.convert import Exact, Impossible, Limited, Rounded, convert
from cvlib.model.coding import Choice, Coding, Flags, Number, Parts, Switch
from cvlib.model.named import NamedSpan
from cvlib.model.unit_table import factor, figure_of
from strategies import codings, numbers, parts_of


def _is_plain(coding: Coding) -> bool:
    """Whether no formula is asked for what a CV alone holds of several CVs."""
    return not isinstance(coding, Number) or coding.measure is None or len(coding.widths) == 1


NAMES = ("off", "most")
any_coding = codings().filter(_is_plain)
any_number = numbers().filter(_is_plain)


@composite
def figures(draw: DrawFn) -> Number:
    """Numbers in centimetres that differ in step and range only, so that they go over often."""
    low, high = draw(st.sampled_from([(0, 255), (0, 255), (1, 200), (20, 60)]))
    scale = draw(st.sampled_from(["1", "2", "0.5", "0.3", "7", "-1"]))
    offset = draw(st.sampled_from(["0", "0", "0.25", "-3"]))
    return Number((8,), low, high, Decimal(scale), Decimal(offset), "cm")


@composite
def values(draw: DrawFn) -> tuple[Coding, Parts, Coding]:
    """A legal value of one coding, and another coding; often two numbers."""
    pairs = st.one_of(
        st.tuples(any_coding, any_coding),
        st.tuples(any_number, any_number),
        st.tuples(figures(), figures()),
    )
    old, new = draw(pairs)
    parts = draw(parts_of(old))
    assume(old.decode(parts).fault is None)
    return old, parts, new


@given(values())
def test_what_comes_out_is_legal_there(case: tuple[Coding, Parts, Coding]) -> None:
    """No conversion gives a value that the new coding does not allow."""
    old, parts, new = case
    made = convert(old, parts, new)
    if not isinstance(made, Impossible):
        assert new.decode(made.parts).fault is None


@given(values())
def test_an_exact_value_comes_back(case: tuple[Coding, Parts, Coding]) -> None:
    """What goes over exactly and comes back means what it meant."""
    old, parts, new = case
    made = convert(old, parts, new)
    if isinstance(made, Exact):
        back = convert(new, made.parts, old)
        assert not isinstance(back, Impossible)
        before, after = old.decode(parts), old.decode(back.parts)
        assert (before.value, before.name) == (after.value, after.name)


@given(values())
def test_a_rounded_value_is_within_half_a_step(case: tuple[Coding, Parts, Coding]) -> None:
    """The figure set is at most half a step from the one wanted, and both are told."""
    old, parts, new = case
    made = convert(old, parts, new)
    if isinstance(made, Rounded) and isinstance(new, Number) and isinstance(old, Number):
        ratio = factor(old.unit, new.unit)
        value = old.decode(parts).value
        assert ratio is not None
        assert isinstance(value, Decimal)
        wanted = Fraction(value) * ratio
        assert made.wanted == figure_of(wanted)
        assert made.got == new.decode(made.parts).value
        assert abs(wanted - Fraction(made.got)) <= abs(Fraction(new.scale)) / 2


@given(values())
def test_a_limited_figure_is_the_nearest_legal_one(case: tuple[Coding, Parts, Coding]) -> None:
    """No plain value inside the range lies nearer to the figure wanted."""
    old, parts, new = case
    assume(isinstance(new, Number) and new.high - new.low < 300)
    made = convert(old, parts, new)
    if isinstance(made, Limited) and isinstance(new, Number) and made.wanted is not None:
        assert made.got is not None
        plain = [
            new.scaled(raw)
            for raw in range(new.low, new.high + 1)
            if not any(span.low <= raw <= span.high for span in new.names)
        ]
        slack = Decimal("0.000001")
        best = min(abs(figure - made.wanted) for figure in plain) if plain else None
        assert best is None or abs(made.got - made.wanted) <= best + slack


@composite
def named_numbers(draw: DrawFn) -> Number:
    """Numbers of a small range with the names off and most, inside or outside of it."""
    raws = draw(st.lists(st.integers(0, 24), min_size=2, max_size=2, unique=True))
    spans = tuple(NamedSpan(raw, raw, name) for raw, name in zip(raws, NAMES, strict=True))
    low, high = sorted(draw(st.tuples(st.integers(0, 20), st.integers(0, 20))))
    scale = Decimal(draw(st.sampled_from(["1", "2", "0.5"])))
    return Number((8,), low, high, scale, names=spans)


@composite
def any_values(draw: DrawFn) -> tuple[Coding, Parts, Coding]:
    """A legal value of one coding, and another coding; often numbers with special names."""
    if draw(st.booleans()):
        return draw(values())
    old, new = draw(named_numbers()), draw(named_numbers())
    legal = [raw for raw in range(25) if old.decode(old.split(raw)).fault is None]
    return old, old.split(draw(st.sampled_from(legal))), new


def meaning_kept(case: tuple[Coding, Parts, Coding]) -> None:
    """What a value means there is what it meant: its name, its flags, or its figure."""
    old, parts, new = case
    made = convert(old, parts, new)
    if isinstance(made, Impossible):
        return
    before, after = old.decode(parts), new.decode(made.parts)
    was = before.text if isinstance(old, Switch) else before.name
    now = after.text if isinstance(new, Switch) else after.name
    if was is not None or now is not None:
        assert was is not None
        assert now is not None
        assert was.casefold() == now.casefold()
    elif isinstance(made, Exact) and isinstance(old, Number) and isinstance(new, Number):
        ratio = factor(old.unit, new.unit)
        assert ratio is not None
        assert (old.refers_to, old.measure) == (new.refers_to, new.measure)
        assert isinstance(before.value, Decimal)
        assert isinstance(after.value, Decimal)
        assert Fraction(before.value) * ratio == Fraction(after.value)
    elif isinstance(made, Exact) and not isinstance(old, Flags):
        assert before.value == after.value


@settings(max_examples=500)
@given(any_values())
def test_no_value_gets_another_meaning(case: tuple[Coding, Parts, Coding]) -> None:
    """A special name stays that name or is not carried; a figure never becomes one."""
    meaning_kept(case)


@pytest.mark.long
@settings(max_examples=100_000, suppress_health_check=list(HealthCheck), deadline=None)
@given(any_values())
def test_no_value_gets_another_meaning_in_a_hundred_thousand(
    case: tuple[Coding, Parts, Coding],
) -> None:
    """The same of 100,000 values."""
    meaning_kept(case)


@given(any_values())
def test_a_limit_never_grows(case: tuple[Coding, Parts, Coding]) -> None:
    """What may only become less is at most what it was, also where it is rounded or clamped."""
    old, parts, new = case
    made = convert(old, parts, new, only_down=True)
    if isinstance(made, (Rounded, Limited)) and made.wanted is not None:
        assert made.got is not None
        assert isinstance(old, Number)
        assert isinstance(new, Number)
        ratio, value = factor(old.unit, new.unit), old.decode(parts).value
        assert ratio is not None
        assert isinstance(value, Decimal)
        assert Fraction(made.got) <= Fraction(value) * ratio


@given(named_numbers(), named_numbers(), st.sampled_from(NAMES))
def test_names_never_change_their_meaning(old: Number, new: Number, name: str) -> None:
    """A named value that the other coding knows by name gets that name, whatever its number."""
    made = convert(old, old.encode(name), new)
    assert isinstance(made, Exact)
    assert new.decode(made.parts).name == name


@given(named_numbers(), named_numbers(), st.integers(0, 24))
def test_a_plain_figure_stays_a_plain_figure(old: Number, new: Number, raw: int) -> None:
    """Where both codings know the same names, only a name becomes a name."""
    reading = old.decode((raw,))
    assume(reading.fault is None and reading.name is None)
    made = convert(old, (raw,), new)
    if not isinstance(made, Impossible):
        assert new.decode(made.parts).name is None


@given(st.data())
def test_a_figure_never_becomes_a_name_that_means_something_else(data: st.DataObject) -> None:
    """A plain figure is not turned into a special value that its own coding knows elsewhere."""
    old, new = data.draw(any_number), data.draw(any_number)
    parts = data.draw(parts_of(old))
    reading = old.decode(parts)
    assume(reading.fault is None and reading.name is None)
    made = convert(old, parts, new)
    if isinstance(made, (Rounded, Limited)):
        assert new.decode(made.parts).name is None
    if isinstance(made, Exact):
        assert new.decode(made.parts).name not in {span.name for span in old.names}


@given(values())
def test_the_same_coding_changes_nothing(case: tuple[Coding, Parts, Coding]) -> None:
    """Into its own coding a legal value goes as it stands; bits without meaning stay behind."""
    old, parts, _ = case
    made = convert(old, parts, old)
    if not isinstance(made, Impossible):
        assert old.decode(made.parts).value == old.decode(parts).value
        assert isinstance(old, Flags) or made == Exact(parts)
    else:
        assert old.kind in ("fields", "area")


def test_a_choice_goes_by_name_not_by_number() -> None:
    """The same name at another number is the same choice."""
    from make import coding

    old = coding({"kind": "choice", "names": {"0": "iron core", "1": "coreless"}})
    new = coding({"kind": "choice", "names": {"0": "automatic", "1": "iron core", "2": "Coreless"}})
    assert isinstance(old, Choice)
    assert convert(old, (1,), new) == Exact((2,))
