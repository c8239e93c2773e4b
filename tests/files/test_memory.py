"""No command takes more than 100 MB of memory over a file, whatever the file holds.

Each text is near a bound of docs/reliability.md, or far past it, and is given to a process of its
own; what that process and those that it starts took at most is asked of the system.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cvlib.files import bounds
from cvlib.files.read.tree import MOST_MARKS
from cvlib.files.text import LIMIT
from house.tree import ROOT
from readers import CORPUS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="it keeps no such figure")

MOST = 100_000_000
PROGRAM = """
import resource, sys
from pathlib import Path
from cvlib.cli.app import run
code = run(sys.argv[1:])
unit = 1 if sys.platform == "darwin" else 1024
peaks = [resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * unit]
status = Path("/proc/self/status")
if status.exists():  # what getrusage says of oneself counts the parent before the program began
    said = dict(line.split(":", 1) for line in status.read_text().splitlines())
    peaks.append(int(said["VmHWM"].split()[0]) * 1024)
else:
    peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit)
print("", code, max(peaks), sep="\\n")
"""
LOCO = (
    'format = 1\n[loco]\nname = "x"\n[[decoder]]\nprofile = "ferrow/lark-8"\nfirmware = "4.0.5"\n'
)
PROFILE = (CORPUS / "profile-1.toml").read_text(encoding="utf-8").partition("[[setting]]")[0]
DECODER = ("--profile", "ferrow/lark-8", "--firmware", "4.0.5")


def slots(count: int) -> list[tuple[int, str]]:
    """So many CVs, each on a page of its own or beside others."""
    return [(257 + at % 256, f"{at // 256 % 256}/{at // 65536}") for at in range(count)]


def listed() -> str:
    rows = (f"{cv}@{page},3\n" for cv, page in slots(bounds.LINES - 1))
    return "CV,Value\n" + "".join(rows)


def saved() -> str:
    lines, last = [LOCO, "[[decoder.saved]]\n"], ""
    for cv, page in slots(bounds.LINES - 200):
        lines += [] if page == last else [f'[decoder.saved.page."{page}"]\n']
        lines.append(f"{cv} = 3\n")
        last = page
    return "".join(lines)


def dotted() -> str:
    keys = (".".join([f"b{at}", *["a"] * 61]) for at in range(bounds.SIGNS // 62 - 9))
    return LOCO + "".join(f"{key}=1\n" for key in keys)


def entries(entry: str) -> str:
    row = entry * (9_000 // len(entry)) + "\n"
    signs = sum(map(row.count, "=,.[{"))
    return LOCO + "z = [\n" + row * ((bounds.SIGNS - 30) // signs) + "]\n"


def settings() -> str:
    one = '[[setting]]\nid = "a.s{}"\ntitle = "t{}"\nrisk = []\n[[setting.place]]\ncv = {}\n'
    made = (one.format(at, at, at % 1024 + 1) for at in range(bounds.SETTINGS))
    return PROFILE + "".join(f'{text}kind = "number"\nsources = ["handbook-1"]\n' for text in made)


def wide() -> str:
    """Of the most bytes, and each sign of the text takes four in memory since one of them does."""
    return "CV,Value\n8,3 # \U0001f682\n" + ("#" + "x" * 19_000 + "\n") * (LIMIT // 19_002 - 1)


CASES: dict[str, tuple[str, Callable[[], str], tuple[str, ...]]] = {
    "list": ("a.csv", listed, ("check", *DECODER)),
    "list carried": ("a.csv", listed, ("carry", *DECODER, "--to", "4.3.9")),
    "list of wide signs": ("a.csv", wide, ("check", *DECODER)),
    "list of cells": (
        "a.csv",
        lambda: "CV,Value\n" + f"8,3{',1' * 997}\n" * 2_000,
        ("check", *DECODER),
    ),
    "list of empty lines": ("a.csv", lambda: "\n" * LIMIT, ("check", *DECODER)),
    "list of 100 MB": ("a.csv", lambda: "8,3\n" * 25_000_000, ("check", *DECODER)),
    "loco": ("a.toml", saved, ("check",)),
    "loco laid out": ("a.toml", saved, ("tidy", "--check")),
    "dotted keys": ("a.toml", dotted, ("check",)),
    "lists": ("a.toml", lambda: entries("[],"), ("check",)),
    "tables": ("a.toml", lambda: entries("{a={}},"), ("tidy", "--check")),
    "settings": ("linnet.toml", settings, ("lint",)),
    "settings with faults": (
        "linnet.toml",
        lambda: PROFILE + '[[setting]]\nidd = "a"\n' * bounds.SETTINGS,
        ("lint",),
    ),
    "XML": (
        "a.xml",
        lambda: "<a>" + '<v n="3" is="3"/>' * 19_990 + "</a>",
        ("recipe", "suggest"),
    ),
    "XML of tags": (
        "a.xml",
        lambda: f"<a>{'<v/>' * (MOST_MARKS - 9)}</a>",
        ("recipe", "suggest"),
    ),
    "XML of spaces": ("a.xml", lambda: f"<a>{' ' * (LIMIT - 9)}</a>", ("recipe", "suggest")),
    "JSON": (
        "a.json",
        lambda: "{" + ",".join(f'"CV{at}":3' for at in range(MOST_MARKS // 2 - 9)) + "}",
        ("recipe", "suggest"),
    ),
    "odd table": ("a.txt", lambda: "8;3;1;1\n" * 19_990, ("recipe", "suggest")),
    "answers": (
        "a.txt",
        lambda: "".join(f"{cv}@{page} = 3\n" for cv, page in slots(bounds.ANSWERS)),
        ("identify", "--answers"),
    ),
}


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The compiled profiles, made beforehand: what that takes is no matter of the file."""
    folder = tmp_path_factory.mktemp("cache")
    (folder / "small.csv").write_text("8,13\n", encoding="utf-8")
    peak(folder / "cache", "check", str(folder / "small.csv"))
    return folder / "cache"


def peak(cache: Path, *words: str) -> tuple[int, int]:
    """The exit code of a command, and the bytes that it took at most."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "CVLIB_CACHE": str(cache)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *words],
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    code, most = done.stdout.splitlines()[-2:]
    return int(code), int(most)


@pytest.mark.parametrize("name", CASES)
def test_a_file_takes_no_more_than_100_mb(name: str, cache: Path, tmp_path: Path) -> None:
    """It is answered or refused, and the memory stays within its bound."""
    file, make, words = CASES[name]
    path = tmp_path / file
    path.write_text(make(), encoding="utf-8", newline="\n")
    code, most = peak(cache, *words, str(path))
    assert code in (0, 1, 2, 3)
    assert most < MOST


def test_more_would_be_seen(cache: Path) -> None:
    """The measure tells what a process takes that takes more."""
    program = PROGRAM.replace("code = run(sys.argv[1:])", "code = len(b'x' * 120_000_000)")
    done = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(done.stdout.splitlines()[-1]) > MOST
