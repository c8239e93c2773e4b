"""The hooks for pre-commit and the workflow for definitions ask for what the program has.

Source of the keys: the documentation of pre-commit, "Creating new hooks".
"""

import re
import shlex
import shutil
from pathlib import Path

import pytest

from cvlib.cli.app import run
from docs.test_commands import EVERYWHERE, options
from house.tree import ROOT
from review.repositories import commit, git, repository

HOOKS = ROOT / ".pre-commit-hooks.yaml"
WORKFLOWS = ROOT / ".github" / "workflows"
WORKFLOW = WORKFLOWS / "definitions.yml"
NEEDED = {"id", "name", "entry", "language"}
KEYS = NEEDED | {"args", "description", "files", "pass_filenames", "require_serial", "types"}


def hooks() -> dict[str, dict[str, str]]:
    """Each hook by its id; the file has plain keys and values and nothing below them."""
    found: dict[str, dict[str, str]] = {}
    for part in re.split(r"^- ", HOOKS.read_text(encoding="utf-8"), flags=re.M)[1:]:
        pairs = [line.strip().partition(": ") for line in part.splitlines()]
        held = {key: value for key, _, value in pairs}
        found[held["id"]] = held
    return found


def typed(hook: dict[str, str], names: list[str]) -> list[str]:
    """The arguments of cvlib that a hook gives for some files of a commit."""
    program, *words = shlex.split(hook["entry"])
    assert program == "cvlib"
    words += [word.strip() for word in hook["args"].strip("[]").split(",")]
    wanted = [name for name in names if re.search(hook["files"], name)]
    return [*words, *wanted] if hook.get("pass_filenames") != "false" else words


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository of a club, with two profiles that follow blocks of their own."""
    folder = tmp_path / "definitions" / "ferrow"
    folder.mkdir(parents=True)
    for name in ("blocks", "wren-2", "lark-8"):
        shutil.copy(ROOT / "definitions" / "ferrow" / f"{name}.toml", folder)
    monkeypatch.chdir(tmp_path)
    return folder


def test_each_hook_has_what_a_hook_needs() -> None:
    """The keys are those of a manifest, and a hook is installed as a Python package."""
    assert set(hooks()) == {"cvlib-lint", "cvlib-lint-store"}
    for hook in hooks().values():
        assert NEEDED <= set(hook) <= KEYS
        assert hook["language"] == "python"
        assert hook["require_serial"] == "true"


@pytest.mark.parametrize("id", hooks())
def test_a_hook_passes_good_files_and_stops_bad_ones(
    id: str, club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Run as it is declared, in the folder of the repository."""
    names = ["definitions/ferrow/wren-2.toml", "README.md"]
    assert run(typed(hooks()[id], names)) == 0, capsys.readouterr().out
    path = club / "wren-2.toml"
    path.write_text(path.read_text().replace('kind = "motor"', 'kind = "moter"'), encoding="utf-8")
    assert run(typed(hooks()[id], names)) == 1
    assert "definitions/ferrow/wren-2.toml:" in capsys.readouterr().out.replace("\\", "/")


def test_one_hook_looks_at_the_files_given_and_one_at_all(club: Path) -> None:
    """A fault in a file that is not part of the commit stops only the second."""
    (club / "lark-8.toml").write_text("[decoder\n", encoding="utf-8")
    names = ["definitions/ferrow/wren-2.toml"]
    assert run(typed(hooks()["cvlib-lint"], names)) == 0
    assert run(typed(hooks()["cvlib-lint-store"], names)) == 1


def commands() -> list[list[str]]:
    """What the workflow types."""
    lines = re.findall(r"^ +run: cvlib (.+)$", WORKFLOW.read_text(encoding="utf-8"), re.M)
    return [shlex.split(line.partition(" >")[0].replace('"$BASE"', "HEAD^1")) for line in lines]


def test_the_workflow_uses_options_that_exist() -> None:
    """It lints and it reviews."""
    assert {words[0] for words in commands()} == {"lint", "review"}
    for name, *words in commands():
        used = {word for word in words if word.startswith("--")}
        assert used - options(name) - EVERYWHERE == set()


def test_the_workflow_may_only_read() -> None:
    """No more rights than to read what it checks out, and only actions of GitHub itself."""
    text = WORKFLOW.read_text(encoding="utf-8")
    assert re.findall(r"^ *permissions:\n((?: +\w.*\n)+)", text, re.M) == ["  contents: read\n"]
    uses = re.findall(r"uses: (\S+)", text)
    assert uses
    assert all(re.fullmatch(r"actions/[a-z-]+@v\d+", name) for name in uses)


def test_the_commands_of_the_workflow_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a clone whose HEAD is a merge, as GitHub checks out a pull request."""
    here = repository(tmp_path / "clone")
    commit(here, ROOT / "definitions", "main")
    git(here, "checkout", "--quiet", "-b", "mine")
    (here / "definitions" / "ferrow" / "notes.txt").write_text("a note\n", encoding="utf-8")
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "mine")
    git(here, "checkout", "--quiet", "main")
    git(here, "merge", "--quiet", "--no-ff", "--no-edit", "mine")
    monkeypatch.chdir(here)
    monkeypatch.setenv("GITHUB_STEP_SUMMARY", str(tmp_path / "summary.md"))
    monkeypatch.setenv("CVLIB_DEFINITIONS", "definitions")
    for words in commands():
        assert run(words) == 0, capsys.readouterr()
    assert "Lint of the definitions" in (tmp_path / "summary.md").read_text(encoding="utf-8")


def text_of_workflow(name: str) -> str:
    """A workflow without its remarks."""
    text = (WORKFLOWS / f"{name}.yml").read_text(encoding="utf-8")
    return re.sub(r"^ *#.*\n", "", text, flags=re.M)


def test_what_may_write_runs_nothing_of_a_pull_request() -> None:
    """The comment is posted by a workflow of the main branch that checks out and installs nothing.

    Source: GitHub's documentation, "Events that trigger workflows", on workflow_run and
    pull_request_target.
    """
    text = text_of_workflow("comment")
    assert "workflow_run:\n    workflows: [definitions]" in text
    assert "uses:" not in text
    assert not re.search(r"\b(pip|git|cvlib)\b ", text)
    assert "pull-requests: write" in text
    assert "contents: write" not in text
    for path in WORKFLOWS.glob("*.yml"):
        assert "pull_request_target" not in text_of_workflow(path.stem)


@pytest.mark.parametrize("name", ["ci", "definitions", "comment", "correction"])
def test_nothing_that_people_type_is_a_part_of_a_command(name: str) -> None:
    """Titles, bodies, branches and names reach a shell as variables only.

    Source: GitHub's documentation, "Script injections".
    """
    scripts = re.findall(
        r"^( +)- ?(?:name.*\n +)?run: (\|\n(?:\1 .*\n|\n)+|.*\n)", text_of_workflow(name), re.M
    )
    assert scripts
    assert not [script for _, script in scripts if "${{" in script]
    assert "issue.body" not in text_of_workflow(name)
    assert "issue.title" not in text_of_workflow(name)
