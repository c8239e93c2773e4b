"""`cvlib lint` for other programs, and for what changed since a revision."""

import io
import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, run
from cvlib.cli.progress import FEW, watched
from cvlib.engine.lint.rules import RULES
from cvlib.files import data as shipped
from files.small_store import BLOCKS, STORE, profile, put
from render.sarif import valid
from review.repositories import commit, git, repository

Capture = pytest.CaptureFixture[str]
GITHUB = ("GITHUB_STEP_SUMMARY", "GITHUB_SERVER_URL", "GITHUB_REPOSITORY", "GITHUB_SHA",
          "GITHUB_WORKSPACE", "CVLIB_DEFINITIONS")  # fmt: skip
FAULTY = profile("gulls/gull").replace("cv = 5", "cv = 5000").replace("9", "8")


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository with a small store, as the working folder, and no GitHub around it."""
    for name in GITHUB:
        monkeypatch.delenv(name, raising=False)
    folder = repository(tmp_path / "rail way")
    commit(folder, STORE)
    monkeypatch.chdir(folder)
    return folder


def lint(capsys: Capture, *words: str) -> tuple[int, str]:
    """Exit code and output of a lint of the definitions of the working folder."""
    code = run(["lint", "--definitions", "definitions", *words])
    return code, capsys.readouterr().out


def results(text: str) -> list[tuple[str, str, int]]:
    """Code, file and line of each result of a SARIF document."""
    found = []
    for one in valid(text)["results"]:
        spot = one["locations"][0]["physicalLocation"]
        found.append((one["ruleId"], spot["artifactLocation"]["uri"], spot["region"]["startLine"]))
    return found


def test_sarif_tells_every_rule_and_every_finding(here: Path, capsys: Capture) -> None:
    """Files are named from the top of the repository; the exit code is that of the text."""
    put(here, "gulls/gull.toml", FAULTY)
    code, text = lint(capsys, "--format", "sarif", "definitions")
    run_of: Any = valid(text)
    assert code == 1
    line = FAULTY.splitlines().index("cv = 5000") + 1
    assert ("invalid", "definitions/gulls/gull.toml", line) in results(text)
    rules = run_of["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == [rule.code for rule in RULES]
    assert all(rule["help"]["markdown"].startswith(f"# {rule['id']}\n") for rule in rules)
    docs = (ROOT / "docs" / "lint").as_uri()
    assert all(rule["helpUri"] == f"{docs}/{rule['id']}.md" for rule in rules)
    assert "](../" not in text


def test_sarif_of_a_subfolder_names_files_from_the_top(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """And those outside of the repository by their whole path."""
    put(here, "gulls/gull.toml", FAULTY)
    outside = here.parent / "other one.toml"
    outside.write_text("[decoder\n", encoding="utf-8")
    monkeypatch.chdir(here / "definitions" / "gulls")
    words = ["lint", "--definitions", "..", "--format", "sarif", "gull.toml", str(outside)]
    assert run(words) == 1
    uris = {uri for _, uri, _ in results(capsys.readouterr().out)}
    assert uris == {"definitions/gulls/gull.toml", outside.resolve().as_uri()}


def test_links_lead_to_the_pages_in_a_workflow_of_this_project(
    here: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """At the very commit; in a workflow of another repository nobody knows where they are."""
    monkeypatch.setenv("GITHUB_SERVER_URL", "https://github.example")
    monkeypatch.setenv("GITHUB_REPOSITORY", "club/cvlib")
    monkeypatch.setenv("GITHUB_SHA", "1a2b3c")
    monkeypatch.setenv("GITHUB_WORKSPACE", str(here))
    assert "helpUri" not in lint(capsys, "--format", "sarif")[1]
    copied = tmp_path / "copied"
    (copied / ".git").mkdir(parents=True)
    (copied / "definitions").mkdir()
    (copied / "docs" / "lint").mkdir(parents=True)
    for rule in RULES:
        page = (ROOT / "docs" / "lint" / f"{rule.code}.md").read_text(encoding="utf-8")
        (copied / "docs" / "lint" / f"{rule.code}.md").write_text(page, encoding="utf-8")
    monkeypatch.setattr(shipped, "_PACKAGE", copied / "cvlib")
    monkeypatch.setenv("GITHUB_WORKSPACE", str(copied))
    driver = valid(lint(capsys, "--format", "sarif")[1])["tool"]["driver"]
    assert driver["informationUri"] == "https://github.example/club/cvlib"
    for rule in driver["rules"]:
        page = f"{driver['informationUri']}/blob/1a2b3c/docs/lint/{rule['id']}.md"
        assert rule["helpUri"] == page


def test_github_gets_annotations_and_the_summary_the_whole_list(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """The table is put behind what the summary holds already."""
    for number in range(12):
        put(here, f"gulls/new-{number}.toml", "[decoder\n")
    code, text = lint(capsys, "--format", "github", "definitions")
    commands = [line for line in text.splitlines() if line.startswith("::error ")]
    assert code == 1
    assert len(commands) == 10
    assert commands[0].startswith("::error file=definitions/gulls/new-0.toml,line=1,")
    assert re.search(r"^\d+ more findings: GitHub shows ten of a step\.$", text, re.M)
    summary = here.parent / "summary.md"
    summary.write_text("before\n", encoding="utf-8")
    monkeypatch.setenv("GITHUB_STEP_SUMMARY", str(summary))
    code, text = lint(capsys, "--format", "github", "definitions")
    kept = summary.read_text(encoding="utf-8")
    assert code == 1
    assert "in the summary of the job" in text
    assert len([line for line in text.splitlines() if line.startswith("::")]) == 10
    assert kept.startswith("before\n")
    assert all(f"definitions/gulls/new-{number}.toml:1" in kept for number in range(12))


def test_a_summary_that_cannot_be_written_hides_nothing(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """One line tells why, and the findings are there all the same."""
    monkeypatch.setenv("GITHUB_STEP_SUMMARY", str(here))
    put(here, "gulls/gull.toml", FAULTY)
    assert run(["lint", "--definitions", "definitions", "--format", "github"]) == 1
    told = capsys.readouterr()
    assert len(told.err.splitlines()) == 1
    assert "gulls/gull.toml" in told.out


def test_only_what_changed_is_told(here: Path, capsys: Capture) -> None:
    """Faults that were there before, in files that did not change, are not."""
    put(here, "gulls/skua.toml", "[decoder\n")
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "a fault")
    put(here, "gulls/gull.toml", FAULTY)
    words = ("lint", "--definitions", "definitions")
    _, whole = json_of(capsys, *words)
    code, data = json_of(capsys, *words, "--changed-since", "HEAD")
    files = {Path(one["file"]).name for one in data["messages"]}
    assert (code, files) == (1, {"gull.toml"})
    assert {"skua.toml", "gull.toml"} <= {Path(one["file"]).name for one in whole["messages"]}
    assert data["profiles"] == 1
    git(here, "checkout", "--quiet", "--", ".")
    code, data = json_of(capsys, *words, "--changed-since", "HEAD")
    assert (code, data["messages"], data["profiles"]) == (0, [], 0)
    code, data = json_of(capsys, *words, "--changed-since", "HEAD~1", "definitions")
    assert {Path(one["file"]).name for one in data["messages"]} == {"skua.toml"}


def test_a_changed_block_is_looked_at_in_those_who_follow_it(here: Path, capsys: Capture) -> None:
    """What it broke stands in a file that did not change itself."""
    put(here, "gulls/blocks.toml", BLOCKS.replace('"lamps"', '"lanterns"'))
    words = ("lint", "--definitions", "definitions", "--changed-since", "HEAD")
    _, data = json_of(capsys, *words)
    found = {(one["code"], Path(one["file"]).name) for one in data["messages"]}
    assert ("invalid", "tern.toml") in found


def test_findings_on_changed_lines_are_the_first_annotations(here: Path, capsys: Capture) -> None:
    """Before graver ones of the same file that were there before."""
    store = [*STORE["gulls/gull.toml"].splitlines()]
    at = store.index("cv = 5")
    old = "\n".join(["extra = 1", *(f"more-{n} = 1" for n in range(11)), *store, ""])
    put(here, "gulls/gull.toml", old)
    git(here, "commit", "--quiet", "--all", "--message", "faults")
    put(here, "gulls/gull.toml", old.replace("cv = 5", "cv = 5000"))
    _, text = lint(capsys, "--changed-since", "HEAD", "--format", "github")
    first = text.splitlines()[0]
    assert f"file=definitions/gulls/gull.toml,line={at + 13}," in first


def test_what_was_found_before_is_counted(here: Path, capsys: Capture) -> None:
    """Also where its line moved; of what is new the exit code is."""
    gull = STORE["gulls/gull.toml"].replace("cv = 5", "cv = 5\nrange = [1, 9]\ndefault = 10")
    put(here, "gulls/gull.toml", gull)
    git(here, "commit", "--quiet", "--all", "--message", "a fault")
    put(here, "gulls/gull.toml", gull.replace("[[source]]", "# a remark\n\n[[source]]"))
    words = ("lint", "--definitions", "definitions", "--changed-since")
    code, data = json_of(capsys, *words, "HEAD")
    assert (code, data["messages"]) == (0, [])
    assert data["known"] >= 1
    put(here, "gulls/gull.toml", gull.replace('"Top speed"', '"TÃ¶p speed"'))
    code, data = json_of(capsys, *words, "HEAD")
    assert (code, [one["code"] for one in data["messages"]]) == (1, ["damaged-text"])
    code, data = json_of(capsys, *words, "HEAD~1")
    assert {one["code"] for one in data["messages"]} == {"damaged-text", "illegal-default"}


def test_a_fault_with_two_ends_names_both(here: Path, capsys: Capture) -> None:
    """In text, as data, in SARIF, and as an annotation at the end that was changed."""
    gull = STORE["gulls/gull.toml"]
    two = gull.split("[[setting]]")[1].replace("speed.top", "speed.two").replace("Top", "Other")
    put(here, "gulls/gull.toml", f"{gull}[[setting]]{two}")
    lines = f"{gull}[[setting]]{two}".splitlines()
    ends = [at for at, line in enumerate(lines, 1) if line == "[[setting.place]]"]
    _, text = lint(capsys, "definitions/gulls/gull.toml")
    (line,) = [one for one in text.splitlines() if 'claimed-twice "' in one]
    assert f"gull.toml:{ends[0]}:" in line
    assert ": error: claimed-twice " in line
    assert line.endswith(f"The other end is line {ends[1]}.")
    _, data = json_of(capsys, "lint", "--definitions", "definitions")
    (told,) = [one for one in data["messages"] if one["code"] == "claimed-twice"]
    assert told["other"]["line"] == ends[1]
    _, text = lint(capsys, "--format", "sarif")
    (one,) = [one for one in valid(text)["results"] if one["ruleId"] == "claimed-twice"]
    (related,) = one["relatedLocations"]
    assert related["physicalLocation"]["region"]["startLine"] == ends[1]
    region = one["locations"][0]["physicalLocation"]["region"]
    assert (region["endLine"], region["endColumn"]) == (ends[0], len("[[setting.place") + 1)
    _, text = lint(capsys, "--changed-since", "HEAD", "--format", "github")
    (note,) = [one for one in text.splitlines() if "title=claimed-twice" in one]
    assert f"line={ends[1]}," in note


def test_an_unknown_revision_is_wrong_use(here: Path, capsys: Capture) -> None:
    """Exit code 2 and one line; so is a folder without a repository."""
    words = ("lint", "--definitions", "definitions", "--changed-since")
    for revision in ("no-such", "-x", "a b"):
        code, lines = fails(capsys, *words, revision)
        assert (code, len(lines)) == (2, 1)
        assert "no revision" in lines[0]


@pytest.mark.parametrize("form", ["text", "markdown", "json", "sarif", "github"])
def test_every_form_has_the_same_exit_code(form: str, here: Path, capsys: Capture) -> None:
    """0 for good definitions, 1 with an error, and what --fail-on says."""
    words = ("--format", form, "--changed-since", "HEAD")
    assert lint(capsys, *words)[0] == 0
    put(here, "gulls/gull.toml", FAULTY)
    assert lint(capsys, *words)[0] == 1
    assert lint(capsys, *words, "--fail-on", "never")[0] == 0


def test_json_says_how_grave_and_about_what(here: Path, capsys: Capture) -> None:
    """Beside the place and the words."""
    broken = STORE["gulls/gull.toml"].replace("cv = 5", "cv = 5\nrange = [1, 9]\ndefault = 10")
    put(here, "gulls/gull.toml", broken)
    _, data = json_of(capsys, "lint", "--definitions", "definitions", "--changed-since", "HEAD")
    told = {one["code"]: one for one in data["messages"]}
    (rule,) = [one for one in RULES if one.code == "illegal-default"]
    assert told["illegal-default"]["severity"] == rule.severity.value
    assert told["illegal-default"]["about"].startswith("setting speed.top")


class Screen(io.StringIO):
    """An error stream that is a terminal."""

    def isatty(self) -> bool:
        return True


def test_a_bar_shows_how_far_it_has_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal and with many files; nothing is printed into a pipe."""
    names = [f"file {number}" for number in range(FEW + 1)]
    screen, pipe = Screen(), io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    assert list(watched(names)) == names
    monkeypatch.setattr(sys, "stderr", screen)
    assert list(watched(names[1:])) == names[1:]
    assert (pipe.getvalue(), screen.getvalue()) == ("", "")
    assert list(watched(names)) == names
    assert "files" in screen.getvalue()


def test_the_output_is_utf_8_json_with_one_end_of_line(here: Path, capsys: Capture) -> None:
    """SARIF is read as it is kept in a file."""
    text = lint(capsys, "--format", "sarif")[1]
    assert json.loads(text)["version"] == "2.1.0"
    assert text.endswith("}\n")


def test_an_empty_revision_is_none(here: Path, capsys: Capture) -> None:
    """An empty variable of a workflow does not pass for "everything"."""
    code, lines = fails(capsys, "lint", "--definitions", "definitions", "--changed-since", "")
    assert (code, len(lines)) == (2, 1)
    assert "there is no revision" in lines[0]


def test_the_shipped_definitions_are_not_what_changed_in_another_repository(
    here: Path, capsys: Capture
) -> None:
    """Without --definitions nothing of this repository would be looked at."""
    put(here, "gulls/gull.toml", FAULTY)
    code, lines = fails(capsys, "lint", "--changed-since", "HEAD")
    assert (code, len(lines)) == (2, 1)
    assert "--definitions" in lines[0]
