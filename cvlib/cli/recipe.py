"""``cvlib recipe``: how to read lists in another layout, proposed and tried."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.form_group import form_app
from cvlib.cli.options import Format, FormatOption, examples
from cvlib.cli.show import show

ABOUT = """How to read a list of CV values in another layout: XML, JSON or an odd table.

A recipe is a small file that says where in such a list the rows stand, and where in a row the
CV number, the value and the page. "check", "identify", "carry" and "compare" take it with
--recipe. Nothing is written.
"""

EXAMPLES = examples(
    "cvlib recipe suggest values.xml",
    "cvlib recipe suggest values.xml > recipe.toml",
    "cvlib recipe try values.xml recipe.toml",
    "cvlib check values.xml --recipe recipe.toml --profile ferrow/lark-8 --firmware 4.0.5",
)

SUGGEST = examples(
    "cvlib recipe suggest values.xml",
    "cvlib recipe suggest values.xml > recipe.toml",
    "",
    "Exit code 0 where one recipe is sure or likely, 3 where it is a guess.",
)

TRY = examples(
    "cvlib recipe try values.xml recipe.toml",
    "cvlib recipe try values.json recipe.toml --format json",
    "",
    "Exit codes: 2 where a row cannot be read, else 3 where the file holds several decoders.",
)

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", show_default=False)]


def suggest(file: FileArgument, *, form: FormatOption = Format.TEXT) -> int:
    """Propose a recipe for a file, say how sure it is, and why.

    The output is the recipe itself; what speaks for it stands in its remarks.
    """
    from cvlib import api

    found = api.suggest_recipe(file)
    from cvlib.render.views.recipe import proposal_data, proposal_view

    show(form, lambda: proposal_view(found), lambda: proposal_data(found))
    return ExitCode.UNDECIDED if found.certainty == "guess" else ExitCode.GOOD


def try_(
    file: FileArgument,
    recipe: Annotated[Path, typer.Argument(metavar="RECIPE", show_default=False)],
    *,
    form: FormatOption = Format.TEXT,
) -> int:
    """Show row by row what a recipe reads in a file, and what it leaves out and why."""
    from cvlib import api

    found = api.try_recipe(file, recipe)
    from cvlib.render.views.recipe import data, view

    show(form, lambda: view(found), lambda: data(found))
    if found.faults:
        return ExitCode.WRONG
    return ExitCode.UNDECIDED if len(found.locos) > 1 else ExitCode.GOOD


app = form_app(ABOUT, EXAMPLES)
app.command("suggest", short_help="A recipe for a file, and how sure it is.", epilog=SUGGEST)(
    suggest
)
app.command("try", short_help="What a recipe reads, row by row.", epilog=TRY)(try_)
