"""Each code of lint has a page, whose samples prove that the rule fires and that it is silent.

"common practice, no source": the rules are about our own definitions.
"""

import re
import tomllib
from pathlib import Path

import pytest

from cvlib.engine.lint.rules import INVALID, RULES, UNNEEDED, LintRule
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from docs.lint_samples import NAME, PAGES, Sample, sample
from house.markdown import text_of

SECTIONS = [
    "What it means",
    "Example",
    "What to do",
    "When it is right all the same",
]
every_rule = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
acceptable = pytest.mark.parametrize(
    "rule", [one for one in RULES if one not in (INVALID, UNNEEDED)], ids=lambda rule: rule.code
)


@every_rule
def test_a_page_opens_with_its_rule(rule: LintRule) -> None:
    """Code, sentence and severity stand as in the row, and the sections in their order."""
    text = text_of(PAGES / f"{rule.code}.md")
    opening = f"# {rule.code}\n\n{rule.sentence}\n\nSeverity: {rule.severity.value}\n"
    assert text.startswith(opening)
    assert re.findall(r"^## (.+)$", text, re.M) == SECTIONS


def test_every_page_is_of_a_rule() -> None:
    """No page is left of a code that is not there."""
    assert {path.stem for path in PAGES.glob("*.md")} == {rule.code for rule in RULES}


def test_each_code_is_there_once() -> None:
    """A code means one thing."""
    codes = [rule.code for rule in RULES]
    assert sorted(set(codes)) == sorted(codes)


@every_rule
def test_the_failing_sample_has_the_finding(rule: LintRule, tmp_path: Path) -> None:
    """The rule fires on it, with its severity, at a line of the file, and says what to do."""
    told = [one for one in sample(rule.code, "fails").remarks(tmp_path) if one.code == rule.code]
    assert told
    for one in told:
        assert one.severity is rule.severity
        assert one.position.line
        assert one.problem.endswith((".", "?"))
        assert one.advice or rule is INVALID


@every_rule
def test_the_passing_sample_is_without_fault(rule: LintRule, tmp_path: Path) -> None:
    """What the page says to do leaves neither the finding nor any grave one."""
    told = sample(rule.code, "passes").remarks(tmp_path)
    grave = [str(one) for one in told if one.severity.at_least(Severity.WARNING)]
    assert grave == []
    assert rule.code not in {one.code for one in told}


@acceptable
def test_a_finding_is_accepted_with_a_reason(rule: LintRule, tmp_path: Path) -> None:
    """With a table that names it and gives a reason, the finding is not told any more."""
    failing = sample(rule.code, "fails")
    before = failing.remarks(tmp_path / "before")
    after = accepting(failing, rule, names(rule, before)).remarks(tmp_path / "after")
    assert rule.code in {one.code for one in before}
    assert {one.code for one in after} == {one.code for one in before} - {rule.code}


@acceptable
def test_what_is_accepted_needs_a_reason(rule: LintRule, tmp_path: Path) -> None:
    """A table without a reason makes the file invalid."""
    failing = sample(rule.code, "fails")
    about = names(rule, failing.remarks(tmp_path / "before"))
    (one, *_) = [
        one
        for one in accepting(failing, rule, about, "").remarks(tmp_path / "after")
        if one.code == INVALID.code
    ]
    assert "reason" in one.problem


@acceptable
def test_what_is_accepted_and_gone_is_told(rule: LintRule, tmp_path: Path) -> None:
    """The table that was needed before the correction is a finding after it."""
    about = names(rule, sample(rule.code, "fails").remarks(tmp_path / "before"))
    passing = accepting(sample(rule.code, "passes"), rule, about)
    told = [one for one in passing.remarks(tmp_path / "after") if one.code == UNNEEDED.code]
    count = sum(len(found) for name, found in about.items() if name in passing.files)
    assert len(told) == count > 0


def names(rule: LintRule, remarks: tuple[Remark, ...]) -> dict[str, set[str]]:
    """Of each file of the sample, what the findings of a rule are about."""
    found: dict[str, set[str]] = {}
    for one in remarks:
        if one.code == rule.code:
            table, _, rest = one.about.partition(" ")
            name = rest.split(", ")[0] if rest else table
            file = "/".join(Path(one.position.file).parts[-2:])
            found.setdefault(file, set()).add(name)
    return found


def accepting(
    made: Sample, rule: LintRule, about: dict[str, set[str]], reason: str = "It is really so."
) -> Sample:
    """The sample with a table that accepts what is found about some names."""
    files = dict(made.files)
    for file in about.keys() & files.keys():
        listed = ", ".join(f'"{name}"' for name in sorted(about[file]))
        said = f'reason = "{reason}"\n' if reason else ""
        files[file] += f'\n[[accepted]]\ncode = "{rule.code}"\nabout = [{listed}]\n{said}'
        tomllib.loads(files[file])
    return Sample(made.page, files)


def test_the_samples_are_of_one_store() -> None:
    """Every page has a failing and a passing profile, or a file of blocks."""
    for rule in RULES:
        for word in ("fails", "passes"):
            assert sample(rule.code, word).files, f"{rule.code}: no sample that {word}"
    assert NAME in sample("placeless", "fails").files
