"""``cvlib lint``: definitions looked through for faults."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import DefinitionsOption, Format, FormatOption, examples
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib lint",
    "cvlib lint my-definitions/ferrow/lark-8.toml",
    "cvlib lint --definitions my-definitions --format json",
)


def run(
    paths: Annotated[list[Path] | None, typer.Argument(metavar="PATH", show_default=False)] = None,
    *,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Look for faults in every definition, and in the files and folders named beside them.

    Each fault is one line, "file:line:column: code message". Exit code 1 where there is any.
    """
    from cvlib import api

    linted = api.lint(api.open_store(definitions), paths or ())
    from cvlib.render.views.lint import data, view

    show(form, lambda: view(linted), lambda: data(linted))
    return ExitCode.FOUND if linted.messages else ExitCode.GOOD
