"""Every example of `cvlib amend` works by itself, whatever was typed before."""

import re
import shlex
from collections.abc import Iterator

import pytest

from cli.run_cvlib import run
from cvlib.cli.amend_forms import FORMS
from house.tree import ROOT

PAGES = ("amend.md", "keeping.md", "correcting.md")


def examples() -> Iterator[str]:
    """What the pages and the help of each form show, on one line each.

    The form table needs a file of a person's own; tests/cli/test_amend_table.py types it.
    """
    for page in PAGES:
        text = (ROOT / "docs" / page).read_text(encoding="utf-8")
        yield from re.findall(r"^cvlib amend \w+ \S+ .+$", text, re.M)
    for form in FORMS:
        told = form.examples.replace("\\\n", " ").replace("\b", "")
        yield from re.findall(r"cvlib amend \w+ \S+ .+", told)


@pytest.mark.slow
@pytest.mark.parametrize(
    "line", sorted(one for one in set(examples()) if not one.startswith("cvlib amend table "))
)
def test_an_example_rests_on_no_other(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Tried on the shipped definitions, it would be written."""
    words = [word for word in shlex.split(line)[1:] if word != "--dry-run"]
    if "--pr-text" in words:
        at = words.index("--pr-text")
        del words[at : at + 2]
    if "--definitions" in words:
        at = words.index("--definitions")
        del words[at : at + 2]
    assert run([*words, "--dry-run", "--format", "json"]) == 0, capsys.readouterr().err
