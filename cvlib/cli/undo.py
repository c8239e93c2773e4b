"""``cvlib undo``: a file put back to the state that it had before."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import Format, FormatOption, examples
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib undo my-loco.toml",
    "cvlib undo my-loco.toml --to 7",
    "",
    "Exit codes: 0, or 2 where there is no such state or the file cannot be written.",
)


def run(
    file: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    *,
    to: Annotated[
        int,
        typer.Option("--to", metavar="STATE", min=0, help='The state of a number, by "cvlib log".'),
    ] = 0,
    form: FormatOption = Format.TEXT,
) -> int:
    """Put a loco file or profile back to the state before cvlib last wrote over it.

    Again, it goes one further back. What the file holds is kept as a state of its own, so that
    nothing is lost: --to brings it back.
    """
    from cvlib import api
    from cvlib.render.views.undo import data, view

    undone = api.undo(file, to)
    show(form, lambda: view(undone), lambda: data(undone))
    from cvlib.files.text import typed

    again = typed("cvlib", "undo", undone.file, "--to", str(undone.kept))
    print(f"cvlib: to take that back: {again}", file=sys.stderr)
    return ExitCode.GOOD
