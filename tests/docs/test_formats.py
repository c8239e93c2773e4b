"""The pages about files name every key that a file may have, and no other."""

import json
import re
from typing import Any

import pytest

from house.markdown import blocks_of, code_words, table_rows, text_of
from house.tree import ROOT

DOCS = ROOT / "docs"
PAGES = {
    "profile": (DOCS / "profile-format.md", DOCS / "profile-settings.md"),
    "blocks": (DOCS / "profile-format.md", DOCS / "profile-settings.md"),
    "loco": (DOCS / "loco-format.md",),
    "recipe": (DOCS / "recipes.md",),
}
ALL_PAGES = sorted({page for pages in PAGES.values() for page in pages})


def keys(kind: str) -> set[str]:
    """Every key of a kind of file, as its schema has them."""

    def below(node: Any) -> set[str]:
        if isinstance(node, list):
            return {key for part in node for key in below(part)}
        if not isinstance(node, dict):
            return set()
        return set(node.get("properties") or {}) | below(list(node.values()))

    text = (DOCS / "schema" / f"{kind}.schema.json").read_text(encoding="utf-8")
    return below(json.loads(text))


def words(texts: list[str]) -> set[str]:
    """The words of pieces of code, split where a key may end."""
    return {word for text in texts for word in re.findall(r"[a-z][a-z0-9-]*", text)}


@pytest.mark.parametrize("kind", PAGES)
def test_every_key_is_described(kind: str) -> None:
    """Each key stands in code marks in the running text or the tables of its pages."""
    described = [word for page in PAGES[kind] for word in code_words(text_of(page))]
    assert keys(kind) - words(described) == set()


@pytest.mark.parametrize("page", ALL_PAGES, ids=lambda page: page.name)
def test_no_key_is_described_that_does_not_exist(page: Any) -> None:
    """The first cell of each row of a table of keys names keys of that file."""
    known = set().union(*(keys(kind) for kind, described in PAGES.items() if page in described))
    text = text_of(page)
    tables = re.findall(r"^\| key \|.*?(?=^[^|]|\Z)", text, re.M | re.S)
    assert tables
    for table in tables:
        for cells in table_rows(table):
            named = words(re.findall(r"`([^`]+)`", cells[0].split("=")[0]))
            assert named - known <= {"loco", "decoder"}, cells[0]


def test_the_pages_about_files_show_whole_examples() -> None:
    """A reader finds a complete profile, a complete loco file and lists."""
    tags = [block.tag for page in ALL_PAGES for block in blocks_of(page)]
    assert {"toml profile", "toml loco", "text list"} <= set(tags)
