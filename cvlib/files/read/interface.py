"""Any file of saved values, read as a loco.

A reader takes the text of a file and its name and gives the loco, or raises InputError with every
fault of the file. A further form is one file in this folder and one row in `READERS`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from cvlib.errors import Position, problem
from cvlib.files.bounds import FILES, check_count
from cvlib.files.compiled import digest
from cvlib.files.text import LIMIT, decode, decode_list, file_name, is_file, is_folder, read_bytes
from cvlib.model.loco import Loco
from cvlib.model.recipe import Recipe

Reader = Callable[[str, str], Loco]
"""From the text and the name of a file to its loco; opens nothing."""


def _loco(text: str, name: str) -> Loco:
    from cvlib.files.read.loco import read_loco

    return read_loco(text, name)


def _table(text: str, name: str) -> Loco:
    from cvlib.files.read.table import read_table

    return read_table(text, name)


READERS: Mapping[str, Reader] = {"loco": _loco, "table": _table}
"""Every form that is read; a form not used costs no import."""

ENDINGS = (".toml", ".csv", ".txt", ".tsv", ".lst")
"""The endings of the files that are looked at in a folder."""

RECIPE_ENDINGS = (".xml", ".json")
"""Those that a recipe reads besides."""

_LOCO_MARKS = re.compile(
    r"^(?:\[loco\]|\[\[decoder(?:\]\]|\.)|\[decoder\.|#:schema\b.*\bloco\b)", re.M
)


def sniff(text: str, name: str) -> str:
    """The name of the reader that fits the text, or else the ending of the file's name."""
    is_loco = _LOCO_MARKS.search(text) or Path(name).suffix.casefold() == ".toml"
    return "loco" if is_loco else "table"


def read_file(path: Path | str, recipe: Recipe | None = None) -> Loco:
    """The loco saved in a file: a loco file, or a list as people keep them or as a recipe says.

    A list gives one decoder without profile and firmware, and the name of the file. Raises
    InputError when the file cannot be read, with every fault of it at once.
    """
    path = Path(path)
    data = read_bytes(path)
    loco = read_content(data, file_name(path), recipe)
    return replace(loco, path=str(path), digest=digest(data))


def read_content(data: bytes, name: str, recipe: Recipe | None = None) -> Loco:
    """The loco in the bytes of a file or of the standard input; raises as `read_file` does."""
    if len(data) > LIMIT:
        raise problem(
            f"there are more than {LIMIT} bytes.",
            advice="Is it the right list?",
            position=Position(name),
        )
    if recipe is not None:
        from cvlib.files.read.recipe import read_by_recipe
        from cvlib.files.read.tree import text_of

        text = text_of(data, name, recipe.kind)
        if sniff(text, name) != "loco":
            return read_by_recipe(text, name, recipe)
    text = decode_list(data, name)
    kind = sniff(text, name)
    return READERS[kind](decode(data, name) if kind == "loco" else text, name)


def loco_files(path: Path, recipe: Recipe | None = None) -> list[Path]:
    """The files of locos that a path names: itself, or those in a folder, sorted.

    Folders inside the folder are left out. Raises InputError when a folder has none.
    """
    endings = ENDINGS if recipe is None else (*ENDINGS, *RECIPE_ENDINGS)
    if not is_folder(path):
        return [path]
    try:
        inside = sorted(path.iterdir())
    except OSError as error:
        raise problem(
            f"the folder cannot be read: {error.strerror or error}.",
            advice="Check its permissions.",
            position=Position(file_name(path)),
        ) from None
    check_count(inside, FILES, "files in this folder", Position(file_name(path)))
    found = [file for file in inside if file.suffix.casefold() in endings and is_file(file)]
    if not found:
        raise problem(
            "this folder holds no loco file and no list of values.",
            advice=f"Their names end in {', '.join(endings)}.",
            position=Position(file_name(path)),
        )
    return found
