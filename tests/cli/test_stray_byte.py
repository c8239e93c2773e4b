"""One byte that is no UTF-8 in a file of ours: one clear fault, and nothing is written.

Source: TOML 1.0.0, spec: a TOML file is a valid UTF-8 encoded Unicode document.
"""

import shutil
from pathlib import Path

import pytest

from cli.run_cvlib import STORE, run

Capture = pytest.CaptureFixture[str]
FAULT = (
    "the byte 0x96 here is no UTF-8. If it is to be –, type that again, and save the file as UTF-8."
)
PLOVER = "ferrow/plover"
WORDS = {
    "lint": ["lint", "--definitions", "{own}"],
    "lint of the file": ["lint", "--definitions", "{own}", "{file}"],
    "tidy": ["tidy", "{own}"],
    "tidy of the file": ["tidy", "{file}"],
    "tidy --check": ["tidy", "--check", "{file}"],
    "amend": ["amend", "release", PLOVER, "3.7", "--definitions", "{own}"],
    "settings": ["settings", PLOVER, "--firmware", "3.1", "--definitions", "{own}"],
    "timeline": ["timeline", PLOVER, "--definitions", "{own}"],
    "check": ["check", "--profile", PLOVER, "--firmware", "3.1", "--definitions", "{own}", "3=5"],
    "explain": ["explain", "3=5", "--profile", PLOVER, "--definitions", "{own}"],
}


CASES = [(words, "plover.toml") for words in WORDS.values()]
CASES += [(WORDS[name], "blocks.toml") for name in ("lint", "tidy of the file", "settings")]


@pytest.mark.parametrize(("words", "file"), CASES)
def test_a_stray_byte_is_one_fault_and_stays_as_it_is(
    words: list[str], file: str, tmp_path: Path, capsys: Capture
) -> None:
    """Line and column are told, the exit code is not 0, and no byte on the disk has changed."""
    own = tmp_path / "own"
    shutil.copytree(STORE, own)
    path = own / "ferrow" / file
    before = path.read_bytes() if path.exists() else b"format = 1\n# no blocks\n"
    at = before.index(b"\n") + 1
    damaged = before[:at] + b"# What a \x96\n" + before[at:]
    path.write_bytes(damaged)
    if file == "blocks.toml":
        plover = own / "ferrow" / "plover.toml"
        text = plover.read_text(encoding="utf-8")
        plover.write_text(
            text.replace('kind = "motor"', 'kind = "motor"\nfollows = ["ferrow/blocks/x"]', 1),
            encoding="utf-8",
        )
    code = run([word.format(own=own, file=path) for word in words])
    told = "".join(capsys.readouterr())
    assert f"{path}:2:10: " in told
    assert FAULT in told
    assert told.count("0x96") == 1
    assert code != 0
    assert path.read_bytes() == damaged
