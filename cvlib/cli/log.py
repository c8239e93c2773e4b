"""``cvlib log``: the former states of a loco file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import AllOption, Format, FormatOption, examples
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib log my-loco.toml",
    "cvlib log my-loco.toml --all",
    "",
    "Exit codes: 0, or 2 where the file cannot be read.",
)


def run(
    file: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    *,
    everything: AllOption = False,
    form: FormatOption = Format.TEXT,
) -> int:
    """List the former states of a loco file, newest first, with what each write changed.

    Whenever cvlib writes over a loco file or a profile it keeps the former state beside it, the
    last 20. An edit by hand is kept with the next write.
    """
    from cvlib import api
    from cvlib.render.views.log import data, view

    found = api.log(file)
    show(form, lambda: view(found, everything=everything), lambda: data(found))
    return ExitCode.GOOD
