"""``cvlib timeline``: how settings changed from firmware to firmware."""

from __future__ import annotations

from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import DefinitionsOption, Format, FormatOption, examples
from cvlib.cli.show import show

EXAMPLES = examples(
    "cvlib timeline ferrow/lark-8",
    "cvlib timeline ferrow/lark-8 --setting braking.stopping-distance",
    "cvlib timeline ferrow/lark-8 --group braking",
    "cvlib timeline ferrow/lark-8 --all --format markdown",
)


def run(
    profile: Annotated[str, typer.Argument(metavar="PROFILE", show_default=False)],
    *,
    setting: Annotated[
        list[str] | None,
        typer.Option("--setting", metavar="ID", help="Only this setting; may be repeated."),
    ] = None,
    group: Annotated[
        list[str] | None,
        typer.Option("--group", metavar="G", help="Only settings of this group that change."),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Also settings that never change, each in full.")
    ] = False,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """How the places of settings changed from firmware to firmware; gaps are shown as gaps.

    Without --setting or --group the whole profile: its stretches of firmware and what changes.
    """
    from cvlib import api

    store = api.open_store(definitions)
    timeline = api.timeline_of(store, profile, setting or (), group or (), every=everything)
    from cvlib.render.views.timeline import data, view

    show(form, lambda: view(timeline, one_by_one=everything), lambda: data(timeline))
    return ExitCode.GOOD
