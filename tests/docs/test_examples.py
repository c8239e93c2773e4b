"""Every example in the pages is true: files are read, transcripts are what the program prints."""

import difflib
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cvlib import api
from cvlib.files.read.interface import read_content
from cvlib.files.read.recipe import parse_recipe
from cvlib.files.read.table import read_table
from cvlib.files.shapes.schema import FILES, schema
from cvlib.findings.catalogue import CATALOGUE
from cvlib.model.cv import Slot
from house.markdown import Block, blocks, pages, short, text_of
from tools import pages as tool

TAGS = {"", "text", "console", "toml", "toml profile", "toml loco", "text list"}
TAGS |= {"text layout", "toml recipe"}
TRANSCRIBED = [page for page in pages() if page in tool.pages()]
MAPPED_WORDS = (
    *("choices", "flags", "values", "lists", "options", "cv", "page", "is", "not", "risk", "topic"),
)
"""Keys below which the names are the person's own, not those of the format."""


def is_known(tag: str) -> bool:
    """Whether a tag is one that is looked at: here, or with the samples of lint."""
    return tag in TAGS or re.fullmatch(r"toml (fails|passes)( [a-z0-9/-]+\.toml)?", tag) is not None


@cache
def printed(command: str) -> tuple[list[str], int]:
    """What a command prints and its exit code; each command runs once."""
    return tool.printed(command)


def test_every_block_says_what_it_is() -> None:
    """A fenced block has one of the tags that are looked at here."""
    assert [f"{block} {block.tag}" for block in blocks() if not is_known(block.tag)] == []


@pytest.mark.parametrize("block", blocks("toml profile"), ids=str)
def test_a_profile_in_a_page_is_read_and_has_no_faults(block: Block, tmp_path: Path) -> None:
    """It stands in a store of its own beside the shipped one, and lint finds nothing.

    The number 13 of people's own decoders is that of the open firmwares too, which lint says.
    """
    name = tomllib.loads(block.text)["decoder"]["id"]
    path = tmp_path / f"{name}.toml"
    path.parent.mkdir()
    path.write_text(block.text, encoding="utf-8")
    store = api.open_store(tmp_path)
    assert store.profile(name).settings
    found = [str(message) for message in api.lint(store).remarks if tmp_path.name in str(message)]
    assert [one for one in found if "shared-identity" not in one] == []


@pytest.mark.parametrize("block", blocks("toml loco"), ids=str)
def test_a_loco_file_in_a_page_is_read_and_checked(block: Block) -> None:
    """Each decoder that names its profile is checked, and every saved bit accounted for."""
    loco = read_content(block.text.encode(), "page.toml")
    assert loco.decoders
    for decoder in loco.decoders:
        if decoder.profile:
            api.check_decoder(api.open_store(), decoder, loco)


@pytest.mark.parametrize("code", [row.code for row in CATALOGUE])
def test_the_example_of_a_finding_has_that_finding(code: str) -> None:
    """A loco on the page of a code is found to have it."""
    (block, *_) = [one for one in blocks("toml loco") if one.page.stem == code]
    loco = read_content(block.text.encode(), "page.toml")
    done = api.check_loco(api.open_store(), loco, changed=code == "changed")
    found = {
        finding.code
        for decoder in done.decoders
        if decoder.checked
        for finding in decoder.checked.findings
    }
    assert code in found


@pytest.mark.parametrize("block", blocks("text list"), ids=str)
def test_a_list_in_a_page_is_read(block: Block) -> None:
    """Each line that is not a heading or a remark gives one value, but for CVs 31 and 32."""
    (decoder,) = read_table(block.text, "page.txt").decoders
    lines = [line for line in block.text.splitlines() if any(map(str.isdigit, line))]
    rows = [line for line in lines if not line.startswith(("#", "31,", "32,"))]
    assert len(decoder.values) >= len(rows) > 0


@pytest.mark.parametrize("at", range(len(blocks("toml recipe"))))
def test_a_recipe_in_a_page_reads_the_layout_before_it(at: int) -> None:
    """Each reads the values of the layout that stands before it, with nothing wrong."""
    layout, recipe = blocks("text layout")[at], parse_recipe(blocks("toml recipe")[at].text, "r")
    (decoder,) = read_content(layout.text.encode(), "page.txt", recipe).decoders
    assert decoder.values[Slot(8)].value == 13


def known_keys() -> set[str]:
    """Every key of every kind of file."""

    def keys(node: Any) -> set[str]:
        if isinstance(node, list):
            return {key for part in node for key in keys(part)}
        if not isinstance(node, dict):
            return set()
        return set(node.get("properties") or {}) | keys(list(node.values()))

    return keys([schema(kind) for kind in FILES])


def used_keys(node: Any) -> set[str]:
    """The keys of a piece of a file that belong to the format."""
    if isinstance(node, list):
        return {key for part in node for key in used_keys(part)}
    if not isinstance(node, dict):
        return set()
    below = [value for key, value in node.items() if key not in MAPPED_WORDS]
    return set(node) | used_keys(below)


@pytest.mark.parametrize("block", blocks("toml"), ids=str)
def test_a_piece_of_a_file_in_a_page_uses_keys_that_exist(block: Block) -> None:
    """A piece that cannot stand alone is TOML, and each of its keys belongs to the format."""
    assert used_keys(tomllib.loads(block.text)) - known_keys() == set()


@pytest.mark.parametrize("page", TRANSCRIBED, ids=short)
def test_each_transcript_is_what_the_program_prints(page: Path) -> None:
    """What stands under a `$ cvlib …` line is the output, but for what dots leave out."""
    for command, shown in tool.transcripts(text_of(page)):
        whole, _ = printed(command)
        diff = "\n".join(difflib.unified_diff(shown, whole, short(page), command, lineterm=""))
        hint = "python3 tools/dev.py docs brings the pages up to date\n"
        assert tool.is_shown(shown, whole), hint + diff


@pytest.mark.parametrize("page", TRANSCRIBED, ids=short)
def test_a_page_is_as_the_tool_would_write_it(page: Path) -> None:
    """Bringing the pages up to date would change nothing."""
    new = tool.refreshed(text_of(page), lambda command: printed(command)[0])
    lines = difflib.unified_diff(text_of(page).splitlines(), new.splitlines(), lineterm="")
    assert list(lines) == [], "python3 tools/dev.py docs brings the pages up to date"


@pytest.mark.parametrize("page", TRANSCRIBED, ids=short)
def test_no_transcript_shows_an_internal_error(page: Path) -> None:
    """A page shows faults only where the program means them."""
    shown = "\n".join(line for _, lines in tool.transcripts(text_of(page)) for line in lines)
    assert "internal error" not in shown
    assert "Traceback" not in shown
