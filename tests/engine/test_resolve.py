"""Which settings apply and how well that is known: every rule of section 5 of the design.

The cases are the tables in cases/resolve. "common practice, no source": no standard says how
handbooks and bench tests weigh against each other.
"""

import pytest

from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.profile import Citation, Place, Verdict
from make import Table, profile, read_cases, resolver

CASES = [pytest.param(held["profile"], case, id=id) for id, held, case in read_cases("resolve")]


def named(place: Place | None) -> str:
    """A place by the letter that its case gives it."""
    return place.note if place is not None else "absent"


def told(answer: Answer) -> str:
    """An answer as the cases write it."""
    if answer.candidates:
        where = " | ".join(map(named, answer.candidates))
    elif answer.place is None:
        where = f"absent {answer.side}"
    elif answer.open:
        where = f"{'+'.join(map(named, answer.sides))} without {'+'.join(answer.open)}"
    else:
        where = named(answer.place)
    where += f", tried {'+'.join(map(named, answer.tried))}" if answer.tried else ""
    beside = f", beside {told(answer.beside)}" if answer.beside else ""
    return f"{answer.trace.rule} {answer.standing} {where}{beside}"


@pytest.mark.parametrize(("table", "case"), CASES)
def test_answers(table: Table, case: Table) -> None:
    """At each firmware the setting has the listed rule, standing, place and side."""
    held = resolver(table)
    setting = held.profile.setting(case["setting"])
    found = {
        text: told(held.answer(setting, held.profile.version(text).key)) for text in case["answers"]
    }
    assert found == case["answers"]


STOPPING = next(held["profile"] for id, held, _ in read_cases("resolve") if "stopping" in id)


@pytest.mark.parametrize(
    ("at", "span", "sources"),
    [
        ("1.0", "<2.0", ["h1:23"]),
        ("2.1", ">=2.0, <=2.4.118", ["h1:23"]),
        ("2.9.201", "==2.9.201", ["b1"]),
        ("3.0", ">2.4.118, <4.0", ["h1:23", "h2:31"]),
        ("4.0", ">=4.0, <4.4", ["h2:31"]),
        ("5.0", ">=4.4", ["h2:31"]),
    ],
)
def test_an_answer_names_what_it_looked_at(at: str, span: str, sources: list[str]) -> None:
    """The span of coverage, the gap or the end that the firmware lies in, and the sources."""
    held = resolver(STOPPING)
    answer = held.at(held.profile.version(at))["s.moved"]
    assert answer.trace.firmware.text() == span
    assert list(map(str, answer.trace.citations)) == sources


def test_a_bench_answer_says_who_saw_what() -> None:
    """Every bench test at the very firmware is cited, those that disagree too."""
    table = next(held["profile"] for id, held, _ in read_cases("resolve") if "bench" in id)
    held = resolver(table)
    answer = held.at(held.profile.version("2.5"))["s.contradicts"]
    assert answer.trace.citations == (
        Citation("good", "", Verdict.WORKS),
        Citation("bad", "", Verdict.NO_EFFECT),
    )


def test_all_settings_are_answered_in_the_profiles_order() -> None:
    """The answer for a firmware has every setting of the profile, present or not."""
    held = resolver(STOPPING)
    answers = held.at(held.profile.version("4.0"))
    assert list(answers) == list(held.profile.settings)
    assert {answer.setting for answer in answers.values()} == set(answers)


def test_coverage_is_what_documents_and_makers_speak_for() -> None:
    """A bench test covers nothing; a sheet covers only what it is about."""
    table = next(held["profile"] for id, held, _ in read_cases("resolve") if "sources" in id)
    held = resolver(table)
    assert held.coverage.text() == (
        ">=2.0, <=2.9 or >=3.0, <=3.4 or ==3.7 or >=4.0, <=4.9 or >=6.0"
    )
    assert held.coverage_of("motor.other").text() == ">=2.0, <=2.9 or >=4.0, <=4.9"
    assert held.coverage_of("lights.bright").text() == (
        ">=2.0, <=2.9 or >=3.0, <=3.4 or >=4.0, <=4.9"
    )
    place = held.profile.setting("motor.limit").places[0]
    effective = held.effective(held.profile.setting("motor.limit"), place)
    assert effective.text() == ">=2.0, <=2.9"


def test_a_profile_without_sources_and_settings_has_no_answers() -> None:
    """An empty profile answers with nothing at all and fails nowhere."""
    held = Resolver(profile({}))
    assert held.coverage.is_empty()
    assert held.at(held.profile.version("1.0")) == {}


def test_every_standing_occurs() -> None:
    """The cases show every standing there is."""
    seen = {
        line.split()[1] for _, _, case in read_cases("resolve") for line in case["answers"].values()
    }
    seen = {word.rstrip(",") for word in seen}
    assert seen == {standing.value for standing in Standing}
