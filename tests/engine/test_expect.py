"""How likely answers are: shares come to one, and the error model is as stated."""

from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.engine.bench.expect import (
    ABSENT,
    AFTER_RESET,
    ANSWERS,
    ANY_VALUE,
    AS_IT_STANDS,
    MODEL,
    NEVER,
    NO_ANSWER,
    UNKNOWN,
    Expectation,
    Keeping,
    Presence,
    column,
    judged,
    members,
    mixed,
    packed,
    seen,
    spread,
    unpacked,
)
from house.markdown import section, text_of
from house.tree import ROOT

TERMS = (AS_IT_STANDS, AFTER_RESET)
held = st.builds(
    Expectation,
    st.just(Presence.HELD),
    st.integers(1, ANY_VALUE),
    st.one_of(st.just(0), st.integers(1, ANY_VALUE)),
    st.integers(0, 255),
    st.sampled_from((0, 0x0F, 0xFF)),
    st.sampled_from(Keeping),
    st.booleans(),
)
single = st.one_of(held, st.sampled_from((ABSENT, UNKNOWN, NEVER)))
expectations = st.one_of(
    single, st.tuples(single, single).map(lambda pair: mixed((0.7, pair[0]), (0.3, pair[1])))
)


@given(expectations, st.sampled_from(TERMS), st.booleans())
def test_the_answers_of_a_cv_share_the_whole(
    expectation: Expectation, terms: object, is_open: bool
) -> None:
    """All answers together are certain, before misreading and after."""
    assert sum(column(expectation, terms, open_minded=is_open)) == pytest.approx(1)
    shown = sum(seen(expectation, (at,), terms, open_minded=is_open) for at in ANSWERS)
    assert shown == pytest.approx(1, abs=0.01)


@given(expectations, st.sampled_from(TERMS), st.integers(0, 256))
def test_one_answer_twice_is_no_more_likely_than_once(
    expectation: Expectation, terms: object, answer: int
) -> None:
    """Reading again can only narrow; and the formula for one answer agrees with that for many."""
    once = seen(expectation, (answer,), terms)
    twice = seen(expectation, (answer, answer), terms)
    assert twice <= once + 1e-12
    both = sum(seen(expectation, (answer, other), terms) for other in ANSWERS)
    assert both == pytest.approx(once, rel=0.02)


@given(expectations)
def test_an_expectation_is_kept_as_plain_values(expectation: Expectation) -> None:
    """Packed and unpacked it is the same."""
    assert unpacked(packed(expectation)) == expectation


@given(expectations, st.sampled_from(TERMS), st.integers(0, 256))
def test_an_answer_is_misread_exactly_where_it_cannot_come(
    expectation: Expectation, terms: object, answer: int
) -> None:
    """Neither a strict decoder nor one that answers everything can give a misread answer."""
    possible = any(
        spread(expectation, terms, open_minded=is_open).chance(answer) > 0
        for is_open in (False, True)
    )
    assert judged(expectation, (answer,), terms)[0] == (not possible)


@pytest.mark.parametrize(
    ("answers", "wrong"),
    [((42,), 0), ((43,), 1), ((43, 42), 1), ((43, 42, 42), 0), ((43, 43, 42), 2), ((256,), 1)],
)
def test_misread_answers_do_not_count_against_a_majority(
    answers: tuple[int, ...], wrong: int
) -> None:
    """A CV that must hold 42: once more than half of its answers say so, the others are noise."""
    must = Expectation(Presence.HELD, 1 << 42, 1 << 42)
    assert judged(must, answers, AS_IT_STANDS)[0] == wrong


def test_a_factory_value_is_likely_as_it_stands_and_certain_after_a_reset() -> None:
    """The owner changed 35 % of the values; after a reset there are no others."""
    one = Expectation(Presence.HELD, (1 << 101) - 1, 0, 60, 0xFF)
    assert 0.65 < column(one, AS_IT_STANDS)[60] < 0.66
    assert column(one, AFTER_RESET)[60] == 1
    personal = Expectation(Presence.HELD, ANY_VALUE, 0, 3, 0xFF, Keeping.PERSONAL)
    assert 0.2 < column(personal, AS_IT_STANDS)[3] < 0.21


def test_a_cv_that_is_not_used_is_silent_unless_the_decoder_answers_everything() -> None:
    """Only the open-minded decoder answers for it, mostly 0."""
    assert column(ABSENT, AS_IT_STANDS)[NO_ANSWER] == 1
    loose = column(ABSENT, AS_IT_STANDS, open_minded=True)
    assert loose[NO_ANSWER] == pytest.approx(0.3)
    assert max(loose[:256]) == loose[0]
    assert column(NEVER, AS_IT_STANDS, open_minded=True)[NO_ANSWER] == 1


def test_the_members_of_a_set_come_in_order() -> None:
    """A set of answers lists its members, lowest first."""
    assert members(1 << 256 | 1 << 7 | 1) == [0, 7, 256]


def test_the_error_model_is_the_one_that_is_documented() -> None:
    """Each figure of the model stands in the table of docs/identify.md."""
    text = section(text_of(ROOT / "docs" / "identify.md"), "How the answer is found")
    shown = {f"{getattr(MODEL, field.name):.0%}".replace("%", " %") for field in fields(MODEL)}
    assert [figure for figure in sorted(shown) if figure not in text] == []
