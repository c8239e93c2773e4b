"""Whatever happens while a file is written, it is the old one or the new one, never another.

Real processes are killed before each step that touches the disk, run out of space, and write at
the same time.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest

from cvlib.cli.app import run
from cvlib.files.disk import HALF, LOCK
from cvlib.files.write import any_text, replace_file
from house.tree import ROOT

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="processes are forked and killed"),
    pytest.mark.slow,
]
FLEET = ROOT / "definitions" / "fleet" / "saltmarsh"
OWN = "own/ferrow/lark-8.toml"
UNTIDY = "format = 1\n[loco]\nname='No. 3'   # the red one\n[[decoder]]\nfirmware = '1'\n"


@pytest.fixture
def template(tmp_path: Path) -> Path:
    """A loco, an untidy one, a list of answers, and a folder of definitions of one's own."""
    folder = tmp_path / "work"
    (folder / "own" / "ferrow").mkdir(parents=True)
    shutil.copyfile(FLEET / "04-marsh-harrier.toml", folder / "loco.toml")
    shutil.copyfile(ROOT / "definitions" / "ferrow" / "lark-8.toml", folder / OWN)
    (folder / "untidy.toml").write_text(UNTIDY, encoding="utf-8")
    (folder / "answers.txt").write_text("# mine\n8 = 13\n", encoding="utf-8")
    (folder / "text.md").write_text("# Before\n", encoding="utf-8")
    undone = folder / "undone.toml"
    undone.write_bytes(b"# a remark\na = 1\n")
    replace_file(undone, b"a = 2\n", b"# a remark\na = 1\n", any_text, cause="tidy")
    return folder


def driven(*words: str) -> str:
    """What one of the programs beside this test prints."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}"}
    done = subprocess.run(
        [sys.executable, *words],
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


AMEND = ["amend", "release", "ferrow/lark-8", "4.3.10", "--note", "seen", "--definitions"]
NEW = ["new", "ferrow/puffin", "--maker", "Ferrow", "--name", "Puffin", "--kind", "motor"]
NEW += ["--title", "Handbook", "--firmware", ">=1, <2", "--definitions", "own"]
WRITERS = {
    "check": (["check", "loco.toml", "--record"], "loco.toml"),
    "carry": (["carry", "loco.toml", "--to", "4.3.9", "--write"], "loco.toml"),
    "tidy": (["tidy", "untidy.toml"], "untidy.toml"),
    "amend": ([*AMEND, "own"], OWN),
    "amend a copy": ([*AMEND, "fresh"], "fresh/ferrow/lark-8.toml"),
    "new": (NEW, "own/ferrow/puffin.toml"),
    "text": ([*AMEND, "own", "--pr-text", "text.md"], "text.md"),
    "probe": (["probe", "loco.toml", "141=60", "144=0", "--write"], "loco.toml"),
    "answers": (["identify", "7=2", "--ask", "--answers", "answers.txt"], "answers.txt"),
    "new answers": (["identify", "7=2", "--ask", "--answers", "fresh.txt"], "fresh.txt"),
    "undo": (["undo", "undone.toml"], "undone.toml"),
    "export": (["export", "loco.toml", "--output", "list.csv"], "list.csv"),
}


REPEATED = ("text", "answers", "new answers")
"""These add to their file whenever they run; a second run after a whole one adds once more."""
SLOW = ("amend", "new")
"""Of these every fourth step will do: they load and lint a profile each time."""


def held(path: Path) -> bytes | None:
    """What a file holds; nothing where it is not there."""
    return path.read_bytes() if path.exists() else None


def left_over(folder: Path) -> list[str]:
    """Temporary files and locks."""
    names = (path.name for path in folder.rglob("*"))
    return [name for name in names if name.endswith(HALF) or name == LOCK]


@pytest.mark.parametrize("name", WRITERS)
def test_a_command_killed_at_any_step_leaves_the_old_or_the_new(
    name: str, template: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No step leaves half a file; the next run does its work and leaves nothing lying about."""
    words, file = WRITERS[name]
    stride = 4 if words[0] in SLOW else 1
    program = str(ROOT / "tests" / "files" / "killed.py")
    copies = int(driven(program, str(template), str(stride), *words))
    assert copies > 6
    old = held(template / file)
    new = held(template.with_name(f"work.{copies}") / file)
    assert new is not None
    assert new != old
    states = []
    for number in range(1, copies, stride):
        folder = template.with_name(f"work.{number}")
        states.append(held(folder / file))
        if number != 9 or name == "undo":
            continue
        monkeypatch.chdir(folder)
        monkeypatch.setattr("sys.stdin", StringIO())
        run(words)
        capsys.readouterr()
        assert states[-1] == new or left_over((folder / file).parent) == []
        assert name in REPEATED or held(folder / file) == new
    assert set(states) <= {old, new}
    assert states[0] == old
    assert new in states


@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_leaves_the_old_file(name: str, template: Path) -> None:
    """The command says so, with exit code 2, and nothing half written stays.

    Stands in for a full disk: the system's limit on the size of files, as of setrlimit(2).
    """
    words, file = WRITERS[name]
    code = (
        "import resource, signal, sys; from cvlib.cli.app import run;"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (10, resource.RLIM_INFINITY));"
        "sys.exit(run(sys.argv[1:]))"
    )
    old = held(template / file)
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=template,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2, done.stderr
    assert "cannot be written" in done.stderr
    assert held(template / file) == old
    assert left_over(template) == []
    assert list(template.rglob("*.not-written*")) == []


@pytest.mark.parametrize("kind", ["merging", "refusing"])
def test_two_hundred_rounds_of_two_writers(kind: str, tmp_path: Path) -> None:
    """Every round both are in the file, or one was told that it is not."""
    rounds, lost, half, silent, refused = map(
        int, driven(str(ROOT / "tests" / "files" / "raced.py"), kind, str(tmp_path), "200").split()
    )
    assert (rounds, lost, half, silent) == (200, 0, 0, 0)
    assert (refused == 0) is (kind == "merging")
    assert left_over(tmp_path) == []
