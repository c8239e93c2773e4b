"""The second reading itself: the table of situations, and laws over generated cases."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from oracle import as_toml
from oracle.cases import case
from oracle.reading import ABSENT, CHOICES, Reading, answer
from oracle.table import ROWS, SITUATIONS

SEEDS = range(250)
STANDINGS = {
    *("documented", "bench", "between", "beyond", "before"),
    *("disputed", "faulty", "assumed", None),
}


def asked(seeds: Any = SEEDS) -> Iterator[tuple[str, dict[str, Any], str, int, dict[str, Any]]]:
    """Every setting of generated cases at every firmware, with its answer."""
    for seed in seeds:
        made = case(seed)
        reading = Reading(made)
        for setting in reading.places:
            for v in range(made["top"] + 1):
                where = f"seed {seed}, {setting} at {v}"
                yield where, made, setting, v, reading.answer(setting, v)


@pytest.mark.parametrize(
    ("made", "setting", "v", "expected"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS]
)
def test_row(made: dict[str, Any], setting: str, v: int, expected: dict[str, Any]) -> None:
    """Each row says what a person would answer with the page of the design in hand."""
    found = answer(made, setting, v)
    assert {name: found[name] for name in expected} == expected


def test_the_table_of_situations_rests_on_no_choice_but_few() -> None:
    """What the design spells out is not decided by a choice of this reading's own."""
    leaning = {row[0]: answer(*row[1:4])["leans"] for row in SITUATIONS}
    assert {name: set(leans) - {29} for name, leans in leaning.items() if set(leans) - {29}} == {
        "a followed standard has CV 65, no document names it": {7}
    }


def spoken(made: dict[str, Any], setting: str, v: int) -> bool:
    """Whether anything that can make a setting certain speaks of it at v, looked up crudely."""
    reading = Reading(made)
    cited = {doc for place in reading.places[setting] for doc in place["docs"]}
    for source in made["sources"]:
        if v not in source["firmware"]:
            continue
        family, heard = source, [source]
        while "reissues" in family:
            family = reading.sources[family["reissues"]]
            heard.append(family)
        if any(
            one["id"] in cited or one.get("extent") == "whole" or "without" in one for one in heard
        ):
            return True
        if source["kind"] == "bench" and any(
            source["id"] == bench for p in reading.places[setting] for bench, _ in p["tests"]
        ):
            return True
    return any(
        place["standard"] and place.get("requirement") == "mandatory"
        for place in reading.places[setting]
    )


def test_nothing_is_certain_that_nobody_read() -> None:
    """documented and bench stand only where a page, a whole document, a must or a test speaks.

    between needs that on both sides.
    """
    for where, made, setting, v, found in asked():
        if found["standing"] in ("documented", "bench"):
            assert spoken(made, setting, v), where
        if found["standing"] == "between":
            assert any(spoken(made, setting, w) for w in range(v)), where
            assert any(spoken(made, setting, w) for w in range(v + 1, made["top"] + 1)), where


def test_answers_keep_their_shape() -> None:
    """One standing, one candidate where it is sure, none only where the place is not known."""
    for where, made, _, _, found in asked():
        assert found["standing"] in STANDINGS, where
        assert found["place_not_known"] == (not found["candidates"]), where
        if not found["candidates"]:
            assert found["standing"] == "disputed", where
            assert found["struck"] or found["lost"], where
        if found["standing"] == "bench":
            assert len(found["candidates"]) == 1, where
            assert ABSENT not in found["candidates"], where
        if found["standing"] in ("documented", "between", "beyond", "before") and (
            ABSENT in found["candidates"]
        ):
            assert found["candidates"] == (ABSENT,), where
        assert (found["side"] is not None) == (found["candidates"] == (ABSENT,)), where
        if found["by_standard"]:
            assert found["standing"] == "documented", where
            assert made["standard"], where


def test_without_tests_the_handbook_s_answer_is_the_answer() -> None:
    """Tests taken out, each answer is what stood beside the bench as the handbook's."""
    for where, made, setting, v, found in asked():
        if found["handbook"] is not None:
            bare = Reading({**made, **_untested(made)}).answer(setting, v)
            assert found["handbook"] == (bare["standing"], bare["candidates"]), where


def _untested(made: dict[str, Any]) -> dict[str, Any]:
    """The case with every test set to a firmware that nobody asks about."""
    return {
        "sources": [
            {**source, "firmware": {-1}} if source["kind"] == "bench" else source
            for source in made["sources"]
        ]
    }


def test_order_of_sources_and_settings_says_nothing() -> None:
    """A profile written in another order says the same."""
    for where, made, setting, v, found in asked(range(60)):
        turned = {
            **made,
            "sources": made["sources"][::-1],
            "settings": [{**one, "places": one["places"][::-1]} for one in made["settings"][::-1]],
        }
        assert answer(turned, setting, v) == found, where


def test_cases_reach_every_clause() -> None:
    """Each standing, each special word and each choice is met by some seed."""
    met: Counter[Any] = Counter()
    for _, _, _, _, found in asked(range(400)):
        met.update({("standing", found["standing"]), ("side", found["side"])})
        met.update(("choice", number) for number in found["leans"])
        met.update(
            name
            for name in ("not_known", "tried", "struck", "lost", "unreliable", "by_standard")
            if found[name]
        )
        met["place_not_known"] += found["place_not_known"]
    wanted = {("standing", one) for one in STANDINGS}
    wanted |= {("side", one) for one in ("older", "newer", "both", "neither")}
    wanted |= {("choice", number) for number in LEANING}
    assert not {one for one in wanted if met[one] < 5}
    for name in ("not_known", "tried", "struck", "lost", "unreliable", "by_standard"):
        assert met[name] >= 5, name
    assert met["place_not_known"] >= 5


UNTOLD = {5, 32, 33, 34}
"""Choices that no generated case turns on: a test cited on a whole setting, a group left
out, a sheet named by the decoder, a place of tests alone."""
LEANING = set(CHOICES) - UNTOLD
"""Numbers of the choices that answers tell of themselves."""


def test_choices_are_numbered_without_a_gap() -> None:
    """Every number that an answer names is in the list."""
    assert list(CHOICES) == list(range(1, len(CHOICES) + 1))
    told = {number for _, _, _, _, found in asked() for number in found["leans"]}
    assert told <= LEANING


def test_a_case_is_the_same_each_time() -> None:
    """A seed names a case."""
    for seed in range(20):
        assert case(seed) == case(seed)


def test_profiles_are_toml_and_say_what_the_case_says() -> None:
    """The text has every source, setting and place of the case."""
    for seed in SEEDS:
        made = case(seed)
        held = tomllib.loads(as_toml.profile(made))
        assert held["format"] == 2
        assert [one["id"] for one in held.get("source", [])] == [
            one["id"] for one in made["sources"]
        ]
        assert [len(one["place"]) for one in held["setting"]] == [
            len(one["places"]) for one in made["settings"]
        ]
        assert bool(as_toml.standard(made)) == bool(made["standard"])
        assert {str(one) for one in _firmware(held)} == {
            text for source in made["sources"] for text in as_toml.ranges(source["firmware"])
        }


def _firmware(held: dict[str, Any]) -> Iterator[str]:
    for source in held.get("source", []):
        firmware = source["firmware"]
        yield from [firmware] if isinstance(firmware, str) else firmware
