"""Where in its file a setting or one of its places is written."""

from __future__ import annotations

import re
from typing import Any

from cvlib.errors import InputError, Position
from cvlib.files.faults import Path
from cvlib.files.text import TomlPositions, parse_toml
from cvlib.model.cv import parse_numbers

_INDEX = re.compile(r"\[(\d+)\]")
_MOST_INDEX = 1024


class Locator:
    """Finds settings in the text of one profile or blocks file."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        self._data = parse_toml(text, name)
        self._positions = TomlPositions(text)

    def setting(self, id: str, place: int | None = None, block: str = "") -> Position | None:
        """Where a setting is written, or one of its places counted from 0; nothing if not here.

        ``block`` is the block it belongs to, in a blocks file.
        """
        found = self._shape(id, block)
        if found is None:
            return None
        path, shape = found
        number = None if place is None else written_place(shape, id, place)
        inner: Path = ("id",) if number is None else ("place", number)
        return self._positions.position(self.name, (*path, *inner))

    def _shape(self, id: str, block: str) -> tuple[Path, dict[str, Any]] | None:
        tables: list[tuple[Path, Any]] = [(("setting",), self._data.get("setting"))]
        if block:
            tables = [
                (("block", at, "setting"), one.get("setting"))
                for at, one in enumerate(self._data.get("block", ()))
                if one.get("id") == block
            ]
        written = (id, indexed_in(id))
        for path, settings in tables:
            for at, shape in enumerate(settings or ()):
                if shape.get("id") in written:
                    return (*path, at), shape
        return None


def indexed_in(id: str) -> str:
    """The id under which a file writes one setting of a repeat: ``[n]`` in place of the index."""
    return _INDEX.sub("[n]", id)


def written_place(shape: dict[str, Any], id: str, place: int) -> int | None:
    """Which written place the place of a setting comes from; some hold for some indexes only."""
    index = _INDEX.search(id)
    numbers = [
        number
        for number, written in enumerate(shape.get("place", ()))
        if index is None or "index" not in written or _holds(written["index"], int(index[1]))
    ]
    return numbers[place] if place < len(numbers) else None


def _holds(text: Any, index: int) -> bool:
    try:
        return index in parse_numbers(str(text), 0, _MOST_INDEX, "index")
    except InputError:
        return False
