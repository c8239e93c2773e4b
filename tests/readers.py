"""Texts for every reader, sound and broken, for property tests and the longer runs of the tools.

Each text starts from a sound one of the corpus in tests/cases/fuzz and is damaged in places.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from cvlib.errors import CvlibError, problem
from cvlib.files.answers import read_answers
from cvlib.files.format_1 import in_newer_format
from cvlib.files.load import check_blocks, load_profile
from cvlib.files.made_settings import settings_of_rows
from cvlib.files.read import xpath_rows
from cvlib.files.read.interface import read_content
from cvlib.files.read.recipe import by_recipe, parse_recipe
from cvlib.files.read.setting_table import read_setting_table
from cvlib.files.read.suggest import suggest
from cvlib.files.read.tree import text_of
from cvlib.files.read.typed import parse_typed
from cvlib.files.scanner import comments
from cvlib.files.store import _Shelf, open_store
from cvlib.files.text import decode, decode_list, parse_toml
from cvlib.files.tidy import tidied_bytes
from cvlib.files.typed_keys import _BY_KIND, _PARSERS, parse_key
from cvlib.files.write import says
from cvlib.model.profile import Source, SourceKind
from cvlib.model.ranges import FirmwareRange
from cvlib.model.recipe import Recipe
from cvlib.model.versions import Scheme

CORPUS = Path(__file__).resolve().parent / "cases" / "fuzz"
PIECES = (
    *('"', "'", '"""', "#", "=", ",", ";", "\t", "|", "[", "]", "[[", "]]", "{", "}", "@", "/"),
    *("0x", "0b", "%", "$", "-", "--", "é", "ß", "\ufeff", "\x00", "\x1b[31m", "\u202e", "\xa0"),
    *("27", "257@16/2", "1024", "1025", "-1", "9" * 120, "f" * 120, "1e999", "nan", "inf"),
    *(
        "\r\n",
        "\n\n",
        "\r",
        "[loco]\n",
        "[[setting]]\n",
        "format = 3\n",
        "CV,Value\n",
        "a.b.c = 1\n",
    ),
    *("2026-02-30", "true", "no answer", "skip", "test a.b = 2", "track = main", "[" * 70),
)


def _list(data: bytes, folder: Path) -> object:
    return read_content(data, "list.csv")


def _loco(data: bytes, folder: Path) -> object:
    return read_content(data, "loco.toml")


def made(text: str) -> object:
    """The settings that a table gives, without a standard."""
    rows = read_setting_table(text, "table.csv").rows
    speaks_for = FirmwareRange.parse(">=1.0", Scheme.DOTTED)
    handbook = Source("handbook-1", SourceKind.DOCUMENT, "Handbook", speaks_for)
    return settings_of_rows(rows, None, handbook, is_complete=False)


def _table(data: bytes, folder: Path) -> object:
    return made(decode_list(data, "table.csv"))


def _profile(data: bytes, folder: Path) -> object:
    shelf = _Shelf(open_store(), "ferrow/linnet.toml")
    return load_profile(decode(data, "profile.toml"), "profile.toml", shelf, "ferrow/linnet")


def _recipe(data: bytes, folder: Path) -> object:
    return parse_recipe(decode(data, "recipe.toml"), "recipe.toml")


def _answers(data: bytes, folder: Path) -> object:
    path = folder / "answers.txt"
    path.write_bytes(data)
    return read_answers(path, lambda _: 3)


def _blocks(data: bytes, folder: Path) -> object:
    check_blocks(decode(data, "blocks.toml"), "blocks.toml")
    return None


def _here(tree: str, name: str, recipe: Recipe) -> object:
    """The rows of a tree, found in this process: starting one for each text takes too long."""
    try:
        root = xpath_rows.parse(tree)
        return xpath_rows.rows(root, dict(recipe.paths), dict(recipe.namespaces))
    except xpath_rows.TreeError as error:
        raise problem(str(error.args[0])) from None


_TREES = (
    Recipe("xml", {"rows": "//v", "number": "@n", "value": "@is", "page": "@page"}),
    Recipe("json", {"rows": "//item", "number": "cv", "value": "value", "name": "../../name"}),
    Recipe(
        "table",
        {"rows": "//row", "number": "cell[@head='No.']", "value": "cell[2]", "role": "cell[3]"},
        delimiter=";",
        headings=1,
    ),
)


def _tree(data: bytes, folder: Path) -> object:
    first = data.lstrip()[:1]
    recipe = _TREES[0 if first == b"<" else 1 if first in (b"{", b"[") else 2]
    with patch("cvlib.files.read.recipe._asked", _here):
        return by_recipe(text_of(data, "list", recipe.kind), "list", recipe)


def _suggest(data: bytes, folder: Path) -> object:
    path = folder / "odd.txt"
    path.write_bytes(data)
    with patch("cvlib.files.read.recipe._asked", _here):
        return suggest(path)


def _tidy(data: bytes, folder: Path) -> object:
    newer, _ = in_newer_format(data, "a.toml")
    made, before = tidied_bytes(newer, "a.toml"), decode(newer, "a.toml")
    assert says(parse_toml(before, "a.toml"))(made), "tidy changed what the file says"
    after = decode(made, "a.toml").replace("\r\n", "\n")
    assert sorted(comments(after)) == sorted(comments(before.replace("\r\n", "\n")))
    assert tidied_bytes(made, "a.toml") == made, "tidy twice is not tidy once"
    return made


def _typed(data: bytes, folder: Path) -> object:
    words = data.decode("utf-8", "surrogateescape").split("\n")
    for word in words[:8]:
        for key in (*_PARSERS, *_BY_KIND):
            try:
                parse_key(key, word, "number")
            except CvlibError as error:
                assert all(str(fault).isprintable() for fault in error.faults)  # noqa: PT017
    return parse_typed(words)


READERS: dict[str, Callable[[bytes, Path], object]] = {
    "list": _list,
    "loco": _loco,
    "table": _table,
    "profile": _profile,
    "blocks": _blocks,
    "recipe": _recipe,
    "tree": _tree,
    "suggest": _suggest,
    "answers": _answers,
    "tidy": _tidy,
    "typed": _typed,
}
"""Each reader, from the bytes of a file; the folder is one it may write that file into."""

_SHARED = {"suggest": ("tree",), "tidy": ("tidy", "loco", "profile", "blocks")}
"""The readers whose texts another one reads as well."""


def corpus(reader: str) -> list[bytes]:
    """The sound texts of one reader."""
    names = [f"{one}-*" for one in _SHARED.get(reader, (reader,))]
    return [path.read_bytes() for name in names for path in sorted(CORPUS.glob(name))]


@st.composite
def damaged(draw: DrawFn, reader: str) -> bytes:
    """A text of the corpus with up to six pieces put in, taken out, doubled or moved."""
    text = draw(st.sampled_from(corpus(reader)))
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.integers(0, 30)))
        what = draw(st.integers(0, 4))
        piece = draw(st.sampled_from(PIECES)).encode() if what < 2 else text[at:end]
        if what == 0:
            text = text[:at] + piece + text[at:]
        elif what == 1:
            text = text[:at] + piece + text[end:]
        elif what == 2:
            text = text[:at] + text[end:]
        elif what == 3:
            text = text[:end] + piece * draw(st.integers(1, 40)) + text[end:]
        else:
            text = text[:at] + bytes([draw(st.integers(0, 255))]) + text[at + 1 :]
    return text


def texts(reader: str) -> SearchStrategy[bytes]:
    """Damaged texts, and now and then any bytes at all."""
    return st.one_of(damaged(reader), damaged(reader), damaged(reader), st.binary(max_size=60))
