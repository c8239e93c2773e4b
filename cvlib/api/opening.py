"""A store opened, a loco read, and the answers of one profile."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.engine.known.resolve import Resolver
from cvlib.model.loco import Loco
from cvlib.model.recipe import Recipe

if TYPE_CHECKING:
    from cvlib.files.store import Store


def open_store(definitions: Path | None = None) -> Store:
    """The shipped definitions, with those of a further folder where one is given."""
    from cvlib.files.store import open_store as open_files

    return open_files(definitions)


def read_loco(path: Path, recipe: Recipe | None = None) -> Loco:
    """A loco file, or a list of CV values as people keep them or as a recipe says.

    Raises :class:`~cvlib.errors.InputError` with every fault of the file.
    """
    from cvlib.files.read.interface import read_file

    return read_file(path, recipe)


def resolver_of(store: Store, profile: str) -> Resolver:
    """The answers of one profile of the store."""
    return Resolver(store.profile(profile))
