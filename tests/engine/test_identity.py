"""What a decoder answers when asked who it is; the cases are the tables in cases/identity.

"common practice, no source": how makers spread a version over CVs. CV 7 is the version and CV 8 the
manufacturer by NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from cvlib.engine.known.identity import Expected, expected_answers, versions_answering
from cvlib.model.cv import WHOLE, bits_text
from make import Table, profile, read_cases, values

CASES = [pytest.param(case, id=id) for id, _, case in read_cases("identity")]


@pytest.mark.parametrize("case", CASES)
def test_expected_answers(case: Table) -> None:
    """At each firmware exactly the listed CVs have a known answer, and it is the listed one."""
    held = profile(case["profile"])
    for text, listed in case["expects"].items():
        found = expected_answers(held, held.version(text))
        shown = {
            slot.typed if one.mask == WHOLE else f"{slot.typed}:{bits_text(one.mask)}": str(one)
            for slot, one in found.items()
        }
        assert shown == {slot: str(value) for slot, value in listed.items()}, text


@pytest.mark.parametrize("case", CASES)
def test_versions_that_answer_so(case: Table) -> None:
    """Saved values name the listed firmware, or none."""
    held = profile(case["profile"])
    for saved, listed in case["named"]:
        found = versions_answering(held, values(saved))
        assert list(map(str, found)) == listed, saved


@given(st.data())
def test_a_release_is_among_those_that_answer_as_it_does(data: st.DataObject) -> None:
    """What a release answers names that release, perhaps beside others."""
    held = data.draw(strategies.profiles())
    for release in held.releases:
        expected = expected_answers(held, release.version)
        saved = {slot: one.value for slot, one in expected.items()}
        if held.parts and {part.field.slot for part in held.parts} <= saved.keys():
            found = versions_answering(held, saved)
            assert release.version in found


@given(st.integers(0, 255), st.integers(1, 255), st.lists(st.tuples(*[st.integers(0, 255)] * 2)))
def test_what_an_answer_allows(value: int, mask: int, ends: list[tuple[int, int]]) -> None:
    """One value under its mask; or any of several, as far as the asked bits tell."""
    one = Expected(0xF0, value & 0xF0)
    assert one.allows(value, mask)
    assert one.allows(value ^ 0x0F, mask)
    assert one.allows(value ^ 0x10, mask) is not bool(mask & 0x10)
    spans = tuple((min(pair), max(pair)) for pair in ends)
    several = Expected(WHOLE, 0, spans or ((7, 7),))
    possible = {byte for low, high in several.spans for byte in range(low, high + 1)}
    assert several.allows(value, WHOLE) is (value in possible)
    assert several.allows(value, mask) is any(byte & mask == value & mask for byte in possible)
