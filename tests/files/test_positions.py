"""Positions of keys, judged by tomllib: whatever it reads is found where it stands (TOML 1.0)."""

import re
import tomllib
from typing import Any

import pytest
from hypothesis import given

from cvlib.errors import Position
from cvlib.files.text import TomlPositions
from files.toml_documents import documents, paths

KEY = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")

EXAMPLE = '''\
format = 1   # [not.a.table]
owner.name."full name" = "Marsh"
[[setting]]
id = "a"
[[ setting . place ]]
cv = 141
cvs = [ 17,
  18, # low
  { page = "16/2", "b]" = ["x"] },
]
note = """
cv = 3 \\""""
[setting.place.when]
[[setting.place]]
  'cv' = 144
[[setting]]
[[setting.place]]
since = 2026-03-14 07:00:00 # cv
x = { a.b = 1, c = {} }
'''


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("format",), 1, 1),
        (("owner",), 2, 1),
        (("owner", "name"), 2, 7),
        (("owner", "name", "full name"), 2, 12),
        (("setting",), 3, 3),
        (("setting", 0), 3, 3),
        (("setting", 0, "id"), 4, 1),
        (("setting", 0, "place", 0), 5, 14),
        (("setting", 0, "place", 0, "cv"), 6, 1),
        (("setting", 0, "place", 0, "cvs", 0), 7, 9),
        (("setting", 0, "place", 0, "cvs", 1), 8, 3),
        (("setting", 0, "place", 0, "cvs", 2), 9, 3),
        (("setting", 0, "place", 0, "cvs", 2, "page"), 9, 5),
        (("setting", 0, "place", 0, "cvs", 2, "b]"), 9, 20),
        (("setting", 0, "place", 0, "cvs", 2, "b]", 0), 9, 28),
        (("setting", 0, "place", 0, "note"), 11, 1),
        (("setting", 0, "place", 0, "when"), 13, 16),
        (("setting", 0, "place", 1, "cv"), 15, 3),
        (("setting", 1), 16, 3),
        (("setting", 1, "place", 0, "since"), 18, 1),
        (("setting", 1, "place", 0, "x", "a", "b"), 19, 9),
        (("setting", 1, "place", 0, "x", "c"), 19, 16),
        # What is not there is at the nearest table or list around it.
        (("setting", 1, "place", 0, "x", "c", "d", 3), 19, 16),
        (("setting", 0, "place", 7, "cv"), 5, 14),
        (("nothing",), 1, 1),
        ((), 1, 1),
    ],
)
def test_key_is_found(path: tuple[str | int, ...], line: int, column: int) -> None:
    """A key has the line and column of its own text, a table those of its heading."""
    tomllib.loads(EXAMPLE)
    positions = TomlPositions(EXAMPLE)
    assert positions.find(path) == (line, column)
    assert positions.position("a.toml", path) == Position("a.toml", line, column)


def value_at(document: Any, path: tuple[str | int, ...]) -> Any:
    """The value that a path leads to."""
    for part in path:
        document = document[part]
    return document


@given(documents())
def test_every_path_is_found_where_it_stands(text: str) -> None:
    """For all that tomllib reads, the text at the position is the key, or begins the element."""
    document = tomllib.loads(text)
    positions = TomlPositions(text)
    text = text.replace("\r\n", "\n")
    lines = text.split("\n")
    seen: dict[tuple[int, int], tuple[str | int, ...]] = {}
    for path in paths(document):
        line, column = positions.find(path)
        rest = "\n".join([lines[line - 1][column - 1 :], *lines[line:]])
        value, last = value_at(document, path), path[-1]
        key = KEY.match(rest)
        if isinstance(last, str):
            assert key, path
            assert next(iter(tomllib.loads(f"{key[0]} = 0"))) == last
            rest = rest[key.end() :]
            if not isinstance(value, dict | list):
                assert re.match(r"[ \t]*=", rest), path
                rest = re.sub(r"^[ \t]*=[ \t]*", "", rest)
        if type(value) is int and value >= 100_000:
            assert rest.startswith(str(value)), path
        elif isinstance(last, int) and isinstance(value, str):
            assert rest[0] in "\"'", path
        is_list_of_tables = isinstance(value, list) and bool(value) and isinstance(value[0], dict)
        if not is_list_of_tables:
            assert (line, column) not in seen, (path, seen[line, column])
            seen[line, column] = path


@given(documents())
def test_every_path_has_a_position_of_its_own_length(text: str) -> None:
    """No path that tomllib reads falls back to a table around it."""
    spots = TomlPositions(text)._spots
    assert set(paths(tomllib.loads(text))) <= spots.keys()
