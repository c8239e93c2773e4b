"""A month given for a firmware: one answer where all its days agree, else none."""

import pytest

from cvlib.engine.account.check import Saved
from cvlib.engine.account.decide import Decided, Undecided, check_stated
from cvlib.engine.known.months import one_firmware, parts_of
from cvlib.errors import UndecidedError
from make import Table, resolver, saved

TABLE: Table = {
    "scheme": "date",
    "sources": {"h1": ">=2018-01, <=2019-03", "h2": ">=2019-05-10, <=2019-12"},
    "releases": ["2018-06-01", "2019-05-10"],
    "settings": {
        "s.moved": [{"in": "<=2019-03", "at": "141"}, {"in": ">=2019-05-10", "at": "144"}],
        "s.kept": {"at": "2"},
    },
}


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2018-02", ["==2018-02"]),
        ("2019-03", ["==2019-03"]),
        ("2019-04", ["==2019-04"]),
        ("2019-05", [">=2019-05, <2019-05-10", ">=2019-05-10, <=2019-05"]),
        ("2019-05-09", ["==2019-05-09"]),
        ("2019-05-10a", ["==2019-05-10a"]),
        ("2019-12", ["==2019-12"]),
        ("2020-01", ["==2020-01"]),
    ],
)
def test_a_month_is_cut_where_its_days_differ(text: str, parts: list[str]) -> None:
    """A month in which a handbook begins has two answers; one that a handbook ends with, one."""
    held = resolver(TABLE)
    assert [part.text() for part in parts_of(held, held.profile.version(text))] == parts
    if len(parts) == 1:
        assert str(one_firmware(held, text)) == text
        return
    with pytest.raises(UndecidedError) as raised:
        one_firmware(held, text)
    assert parts[0] in str(raised.value)
    assert str(raised.value).isprintable()


def test_a_border_that_changes_nothing_cuts_no_month() -> None:
    """Two handbooks that say the same meet in a month: its days still have one answer."""
    table = {
        **TABLE,
        "sources": {"h1": ">=2018-01, <=2019-04-10", "h2": ">2019-04-10, <=2019-12"},
        "settings": {
            "s.same": [{"in": "<=2019-04-10", "at": "2"}, {"in": ">2019-04-10", "at": "2"}],
        },
    }
    assert str(one_firmware(resolver(table), "2019-04")) == "2019-04"


def test_an_advisory_cuts_a_month() -> None:
    """What is known to misbehave from a day on is not said of the days before it."""
    table = {
        **TABLE,
        "advisories": [{"id": "a", "in": ">=2018-02-14", "text": "It hums.", "do": "Update."}],
    }
    held = resolver(table)
    found = parts_of(held, held.profile.version("2018-02"))
    assert [part.text() for part in found] == [
        ">=2018-02, <2018-02-14",
        ">=2018-02-14, <=2018-02",
    ]


def checked_at(text: str, values: dict[str, int]) -> Decided | Undecided:
    """The check of values at a firmware that somebody named."""
    held = resolver(TABLE)
    known: Saved = saved(held.profile, values, "")
    return check_stated(held, held.profile.version(text), known)


def test_a_check_at_a_month_is_decided_where_its_days_find_the_same() -> None:
    """CV 141 has another meaning within May; CV 2 has the same all through."""
    found = checked_at("2019-05", {"141": 9})
    assert isinstance(found, Undecided)
    assert [(stretch.firmware.text(), str(one.firmware)) for stretch, one in found.possible] == [
        (">=2019-05, <2019-05-10", "2019-05-01"),
        (">=2019-05-10, <=2019-05", "2019-05-10"),
    ]
    april = checked_at("2019-04", {"141": 9})
    assert isinstance(april, Decided)
    assert str(april.checked.firmware) == "2019-04"
