"""Where in its file a setting, a place or any other part of a definition is written."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from cvlib.engine.known.neighbours import index_of, without_index
from cvlib.engine.lint.finding import Spot
from cvlib.errors import InputError, Position
from cvlib.files.faults import Path, in_file
from cvlib.files.text import TomlPositions, parse_toml
from cvlib.model.cv import parse_numbers

_MOST_INDEX = 1024
_NAMES = ("id", "version")
"""The keys that name one table among others of the same heading."""


class Locator:
    """Finds the parts of one profile or blocks file in its text."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        self.data = parse_toml(text, name)
        self._text = text

    @cached_property
    def _positions(self) -> TomlPositions:
        return TomlPositions(self._text)

    def position(self, path: Path) -> Position:
        """Where a path lies, or the nearest thing around it."""
        return self._positions.position(self.name, in_file(self.data, path))

    def find(self, spot: Spot, block: str = "") -> Position | None:
        """Where a spot is written; nothing if it is not here.

        ``block`` is the block it belongs to, in a blocks file.
        """
        around: list[tuple[Path, Any]] = [((), self.data)]
        if block:
            around = [
                (("block", at), one)
                for at, one in enumerate(self.data.get("block", ()))
                if one.get("id") == block
            ]
        for path, node in around:
            found = _table(node, path, spot)
            if found is not None:
                return self.position(_inside(*found, spot))
        return None


def _table(node: Any, path: Path, spot: Spot) -> tuple[Path, Any] | None:
    """The path and the content of the table that a spot names."""
    for key in spot.table.split("."):
        if not isinstance(node, Mapping) or key not in node:
            return None
        path, node = (*path, key), node[key]
    if not isinstance(node, list) or (not spot.id and isinstance((*spot.key, "")[0], int)):
        return path, node
    written = (spot.id, without_index(spot.id))
    for at, one in enumerate(node):
        if any(one.get(name) in written for name in _NAMES):
            return (*path, at), one
    return None


def _inside(path: Path, table: Any, spot: Spot) -> Path:
    """The path on from a table to the place and the key that a spot names."""
    number = None if spot.place is None else written_place(table, spot.id, spot.place)
    if number is not None:
        return (*path, "place", number, *spot.key)
    if spot.key:
        return (*path, *spot.key)
    named = next((name for name in _NAMES if isinstance(table, Mapping) and name in table), None)
    return path if named is None else (*path, named)


def written_place(shape: dict[str, Any], id: str, place: int) -> int | None:
    """Which written place the place of a setting comes from; some hold for some indexes only, and
    some only say that it is not there.
    """
    index = index_of(id)
    numbers = [
        number
        for number, written in enumerate(shape.get("place", ()))
        if not written.get("absent")
        and (index is None or "index" not in written or _holds(written["index"], index))
    ]
    return numbers[place] if place < len(numbers) else None


def _holds(text: Any, index: int) -> bool:
    try:
        return index in parse_numbers(str(text), 0, _MOST_INDEX, "index")
    except InputError:
        return False
