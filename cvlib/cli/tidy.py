"""``cvlib tidy``: definitions and loco files in their one layout."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode, tell, tell_way_back
from cvlib.cli.options import DefinitionsOption, Format, FormatOption, examples
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib tidy",
    "cvlib tidy my-definitions/ferrow/lark-8.toml",
    "cvlib tidy my-locos/ --check",
    "cvlib tidy my-definitions/ferrow/lark-8.toml --whole handbook-1",
    "",
    "Exit codes: 1 where --check finds a file that is not tidy, 2 where a file cannot be used.",
)


def run(
    paths: Annotated[
        list[Path] | None, typer.Argument(metavar="FILE|FOLDER", show_default=False)
    ] = None,
    *,
    check: Annotated[
        bool, typer.Option("--check", help="Only list the files that are not tidy.")
    ] = False,
    whole: Annotated[
        list[str] | None,
        typer.Option(
            "--whole",
            metavar="ID",
            help="For one profile of format 1: somebody has read this document from first to last "
            "page. May be given again.",
        ),
    ] = None,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Lay out profiles, blocks and loco files anew: order of keys, quotes, spaces, line breaks.

    Comments stay with what they stand at, and nothing changes its meaning. Profiles and blocks of
    format 1 are brought to format 2, in which nothing is surer than before. Without a file or
    folder all definitions are tidied: those of --definitions, else those of this checkout.
    """
    from cvlib.files.text import typed
    from cvlib.files.tidy import tidy, whole_store

    done = tidy(paths or [whole_store(definitions)], check=check, whole=whole or ())
    from cvlib.render.views.tidy import data, view

    if done.files or not done.faults or form is not Format.TEXT:
        show(form, lambda: view(done, typed), lambda: data(done))
    tell(done.faults)
    if done.untidy and not check:
        tell_way_back(done.untidy[0].file if len(done.untidy) == 1 else "FILE")
    if done.faults:
        return ExitCode.WRONG
    return ExitCode.FOUND if check and done.untidy else ExitCode.GOOD
