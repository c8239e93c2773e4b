"""``cvlib keep``: a list, or values read anew, kept in a loco file as a reading of their day."""

from __future__ import annotations

import sys
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    Format,
    FormatOption,
    ProfileOption,
    RecipeOption,
    RoleOption,
    SavedForOption,
    StateOption,
    examples,
    state_of,
)
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib keep my-loco.toml old-list.csv --profile ferrow/lark-8 --firmware 2.4.118",
    "cvlib keep my-loco.toml read-today.csv --how read --state not-reset",
    "cvlib keep my-loco.toml 7=4 109=2 110=60 141=41 --how read",
    "cvlib keep my-loco.toml values.xml --recipe recipe.toml --date 2024-05-18",
    "",
    "Exit codes: 0, or 2 where something cannot be read or the file cannot be written.",
)


class Way(StrEnum):
    """How values were obtained."""

    READ = "read"
    """Read back from the decoder."""
    WRITTEN = "written"
    """Written to it."""
    TYPED = "typed"
    """Typed from paper."""


WordsArgument = Annotated[
    list[str] | None, typer.Argument(metavar="[LIST|-|CV=VALUE]", show_default=False)
]
ThenOption = Annotated[
    str, typer.Option("--firmware", metavar="VERSION", help="What was in the decoder on that day.")
]
HowOption = Annotated[
    Way | None, typer.Option("--how", help="How the values were obtained.", show_default=False)
]
DayOption = Annotated[
    str,
    typer.Option("--date", metavar="DAY", help="Their day; today for what is read or written."),
]
NoteOption = Annotated[str, typer.Option("--note", metavar="TEXT", help="A remark on them.")]
NameOption = Annotated[
    str, typer.Option("--name", metavar="NAME", help="What the loco of a new file is called.")
]


def run(  # noqa: PLR0913 -- one argument for each option
    loco: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    words: WordsArgument = None,
    *,
    profile: ProfileOption = "",
    firmware: ThenOption = "",
    saved_for: SavedForOption = "",
    state: StateOption = None,
    how: HowOption = None,
    day: DayOption = "",
    note: NoteOption = "",
    role: RoleOption = "",
    name: NameOption = "",
    recipe: RecipeOption = None,
    everything: AllOption = False,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Keep a list of values in a loco file, as a further reading; a new file is made for the first.

    What the file holds stays. What changed since the reading before is told in settings.
    """
    from cvlib import api
    from cvlib.api.keep import KeepRequest, gathered, keep
    from cvlib.cli.state_prompt import said_state
    from cvlib.files.text import LIMIT, typed
    from cvlib.files.typed_keys import parse_day
    from cvlib.render.views.keep import data, view

    said = list(words or ())
    request = KeepRequest(
        loco,
        tuple(word for word in said if word != "-"),
        sys.stdin.buffer.read(LIMIT + 1) if "-" in said else None,
        profile,
        firmware,
        saved_for,
        state_of(state),
        how.value if how else "",
        parse_day(day, "--date: ") if day else None,
        note,
        role,
        name,
        recipe,
    )
    store = api.open_store(definitions)
    found = gathered(store, request, date.today())
    if "-" not in said and not (state or saved_for) and how is not Way.WRITTEN:
        asked = said_state(store, found.decoder)
        if asked:
            request = request._replace(state=asked)
            found = gathered(store, request, date.today())
    kept = keep(store, request, found)
    show(form, lambda: view(kept, typed, everything=everything), lambda: data(kept))
    return ExitCode.GOOD
