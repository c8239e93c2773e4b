"""What the pages about amend and new tell people to type works, one line after the other."""

import re
import shlex
from pathlib import Path

import pytest

from cli.run_cvlib import run
from cvlib.cli.amend_forms import EXAMPLES, FORMS
from cvlib.files.read.setting_table import HEADINGS, KINDS
from house.markdown import blocks_of, code_words, section, text_of
from house.tree import ROOT

DOCS = ROOT / "docs"
OF_A_FILE = "table"
"""The form that needs a file of a person's own; tests/cli/test_amend_table.py types it."""
Capture = pytest.CaptureFixture[str]


def typed(text: str) -> list[list[str]]:
    """The words of each whole `cvlib amend …` line; a stroke at the end joins the next one."""
    lines = re.sub(r"\\\n\s*", "", text).splitlines()
    found = [line.strip().removeprefix("$ ") for line in lines]
    return [shlex.split(line)[1:] for line in found if line.startswith("cvlib amend ")]


def amend_lines() -> list[list[str]]:
    """Those of the page, but for what is shown only."""
    lines = [words for block in blocks_of(DOCS / "amend.md") for words in typed(block.text)]
    return [words for words in lines if "--dry-run" not in words and words[1] != OF_A_FILE]


def test_the_lines_of_the_page_work_one_after_the_other(tmp_path: Path, capsys: Capture) -> None:
    """A newcomer who types all of them in order never meets a refusal."""
    assert len(amend_lines()) > len(FORMS)
    for words in amend_lines():
        code = run([*words, "--definitions", str(tmp_path)])
        assert code == 0, (words, capsys.readouterr().err)


@pytest.mark.parametrize(
    "form", [one for one in FORMS if one.name != OF_A_FILE], ids=lambda form: form.name
)
def test_the_examples_of_the_help_are_understood(
    form: object, tmp_path: Path, capsys: Capture
) -> None:
    """Each is carried out by itself, whatever was typed before."""
    lines = typed(getattr(form, "examples", "")) + typed(EXAMPLES)
    assert lines
    for words in lines:
        kept = [word for word in words if word not in ("--pr-text", "change.md")]
        code = run([*kept, "--dry-run", "--definitions", str(tmp_path)])
        assert code == 0, capsys.readouterr().err


def test_the_page_about_new_names_every_column_and_kind() -> None:
    """Each column of a table stands in the page, and so does each kind of value."""
    words = set(code_words(section(text_of(DOCS / "new.md"), "The table")))
    usual = {"allowed": "range", "printed": "handbook page", "read-only": "read only"}
    usual |= {"high": "cv31", "low": "cv32"}
    assert {usual.get(name, name) for name in HEADINGS} - words == set()
    assert set(KINDS) - words == set()
    known = {word for headings in HEADINGS.values() for word in headings}
    table = text_of(DOCS / "new.md").partition("| column |")[2].partition("\n\n")[0]
    for line in table.splitlines()[2:]:
        named = re.findall(r"`([^`]+)`", " ".join(line.split("|")[1:3]))
        assert set(named) - known == set(), line
