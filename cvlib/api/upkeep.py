"""Definitions looked after: their faults, their changes, and what has become stale."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.api.checks import Asked, check_decoder, locos_of
from cvlib.errors import Fault

if TYPE_CHECKING:
    from cvlib.engine.change.reviewed import Reviewed
    from cvlib.engine.change.stale import Stale
    from cvlib.engine.lint.finding import Linted
    from cvlib.files.revisions import Revisions
    from cvlib.files.store import Store


def lint(store: Store, paths: Iterable[Path] = (), today: date | None = None) -> Linted:
    """What is wrong with the definitions of a store, or with some files and folders.

    Raises :class:`~cvlib.errors.InputError` where a path does not exist.
    """
    from cvlib.files.lint.linting import lint as lint_files

    return lint_files(store, paths, today)


def review(asked: Revisions, locos: Iterable[Path] = ()) -> Reviewed:
    """What changed in a store between two git revisions, and what that does to some locos.

    Raises :class:`~cvlib.errors.InputError` where the repository or a revision is not to be used.
    """
    from cvlib.files.reviewing import reviewed

    faults: list[Fault] = []
    read = list(locos_of(Asked(tuple(locos)), faults))
    return reviewed(asked, read, check_decoder, faults)


def stale(
    store: Store, locos: Iterable[Path] = (), only: Iterable[str] = (), today: date | None = None
) -> Stale:
    """What wants looking at in a store, and in locos: what nobody covered, what changed since.

    ``only`` names profiles; without it, those that the locos use, and without locos all of them.
    """
    from cvlib.files.stale_store import stale_in

    faults: list[Fault] = []
    read = list(locos_of(Asked(tuple(locos)), faults))
    return stale_in(store, tuple(only), read, check_decoder, today or date.today(), faults)
