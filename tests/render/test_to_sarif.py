"""Remarks as SARIF, held against the published schema of the standard.

"§" names a section of the standard.
"""

from dataclasses import replace
from pathlib import PureWindowsPath
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest

from cvlib.errors import Position
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.to_sarif import Program, RuleTold, to_sarif
from render.sarif import valid

PAGE = """# {code}

It is found.

Severity: note

## What it means

One thing. See [the format](../profile-format.md#rule) and [the standard](https://example.org/a).

## What to do

Correct it.
"""
RULES = [
    RuleTold("bad-range", Severity.ERROR, "It is found.", PAGE.format(code="bad-range")),
    RuleTold("odd-title", Severity.NOTE, "Another is found."),
]
SPOT = Position("definitions/ferrow/wren-2.toml", 12, 3)
ONE = Remark("bad-range", Severity.ERROR, SPOT, "This is wrong.", "Do that.", "setting a.b, range")
PROGRAM = Program("0.1.0", "lint")


def run_of(*remarks: Remark, rules: list[RuleTold] = RULES, program: Program = PROGRAM) -> Any:
    """The run of some remarks."""
    return valid(to_sarif(remarks, rules, program))


def uri_of(file: str) -> dict[str, str]:
    """How a file is named."""
    (result,) = run_of(replace(ONE, position=Position(file, 1, 1)))["results"]
    (location,) = result["locations"]
    held: dict[str, str] = location["physicalLocation"]["artifactLocation"]
    return held


def prints_of(*remarks: Remark) -> list[str]:
    """The fingerprints of some remarks."""
    return [one["partialFingerprints"]["cvlib/v1"] for one in run_of(*remarks)["results"]]


def test_a_result_has_rule_level_message_and_place() -> None:
    """§3.27: what is required, and the place with line and column counted from 1."""
    (result,) = run_of(ONE)["results"]
    assert (result["ruleId"], result["ruleIndex"], result["level"]) == ("bad-range", 0, "error")
    assert result["message"] == {"text": "This is wrong. Do that."}
    (location,) = result["locations"]
    assert location["physicalLocation"]["region"] == {"startLine": 12, "startColumn": 3}


@pytest.mark.parametrize("severity", list(Severity))
def test_each_severity_is_a_level(severity: Severity) -> None:
    """§3.27.10: the words are the same; a remark may be graver than its rule."""
    assert run_of(replace(ONE, severity=severity))["results"][0]["level"] == severity.value


def test_nothing_found_is_a_run_without_results() -> None:
    """§3.14.23: an empty list says that it was looked for."""
    assert run_of()["results"] == []


def test_the_program_and_its_rules_are_told() -> None:
    """§3.19 and §3.49: name, version, and each rule with its page as text and as Markdown."""
    driver = run_of()["tool"]["driver"]
    assert (driver["name"], driver["semanticVersion"]) == ("cvlib", "0.1.0")
    assert "informationUri" not in driver
    first, second = driver["rules"]
    assert first["id"] == "bad-range"
    assert first["shortDescription"] == {"text": "It is found."}
    assert first["fullDescription"]["text"].startswith("One thing.")
    assert first["defaultConfiguration"] == {"level": "error"}
    assert first["help"]["markdown"].startswith("# bad-range\n")
    assert "Correct it." in first["help"]["text"]
    assert "help" not in second
    assert second["fullDescription"] == {"text": "Another is found."}


def test_links_of_a_page_lead_somewhere_or_are_left_out() -> None:
    """§3.49.12: a link to a page is absolute; those inside of the page are too."""
    rule = RULES[0]
    (bare,) = run_of(rules=[rule])["tool"]["driver"]["rules"]
    assert "helpUri" not in bare
    assert "See the format and [the standard](https://example.org/a)." in bare["help"]["markdown"]
    link = "https://example.org/cvlib/blob/1a2b/docs/lint/bad-range.md"
    program = replace(PROGRAM, link="https://example.org/cvlib")
    run = run_of(rules=[replace(rule, link=link)], program=program)
    (linked,) = run["tool"]["driver"]["rules"]
    assert linked["helpUri"] == link
    assert run["tool"]["driver"]["informationUri"] == program.link
    whole = "https://example.org/cvlib/blob/1a2b/docs/profile-format.md#rule"
    assert f"[the format]({whole})" in linked["help"]["markdown"]


@pytest.mark.parametrize(
    "file",
    [
        "a b/c.toml",
        "Übung/№ 4.toml",
        "100%.toml",
        "a#b?c.toml",
        "a:b.toml",
        "x[1].toml",
        "'\".toml",
    ],
)
def test_a_file_of_the_repository_is_a_relative_uri(file: str) -> None:
    """§3.4.3: escaped by RFC 3986, without scheme, and nothing of its name is lost."""
    held = uri_of(file)
    parts = urlsplit(held["uri"])
    assert held["uriBaseId"] == "%SRCROOT%"
    assert (parts.scheme, parts.query, parts.fragment) == ("", "", "")
    assert held["uri"].isascii()
    assert unquote(held["uri"]) == file


def test_a_file_elsewhere_is_a_whole_uri() -> None:
    """§3.4.3: with the scheme "file" (RFC 8089), and with no other to be put before it."""
    assert uri_of("/home/a member/x.toml") == {"uri": "file:///home/a%20member/x.toml"}
    windows = PureWindowsPath(r"C:\a member\x.toml").as_posix()
    assert uri_of(windows) == {"uri": "file:///C:/a%20member/x.toml"}


def test_a_remark_about_a_whole_file_stands_at_its_top() -> None:
    """Programs that show results want a line."""
    (result,) = run_of(replace(ONE, position=Position("x.toml")))["results"]
    region = result["locations"][0]["physicalLocation"]["region"]
    assert region == {"startLine": 1, "startColumn": 1}


def test_a_fingerprint_stays_when_lines_move() -> None:
    """§3.27.17: line, column and words of the message do not count."""
    moved = replace(ONE, position=replace(SPOT, line=99, column=1), problem="That is wrong.")
    assert prints_of(ONE) == prints_of(moved)


def test_fingerprints_differ_where_anything_else_does() -> None:
    """Code, file and what it is about; equal ones are told apart by their number."""
    others = [
        ONE,
        replace(ONE, code="odd-title"),
        replace(ONE, position=replace(SPOT, file="other.toml")),
        replace(ONE, about="setting a.c, range"),
        replace(ONE, about="", problem="This."),
        replace(ONE, about="", problem="That."),
        ONE,
    ]
    found = prints_of(*others)
    assert len(set(found)) == len(others)
    assert found[0].partition(":")[0] == found[-1].partition(":")[0]


def test_the_same_remarks_give_the_same_text() -> None:
    """Nothing in it depends on the day or on the machine."""
    assert to_sarif([ONE], RULES, PROGRAM) == to_sarif([ONE], RULES, PROGRAM)
    assert to_sarif([ONE], RULES, PROGRAM).endswith("}\n")
