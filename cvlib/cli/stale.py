"""``cvlib stale``: what in the definitions and in locos wants looking at."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode, tell
from cvlib.cli.options import (
    DefinitionsOption,
    FailOn,
    FailOnOption,
    Format,
    FormatOption,
    examples,
)
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib stale",
    "cvlib stale my-locos/",
    "cvlib stale --profile ferrow/lark-8 --format markdown",
    "",
    'Values can be held against their last check once "cvlib check --record" has left one.',
)


def run(
    locos: Annotated[
        list[str] | None, typer.Argument(metavar="LOCO|FOLDER", show_default=False)
    ] = None,
    *,
    profile: Annotated[
        list[str] | None,
        typer.Option("--profile", metavar="ID", help="Only this profile; may be repeated."),
    ] = None,
    fail_on: FailOnOption = FailOn.WARNING,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """What wants looking at: firmware, sources and questions of profiles, values of locos.

    Releases that no document covers, tests that contradict a document, and open questions by age;
    of locos, firmware beyond the documents, and values that mean something else since their last
    check because the definitions changed. Without locos every profile is looked at, else those
    that the locos use.
    """
    from cvlib import api
    from cvlib.findings.catalogue import Severity

    store = api.open_store(definitions)
    result = api.stale(store, [Path(name) for name in locos or ()], profile or ())

    from cvlib.render.views.stale import view
    from cvlib.render.views.stale_data import data

    show(form, lambda: view(result), lambda: data(result))
    tell(result.faults)
    if result.faults:
        return ExitCode.WRONG
    found = fail_on is not FailOn.NEVER and result.has(Severity(fail_on))
    return ExitCode.FOUND if found else ExitCode.GOOD
