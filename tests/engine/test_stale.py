"""What is stale in a profile: releases, tests and questions."""

from dataclasses import replace
from datetime import date
from typing import Any

import make
from cvlib.engine.change.stale import Contradicted, contradicted, open_questions, uncovered
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Question

BENCH = {"b1": {"kind": "bench", "in": "==1.5"}, "b2": {"kind": "bench", "in": "==1.5"}}
BENCH_IN_GAP = {"b1": {"kind": "bench", "in": "==2.0"}, "b2": {"kind": "bench", "in": "==2.0"}}


def resolver(places: list[dict[str, Any]], **more: Any) -> Resolver:
    """A profile with one setting and two handbooks."""
    sources = {"h1": ">=1.0, <=1.9", "h2": ">=3.0, <=3.9"} | more.pop("sources", {})
    return make.resolver({"sources": sources, "settings": {"a.one": places}} | more)


def found(places: list[dict[str, Any]], sources: dict[str, Any]) -> list[Contradicted]:
    """The tests that contradict."""
    return list(contradicted(resolver(places, sources=sources)))


def test_releases_are_told_with_how_much_is_documented() -> None:
    """Covered ones are left out; a supplement covers its own settings only."""
    held = make.resolver(
        {
            "sources": {
                "h1": ">=1.0, <=1.9",
                "h2": ">=3.0, <=3.9",
                "s": {"in": "==2.0", "about": ["b"]},
            },
            "settings": {
                "a.one": [{"at": "10", "in": "<=1.9"}, {"at": "11", "in": ">=3.0"}],
                "b.one": {"at": "12"},
                "area.x": {"at": "13", "kind": "area"},
            },
            "releases": ["0.9", "1.5", "2.0", "3.5", "4.0"],
        }
    )
    told = [
        (str(one.release.version), one.known.value, one.documented, one.settings, one.disputed)
        for one in uncovered(held)
    ]
    assert told == [
        ("0.9", "before", 0, 2, 0),
        ("2.0", "gap", 1, 2, 1),
        ("4.0", "beyond", 0, 2, 0),
    ]
    assert [one.severity for one in uncovered(held)] == [
        Severity.NOTE, Severity.WARNING, Severity.WARNING
    ]  # fmt: skip


def test_a_test_without_effect_contradicts_the_document_of_its_firmware() -> None:
    """The document is named, by its title."""
    (one,) = found([{"at": "10", "cites": ["h1:4", "b1 no-effect"]}], BENCH)
    assert one.sources == ("Title of h1",)
    assert one.severity is Severity.WARNING


def test_a_test_that_works_elsewhere_contradicts_it_too() -> None:
    """The document has another place for the firmware that was tested."""
    places = [{"at": "10", "in": "<=1.9"}, {"at": "11", "in": ">=3.0", "cites": ["b1 works"]}]
    (one,) = found(places, BENCH)
    assert one.sources == ("Title of h1",)


def test_a_test_that_agrees_contradicts_nobody() -> None:
    """The documented place works."""
    assert found([{"at": "10", "cites": ["b1 works"]}], BENCH) == []


def test_where_no_document_speaks_only_the_guess_is_contradicted() -> None:
    """Both sides of the gap have the place; the test found no effect. A note."""
    (one,) = found([{"at": "10", "cites": ["b1 no-effect"]}], BENCH_IN_GAP)
    assert one.sources == ()
    assert one.severity is Severity.NOTE


def test_where_it_was_disputed_a_test_contradicts_nobody() -> None:
    """Nothing was sure before, and the test decides."""
    places = [{"at": "10", "in": "<=1.9"}, {"at": "11", "in": ">=3.0", "cites": ["b1 works"]}]
    assert found(places, BENCH_IN_GAP) == []


def test_two_tests_that_contradict_each_other_are_both_held_against_the_document() -> None:
    """The one that disagrees is told."""
    (one,) = found([{"at": "10", "cites": ["b1 works", "b2 no-effect"]}], BENCH)
    assert one.test.id == "b2"


def test_questions_are_sorted_by_age() -> None:
    """The oldest first, those without date last; more than a year is a warning."""
    asked = tuple(
        Question(id, "What?", "Look.", day)
        for id, day in (("new", "2026-01-01"), ("none", ""), ("old", "2020-02-29"))
    )
    profile = replace(resolver([{"at": "10"}]).profile, questions=asked)
    told = open_questions([profile], date(2026, 3, 1))
    assert [(one.question.id, one.days) for one in told] == [
        ("old", 2192), ("new", 59), ("none", None)
    ]  # fmt: skip
    assert [one.severity for one in told] == [Severity.WARNING, Severity.NOTE, Severity.NOTE]
