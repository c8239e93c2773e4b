"""Findings become sentences in one place, the same for every output."""

from typing import Any

import pytest

from cvlib.findings.catalogue import CATALOGUE, Severity, row
from cvlib.findings.finding import Bits, Finding, Told
from cvlib.render.phrases import cvs_text, firmware_words, in_firmware, listed
from cvlib.render.words import finding_words, folded_words
from make import read_cases

CASES = list(read_cases("words"))


def told(held: Any, names: list[str]) -> tuple[Told, ...]:
    """The facts that a case calls by name."""
    return tuple(Told(**held["told"][name]) for name in names)


def finding(held: Any, case: Any) -> Finding:
    """The finding of a case."""
    severity = case.get("severity") or row(case["code"]).severity or Severity.ERROR
    return Finding(
        case["code"],
        Severity(severity),
        bits=tuple(
            Bits(cv, "".join(page), mask, value) for cv, mask, value, *page in case.get("bits", [])
        ),
        was=told(held, case.get("was", [])),
        now=told(held, case.get("now", [])),
        lives_at=told(held, case.get("lives-at", [])),
        after_update=told(held, case.get("after-update", [])),
        decided_by=told(held, case.get("decided-by", [])),
        carried=told(held, case.get("carried", [])),
        offered=told(held, case.get("offered", [])),
        standing=case.get("standing", ""),
        text=case.get("text", ""),
        advice=case.get("repair", ""),
        name=case.get("id", ""),
    )


@pytest.mark.parametrize(
    ("held", "case"), [one[1:] for one in CASES], ids=[one[0] for one in CASES]
)
def test_a_finding_is_said_in_these_words(held: Any, case: Any) -> None:
    """Subject, message and advice of each case are exactly those of the table."""
    words = finding_words(finding(held, case), "firmware 4.0.5")
    assert words.subject == case["subject"]
    assert words.message == case["message"]
    assert words.advice == case["advice"]


def test_every_code_has_its_words() -> None:
    """The table of cases has each code of the catalogue."""
    assert {case["code"] for _, _, case in CASES} == {entry.code for entry in CATALOGUE}


@pytest.mark.parametrize(("held", "case"), [one[1:] for one in CASES])
def test_words_are_whole_sentences_on_one_line(held: Any, case: Any) -> None:
    """A message starts with a capital, ends with a stop and has no line end; so has an advice."""
    words = finding_words(finding(held, case), "firmware 4.0.5", fully=True)
    for text in filter(None, (words.message, words.advice)):
        assert text[0].isupper()
        assert text.endswith((".", "…"))
        assert "\n" not in text
        assert "  " not in text


@pytest.mark.parametrize("code", ["unset", "beyond", "before", "changed"])
def test_many_findings_are_one_with_the_first_few_named(code: str) -> None:
    """Three settings are named, each with its place or all CVs after them; the rest is counted."""
    many = [
        Finding(
            code,
            Severity.NOTE,
            now=(Told(f"a.{n}", f"Setting {n}", f"CV {n}", "1"),),
            was=(Told(f"a.{n}", f"Setting {n}", f"CV {n}", "2"),),
        )
        for n in range(1, 8)
    ]
    words = folded_words(many, "firmware 4.0.5")
    assert words.subject.startswith("7 ")
    named = "Setting 1 (CV 1), Setting 2 (CV 2), Setting 3 (CV 3) and 4 more."
    plainly = "Setting 1, Setting 2, Setting 3 and 4 more. CVs 1-7."
    assert (named if code == "changed" else plainly) in words.message
    assert words.message[0].isupper()


def test_a_long_list_of_choices_is_cut_unless_all_is_asked_for() -> None:
    """Cut between two choices and marked so; in full where everything is wanted."""
    choices = ", ".join(f"{n} (choice number {n})" for n in range(40))
    now = (Told("a.b", "Mode", "CV 5", "99", f"choice {choices}"),)
    held = Finding("undefined-choice", Severity.ERROR, bits=(Bits(5, "", 255, 99),), now=now)
    assert finding_words(held, "firmware 1").advice.endswith(") ….")
    assert choices in finding_words(held, "firmware 1", fully=True).advice


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("==2.4.118", "2.4.118"),
        (">=2.0, <=2.4.118", "2.0 to 2.4.118"),
        (">=2.0, <4.0", "2.0 to before 4.0"),
        (">2.4.118, <4.0", "after 2.4.118 and before 4.0"),
        (">2.4.118, <=4.0", "after 2.4.118 to 4.0"),
        (">=4.0", "4.0 and newer"),
        (">4.0", "newer than 4.0"),
        ("<=4.0", "4.0 and older"),
        ("<4.0", "older than 4.0"),
        ("==1.0 or >=2.0, <=3.0", "1.0 or 2.0 to 3.0"),
        ("every firmware", "every firmware"),
        ("3.5a", "3.5a"),
    ],
)
def test_a_range_is_said_as_people_say_it(text: str, words: str) -> None:
    """Signs become words; a plain version stays."""
    assert firmware_words(text) == words


def test_every_firmware_needs_no_word_before_it() -> None:
    """ "in every firmware", but "in firmware 2.0"."""
    assert in_firmware("every firmware") == "in every firmware"
    assert in_firmware("2.0") == "in firmware 2.0"


@pytest.mark.parametrize(
    ("items", "most", "last", "text"),
    [
        ([], None, "and", ""),
        (["a"], None, "and", "a"),
        (["a", "b"], None, "or", "a or b"),
        (["a", "b", "c"], 3, "or", "a, b or c"),
        (["a", "b", "c"], 1, "or", "a and 2 more"),
    ],
)
def test_things_are_listed(items: list[str], most: int | None, last: str, text: str) -> None:
    """Commas, one joining word, and a count of what is left out."""
    assert listed(items, most, last) == text


def test_the_same_cv_on_two_pages_stays_two() -> None:
    """Many CVs are counted page by page."""
    bits = [Bits(cv, page, 255, 0) for page in ("0/1", "0/2") for cv in (257, 258)]
    assert cvs_text(bits) == "CVs 257-258 on page 0/1, CVs 257-258 on page 0/2"
