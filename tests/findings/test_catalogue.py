"""Row, page and index of a finding code are one thing."""

import re
from pathlib import Path

import pytest

from cvlib.findings.catalogue import CATALOGUE, CatalogueRow, Severity, row

PAGES = Path(__file__).resolve().parents[2] / "docs" / "findings"
SECTIONS = [
    "What it means",
    "Why it matters",
    "Example",
    "What to do",
    "When it is not a fault",
]
# Issued codes keep their meaning and their severity for ever; a change here breaks its users.
SEVERITIES = {
    "older-only": "error",
    "newer-only": "error",
    "reused": "error",
    "recoded": "error",
    "out-of-range": "error",
    "undefined-choice": "error",
    "reserved-bits": "warning",
    "rule": None,
    "trap": "warning",
    "advisory": "warning",
    "disputed": "warning",
    "beyond": "warning",
    "before": "warning",
    "faulty": "warning",
    "unknown": "warning",
    "undecided": "warning",
    "undated": "warning",
    "read-only": "note",
    "unset": "note",
    "asleep": "note",
    "changed": "note",
}
every_row = pytest.mark.parametrize("entry", CATALOGUE, ids=lambda entry: entry.code)


def page(code: str) -> str:
    """The text of the page of a code."""
    return (PAGES / f"{code}.md").read_text(encoding="utf-8")


def section(text: str, heading: str) -> str:
    """What stands under a heading of a page, up to the next heading."""
    return text.partition(f"\n## {heading}\n")[2].partition("\n## ")[0].strip()


def severity_words(entry: CatalogueRow) -> list[str]:
    """The severities that a page or the index must name for a row, in order."""
    if entry.severity is None:
        return ["as the rule says"]
    named = (entry.severity, entry.raised, entry.milder)
    return [severity.value for severity in named if severity]


def test_the_catalogue_holds_the_issued_codes_with_their_severities() -> None:
    """Each issued code is there once, in order, with the severity it was issued with."""
    assert [(entry.code, entry.severity) for entry in CATALOGUE] == list(SEVERITIES.items())


def test_the_codes_with_a_graver_or_a_milder_case() -> None:
    """A read-only value that differs from the identity is an error, an unset one that may do harm
    a warning; where leaving the value as it is does no harm, it is a note.
    """
    milder = {entry.code for entry in CATALOGUE if entry.milder is Severity.NOTE}
    assert milder == {
        *("older-only", "newer-only", "reused", "recoded", "disputed", "trap", "undated")
    }
    assert milder == {entry.code for entry in CATALOGUE if entry.milder}
    raised = {entry.code: entry.raised for entry in CATALOGUE if entry.raised}
    assert raised == {"read-only": Severity.ERROR, "unset": Severity.WARNING}


@pytest.mark.parametrize(
    ("severity", "reached"),
    [
        (Severity.NOTE, [Severity.NOTE]),
        (Severity.WARNING, [Severity.NOTE, Severity.WARNING]),
        (Severity.ERROR, [Severity.NOTE, Severity.WARNING, Severity.ERROR]),
    ],
)
def test_a_severity_reaches_itself_and_every_milder_one(
    severity: Severity, reached: list[Severity]
) -> None:
    """Note, warning and error are ordered by how grave they are, not by their letters."""
    assert [other for other in Severity if severity.at_least(other)] == reached


@every_row
def test_a_code_finds_its_row(entry: CatalogueRow) -> None:
    """Asking for a code gives the row that carries it."""
    assert row(entry.code) is entry


def test_an_unknown_code_has_no_row() -> None:
    """Asking for a code that was never issued raises KeyError."""
    with pytest.raises(KeyError, match="older"):
        row("older")


@every_row
def test_a_row_is_well_formed(entry: CatalogueRow) -> None:
    """A code is lower-case words with hyphens; its sentence is one sentence."""
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", entry.code)
    assert re.fullmatch(r"[A-Z][^.!?\n]*\.", entry.sentence)
    assert entry.family == "check"
    assert re.fullmatch(r"\d+\.\d+\.\d+", entry.since)


def test_every_row_has_a_page_and_every_page_a_row() -> None:
    """The pages in docs/findings, the index apart, are those of the catalogue."""
    pages = {path.stem for path in PAGES.glob("*.md")} - {"README"}
    assert pages == {entry.code for entry in CATALOGUE}


@every_row
def test_a_page_opens_with_code_sentence_and_severity(entry: CatalogueRow) -> None:
    """The first three lines of a page say what the row says."""
    title, sentence, severity = page(entry.code).split("\n\n")[:3]
    assert title == f"# {entry.code}"
    assert sentence == entry.sentence
    assert severity.startswith(f"Severity: {severity_words(entry)[0]}")
    named = re.findall(r"note|warning|error|as the rule says", severity)
    assert named == severity_words(entry)


@every_row
def test_a_page_has_the_fixed_sections_in_order(entry: CatalogueRow) -> None:
    """Every page has the same five sections, and none is empty."""
    text = page(entry.code)
    assert re.findall(r"^## (.+)$", text, re.MULTILINE) == SECTIONS
    assert all(len(section(text, heading)) > 20 for heading in SECTIONS)


@every_row
def test_a_page_shows_an_example_from_the_demo_railway(entry: CatalogueRow) -> None:
    """The example is set on the Saltmarsh Light Railway and shows saved values."""
    example = section(page(entry.code), "Example")
    assert "Saltmarsh" in example
    assert "[decoder.reading.cv]" in example


def test_the_index_lists_every_code_once_as_its_row_says() -> None:
    """The index links each page, with the severity and the sentence of the row."""
    index = (PAGES / "README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^\| \[(.+?)\]\((.+?)\) \| (.+?) \| (.+?) \|$", index, re.MULTILINE)
    expected = [
        (entry.code, f"{entry.code}.md", " or ".join(severity_words(entry)), entry.sentence)
        for entry in CATALOGUE
    ]
    assert sorted(lines) == sorted(expected)
