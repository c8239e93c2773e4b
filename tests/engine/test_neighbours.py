"""What a repeat has no neighbour for does not exist; flags tell places apart."""

from dataclasses import replace

import pytest

from cvlib.engine.known.compose import compose
from cvlib.engine.known.neighbours import inside_repeats, rule_is_inside, without_index
from cvlib.engine.lint.rules import lint_profile
from make import profile, rule

SOURCES = {"h1": ">=1.0"}
REPEATED = {
    f"lamp[{n}].mode": {"at": str(20 + n), "when": {f"lamp[{n - 1}].mode": [1]}} for n in (2, 3, 4)
}


def test_without_index() -> None:
    """Every index of a name gives way to ``[n]``."""
    assert without_index("lamp[3].key[12]") == "lamp[n].key[n]"
    assert without_index("lamp[-1].level") == "lamp[n].level"
    assert without_index("speed.table") == "speed.table"


def test_a_place_without_its_neighbour_is_not_there() -> None:
    """The first of a repeat has none before it; those that follow keep their condition."""
    made = profile({"sources": SOURCES, "settings": {"lamp[1].mode": {"at": "21"}, **REPEATED}})
    assert list(inside_repeats(made.settings)) == [f"lamp[{n}].mode" for n in (1, 2, 3, 4)]
    assert inside_repeats(made.settings) == made.settings


def test_what_is_gone_takes_along_what_asks_for_it() -> None:
    """Lamp 2 asks for lamp 1, which is not there, so it goes; then lamp 3 goes, and lamp 4."""
    made = profile({"sources": SOURCES, "settings": REPEATED})
    assert inside_repeats(made.settings) == {}


def test_other_places_of_the_setting_stay() -> None:
    """Only the place that asks for the missing neighbour is left out."""
    settings = {"lamp[1].mode": [{"at": "9"}, {"at": "8", "when": {"lamp[0].mode": [1]}}]}
    kept = inside_repeats(profile({"settings": settings}).settings)
    assert [place.fields[0].slot.cv for place in kept["lamp[1].mode"].places] == [9]


def test_a_setting_that_no_repeat_has_is_left_to_others_to_tell() -> None:
    """A name without index, or one that no index has, is not a matter of the ends of a repeat."""
    settings = {"speed.start": {"at": "2", "when": {"speed.other": [1], "horn[1].mode": [1]}}}
    made = profile({"settings": settings})
    assert inside_repeats(made.settings) == made.settings


@pytest.mark.parametrize(("other", "is_there"), [("lamp[1].mode", True), ("lamp[0].mode", False)])
def test_a_rule_without_its_neighbour_is_not_there(other: str, is_there: bool) -> None:
    """A rule at the end of a repeat is left out of the whole profile."""
    made = profile({"settings": {"lamp[1].mode": {"at": "21"}, "lamp[2].mode": {"at": "22"}}})
    held = rule({"id": "r[1]", "conflicts": [{"setting": "lamp[2].mode", "same-as": other}]})
    assert rule_is_inside(held, made.settings) is is_there
    whole = compose(replace(made, rules=(held,)), [])
    assert [one.id for one in whole.rules] == (["r[1]"] if is_there else [])


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ({"has": ["F1"]}, {"lacks": ["F1"]}, True),
        ({"has": ["F1", "F2"]}, {"lacks": ["F2"]}, True),
        ({"has": ["F1"]}, {"has": ["F1"]}, False),
        ({"has": ["F1"]}, {"lacks": ["F2"]}, False),
        ({"lacks": ["F1"]}, {"lacks": ["F1"]}, False),
    ],
)
def test_flags_tell_two_places_of_a_cv_apart(
    one: dict[str, list[str]], other: dict[str, list[str]], apart: bool
) -> None:
    """Two settings may share a CV when one needs a flag that the other must lack."""
    flags = {"at": "9", "kind": "flags", "names": {"0": "F1", "1": "F2"}}
    settings = {
        "keys.set": flags,
        "keys.time": {"at": "10", "when": {"keys.set": one}},
        "keys.level": {"at": "10", "when": {"keys.set": other}},
    }
    found = lint_profile(profile({"sources": SOURCES, "settings": settings}))
    assert ("claimed-twice" not in {rule.code for rule, _ in found}) is apart
