"""Firmware versions: spelling, meaning and neighbours under the three schemes."""

from calendar import monthrange

import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from cvlib.errors import InputError
from cvlib.model.versions import (
    EARLIEST,
    Key,
    Scheme,
    following_key,
    parse_version,
    preceding_key,
    spell_key,
)

DOTTED, NUMBER, DATE = Scheme.DOTTED, Scheme.NUMBER, Scheme.DATE
ADVICE = {
    DOTTED: "Write numbers joined by dots, each with at most one letter behind, such as 2.4.118 or "
    "3.5a.",
    NUMBER: "Write one whole number, such as 37.",
    DATE: "Write a date, such as 2025-07-27, or 2012-07 for a whole month.",
}


@pytest.mark.parametrize(
    ("scheme", "one", "other"),
    [
        (DOTTED, "3.5", "3.5.0"),
        (DOTTED, "3", "3.0.0"),
        (DOTTED, "0", "0.0"),
        (DOTTED, "v3.5", "3.5"),
        (DOTTED, "V3.5B", "3.5b"),
        (DOTTED, "03.05", "3.5"),
        (DOTTED, " 3.5 ", "3.5"),
        (DOTTED, "3.5a.0", "3.5a"),
        (DOTTED, "3A.05b", "3a.5b"),
        (NUMBER, "37", "v37"),
        (NUMBER, "007", "7"),
        (DATE, " 2012-07", "2012-07"),
        (DATE, "2012-07-04B", "2012-07-04b"),
    ],
)
def test_two_spellings_of_one_version(scheme: Scheme, one: str, other: str) -> None:
    """Versions are equal, and hash alike, when they name the same firmware."""
    a, b = parse_version(one, scheme), parse_version(other, scheme)
    assert a == b
    assert hash(a) == hash(b)


@pytest.mark.parametrize(
    ("scheme", "one", "other"),
    [
        (DOTTED, "3.10", "3.1"),
        (DOTTED, "3.5", "3.5a"),
        (DOTTED, "3.5.1", "3.5"),
        (DOTTED, "3.5.0a", "3.5a"),
        (DOTTED, "3a", "3.0a"),
        (DOTTED, "35", "3.5"),
        (NUMBER, "10", "1"),
        (DATE, "2012-07", "2012-07-01"),
        (DATE, "2012-07-01", "2012-07-01a"),
    ],
)
def test_two_versions(scheme: Scheme, one: str, other: str) -> None:
    """Versions that look alike are not equal when they name different firmware."""
    assert parse_version(one, scheme) != parse_version(other, scheme)


@pytest.mark.parametrize(
    ("scheme", "text", "shown"),
    [
        (DOTTED, " v2.4.118 ", "2.4.118"),
        (DOTTED, "3.5.0", "3.5.0"),
        (DOTTED, "3.5B", "3.5b"),
        (NUMBER, "v037", "037"),
        (DATE, "2012-07 ", "2012-07"),
    ],
)
def test_a_version_is_shown_as_it_was_written(scheme: Scheme, text: str, shown: str) -> None:
    """Zeros are kept; a leading v and spaces are not, and letters are small."""
    assert str(parse_version(text, scheme)) == shown


@pytest.mark.parametrize(
    ("scheme", "text"),
    [
        (DOTTED, ""),
        (DOTTED, "3."),
        (DOTTED, ".5"),
        (DOTTED, "3..5"),
        (DOTTED, "3.5ab"),
        (DOTTED, "3.a"),
        (DOTTED, "a3.5"),
        (DOTTED, "3.5-1"),
        (DOTTED, "-3"),
        (DOTTED, "3,5"),
        (DOTTED, "vv3"),
        (DOTTED, "1.2.3.4.5.6.7.8.9"),
        (DOTTED, "1234567890"),
        (DOTTED, "٣.٥"),
        (DOTTED, "latest"),
        (NUMBER, "3.0"),
        (NUMBER, "3a"),
        (NUMBER, "-1"),
        (NUMBER, "0x25"),
        (NUMBER, "1234567890"),
        (NUMBER, ""),
        (DATE, "2025"),
        (DATE, "2025-13"),
        (DATE, "2025-00"),
        (DATE, "2025-02-29"),
        (DATE, "2025-07-00"),
        (DATE, "2025-7-27"),
        (DATE, "27.07.2025"),
        (DATE, "0000-01"),
        (DATE, "2025-07a"),
        (DATE, "2025-07-27ab"),
    ],
)
def test_what_is_no_version_is_refused_in_one_line(scheme: Scheme, text: str) -> None:
    """The error quotes what was written, names the scheme and shows how versions look."""
    with pytest.raises(InputError) as raised:
        parse_version(text, scheme)
    expected = f'"{text}" is not a firmware version of the scheme "{scheme}". {ADVICE[scheme]}'
    assert str(raised.value) == expected


def test_a_long_or_broken_text_stays_on_one_line() -> None:
    """What is quoted is cut off after 40 characters, and a line break in it is not obeyed."""
    with pytest.raises(InputError) as raised:
        parse_version("9" * 50, NUMBER)
    assert str(raised.value).startswith('"' + "9" * 37 + '..." is not a firmware version')
    with pytest.raises(InputError) as raised:
        parse_version("3\n\x1b[31m5", DOTTED)
    assert str(raised.value).isprintable()


@pytest.mark.parametrize(
    ("scheme", "key", "after", "shown"),
    [
        (DOTTED, ((3, 0, 5), 0), ((3, 0, 5), 1), "3.5"),
        (DOTTED, ((3, 0, 5, 1), 0), ((3, 0, 5, 1), 1), "3.5a"),
        (DOTTED, ((3, 0, 5, 1, 1), 0), ((3, 0, 5, 1, 1), 1), "3.5a.1"),
        (DOTTED, ((3, 0, 0, 1), 0), ((3, 0, 0, 1), 1), "3.0a"),
        (DOTTED, ((3, 1), 0), ((3, 1), 1), "3a"),
        (DOTTED, ((3,), 0), ((3,), 1), "3.0"),
        (DOTTED, ((), 0), ((), 1), "0.0"),
        (NUMBER, (36,), (37,), "36"),
        (DATE, (2012, 7, 1, 0), (2012, 7, 1, 1), "2012-07-01"),
        (DATE, (2012, 7, 1, 2), (2012, 7, 1, 3), "2012-07-01b"),
        (DATE, (2012, 7, 1, 26), (2012, 7, 2, 0), "2012-07-01z"),
        (DATE, (2023, 12, 31, 26), (2024, 1, 1, 0), "2023-12-31z"),
        (DATE, (2024, 2, 28, 26), (2024, 2, 29, 0), "2024-02-28z"),
        (DATE, (2025, 2, 28, 26), (2025, 3, 1, 0), "2025-02-28z"),
        (DATE, (2025, 4, 30, 26), (2025, 5, 1, 0), "2025-04-30z"),
        (DATE, (9999, 12, 31, 26), (10000, 1, 1, 0), "9999-12-31z"),
    ],
)
def test_neighbours_and_spelling(scheme: Scheme, key: Key, after: Key, shown: str) -> None:
    """A key has a next one, that one has it before itself, and it is spelt in the usual way."""
    assert following_key(key, scheme) == after
    assert preceding_key(after, scheme) == key
    assert spell_key(key, scheme) == shown
    assert parse_version(shown, scheme).key == key


@pytest.mark.parametrize(
    ("scheme", "key"), [(DOTTED, ((3, 0, 5), 0)), (NUMBER, (0,)), (DATE, (1, 1, 1, 0))]
)
def test_nothing_stands_just_before(scheme: Scheme, key: Key) -> None:
    """Nothing is older than the first number and date, and between dotted numbers lie others."""
    assert preceding_key(key, scheme) is None


@pytest.mark.parametrize(
    ("scheme", "text", "figures"),
    [
        (DOTTED, "2.4.118", (2, 4, 118)),
        (DOTTED, "3.5a.1", (3, 5, 1)),
        (DOTTED, "3.0", (3,)),
        (NUMBER, "37", (37,)),
        (DATE, "2025-07-27a", (2025, 7, 27)),
        (DATE, "2025-07", (2025, 7)),
    ],
)
def test_the_numbers_of_a_version(scheme: Scheme, text: str, figures: tuple[int, ...]) -> None:
    """A decoder can answer numbers only: no letters, and no day where a month alone is known."""
    assert parse_version(text, scheme).figures == figures


def test_a_month_reaches_from_its_first_day_to_its_last() -> None:
    """By the calendar of the standard library, for every month of a leap year and the year after.

    The days of each month are those of ``calendar.monthrange``.
    """
    for year, month in ((year, month) for year in (2024, 2025) for month in range(1, 13)):
        held = parse_version(f"{year}-{month:02}", DATE)
        last = parse_version(f"{year}-{month:02}-{monthrange(year, month)[1]}z", DATE)
        assert held.key == parse_version(f"{year}-{month:02}-01", DATE).key
        assert held.after == last.after


@given(st.data())
def test_the_usual_spelling_means_the_version(data: st.DataObject) -> None:
    """A version spelt from its key is the same version, and none is before the earliest."""
    scheme = data.draw(strategies.schemes)
    version = data.draw(strategies.versions(scheme))
    again = parse_version(spell_key(version.key, scheme), scheme)
    assert again == version or (version.end and again.key == version.key)
    assert parse_version(str(version), scheme) == version
    assert version.key >= EARLIEST[scheme]
