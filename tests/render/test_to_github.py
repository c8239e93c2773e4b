"""Remarks as lines that the runner of GitHub reads.

Source of the form and of the escapes: GitHub Docs, "Workflow commands for GitHub Actions", and the
functions escapeData and escapeProperty of the package @actions/core.
"""

import re

import pytest

from cvlib.errors import Position
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.to_github import MOST, annotation, to_github

COMMAND = re.compile(r"::(error|warning|notice) ([^\n]*?)::([^\n]*)")


def remark(
    line: int | None, severity: Severity = Severity.NOTE, file: str = "a.toml", text: str = "Wrong."
) -> Remark:
    """A remark at some line."""
    return Remark("odd-title", severity, Position(file, line, 5), text)


def lines_of(text: str) -> list[int]:
    """The lines of the files that are annotated, in order."""
    return [int(found[1]) for found in re.finditer(r"^::.*?,line=(\d+),", text, re.M)]


@pytest.mark.parametrize(
    ("severity", "word"),
    [(Severity.ERROR, "error"), (Severity.WARNING, "warning"), (Severity.NOTE, "notice")],
)
def test_a_remark_is_one_command(severity: Severity, word: str) -> None:
    """With file, line, column and the code as its title."""
    told = annotation(remark(7, severity))
    assert told == f"::{word} file=a.toml,line=7,col=5,title=odd-title::Wrong."


def unescaped(text: str) -> str:
    """What the runner makes of a text."""
    for mark, sign in (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%")):
        text = text.replace(mark, sign)
    return text


@pytest.mark.parametrize("text", ["a::b", "100 %", "%0A", "one\ntwo\r\n", "a,b:c", "→ №"])
def test_no_text_ends_the_command(text: str) -> None:
    """In file and message alike; the runner gets back what was there."""
    told = annotation(remark(1, file=text, text=text))
    found = COMMAND.fullmatch(told)
    assert found is not None
    (file, *_) = found[2].split(",")
    assert unescaped(file.removeprefix("file=")) == text
    assert unescaped(found[3]) == text


def test_ten_at_most_and_the_others_as_plain_lines() -> None:
    """One line says how many more, and each of them is a line that is no command."""
    text = to_github([remark(at) for at in range(1, 14)])
    lines = text.splitlines()
    assert lines_of(text) == list(range(1, MOST + 1))
    assert lines[MOST] == "3 more findings: GitHub shows ten of a step."
    assert lines[MOST + 1 :] == [f"note: a.toml:{at}:5: odd-title Wrong." for at in (11, 12, 13)]


def test_with_a_summary_the_others_are_counted() -> None:
    """The summary has all of them."""
    text = to_github([remark(at) for at in range(1, 14)], has_summary=True)
    assert text.splitlines()[MOST:] == ["3 more findings: in the summary of the job."]
    assert to_github([remark(1)]).count("\n") == 1
    assert to_github([]) == ""


def test_changed_lines_go_first_then_the_gravest() -> None:
    """In the order of the files among those that are alike."""
    error, warning = Severity.ERROR, Severity.WARNING
    remarks = [remark(1, error), remark(2), remark(3), remark(4, warning), remark(5), remark(6)]
    assert lines_of(to_github(remarks)) == [1, 4, 2, 3, 5, 6]
    changed = {"a.toml": (range(5, 7), range(2, 3)), "b.toml": (range(1, 9),)}
    assert lines_of(to_github(remarks, changed)) == [2, 5, 6, 1, 4, 3]
    assert lines_of(to_github([*remarks[:2], remark(None)], {"a.toml": ()})) == [1, 1, 2]


def test_a_plain_line_is_no_command_either() -> None:
    """Whatever the name of a file looks like."""
    evil = remark(99, file="::error::x ##[add-mask]y", text="one\ntwo")
    lines = to_github([*(remark(at, Severity.ERROR) for at in range(MOST)), evil]).splitlines()
    assert len(lines) == MOST + 2
    assert not lines[-1].lstrip().startswith("::")
    assert "##[" not in lines[-1]
