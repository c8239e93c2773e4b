"""``cvlib profiles``: the decoder profiles there are."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import DefinitionsOption, Format, FormatOption, examples
from cvlib.cli.show import show

if TYPE_CHECKING:
    from cvlib.model.summary import Summary

EXAMPLES = examples(
    "cvlib profiles",
    "cvlib profiles ferrow motor",
    "cvlib profiles --definitions my-definitions --format json",
)

MANY = 100
"""Profiles from how many on a terminal is told how far the reading has come."""


def run(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORD", show_default=False)] = None,
    *,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """The decoder profiles there are; WORDs narrow the list by id, maker, name, kind and release.

    A profile whose file cannot be read is listed with its fault, and the exit code is 2.
    """
    from cvlib import api

    store = api.open_store(definitions)
    found = list(_told(api.profiles(store, words or ()), len(store.ids())))
    from cvlib.render.views.profiles import data, view

    show(form, lambda: view(found, words or ()), lambda: data(found))
    return ExitCode.WRONG if any(one.fault for one in found) else ExitCode.GOOD


def _told(found: Iterable[Summary], count: int) -> Iterator[Summary]:
    """The profiles as they come; of many, a terminal is told that they are being read."""
    is_told = count > MANY and sys.stderr.isatty()
    if is_told:
        print(f"cvlib: reading {count} profiles …", end="", file=sys.stderr, flush=True)
    yield from found
    if is_told:
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
