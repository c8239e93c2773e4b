"""A repository that names programs in its own settings starts none of them.

Source: the manuals of git, git-config and gitattributes, and githooks, as far as they name settings
that start a program.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cli.run_cvlib import run
from cvlib.errors import InputError
from cvlib.files.git import Repository
from files.small_store import STORE, put
from review.repositories import ALONE, commit, git, repository

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the traps are shell scripts")

SETTINGS = (
    "core.fsmonitor",
    "core.pager",
    "core.editor",
    "core.askPass",
    "core.sshCommand",
    "core.gitProxy",
    "core.alternateRefsCommand",
    "credential.helper",
    "diff.external",
    "diff.trap.command",
    "diff.trap.textconv",
    "filter.trap.clean",
    "filter.trap.smudge",
    "filter.trap.process",
    "filter.odd=name.clean",
    "merge.trap.driver",
    "gpg.program",
    "gpg.ssh.program",
    "interactive.diffFilter",
    "pager.diff",
    "pager.ls-files",
    "pager.ls-tree",
    "pager.rev-parse",
    "remote.origin.uploadpack",
    "remote.origin.vcs",
    "sequence.editor",
    "trailer.trap.command",
    "uploadpack.packObjectsHook",
)
HOOKS = (
    *("applypatch-msg", "fsmonitor-watchman", "post-checkout", "post-index-change"),
    *("post-merge", "pre-auto-gc", "pre-commit", "reference-transaction"),
)


@pytest.fixture
def trapped(tmp_path: Path) -> Path:
    """A repository with changes to look at, in which every setting leads to a program."""
    here = repository(tmp_path / "theirs")
    commit(here, STORE)
    put(here, "gulls/gull.toml", STORE["gulls/gull.toml"] + "# committed\n")
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "more")
    (here / ".gitattributes").write_text(
        "*.toml filter=trap diff=trap merge=trap\nblocks.toml filter=odd=name\n", encoding="utf-8"
    )
    put(here, "gulls/gull.toml", STORE["gulls/gull.toml"] + "# saved since\n")
    put(here, "gulls/tern.toml", STORE["gulls/tern.toml"] + "# saved since\n")
    traps = tmp_path / "traps"
    traps.mkdir()

    def trap(name: str, path: Path) -> Path:
        path.write_text(f"#!/bin/sh\necho x > '{traps / name}.ran'\ncat\n", encoding="utf-8")
        path.chmod(0o755)
        return path

    for number, name in enumerate(SETTINGS):
        git(here, "config", name, str(trap(f"setting-{number}", traps / f"setting-{number}.sh")))
    hooks = tmp_path / "hooks"
    hooks.mkdir()
    for name in HOOKS:
        trap(f"hook-{name}", hooks / name)
    git(here, "config", "core.hooksPath", str(hooks))
    for found in traps.glob("*.ran"):
        found.unlink()
    return here


def ran(here: Path) -> list[str]:
    """The traps that were sprung."""
    return sorted(path.name for path in (here.parent / "traps").glob("*.ran"))


def test_the_traps_are_armed(trapped: Path) -> None:
    """Plain git starts several of these programs, so that this test can fail."""
    subprocess.run(
        ["git", "diff", "HEAD"],
        cwd=trapped,
        env=os.environ | ALONE,
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert len(ran(trapped)) >= 2


@pytest.mark.parametrize(
    "words",
    [
        ["lint", "--changed-since", "HEAD"],
        ["lint", "--changed-since", "HEAD~1", "--format", "github"],
        ["lint", "--changed-since", "HEAD~1", "--format", "sarif"],
        ["review", "HEAD"],
        ["review", "HEAD~1", "HEAD"],
        ["review", "HEAD~1", "--merge-base", "--format", "github"],
    ],
    ids=" ".join,
)
def test_nothing_of_them_runs(
    trapped: Path,
    words: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whatever is asked; and the answer is the one that is wanted."""
    for name, value in ALONE.items():
        monkeypatch.setenv(name, value)
    monkeypatch.chdir(trapped)
    code = run([*words, "--definitions", "definitions"])
    told = capsys.readouterr()
    assert code in (0, 1), told.err
    assert told.out
    assert ran(trapped) == []


def test_what_lies_over_a_link_is_not_looked_at(
    trapped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder of the repository that became a link out of it counts as gone."""
    for name, value in ALONE.items():
        monkeypatch.setenv(name, value)
    outside = tmp_path / "outside"
    (trapped / "definitions" / "gulls").rename(outside)
    (trapped / "definitions" / "gulls").symlink_to(outside)
    found = Repository(trapped)
    lines = found.changed_since(found.commit("HEAD"))
    assert lines["definitions/gulls/gull.toml"] == ()
    assert ran(trapped) == []


def test_working_files_elsewhere_are_not_looked_at(
    trapped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A repository cannot make its surroundings part of itself."""
    for name, value in ALONE.items():
        monkeypatch.setenv(name, value)
    git(trapped, "config", "core.worktree", str(tmp_path))
    with pytest.raises(InputError, match="looks for its working files elsewhere"):
        Repository(trapped)
