"""``cvlib compare``: locos side by side, for running together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.carry_options import (
    AddressOption,
    AnswersOption,
    BitsOption,
    MainOption,
    RolesOption,
    SharedOption,
    SheetFormat,
    SheetFormatOption,
    setup_of,
    show_compared,
)
from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    ProfileOption,
    RecipeOption,
    SavedForOption,
    StateOption,
    WhyOption,
    examples,
    state_of,
)

EXAMPLES = examples(
    "cvlib compare loco-4.toml loco-7.toml",
    "cvlib compare loco-4.toml loco-7.toml loco-9.toml --all",
    "cvlib compare loco-4.toml --match loco-7.toml",
    "cvlib compare loco-4.csv loco-7.csv --profile ferrow/lark-8 --state never-updated",
    "cvlib compare loco-4.toml values.xml --recipe recipe.toml",
    "cvlib compare loco-4.toml --match loco-7.toml --format csv > values.csv",
)


def run(  # noqa: PLR0913 -- one argument for each option
    locos: Annotated[list[Path], typer.Argument(metavar="LOCO", show_default=False)],
    *,
    match: Annotated[
        Path | None,
        typer.Option("--match", metavar="LOCO", help="Propose values to run as this loco does."),
    ] = None,
    role: RolesOption = None,
    profile: ProfileOption = "",
    saved_for: SavedForOption = "",
    state: StateOption = None,
    recipe: RecipeOption = None,
    main: MainOption = False,
    answers: AnswersOption = None,
    shared: SharedOption = False,
    address: AddressOption = None,
    bits: BitsOption = True,
    everything: AllOption = False,
    why: WhyOption = False,
    form: SheetFormatOption = SheetFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Compare locos setting by setting in engineering units, across decoders and firmware.

    Shown is what matters for running together; --all shows every setting. Speed curves are
    compared as curves. With --match the values are proposed that bring the first loco closest to
    another, with a write sheet; the forms csv and html hold that sheet.
    """
    from cvlib.api.recipes import opened_recipe
    from cvlib.engine.carry.carry_loco import Wish
    from cvlib.files.carrying import compare_locos, match_locos, match_setup
    from cvlib.files.read.interface import read_file
    from cvlib.files.store import open_store

    store = open_store(definitions)
    layout = opened_recipe(recipe, *(role or ()))
    held = [read_file(path, layout) for path in (*locos, *([match] if match else []))]
    said = Wish(profile=profile, saved_for=saved_for, state=state_of(state))
    compared = compare_locos(store, held, role or (), said, everything=everything)
    setup = setup_of(main, answers, shared, address, bits)
    matched = None
    if match:
        setup = match_setup(held[0], role or (), setup)
        matched = match_locos(store, held[0], held[-1], role or (), said)
    show_compared(form, compared, matched, setup, everything=everything, why=why)
    return ExitCode.GOOD
