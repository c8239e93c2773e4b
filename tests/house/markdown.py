"""The project's Markdown pages in parts: fenced blocks, headings, links, words in code."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from house.tree import ROOT

FENCE = re.compile(
    r"^(?P<indent> *)```(?P<tag>[^\n`]*)\n(?P<text>.*?)^(?P=indent)```[ ]*$", re.M | re.S
)
HEADING = re.compile(r"^#{1,6} (.+)$", re.M)
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"(?<!`)`([^`\n]+)`(?!`)")


@dataclass(frozen=True)
class Block:
    """One fenced block of a page."""

    page: Path
    line: int
    """Line of the page on which the fence opens."""
    tag: str
    """The words behind the opening fence, such as "toml profile"."""
    text: str

    def __str__(self) -> str:
        return f"{short(self.page)}:{self.line}"


def short(page: Path) -> str:
    """The page from the top of the project."""
    return page.relative_to(ROOT).as_posix()


@cache
def pages() -> tuple[Path, ...]:
    """Every page that people read: those at the top, in docs, and beside the demo fleet."""
    folders = (ROOT / "docs", ROOT / "definitions")
    found = [page for folder in folders for page in sorted(folder.rglob("*.md"))]
    return (ROOT / "README.md", ROOT / "DEVELOPERS.md", *found)


@cache
def text_of(page: Path) -> str:
    """The text of a page."""
    return page.read_text(encoding="utf-8")


@cache
def blocks(*tags: str) -> tuple[Block, ...]:
    """The fenced blocks of all pages; with tags, only those."""
    return tuple(
        block for page in pages() for block in blocks_of(page) if not tags or block.tag in tags
    )


def blocks_of(page: Path) -> Iterator[Block]:
    """The fenced blocks of one page."""
    text = text_of(page)
    for found in FENCE.finditer(text):
        indent = found["indent"]
        lines = [line.removeprefix(indent) for line in found["text"].splitlines(keepends=True)]
        line = text.count("\n", 0, found.start()) + 1
        yield Block(page, line, found["tag"].strip(), "".join(lines))


def prose(text: str) -> str:
    """A text without its fenced blocks."""
    return FENCE.sub("", text)


def code_words(text: str) -> list[str]:
    """What stands in code marks in running text and tables."""
    return CODE.findall(prose(text))


def anchors(page: Path) -> set[str]:
    """The names by which headings are linked to, as sites that show Markdown make them."""
    found: set[str] = set()
    for heading in HEADING.findall(prose(text_of(page))):
        words = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).lower()
        name = re.sub(r"[^\w\- ]", "", words).strip().replace(" ", "-")
        number = sum(other == name or other.startswith(f"{name}-") for other in found)
        found.add(f"{name}-{number}" if name in found else name)
    return found


def section(text: str, heading: str, level: int = 2) -> str:
    """What stands under a heading, up to the next of its level or above; empty where it is not."""
    marks = "#" * level
    parts = re.split(rf"^{marks} {re.escape(heading)}$", text, maxsplit=1, flags=re.M)
    if len(parts) == 1:
        return ""
    return re.split(rf"^#{{1,{level}}} ", parts[1], maxsplit=1, flags=re.M)[0]


def table_rows(text: str) -> Iterator[list[str]]:
    """The cells of each row of each table, headings and rules left out."""
    rows = [line for line in prose(text).splitlines() if line.startswith("|")]
    for number, line in enumerate(rows):
        is_rule = set(line) <= set("|- :")
        is_heading = number + 1 < len(rows) and set(rows[number + 1]) <= set("|- :")
        if not is_rule and not is_heading:
            yield [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
