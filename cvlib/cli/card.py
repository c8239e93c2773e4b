"""``cvlib card``: what all values of a loco do now."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    FindOption,
    FirmwareOption,
    PageFormat,
    ProfileOption,
    RecipeOption,
    RoleOption,
    SavedForOption,
    examples,
)
from cvlib.cli.show import show_or_put
from cvlib.errors import problem

if TYPE_CHECKING:
    from cvlib.render.places import Data
    from cvlib.render.view import Block

EXAMPLES = examples(
    "cvlib card my-loco.toml",
    "cvlib card my-loco.toml --all",
    "cvlib card my-loco.toml --find headlight",
    "cvlib card my-loco.toml --format html > card.html",
    "cvlib card old-list.csv --profile ferrow/lark-8 --firmware 2.4.118 --paper half-letter",
    "cvlib card --blank ferrow/lark-8 --firmware 4.0.5 --format html > empty.html",
    "",
    "Exit codes: 0; 2 where the file cannot be used; 3 where the firmware of a decoder is not",
    "known and makes a difference.",
)


class Paper(StrEnum):
    """What a card is printed on."""

    A5 = "a5"
    HALF_LETTER = "half-letter"


def run(  # noqa: PLR0913 -- one argument for each option
    loco: Annotated[str, typer.Argument(metavar="LOCO", show_default=False)] = "",
    *,
    profile: ProfileOption = "",
    firmware: FirmwareOption = "",
    saved_for: SavedForOption = "",
    role: RoleOption = "",
    recipe: RecipeOption = None,
    find: FindOption = None,
    everything: AllOption = False,
    blank: Annotated[
        str,
        typer.Option(
            "--blank", metavar="PROFILE", help="An empty card of this decoder, to fill in by hand."
        ),
    ] = "",
    paper: Annotated[
        Paper, typer.Option("--paper", help="The paper of the form html.", show_default=True)
    ] = Paper.A5,
    form: Annotated[
        PageFormat, typer.Option("--format", help="The form of the output.", show_default=True)
    ] = PageFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Tell what all values of a loco do: what it answers to, how it drives and stops, which key.

    What is wrong with them says "cvlib check". The form html is one page to print.
    """
    from cvlib import api
    from cvlib.files.text import typed
    from cvlib.render.views import card, card_blank, card_data

    if bool(loco) == bool(blank):
        raise problem(
            "a card is of a loco, or an empty one of a decoder.",
            advice="Name a loco file, or give a profile with --blank.",
        )
    store = api.open_store(definitions)
    if blank:
        asked = api.wanted(find=find or ())
        listing = api.settings_at(store, blank, firmware, asked)
        _show(form, paper, card_blank.view(listing), lambda: card_data.blank_data(listing))
        return ExitCode.GOOD
    stated = api.Stated(profile, firmware, saved_for)
    made = api.card(store, api.Asked((Path(loco),), role=role, recipe=recipe), stated, find or ())
    blocks = card.view(made, typed, everything=everything, page=form is PageFormat.HTML)
    _show(form, paper, blocks, lambda: card_data.data(made))
    return ExitCode.UNDECIDED if made.is_undecided else ExitCode.GOOD


def _show(form: PageFormat, paper: Paper, blocks: list[Block], data: Callable[[], Data]) -> None:
    def page() -> str:
        from cvlib.render.page_style import card_style
        from cvlib.render.to_html import to_html

        return to_html(blocks, card_style(paper.value))

    show_or_put(form, lambda: blocks, data, page=page)
