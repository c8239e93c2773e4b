"""Real git repositories for tests, made from folders and mappings of files."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path

ALONE = {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_SYSTEM": os.devnull,
    "GIT_AUTHOR_NAME": "A member",
    "GIT_AUTHOR_EMAIL": "member@railway.example",
    "GIT_COMMITTER_NAME": "A member",
    "GIT_COMMITTER_EMAIL": "member@railway.example",
}
"""Git without the settings of the person who runs the tests."""


def git(folder: Path, *arguments: str) -> str:
    """The output of a git command in a folder; the test fails where git does."""
    done = subprocess.run(
        ["git", "-c", "init.defaultBranch=main", "-c", "commit.gpgsign=false", *arguments],
        cwd=folder,
        env=os.environ | ALONE,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def repository(folder: Path) -> Path:
    """A new empty repository."""
    folder.mkdir(parents=True, exist_ok=True)
    git(folder, "init", "--quiet")
    return folder


def commit(folder: Path, files: Mapping[str, str] | Path, message: str = "a state") -> str:
    """Commit these files, or a copy of a folder, as the whole store; the commit's name."""
    store = folder / "definitions"
    shutil.rmtree(store, ignore_errors=True)
    if isinstance(files, Path):
        shutil.copytree(files, store, copy_function=shutil.copyfile)
    else:
        for name, text in files.items():
            path = store / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--allow-empty", "--message", message)
    return git(folder, "rev-parse", "HEAD")
