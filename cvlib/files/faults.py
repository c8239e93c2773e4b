"""The faults of one file, gathered until all of it has been looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal, InvalidOperation
from typing import Any, ParamSpec, TypeAlias, TypeVar

from cvlib.errors import Fault, InputError, Position, did_you_mean
from cvlib.files.text import TomlPositions, one_line, parse_toml

Path: TypeAlias = tuple[str | int, ...]
"""Keys and list indexes that lead from the top of a file to a value."""

_MOST_SHOWN, _MOST_NAMED = 400, 80
"""Characters of a problem, and of a name in it, that are shown."""

P = ParamSpec("P")
T = TypeVar("T")


class Faults:
    """Collects what is wrong with one file; each fault knows its place and its setting."""

    def __init__(self, name: str, text: str, data: dict[str, Any]) -> None:
        self.name = name
        self.data = data
        self.paths: list[Path] = []
        """Where each fault is."""
        self.left_out: dict[Path, set[int]] = {}
        """Entries of lists that are passed over since their faults are known: later ones count on
        without them."""
        self._found: dict[Fault, None] = {}
        self._text = text
        self._positions: TomlPositions | None = None

    def add(self, path: Path, problem: str, advice: str = "") -> None:
        """Note a fault at a path; the words say which setting or other part it is in.

        What a place has from the common keys of its setting is faulty there.
        """
        spot = in_file(self.data, self._counted(path))
        words = where(self.data, spot)
        said = f"{words}: {within(problem)}" if words else problem
        fault = Fault(one_line(said, _MOST_SHOWN), self.position(spot), one_line(advice))
        self._found[fault] = None
        self.paths.append(path)

    def _counted(self, path: Path) -> Path:
        """The path with its entries counted as in the file."""
        spot: Path = ()
        for key in path:
            gone = self.left_out.get(spot)
            spot = (*spot, _counted_with(key, gone) if gone and isinstance(key, int) else key)
        return spot

    @property
    def found(self) -> list[Fault]:
        """The faults so far, each once, in the order of their lines."""
        return sorted(self._found, key=_spot)

    def position(self, path: Path) -> Position:
        """Where a path lies in the file."""
        if self._positions is None:
            self._positions = TomlPositions(self._text)
        return self._positions.position(self.name, path)

    def tried(
        self, path: Path, make: Callable[P, T], *args: P.args, **kwargs: P.kwargs
    ) -> T | None:
        """What the function gives, or nothing after noting why it refused."""
        try:
            return make(*args, **kwargs)
        except InputError as error:
            for fault in error.faults:
                self.add(path, fault.problem, fault.advice)
            return None

    def unknown(self, path: Path, what: str, name: str, known: Iterable[str]) -> None:
        """Note a name that nothing has, with the nearest one that something has."""
        self.add(path, f'there is no {what} "{name}".', did_you_mean(name[:_MOST_NAMED], known))

    def twice(self, path: Path, what: str, name: str) -> None:
        """Note a name that is given a second time."""
        self.add(path, f'{what} "{name}" is there twice.', "Give each a name of its own.")


def _counted_with(index: int, gone: Iterable[int]) -> int:
    """The index of an entry once those that are gone are counted too."""
    for other in sorted(gone):
        index += other <= index
    return index


def _spot(fault: Fault) -> tuple[int, int]:
    spot = fault.position
    return (spot.line or 0, spot.column or 0) if spot else (0, 0)


def where(data: Any, path: Path) -> str:
    """The path in words, with the ids that the file itself gives: ``setting "a.b", place 2, cv``.

    >>> where({"setting": [{"id": "a.b", "place": [{"cv": 0}]}]}, ("setting", 0, "place", 0, "cv"))
    'setting "a.b", place 1, cv'
    """
    words: list[str] = []
    node = data
    for part in path:
        around, node = node, _step(node, part)
        if isinstance(part, str):
            words.append(one_line(part, _MOST_NAMED))
        elif isinstance(around, list) and words:
            words[-1] += f" {_name(node, part)}"
    return ", ".join(words)


def in_file(data: Any, path: Path) -> Path:
    """The path, or where it leads to a key that a place does not give: that of the common key.

    >>> data = {"setting": [{"common": {"unit": "s"}, "place": [{"cv": 3}]}]}
    >>> in_file(data, ("setting", 0, "place", 0, "unit"))
    ('setting', 0, 'common', 'unit')
    """
    nodes = [data]
    for at, key in enumerate(path):
        if at > 1 and path[at - 2] == "place" and _step(nodes[-1], key) is None:
            common = _step(nodes[-3], "common")
            if _step(common, key) is not None:
                return (*path[: at - 2], "common", *path[at:])
        nodes.append(_step(nodes[-1], key))
    return path


def within(problem: str) -> str:
    """The problem as the second part of a sentence: a capital that only begins it goes."""
    is_word = problem[:1].isupper() and not problem[1:2].isupper()
    return problem[0].lower() + problem[1:] if is_word else problem


def _name(node: Any, index: int) -> str:
    if isinstance(node, dict):
        for key in ("id", "version"):
            if isinstance(node.get(key), str):
                return f'"{one_line(node[key], _MOST_NAMED)}"'
    return str(index + 1)


def _step(node: Any, part: str | int) -> Any:
    if isinstance(node, dict):
        return node.get(part)
    if isinstance(node, list) and isinstance(part, int) and part < len(node):
        return node[part]
    return None


def toml_data(text: str, name: str) -> dict[str, Any]:
    """The document of a TOML text, its figures as exact decimals."""
    return parse_toml(text, name, figure=_exact)


def _exact(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        return Decimal("Infinity")
