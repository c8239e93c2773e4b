"""``cvlib export``: the saved values of a loco as a plain list."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import RoleOption, examples
from cvlib.cli.show import put

EXAMPLES = examples(
    "cvlib export my-loco.toml",
    "cvlib export my-loco.toml --role sound --output sound.csv",
    "cvlib export my-loco.toml --format json",
    "",
    "Exit codes: 0, or 2 where the file cannot be read or the list cannot be written.",
)


class ListFormat(StrEnum):
    """The form of an exported list."""

    CSV = "csv"
    """CV,Value: a CV a line."""
    JSON = "json"
    """For programs, with firmware, date and origin of each value."""


def run(
    loco: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    *,
    role: RoleOption = "",
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", metavar="FILE", help="Make this file instead.", show_default=False
        ),
    ] = None,
    form: Annotated[
        ListFormat, typer.Option("--format", help="The form of the output.", show_default=True)
    ] = ListFormat.CSV,
) -> int:
    """Give the saved values of a loco as a plain list: of each CV the one that counts.

    A CV on an index page is written as 257@16/2. Every list that is exported can be read again.
    """
    from cvlib import api
    from cvlib.api.export import only_decoder, write_list
    from cvlib.render.to_json import to_json
    from cvlib.render.views.export import data, plain_list

    found = api.export(loco, role)
    is_list = form is ListFormat.CSV
    text = plain_list(only_decoder(found)) if is_list else to_json(data(found))
    if output is None:
        put(text)
    else:
        write_list(output, text)
    return ExitCode.GOOD
