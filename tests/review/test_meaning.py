"""The meaning of a saved value: what changes it, and what leaves it alone."""

from typing import Any

import pytest
from hypothesis import given

import make
from cvlib.engine.account.check import check
from cvlib.engine.account.meaning import ValueMeaning, meanings
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import parse_slot
from strategies import Case, cases

SOURCES = {"h1": ">=1.0, <=1.9", "h2": ">=3.0, <=3.9"}
NUMBER = {"at": "10", "range": [0, 100], "unit": "cm"}
CHOICE = {"at": "11", "kind": "choice", "names": {"0": "off", "1": "servo"}}


def meaning(
    settings: dict[str, Any], values: dict[str, int], slot: str, firmware: str = "3.0", **more: Any
) -> ValueMeaning:
    """What one of some saved values means by a profile with these settings."""
    profile = make.profile({"sources": SOURCES, "settings": settings} | more)
    done = check(Resolver(profile), profile.version(firmware), make.saved(profile, values))
    return meanings(done)[parse_slot(slot)]


# Each row: the place before and after, the value, and whether it means something else now.
CHANGES: list[tuple[str, dict[str, Any], dict[str, Any], int, bool]] = [
    ("another range around the value", NUMBER, NUMBER | {"range": [0, 200]}, 40, False),
    ("a range that leaves the value out", NUMBER, NUMBER | {"range": [0, 30]}, 40, True),
    ("a default", NUMBER, NUMBER | {"default": 7}, 40, False),
    ("another scale", NUMBER, NUMBER | {"scale": 2}, 40, True),
    ("another scale and a value of zero", NUMBER, NUMBER | {"scale": 2}, 0, False),
    ("another unit", NUMBER, NUMBER | {"unit": "mm"}, 40, True),
    ("what it is measured against", NUMBER, NUMBER | {"refers-to": "at the rails"}, 40, True),
    ("a name for the value", NUMBER, NUMBER | {"names": {"40": "half"}}, 40, True),
    ("a name for another value", NUMBER, NUMBER | {"names": {"0": "off"}}, 40, False),
    ("another choice more", CHOICE, CHOICE | {"names": CHOICE["names"] | {"2": "coil"}}, 1, False),
    ("two choices swapped", CHOICE, CHOICE | {"names": {"1": "off", "0": "servo"}}, 1, True),
    ("a source", NUMBER, NUMBER | {"cites": ["h2:9"]}, 40, False),
    ("the end of the place", NUMBER, NUMBER | {"in": "<=1.9"}, 40, True),
    ("other bits", NUMBER, NUMBER | {"at": "10:0-3", "range": [0, 15]}, 40, True),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "before", "after", "value", "differs"), CHANGES, ids=[row[0] for row in CHANGES]
)
def test_a_meaning_changes_with_what_the_value_comes_to(
    what: str, before: dict[str, Any], after: dict[str, Any], value: int, differs: bool
) -> None:
    """Legal values, defaults and sources are no part of it; figure, unit and name are."""
    slot = before["at"]
    old, new = (meaning({"a.one": held}, {slot: value}, slot) for held in (before, after))
    assert (old.digest != new.digest) is differs


def test_another_setting_is_another_meaning() -> None:
    """The id tells settings apart, not the title."""
    old = meaning({"a.one": NUMBER}, {"10": 40}, "10")
    new = meaning({"a.two": NUMBER}, {"10": 40}, "10")
    assert old.digest != new.digest
    assert (old.words, new.words) == ("a.one: 40 cm", "a.two: 40 cm")


def test_how_well_a_place_is_known_is_no_meaning() -> None:
    """Documented, between or beyond: it is the same setting with the same value."""
    found = {meaning({"a.one": NUMBER}, {"10": 40}, "10", at).digest for at in ("3.0", "2.0", "9")}
    assert len(found) == 1


def test_a_place_that_a_test_found_without_effect_means_something_else() -> None:
    """The value does nothing there."""
    tested = NUMBER | {"cites": ["b1 no-effect"]}
    sources = SOURCES | {"b1": {"kind": "bench", "in": "==3.0"}}
    held = meaning({"a.one": tested}, {"10": 40}, "10", sources=sources)
    assert held.words == "a.one: 40 cm (no effect)"
    assert held.digest != meaning({"a.one": NUMBER}, {"10": 40}, "10").digest


def test_each_cv_of_a_curve_stands_for_itself() -> None:
    """Its number in the curve and its own value, whatever the others hold."""
    curve = {"a.curve": {"at": "10, 11, 12", "kind": "curve"}}
    one = meaning(curve, {"10": 1, "11": 2, "12": 3}, "11")
    other = meaning(curve, {"10": 9, "11": 2, "12": 9}, "11")
    assert one.words == "a.curve: 2, number 2 of 3"
    assert one.digest == other.digest


def test_a_number_in_two_cvs_is_one_value() -> None:
    """Both CVs tell the whole figure; alone, one tells what it holds."""
    pair = {"a.one": {"at": "10, 11", "unit": "cm"}}
    assert meaning(pair, {"10": 1, "11": 4}, "11").words == "a.one: 260 cm"
    assert meaning(pair, {"11": 4}, "11").words == "a.one: 4, one of 2 CVs"


def test_bits_without_an_owner_are_told_where_something_is_wrong() -> None:
    """A CV of older firmware, an unknown one, and one that is fine."""
    older = {"a.one": NUMBER | {"in": "<=1.9"}}
    assert meaning(older, {"10": 40}, "10").words == "nothing here (older-only: a.one)"
    assert meaning({"a.one": NUMBER}, {"99": 1}, "99").words == "nothing here (unknown)"


@given(cases())
def test_every_saved_value_has_one_meaning(case: Case) -> None:
    """Law: one for each saved CV, with words on one line, the same each time."""
    resolver = Resolver(case.profile)
    found, again = (meanings(check(resolver, case.installed, case.saved)) for _ in range(2))
    assert found == again
    assert found.keys() == case.saved.values.keys()
    assert all(held.words.isprintable() and held.words for held in found.values())
    assert {slot: held.value for slot, held in found.items()} == dict(case.saved.values)
