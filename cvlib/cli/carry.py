"""``cvlib carry``: saved values for another firmware, and a write sheet that is safe to follow."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli import carry_options as given
from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    FailOn,
    FailOnOption,
    ProfileOption,
    RecipeOption,
    RoleOption,
    SavedForOption,
    StateOption,
    WhyOption,
    examples,
    state_of,
)

EXAMPLES = examples(
    "cvlib carry my-loco.toml --to 4.3.9",
    "cvlib carry my-loco.toml --to 4.3.9 --format html > sheet.html",
    "cvlib carry my-loco.toml --to 3.4.96 --choose braking=newer",
    "cvlib carry my-loco.toml --to 4.3.9 --write",
    "cvlib carry old-list.csv --profile ferrow/lark-8 --saved-for 2.4.118 --to 4.3.9",
    "cvlib carry values.xml --recipe recipe.toml --profile ferrow/lark-8 --to 4.3.9",
    "cvlib carry my-loco.toml --to-profile ilex-works/heron --to 50 --main",
)


def run(  # noqa: PLR0913 -- one argument for each option
    loco: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    *,
    to: given.ToOption = "",
    to_profile: given.ToProfileOption = "",
    profile: ProfileOption = "",
    saved_for: SavedForOption = "",
    state: StateOption = None,
    role: RoleOption = "",
    recipe: RecipeOption = None,
    choose: given.ChooseOption = None,
    option: given.BuiltOption = None,
    main: given.MainOption = False,
    answers: given.AnswersOption = None,
    shared: given.SharedOption = False,
    address: given.AddressOption = None,
    bits: given.BitsOption = True,
    reset: given.ResetOption = False,
    power_cycle: given.PowerCycleOption = False,
    sheet: given.SheetOption = False,
    write: given.WriteOption = False,
    everything: AllOption = False,
    why: WhyOption = False,
    fail_on: FailOnOption = FailOn.WARNING,
    form: given.SheetFormatOption = given.SheetFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Carry saved values to another firmware or decoder type, with a write sheet in a safe order.

    Each value is read at the firmware it was saved for and set anew at the goal, in its own units
    and at its own CVs. The sheet lists the CVs whose value differs from the saved one, and what
    needs a look; --all lists every CV. The forms csv and html hold the sheet alone; html is a page
    made for printing.
    """
    from dataclasses import replace
    from datetime import date

    from cvlib.api.recipes import opened_recipe
    from cvlib.cli.state_prompt import asked_state
    from cvlib.engine.carry.carry_loco import Wish
    from cvlib.files.carrying import carry_loco, keep_carried
    from cvlib.files.read.interface import read_file
    from cvlib.files.store import open_store
    from cvlib.findings.catalogue import Severity

    choices, built = given.pairs(choose, "--choose"), given.pairs(option, "--option")
    setup = given.setup_of(main, answers, shared, address, bits)
    setup = replace(setup, is_reset=reset, power_cycle=power_cycle)
    said = (to, to_profile, profile, saved_for, role, choices, built, everything, setup)
    read = read_file(loco, opened_recipe(recipe, role))
    store, known = open_store(definitions), state_of(state)
    if not known and not saved_for:
        known = asked_state(store, loco, read, role, profile)
    result = carry_loco(store, read, Wish(*said, known))
    if write:
        result = keep_carried(loco, result, date.today())
    given.show_carried(form, result, everything=everything, why=why, sheet=sheet)
    is_found = fail_on is not FailOn.NEVER and result.is_at_least(Severity(fail_on))
    return ExitCode.FOUND if is_found else ExitCode.GOOD
