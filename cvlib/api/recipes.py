"""Lists in other layouts: the recipe to read them by, proposed and tried."""

from __future__ import annotations

from pathlib import Path

from cvlib.model.recipe import ByRecipe, Recipe, RecipeProposal


def opened_recipe(path: Path | None, *roles: str) -> Recipe | None:
    """The recipe in a file, for decoders of some roles; nothing where no file is named.

    Raises :class:`~cvlib.errors.InputError` with every fault of the file.
    """
    from cvlib.files.read.recipe import open_recipe

    return None if path is None else open_recipe(path, tuple(filter(None, roles)))


def try_recipe(path: Path, recipe: Path) -> ByRecipe:
    """What a recipe reads in a file, row by row, and what it leaves out.

    Raises :class:`~cvlib.errors.InputError` where no row can be had at all.
    """
    from cvlib.files.read.recipe import by_recipe, open_recipe
    from cvlib.files.read.tree import text_of
    from cvlib.files.text import file_name, read_bytes

    opened, name = open_recipe(recipe), file_name(path)
    return by_recipe(text_of(read_bytes(path), name, opened.kind), name, opened)


def suggest_recipe(path: Path) -> RecipeProposal:
    """A recipe for a file, with how sure that is and why.

    Raises :class:`~cvlib.errors.InputError` where nothing in the file looks like CVs with values.
    """
    from cvlib.files.read.suggest import suggest

    return suggest(path)
