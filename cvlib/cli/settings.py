"""``cvlib settings``: the settings that belong to a firmware."""

from __future__ import annotations

from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    DefinitionsOption,
    FindOption,
    FirmwareOption,
    Format,
    FormatOption,
    WhyOption,
    examples,
)
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib settings ferrow/lark-8 --firmware 4.0.5",
    "cvlib settings ferrow/lark-8 --firmware 4.0.5 distance --why",
    "cvlib settings ferrow/lark-8 --firmware 4.0.5 --find Bremsweg",
    "cvlib settings ferrow/lark-8 --firmware 4.0.5 --cv 141 --cv 257@16/2",
    "cvlib settings ferrow/lark-8 --firmware 4.0.5 --group braking --absent",
    "cvlib settings ferrow/lark-8 --firmware 4.0.5 --against 2.4.118",
    "cvlib settings standard/nmra-s-9.2.2 --against standard/rcn-225",
)


def run(  # noqa: PLR0913 -- one argument for each option
    profile: Annotated[str, typer.Argument(metavar="PROFILE", show_default=False)],
    words: Annotated[list[str] | None, typer.Argument(metavar="WORD", show_default=False)] = None,
    *,
    firmware: FirmwareOption = "",
    group: Annotated[
        list[str] | None,
        typer.Option("--group", metavar="G", help="Only this group; may be repeated."),
    ] = None,
    cv: Annotated[
        list[str] | None,
        typer.Option("--cv", metavar="N", help="Only this CV: 27, 67-94 or 257@16/2."),
    ] = None,
    find: FindOption = None,
    against: Annotated[
        str,
        typer.Option(
            "--against",
            metavar="FIRMWARE|PROFILE[@FIRMWARE]",
            help="Show the differences to another firmware or profile instead.",
        ),
    ] = "",
    absent: Annotated[
        bool, typer.Option("--absent", help="List also settings that this firmware lacks.")
    ] = False,
    why: WhyOption = False,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """The settings that belong to a firmware: place, values, default and standing.

    WORDs narrow the list to settings that have each of them in id, title or help.
    """
    from cvlib import api

    store = api.open_store(definitions)
    wanted = api.wanted(words or (), group or (), cv or (), find or ())
    if against:
        compared = api.settings_against(store, profile, firmware, against, wanted)
        from cvlib.render.views import differences

        show(form, lambda: differences.view(compared), lambda: differences.data(compared))
        return ExitCode.GOOD
    listing = api.settings_at(store, profile, firmware, wanted)
    from cvlib.render.views import settings, settings_data

    show(
        form,
        lambda: settings.view(listing, why=why, absent=absent),
        lambda: settings_data.data(listing, absent=absent),
    )
    return ExitCode.GOOD
