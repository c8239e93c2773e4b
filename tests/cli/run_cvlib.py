"""Running cvlib in a test: in this process, or as a program of its own."""

import os
import subprocess
import sys
from pathlib import Path

from cvlib.cli.app import run

STORE = Path(__file__).parent / "store"
ROOT = Path(__file__).parent.parent.parent


def plover(*words: str) -> list[str]:
    """The arguments of a check with the small profile that can meet every code."""
    return ["check", "--definitions", str(STORE), "--profile", "ferrow/plover", *words]


def program(*words: str, stdin: str = "", **variables: str) -> subprocess.CompletedProcess[str]:
    """Run `python -m cvlib` with its output into pipes."""
    foreign = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "CVLIB_DEFINITIONS", "PYTHONIOENCODING")
    env = {key: value for key, value in os.environ.items() if key not in foreign}
    return subprocess.run(
        [sys.executable, "-m", "cvlib", *words],
        input=stdin,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env=env | {"PYTHONUTF8": "1"} | variables,
        check=False,
    )


__all__ = ["ROOT", "STORE", "plover", "program", "run"]
