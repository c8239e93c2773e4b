"""`cvlib review` as a page, as SARIF and for GitHub, in real repositories."""

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from cli.run_cvlib import ROOT, run
from cvlib.engine.change.review import Kind
from cvlib.findings.catalogue import Severity
from cvlib.render.views.review_remarks import review_rules
from make import CASES
from render.sarif import valid
from review.repositories import commit, repository

Capture = pytest.CaptureFixture[str]
FOLDERS = sorted(path.parent for path in (CASES / "review").glob("*/expect.toml"))
HEAD = ("HEAD~1", "HEAD")


@pytest.fixture
def here(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A repository with the two states of a case."""
    case = CASES / "review" / getattr(request, "param", "moved")
    folder = repository(tmp_path / "rail way")
    commit(folder, case / "before")
    commit(folder, case / "after")
    return folder


def review(capsys: Capture, here: Path, form: str, *words: str) -> tuple[int, str]:
    """Exit code and output of a review."""
    code = run(["review", *(words or HEAD), "--repository", str(here), "--format", form])
    return code, capsys.readouterr().out


def results(text: str) -> list[Any]:
    """The results of a SARIF document."""
    found: list[Any] = valid(text)["results"]
    return found


def spot(result: Any) -> tuple[str, int]:
    """File and line of a result."""
    held = result["locations"][0]["physicalLocation"]
    return held["artifactLocation"]["uri"], held["region"]["startLine"]


def line_of(path: Path, *wanted: str) -> int:
    """The number of the line with the last of some texts, each looked for behind the one before."""
    text, end = path.read_text(encoding="utf-8"), 0
    for words in wanted:
        end = text.index(words, end) + len(words)
    return text.count("\n", 0, end) + 1


@pytest.mark.parametrize("here", [folder.name for folder in FOLDERS], indirect=True)
def test_every_case_is_valid_in_every_form(here: Path, capsys: Capture) -> None:
    """The exit code is that of the text; every result stands in a file of the store."""
    code, text = review(capsys, here, "text")
    assert text
    told, page = review(capsys, here, "html")
    assert (told, page[:15]) == (code, "<!doctype html>")
    assert "Review of the definitions" in page
    told, document = review(capsys, here, "sarif")
    assert told == code
    for result in results(document):
        assert spot(result)[0].startswith("definitions/")
    told, lines = review(capsys, here, "github")
    assert told == code
    assert sum(line.startswith("::") for line in lines.splitlines()) == min(
        10, len(results(document))
    )


def test_a_changed_answer_stands_at_its_place(here: Path, capsys: Capture) -> None:
    """In the later state, and what moved is a warning."""
    (result, *_) = [
        one for one in results(review(capsys, here, "sarif")[1]) if one["ruleId"] == "answer-moved"
    ]
    file = here / "definitions" / "ferrow" / "finch.toml"
    assert result["level"] == "warning"
    assert "(braking.distance)" in result["message"]["text"]
    assert "ferrow/finch" in result["message"]["text"]
    name, line = spot(result)
    setting = line_of(file, 'id = "braking.distance"')
    assert name == "definitions/ferrow/finch.toml"
    assert setting < line < setting + 30
    assert "[[setting.place]]" in file.read_text(encoding="utf-8").splitlines()[line - 1]


def test_what_is_gone_stands_where_it_was(here: Path, capsys: Capture) -> None:
    """In the earlier state of the file."""
    file = here / "definitions" / "ferrow" / "finch.toml"
    text = file.read_text(encoding="utf-8")
    start = text.rindex("[[setting]]")
    line = text.count("\n", 0, start) + 1
    file.write_text(text[:start], encoding="utf-8")
    (result, *_) = [
        one
        for one in results(review(capsys, here, "sarif", "HEAD")[1])
        if one["ruleId"] == "answer-removed"
    ]
    assert result["level"] == "warning"
    assert line < spot(result)[1] <= text.count("\n")


def test_the_working_files_are_named_from_the_top(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Wherever the review is asked for; a file that cannot be read is an error at its line."""
    folder = here / "definitions" / "ferrow"
    text = (folder / "finch.toml").read_text(encoding="utf-8")
    (folder / "finch.toml").write_text(text.replace('kind = "motor"', 'kind = "moter"'))
    (folder / "wren.toml").write_text(text.replace('"ferrow/finch"', '"ferrow/wren"'))
    monkeypatch.chdir(folder)
    assert run(["review", "HEAD", "--format", "sarif"]) == 2
    found = {
        (one["ruleId"], one["level"], spot(one)[0]) for one in results(capsys.readouterr().out)
    }
    assert ("unreadable", "error", "definitions/ferrow/finch.toml") in found
    assert ("profile-added", "note", "definitions/ferrow/wren.toml") in found


def test_github_gets_the_whole_review_in_the_summary(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """As the comment on a pull request has it."""
    monkeypatch.delenv("GITHUB_STEP_SUMMARY", raising=False)
    _, text = review(capsys, here, "github")
    assert text.splitlines()[0].startswith("::warning file=definitions/ferrow/finch.toml,line=")
    assert text.splitlines()[-1] == "1 profile changed, 0 not. Step: major."
    summary = here.parent / "summary.md"
    monkeypatch.setenv("GITHUB_STEP_SUMMARY", str(summary))
    review(capsys, here, "github")
    assert summary.read_text(encoding="utf-8") == review(capsys, here, "markdown")[1]


def test_what_several_profiles_take_over_is_told_once(tmp_path: Path, capsys: Capture) -> None:
    """At the line of the block that changed."""
    here = repository(tmp_path / "railway")
    block = """format = 2
[[block]]
id = "lamps"
title = "Lamps"
[[block.setting]]
id = "lamps.brightness"
title = "Brightness"
[[block.setting.place]]
cv = 62
kind = "number"
"""
    text = (CASES / "review" / "moved" / "before" / "ferrow" / "finch.toml").read_text()
    kind = 'kind = "motor"\n'
    text = text.replace(kind, f'{kind}follows = ["gulls/blocks/lamps"]\n', 1).replace("62", "65")
    files = {"gulls/blocks.toml": block}
    for name in ("gull", "tern"):
        files[f"gulls/{name}.toml"] = text.replace('"ferrow/finch"', f'"gulls/{name}"')
    commit(here, files)
    commit(here, {**files, "gulls/blocks.toml": block.replace("cv = 62", "cv = 63")})
    found = results(review(capsys, here, "sarif")[1])
    assert {one["ruleId"] for one in found} == {"answer-moved"}
    assert {spot(one) for one in found} == {("definitions/gulls/blocks.toml", 8)}
    assert all("gulls/gull and gulls/tern: " in one["message"]["text"] for one in found)


def test_each_kind_of_change_is_a_rule() -> None:
    """Removed, moved, coded differently and less well known are warnings, the others notes."""
    rules = {rule.code: rule.severity for rule in review_rules()}
    grave = {Kind.REMOVED, Kind.MOVED, Kind.RECODED, Kind.LOST}
    for kind in Kind:
        expected = Severity.WARNING if kind in grave else Severity.NOTE
        assert rules[f"answer-{kind.value}"] is expected


def test_each_rule_has_its_page_and_its_help(here: Path, capsys: Capture) -> None:
    """The page of the codes has a part for each, and no other; it says what to do."""
    rules: Any = valid(review(capsys, here, "sarif")[1])["tool"]["driver"]["rules"]
    page = (ROOT / "docs" / "review-codes.md").read_text(encoding="utf-8")
    assert [rule["id"] for rule in rules] == re.findall(r"^## (.+)$", page, re.M)
    for rule in rules:
        assert rule["help"]["markdown"].startswith(f"# {rule['id']}\n")
        assert rule["shortDescription"]["text"] in rule["help"]["markdown"]
        assert "## What to do\n" in rule["help"]["markdown"]
        assert rule["fullDescription"]["text"] != rule["shortDescription"]["text"]
        assert rule["helpUri"].endswith(f"docs/review-codes.md#{rule['id']}")


def test_two_revisions_may_be_said_in_one_word(here: Path, capsys: Capture) -> None:
    """As git has it: BASE..HEAD, and with three dots from where HEAD left BASE."""
    assert review(capsys, here, "text", "HEAD~1..HEAD") == review(capsys, here, "text")
    merged = review(capsys, here, "text", *HEAD, "--merge-base")
    assert review(capsys, here, "text", "HEAD~1...HEAD") == merged
    assert review(capsys, here, "text", "HEAD~1..") == review(capsys, here, "text")


def test_a_new_profile_is_shown_as_a_table_of_its_settings(tmp_path: Path, capsys: Capture) -> None:
    """With what it answers, its sources, each place with firmware and page, and its gaps."""
    here = repository(tmp_path / "rail way")
    shipped = ROOT / "definitions"
    before, after = tmp_path / "before", tmp_path / "after"
    for folder, names in ((before, ("blocks", "wren-2")), (after, ("blocks", "wren-2", "lark-8"))):
        (folder / "ferrow").mkdir(parents=True)
        for name in names:
            shutil.copy(shipped / "ferrow" / f"{name}.toml", folder / "ferrow")
    commit(here, before)
    commit(here, after)
    code, text = review(capsys, here, "markdown")
    assert code == 0
    assert "It answers manufacturer 13" in text
    assert "| `handbook-2` | document, whole | 4.0 to 4.3.9 |" in text
    rows = [line for line in text.splitlines() if "`braking.stopping-distance`" in line]
    assert len(rows) == 2
    assert all(part in rows[0] for part in ("**CV 141**", "handbook-1:23", "2.0 to 2.4.118"))
    assert all(part in rows[1] for part in ("**CV 144**", "handbook-2:31", "1 to 200 cm"))
    assert "No document speaks for" in text
    assert "Asked: " in text
