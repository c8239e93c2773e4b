"""Every example of the pages for keepers works by itself, whatever was typed before."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from cli.run_cvlib import run
from house.tree import ROOT

PAGES = ("amend.md", "keeping.md", "correcting.md")


def examples() -> Iterator[str]:
    """What the pages show, one line each.

    The form table needs a file of a person's own; tests/cli/test_amend_table.py types it.
    """
    for page in PAGES:
        text = (ROOT / "docs" / page).read_text(encoding="utf-8")
        yield from re.findall(r"^cvlib amend (?!table )\w+ \S+ .+$", text, re.M)


@pytest.mark.slow
@pytest.mark.parametrize("line", sorted(set(examples())))
def test_an_example_rests_on_no_other(
    line: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Tried on the shipped definitions, it would be written."""
    words = [word for word in shlex.split(line)[1:] if word != "--dry-run"]
    words += ["--dry-run", "--definitions", str(tmp_path), "--format", "json"]
    assert run(words) == 0, capsys.readouterr().err
