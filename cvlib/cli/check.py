"""``cvlib check``: saved values held against the right profile for the firmware."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode, exit_code, tell
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    FailOn,
    FailOnOption,
    FirmwareOption,
    Format,
    FormatOption,
    ProfileOption,
    RecipeOption,
    WhyOption,
    examples,
)
from cvlib.cli.show import show

WORDS = """\b
What can be checked:
  LOCO      a loco file, or a list of CV values as people keep them
  FOLDER    all of them in a folder
  -         a list on the standard input
  CV=VALUE  typed values, such as 27=3 or 257@16/2=12; they go before those
            of the loco file they stand beside

"""

EXAMPLES = WORDS + examples(
    "cvlib check my-loco.toml",
    "cvlib check my-locos/ --fail-on error",
    "cvlib check --profile ferrow/lark-8 --firmware 2.9.201 27=3 141=40",
    "cvlib check old-list.csv --profile ferrow/lark-8 --firmware 4.0.5 --saved-for 2.4.118",
    "cvlib check values.xml --recipe recipe.toml --profile ferrow/lark-8 --firmware 4.0.5",
    "cvlib check my-loco.toml --firmware 4.3.9 --format markdown",
    "cvlib check my-locos/ --record",
    "",
    "Exit codes: 2 where a file cannot be used, else 3 where the firmware of a decoder",
    "is not known and makes a difference, else 1 for findings at or above --fail-on.",
)

Words = Annotated[list[str] | None, typer.Argument(metavar="LOCO|FOLDER|CV=VALUE", hidden=True)]


def run(  # noqa: PLR0913 -- one argument for each option
    words: Words = None,
    *,
    profile: ProfileOption = "",
    firmware: FirmwareOption = "",
    saved_for: Annotated[
        str,
        typer.Option(
            "--saved-for", metavar="VERSION", help="The firmware that the values were saved for."
        ),
    ] = "",
    role: Annotated[
        str, typer.Option("--role", metavar="ROLE", help="Only decoders of this role.")
    ] = "",
    recipe: RecipeOption = None,
    everything: AllOption = False,
    changed: Annotated[
        bool, typer.Option("--changed", help="Note each value that is not the factory default.")
    ] = False,
    why: WhyOption = False,
    record: Annotated[
        bool,
        typer.Option("--record", help='Note in each loco file what its values mean; see "stale".'),
    ] = False,
    fail_on: FailOnOption = FailOn.WARNING,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Hold saved values against what the installed firmware understands.

    Every bit of every saved CV is accounted for once.
    """
    from cvlib import api

    said = list(words or ())
    from cvlib.files.text import LIMIT

    listed = sys.stdin.buffer.read(LIMIT + 1) if "-" in said else None
    asked = api.Asked.of([word for word in said if word != "-"], listed, role, recipe)
    stated = api.Stated(profile, firmware, saved_for)
    result = api.check_asked(api.open_store(definitions), asked, stated, changed=changed)
    recording = api.record_checks(result, asked, stated) if record else None

    from cvlib.render.views.check import view
    from cvlib.render.views.check_data import check_data

    show(
        form,
        lambda: view(result, everything=everything, why=why),
        lambda: check_data(result, why=why),
    )
    tell([*result.faults, *(recording.told() if recording else ())])
    return ExitCode.WRONG if recording and recording.failed else exit_code(result, fail_on)
