"""Lists in other layouts, read by a recipe: a small file that says where what stands."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.read import xpath_rows
from cvlib.files.read.faults import raise_faults
from cvlib.files.read.table import slot_of
from cvlib.files.read.tree import tree_of
from cvlib.files.read.values import MOST_FAULTS, Gathered, Notation, parse_value
from cvlib.files.text import decode, file_name, one_line, quoted, read_bytes
from cvlib.model.formulas import LONGEST_ADDRESS
from cvlib.model.loco import Loco, SavedDecoder
from cvlib.model.recipe import ByRecipe, Recipe, RecipeRow

MOST_SECONDS = 10
"""How long the paths of a recipe may run."""
PATHS = (
    *("rows", "number", "value", "page", "high", "low"),
    *("role", "name", "address", "firmware", "profile"),
)
"""The keys of a recipe that are paths."""


def open_recipe(path: Path, roles: tuple[str, ...] = ()) -> Recipe:
    """The recipe in a file; ``roles`` are those asked for, where a list holds several decoders.

    Raises InputError with every fault of the file.
    """
    name = file_name(path)
    return parse_recipe(decode(read_bytes(path), name), name, roles)


def parse_recipe(text: str, name: str, roles: tuple[str, ...] = ()) -> Recipe:
    """The recipe that a text says; raises as `open_recipe` does."""
    from cvlib.files.faults import Faults, toml_data
    from cvlib.files.shapes.check import checked
    from cvlib.files.shapes.recipe import RecipeFile

    faults = Faults(name, text, toml_data(text, name))
    file = checked(RecipeFile, faults.data, faults)
    raise_faults(faults.found, MOST_FAULTS)
    if file is None:
        raise problem("this is no recipe.", position=Position(name))
    paths = {key: path for key in PATHS if (path := getattr(file, key)) is not None}
    table = file.table
    return Recipe(
        file.kind,
        paths,
        file.notation,
        tuple(word.strip() for word in file.skip),
        file.index_rows == "page",
        file.namespaces,
        table.delimiter if table else "",
        table.headings if table else 0,
        name,
        {key: faults.position((key,)) for key in paths},
        roles,
    )


def read_by_recipe(text: str, name: str, recipe: Recipe) -> Loco:
    """The loco whose values the recipe finds in the text of a file.

    Raises InputError with every fault, and UndecidedError where the file holds several decoders
    and none of them is asked for.
    """
    found = by_recipe(text, name, recipe)
    raise_faults(list(found.faults), MOST_FAULTS)
    return found.loco(recipe.roles)


def by_recipe(text: str, name: str, recipe: Recipe) -> ByRecipe:
    """Each row that the recipe finds, and each decoder; raises where there is no row."""
    found = _asked(tree_of(text, name, recipe), name, recipe)
    if not found:
        raise problem(
            f"the path of the rows finds nothing in {name}.",
            advice='"cvlib recipe suggest" proposes a recipe for a file.',
            position=recipe.positions.get("rows"),
        )
    rows = [_row(line, cells, name, recipe) for line, cells in found]
    decoders: dict[tuple[str, ...], _Decoder] = {}
    for at in sorted(range(len(rows)), key=lambda at: _comes_late(rows[at], recipe)):
        if rows[at].byte is not None:
            cells = found[at][1]
            key = tuple(str(cells.get(part, "")) for part in ("role", "name", "address"))
            decoder = decoders.setdefault(key, _Decoder(name, key))
            rows[at] = decoder.taken(rows[at], cells)
    faults = [row.fault for row in rows if row.fault]
    faults += [fault for one in decoders.values() for fault in one.faults]
    if not decoders and not faults:
        faults = [Fault("no row of this file gives a value.", Position(name), "Look at skip.")]
    locos = {key: one.loco() for key, one in decoders.items()}
    return ByRecipe(name, tuple(rows), locos, tuple(faults))


def _comes_late(row: RecipeRow, recipe: Recipe) -> bool:
    """Whether a row sets no page though it is of CV 31 or 32: what comes last sets none."""
    return not recipe.sets_page and row.slot is not None and row.slot.cv in (31, 32)


class _Decoder:
    """The values of one decoder as they come in."""

    def __init__(self, name: str, key: tuple[str, ...]) -> None:
        self.faults: list[Fault] = []
        self._name, self._key = name, key
        self._gathered = Gathered()
        self._said: dict[str, str] = {}
        if key[2] and not is_address(key[2]):
            what = f"{quoted(key[2])} is no address from 1 to {LONGEST_ADDRESS}."
            self.faults.append(Fault(what, Position(name), "Look at the path of the address."))

    def taken(self, row: RecipeRow, cells: Mapping[str, Any]) -> RecipeRow:
        """The row with its value taken in, on its page, or with the reason why it cannot be."""
        position = Position(self._name, row.line)
        try:
            for part in ("firmware", "profile"):
                text = str(cells.get(part, ""))
                if text and self._said.setdefault(part, text) != text:
                    raise problem(
                        f"the {part} is {quoted(text)} here but {quoted(self._said[part])} above.",
                        advice="Tell decoders apart by role, name or address in the recipe.",
                    )
            assert row.slot is not None
            assert row.byte is not None
            slot = self._gathered.add(row.slot, row.byte, position)
            return row._replace(decoder=self._key, slot=slot)
        except InputError as error:
            return row._replace(decoder=self._key, byte=None, fault=_at(error, position))

    def loco(self) -> Loco:
        """The loco with this decoder alone."""
        role, name, address = self._key
        said = self._said.get
        values = self._gathered.values()
        decoder = SavedDecoder(values, said("profile", ""), role, said("firmware", ""))
        number = int(address) if is_address(address) else None
        return Loco(name or PurePath(self._name).stem, (decoder,), self._name, number)


def is_address(text: str) -> bool:
    """Whether a text is the address of a loco."""
    return text.isdecimal() and len(text) < 6 and 0 < int(text) <= LONGEST_ADDRESS


def _row(line: int, cells: Mapping[str, Any], name: str, recipe: Recipe) -> RecipeRow:
    """One row by itself: its CV and value, or why it is left out, or what is wrong."""
    number, value, page, high, low = (
        str(cells.get(key, "")) for key in ("number", "value", "page", "high", "low")
    )
    row = RecipeRow(line, number, value, page or "/".join(filter(None, (high, low))))
    try:
        for key, cell in cells.items():
            _check_cell(key, cell)
        if value in recipe.skip:
            return row._replace(skipped=f"{quoted(value)} is a value to skip")
        if not number and not value:
            return row._replace(skipped="it has neither number nor value")
        slot = slot_of(number, page, (high, low))
        byte = parse_value(value, slot, Notation[recipe.notation.upper()])
    except InputError as error:
        return row._replace(fault=_at(error, Position(name, line)))
    return row._replace(slot=slot, byte=byte)


def _check_cell(key: str, cell: str | int) -> None:
    if isinstance(cell, int):
        advice = f"Add [1] to the path, or say more exactly which {key} is meant."
        raise problem(f"the path of {key} finds {cell} things in this row.", advice=advice)
    if len(cell) > xpath_rows.MOST_CELL:
        most = f"At most {xpath_rows.MOST_CELL} are read."
        raise problem(f"the {key} has too many characters.", advice=most)


def _at(error: InputError, position: Position) -> Fault:
    fault = error.faults[0]
    return Fault(fault.problem, position, fault.advice)


def _asked(tree: str, name: str, recipe: Recipe) -> list[tuple[int, Mapping[str, Any]]]:
    """The rows that the paths find, each with its line and cells; another process looks for them.

    Raises InputError where the tree or a path is faulty, or takes too long or too much memory.
    """
    asked = {
        "xml": tree,
        "paths": dict(recipe.paths),
        "namespaces": dict(recipe.namespaces),
        "path": [place for place in sys.path if place],
    }
    try:
        done = subprocess.run(
            [sys.executable, "-I", str(xpath_rows.__file__)],
            input=json.dumps(asked).encode("ascii"),
            capture_output=True,
            timeout=MOST_SECONDS,
            check=False,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except subprocess.TimeoutExpired:
        raise problem(
            f"its paths found no end in {MOST_SECONDS} seconds in {name}.",
            advice="Write where the rows stand more exactly, with fewer // and no path in [ ].",
            position=Position(recipe.file),
        ) from None
    except OSError as error:
        raise problem(
            f"no process can be started to follow its paths: {error.strerror or error}.",
            advice="Free some memory, or end other programs.",
            position=Position(recipe.file),
        ) from None
    if done.returncode:
        raise problem(
            f"its paths cannot be followed in {name}; they take too much memory.",
            advice="Write where the rows stand more exactly.",
            position=Position(recipe.file),
        )
    answer = json.loads(done.stdout)
    if "fault" not in answer:
        return [(line, cells) for line, cells in answer["rows"]]
    what, line, key = answer["fault"]
    if key:
        raise problem(
            f"{key} is {one_line(what, 200)}.",
            advice='Write an XPath 1.0, such as "@number".',
            position=recipe.positions.get(key),
        )
    raise problem(
        f"this is {one_line(what, 200)}.",
        advice="Mend it, or choose another kind.",
        position=Position(name, line or None),
    )
