"""``cvlib check``: saved values held against the right profile for the firmware."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

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
    SavedForOption,
    StateOption,
    WhyOption,
    examples,
    state_of,
)
from cvlib.cli.prompts import can_ask
from cvlib.cli.show import show

if TYPE_CHECKING:
    from cvlib.api import Asked, Stated
    from cvlib.files.store import Store
    from cvlib.model.loco import State

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
    saved_for: SavedForOption = "",
    state: StateOption = None,
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
    from cvlib.files.text import LIMIT, typed

    said = list(words or ())
    listed = sys.stdin.buffer.read(LIMIT + 1) if "-" in said else None
    asked = api.Asked.of([word for word in said if word != "-"], listed, role, recipe)
    stated = api.Stated(profile, firmware, saved_for, state_of(state))
    store = api.open_store(definitions)
    if can_ask() and not (saved_for or state or record or listed or asked.typed):
        stated = stated._replace(state=_asked(store, asked, stated))
    result = api.check_asked(store, asked, stated, changed=changed)
    recording = api.record_checks(result, asked, stated) if record else None

    from cvlib.render.views.check import view
    from cvlib.render.views.check_data import check_data

    show(
        form,
        lambda: view(result, typed, everything=everything, why=why),
        lambda: check_data(result, why=why),
    )
    tell([*result.faults, *(recording.told() if recording else ())])
    return ExitCode.WRONG if recording and recording.failed else exit_code(result, fail_on)


def _asked(store: Store, asked: Asked, stated: Stated) -> State:
    """What the person says of the values of the one file that is checked, where it matters."""
    from cvlib.api.checks import locos_of
    from cvlib.cli.state_prompt import asked_state
    from cvlib.model.loco import State

    if len(asked.paths) != 1 or not asked.paths[0].is_file():
        return State.UNKNOWN
    (path,) = asked.paths
    for loco in locos_of(asked, []):
        return asked_state(store, path, loco, asked.role, stated.profile, stated.firmware)
    return State.UNKNOWN
