"""Laws of the algebra of firmware ranges, on generated ranges of all three schemes."""

import re
from calendar import monthrange
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

import strategies
from cvlib.model.ranges import FirmwareRange, is_older
from cvlib.model.versions import Scheme, following_key, parse_version, preceding_key

schemes = strategies.schemes


def drawn(data: st.DataObject, count: int) -> list[FirmwareRange]:
    """Some ranges of one scheme."""
    scheme = data.draw(schemes)
    return [data.draw(strategies.ranges(scheme)) for _ in range(count)]


@given(st.data())
def test_identity(data: st.DataObject) -> None:
    """Nothing adds nothing and everything takes nothing away."""
    (a,) = drawn(data, 1)
    nothing, everything = FirmwareRange.nothing(a.scheme), FirmwareRange.everything(a.scheme)
    assert a | nothing == a == a & everything
    assert a & nothing == nothing == a - a == nothing - a
    assert a | everything == everything == a | ~a
    assert a - nothing == a
    assert everything - a == ~a


@given(st.data())
def test_idempotence_and_involution(data: st.DataObject) -> None:
    """A range joined or cut with itself is itself, and twice the complement too."""
    (a,) = drawn(data, 1)
    assert a | a == a == a & a == ~~a


@given(st.data())
def test_commutation_and_association(data: st.DataObject) -> None:
    """Order and brackets do not matter."""
    a, b, c = drawn(data, 3)
    assert a | b == b | a
    assert a & b == b & a
    assert (a | b) | c == a | (b | c)
    assert (a & b) & c == a & (b & c)


@given(st.data())
def test_distribution_and_absorption(data: st.DataObject) -> None:
    """Union and intersection distribute over each other and absorb each other."""
    a, b, c = drawn(data, 3)
    assert a & (b | c) == (a & b) | (a & c)
    assert a | (b & c) == (a | b) & (a | c)
    assert a & (a | b) == a == a | (a & b)


@given(st.data())
def test_de_morgan(data: st.DataObject) -> None:
    """The complement of a union is the intersection of the complements, and the other way."""
    a, b = drawn(data, 2)
    assert ~(a | b) == ~a & ~b
    assert ~(a & b) == ~a | ~b


@given(st.data())
def test_difference(data: st.DataObject) -> None:
    """What is left of a range, with what was taken, is the range; the two have nothing common."""
    a, b = drawn(data, 2)
    assert a - b == a & ~b
    assert (a - b) | (a & b) == a
    assert ((a - b) & b).is_empty()


@given(st.data())
def test_operations_agree_with_membership(data: st.DataObject) -> None:
    """A version lies in a result exactly when logic says so."""
    a, b = drawn(data, 2)
    version = data.draw(strategies.single_versions(a.scheme))
    assert (version in a | b) is (version in a or version in b)
    assert (version in a & b) is (version in a and version in b)
    assert (version in a - b) is (version in a and version not in b)
    assert (version in ~a) is (version not in a)


@given(st.data())
def test_normal_form(data: st.DataObject) -> None:
    """Spans are in order, none is empty and none touches the next."""
    a, b = drawn(data, 2)
    for held in (a, a | b, a & b, a - b, ~a):
        cuts = [cut for span in held.spans for cut in span]
        assert None not in cuts[:-1]
        known = [cut for cut in cuts if cut is not None]
        assert all(low < high for low, high in pairwise(known))


@given(st.data())
def test_equal_means_equal_hash_and_empty_difference(data: st.DataObject) -> None:
    """Two ranges are equal exactly when neither has anything the other lacks."""
    a, b = drawn(data, 2)
    assert (a == b) is ((a - b).is_empty() and (b - a).is_empty())
    rebuilt = (a & b) | (a - b)
    assert hash(rebuilt) == hash(a)


@given(st.data())
def test_text_means_the_range_and_keeps_its_spelling(data: st.DataObject) -> None:
    """Parsing the texts of a range gives the range again, and the same texts."""
    (a,) = drawn(data, 1)
    if not a.is_everything():
        again = FirmwareRange.parse(a.texts(), a.scheme)
        assert again == a
        assert again.texts() == a.texts()


@given(st.data())
def test_each_comparison_means_what_it_says(data: st.DataObject) -> None:
    """The five comparisons at one version are told apart by the version and its neighbours."""
    scheme = data.draw(schemes)
    version = data.draw(strategies.versions(scheme))
    held = {
        sign: FirmwareRange.parse(f"{sign}{version}", scheme)
        for sign in (">=", "<=", ">", "<", "==")
    }
    assert ~held["<"] == held[">="]
    assert ~held["<="] == held[">"]
    assert held[">="] & held["<="] == held["=="] == FirmwareRange.exactly(version)
    assert held["=="].single() == version


@given(st.data())
def test_a_next_version_is_next(data: st.DataObject) -> None:
    """Nothing lies between a version and the one that follows, and going back gives it again."""
    scheme = data.draw(schemes)
    key = data.draw(strategies.single_versions(scheme)).key
    after = following_key(key, scheme)
    assert key < after
    assert preceding_key(after, scheme) == key
    other = data.draw(strategies.single_versions(scheme)).key
    assert not key < other < after


@given(st.data())
def test_an_empty_range_holds_no_version_and_another_holds_its_oldest(
    data: st.DataObject,
) -> None:
    """A range that is not empty holds its oldest point; an empty one holds none."""
    a, b = drawn(data, 2)
    for held in (a, a & b, a - b):
        if held.is_empty():
            assert data.draw(strategies.single_versions(a.scheme)) not in held
        else:
            assert held.holds(held.oldest)
            assert held.around(held.oldest).spans == held.spans[:1]


@given(st.data())
def test_the_span_around_a_version_is_the_longest_that_agrees_with_it(
    data: st.DataObject,
) -> None:
    """Around a version inside lies part of the range, around one outside part of the rest."""
    (a,) = drawn(data, 1)
    version = data.draw(strategies.single_versions(a.scheme))
    around = a.around(version.key)
    assert version in around
    side = a if version in a else ~a
    assert (around - side).is_empty()
    assert len(around.spans) == 1
    assert around.spans[0] in side.spans


@given(st.data())
def test_older_newer_and_below_agree_with_the_algebra(data: st.DataObject) -> None:
    """Where a version lies to the spans of a range follows from the parts before and after it."""
    (a,) = drawn(data, 1)
    version = data.draw(strategies.single_versions(a.scheme))
    before = FirmwareRange.parse(f"<{version}", a.scheme)
    after = FirmwareRange.parse(f">{version}", a.scheme)
    if version not in a:
        assert a.lies_before(version.key) is not (a & before).is_empty()
        assert a.lies_after(version.key) is not (a & after).is_empty()
    cut = following_key(version.key, a.scheme)
    assert a.holds_below(cut) is (version in a)


def model_key(text: str) -> list[tuple[int, str]]:
    """The order of dotted versions by docs/concepts.md, worked out from the spelling alone."""
    parts = [re.fullmatch(r"(\d+)([a-z]?)", part) for part in text.split(".")]
    held = [(int(part[1]), part[2]) for part in parts if part]
    return held + [(0, "")] * (4 - len(held))


@given(strategies.dotted_texts(), strategies.dotted_texts())
def test_dotted_order(one: str, other: str) -> None:
    """A missing part is 0; parts are compared in turn, each by its number and then its letter."""
    a, b = (parse_version(text, Scheme.DOTTED) for text in (one, other))
    mine, theirs = model_key(one), model_key(other)
    assert (a == b) is (mine == theirs)
    assert is_older(a, b) is (mine < theirs)
    assert (b in FirmwareRange.parse(f">{one}", Scheme.DOTTED)) is (theirs > mine)
    assert (b in FirmwareRange.parse(f"<={one}", Scheme.DOTTED)) is (theirs <= mine)


def days_of(text: str) -> list[tuple[int, int, int, int]]:
    """The first and the last thing that a text of the scheme date may name, by the calendar."""
    year, month = int(text[:4]), int(text[5:7])
    if len(text) == 7:
        return [(year, month, 1, 0), (year, month, monthrange(year, month)[1], 26)]
    return [
        (year, month, int(text[8:10]), " abcdefghijklmnopqrstuvwxyz".index(text[10:] or " "))
    ] * 2


@given(strategies.version_texts(Scheme.DATE), strategies.version_texts(Scheme.DATE))
def test_date_order(one: str, other: str) -> None:
    """A month is all its days, a letter comes behind its day; the calendar is Python's own."""
    a, b = (parse_version(text, Scheme.DATE) for text in (one, other))
    (first, last), (other_first, other_last) = days_of(one), days_of(other)
    held = {
        sign: b in FirmwareRange.parse(f"{sign}{one}", Scheme.DATE)
        for sign in ("<", "<=", "==", ">=", ">")
    }
    assert held == {
        "<": other_last < first,
        "<=": other_last <= last,
        "==": first <= other_first and other_last <= last,
        ">=": other_first >= first,
        ">": other_first > last,
    }
    assert is_older(a, b) is (last < other_first)


@given(st.data())
def test_a_month_lies_in_a_range_with_all_its_days(data: st.DataObject) -> None:
    """A month is in a range exactly when nothing of it is outside, and never half in."""
    held = data.draw(strategies.ranges(Scheme.DATE))
    month = data.draw(strategies.versions(Scheme.DATE).filter(lambda one: one.end is not None))
    days = FirmwareRange.exactly(month)
    assert (month in held) is (days - held).is_empty()
    assert not (month in held and month in ~held)
    assert str(days.single()) == str(month)
