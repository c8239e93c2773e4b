"""Texts for every reader, sound and broken, for property tests and the longer run of tools/fuzz.py.

Each text starts from a sound one of the corpus in tests/cases/fuzz and is damaged in places.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from cvlib.files.answers import read_answers
from cvlib.files.load import load_profile
from cvlib.files.made_settings import settings_of_rows
from cvlib.files.read.interface import read_content
from cvlib.files.read.recipe import parse_recipe
from cvlib.files.read.setting_table import read_setting_table
from cvlib.files.store import _Shelf, open_store
from cvlib.files.text import decode, decode_list
from cvlib.model.profile import Source, SourceKind
from cvlib.model.ranges import FirmwareRange
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


READERS: dict[str, Callable[[bytes, Path], object]] = {
    "list": _list,
    "loco": _loco,
    "table": _table,
    "profile": _profile,
    "recipe": _recipe,
    "answers": _answers,
}
"""Each reader, from the bytes of a file; the folder is one it may write that file into."""


def corpus(reader: str) -> list[bytes]:
    """The sound texts of one reader."""
    return [path.read_bytes() for path in sorted(CORPUS.glob(f"{reader}-*"))]


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
