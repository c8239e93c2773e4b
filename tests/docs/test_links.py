"""Links lead somewhere, and every page can be reached."""

from pathlib import Path

import pytest

from cvlib.cli.app import COMMANDS
from house.markdown import LINK, anchors, pages, prose, short, text_of
from house.tree import ROOT

DOCS = ROOT / "docs"


def targets(page: Path) -> list[str]:
    """What a page links to inside the project."""
    found = LINK.findall(prose(text_of(page)))
    return [link for link in found if not link.startswith(("http://", "https://", "mailto:"))]


@pytest.mark.parametrize("page", pages(), ids=short)
def test_links_resolve(page: Path) -> None:
    """Each link leads to a file or folder of the project, and to a heading that is there."""
    broken = []
    for link in targets(page):
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        is_there = target.exists() and target.is_relative_to(ROOT)
        if not is_there or (anchor and anchor not in anchors(target)):
            broken.append(link)
    assert broken == []


def test_every_page_of_docs_is_reached_from_the_index() -> None:
    """From docs/README.md links lead to each page of docs."""
    seen: set[Path] = set()
    waiting = [DOCS / "README.md"]
    while waiting:
        page = waiting.pop()
        if page in seen or page.suffix != ".md" or not page.is_relative_to(DOCS):
            continue
        seen.add(page)
        waiting += [(page.parent / link.partition("#")[0]).resolve() for link in targets(page)]
    assert sorted(map(short, set(DOCS.rglob("*.md")) - seen)) == []


def test_the_index_names_every_page_beside_it() -> None:
    """Each page but those of commands stands in the index, and the README leads to the index."""
    index = text_of(DOCS / "README.md")
    named = [page.name for page in DOCS.glob("*.md") if page.stem not in COMMANDS]
    missing = [name for name in named if f"({name})" not in index]
    assert missing == ["README.md"]
    assert "(docs/README.md)" in text_of(ROOT / "README.md")
