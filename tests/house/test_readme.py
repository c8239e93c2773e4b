"""README.md shows what a person sees: each transcript in it is what the command prints."""

import difflib
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from house.tree import ROOT
from tools import dev

FENCED = re.compile(r"^```[^\n]*\n(.*?)^```", re.MULTILINE | re.DOTALL)
LEFT_OUT = ("…", "...")
"""A line of its own that stands for any number of lines left out of a transcript."""


@cache
def readme() -> str:
    """The text of README.md."""
    return (ROOT / "README.md").read_text(encoding="utf-8")


def transcripts(text: str) -> Iterator[tuple[str, list[str]]]:
    """Each `$ cvlib …` line of the fenced blocks with the output lines shown under it."""
    for block in FENCED.findall(text):
        command, shown = "", list[str]()
        for line in [*block.splitlines(), "$ end"]:
            if not line.startswith("$ "):
                shown.append(line.rstrip())
                continue
            if command.startswith("cvlib ") and any(shown):
                yield command, shown
            command, shown = line[2:].strip(), []


def printed(command: str) -> list[str]:
    """What a command prints into a pipe when it is run at the top of the checkout."""
    program = shutil.which("cvlib", path=str(Path(sys.executable).parent))
    assert program, "cvlib is not installed; run python3 tools/dev.py setup"
    env = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "FORCE_COLOR")}
    done = subprocess.run(
        [program, *shlex.split(command)[1:]],
        cwd=ROOT,
        env=env | {"PYTHONUTF8": "1", "NO_COLOR": "1"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return [line.rstrip() for line in done.stdout.rstrip().splitlines()]


def is_shown(shown: list[str], whole: list[str]) -> bool:
    """Whether the lines shown are the whole output, but for what the marks say is left out."""
    text = "\n".join(shown).strip("\n").splitlines()
    pieces = [r".*\n" if line.strip() in LEFT_OUT else re.escape(line) + r"\n" for line in text]
    pattern = "".join(f"(?:{piece})*?" if piece == r".*\n" else piece for piece in pieces)
    return re.fullmatch(pattern, "".join(f"{line}\n" for line in whole)) is not None


def test_each_transcript_is_what_the_command_prints() -> None:
    """Every `$ cvlib …` in README.md with output under it prints exactly that output."""
    found = list(transcripts(readme()))
    assert found, "README.md shows no transcript"
    for command, shown in found:
        whole = printed(command)
        diff = "\n".join(difflib.unified_diff(shown, whole, "README.md", command, lineterm=""))
        assert is_shown(shown, whole), diff


@pytest.mark.parametrize("command", ["demo", "test"])
def test_the_two_commands_stand_in_the_readme(command: str) -> None:
    """A newcomer finds both commands that a fresh clone understands."""
    assert f"python3 tools/dev.py {command}" in readme()


@pytest.mark.parametrize("command", dev.DEMO)
def test_the_demo_stands_in_the_readme(command: str) -> None:
    """README.md shows each command that the demo runs."""
    assert f"$ {command}\n" in readme()


@pytest.mark.parametrize(
    ("shown", "whole", "right"),
    [
        (["a", "b"], ["a", "b"], True),
        (["a", "b", ""], ["a", "b"], True),
        (["a", "…"], ["a", "b", "c"], True),
        (["a", "...", "c"], ["a", "b", "b", "c"], True),
        (["…", "c"], ["a", "b", "c"], True),
        (["a", "…", "c"], ["a", "c"], True),
        (["a", "…", "c"], ["a", "b"], False),
        (["a"], ["a", "b"], False),
        (["a+"], ["aa"], False),
        (["b", "a"], ["a", "b"], False),
    ],
)
def test_a_transcript_may_leave_lines_out_where_it_says_so(
    shown: list[str], whole: list[str], right: bool
) -> None:
    """Only a line of dots stands for lines left out; all others must be the same."""
    assert is_shown(shown, whole) is right
