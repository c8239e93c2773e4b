"""The top of the project holds what belongs there, and its text speaks of the project alone."""

import re
import tomllib

import pytest

import cvlib
from house.tree import ROOT, kept_files

FILES = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
FOLDERS = {"cvlib", "definitions", "tools", "tests", "docs"}
DOTTED = {
    ".ci",
    ".editorconfig",
    ".gitattributes",
    ".github",
    ".gitignore",
    ".pre-commit-hooks.yaml",
}

STRANGERS = (
    r"/work/",
    r"/tmp/brief",
    r"\bshared/(?:facts|design|style|developers)",
    r"\b(?:design|style|house)\.md\b",
    r"\bissues? show\b",
    r"\bsub-?agents?\b",
    r"\bhelper (?:session|process|agent)s?\b",
    r"\b(?:this|earlier|previous|later) sessions?\b",
    r"\bthe (?:brief|ticket|reviewer agent)\b",
    r"\blanguage models?\b",
    r"\b(?:llm|chatbot)s?\b",
)
"""Words that speak of somewhere else than the project; case does not matter."""


def test_the_top_level_holds_exactly_what_is_permitted() -> None:
    """Four files, five folders and the dot files stand at the top, and nothing else."""
    assert {name.partition("/")[0] for name in kept_files()} == FILES | FOLDERS | DOTTED


@pytest.mark.parametrize("pattern", STRANGERS)
def test_no_text_speaks_of_anything_but_the_project(pattern: str) -> None:
    """No kept text file except this one has a word of another place."""
    here = "tests/house/test_top_level.py"
    wanted = re.compile(pattern, re.IGNORECASE)
    found = []
    for name in kept_files():
        if name == here:
            continue
        text = (ROOT / name).read_bytes().decode("utf-8", errors="replace")
        found += [
            f"{name}:{text.count(chr(10), 0, match.start()) + 1} {match.group()}"
            for match in wanted.finditer(text)
        ]
    assert found == []


def test_the_version_is_the_same_everywhere() -> None:
    """cvlib.__version__ is the version that pyproject.toml gives the distribution."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        assert tomllib.load(file)["project"]["version"] == cvlib.__version__
