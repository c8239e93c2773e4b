"""``cvlib match``: locos made to run alike by what a stopwatch says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.carry_options import (
    AnswersOption,
    BitsOption,
    MainOption,
    RolesOption,
    SheetFormat,
    SheetFormatOption,
    setup_of,
)
from cvlib.cli.exits import ExitCode
from cvlib.cli.form_group import form_app
from cvlib.cli.options import (
    DefinitionsOption,
    ProfileOption,
    SavedForOption,
    StateOption,
    StateWord,
    WhyOption,
    examples,
    state_of,
)
from cvlib.cli.show import show_or_put
from cvlib.errors import problem

if TYPE_CHECKING:
    from cvlib.engine.compare.compare import Member
    from cvlib.model.loco import Loco

ABOUT = """Speed curves with which locos run alike, from stopwatch timings.

"plan" prints the runs to time, "enter" takes the times at a prompt, "values" reckons the speed
table or CVs 2, 5 and 6, and the trims, with a write sheet for each loco. A drive level is no
speed: "compare --match" matches saved values by sums, "match" goes by what was timed.
"""

EXAMPLES = examples(
    'cvlib match plan loco-4.toml loco-7.toml --length "180 cm" --format csv > timings.csv',
    "cvlib match enter timings.csv",
    "cvlib match values loco-4.toml loco-7.toml --timings timings.csv",
)

PLAN = examples(
    'cvlib match plan loco-4.toml loco-7.toml --length "180 cm"',
    'cvlib match plan loco-4.toml loco-7.toml --length "1.8 m" --format csv > timings.csv',
    'cvlib match plan loco-4.toml loco-7.toml --length "6 ft" --steps 2,4,7,10,15,21,28 --seed 3',
)

ENTER = examples("cvlib match enter timings.csv")

VALUES = examples(
    "cvlib match values loco-4.toml loco-7.toml --timings timings.csv",
    "cvlib match values loco-4.toml loco-7.toml --timings timings.csv --scale 87",
    'cvlib match values loco-4.toml loco-7.toml --timings timings.csv --top "25 cm/s"',
    "cvlib match values loco-4.toml loco-7.toml --timings timings.csv --format html > sheets.html",
)

LocosArgument = Annotated[list[Path], typer.Argument(metavar="LOCO", show_default=False)]
ScaleOption = Annotated[
    float,
    typer.Option("--scale", min=0, max=1000, help="Show scale speed, such as 87 for 1:87."),
]


def plan(  # noqa: PLR0913 -- one argument for each option
    locos: LocosArgument,
    *,
    length: Annotated[
        str, typer.Option("--length", metavar="LENGTH", help='One lap, such as "180 cm".')
    ] = "",
    steps: Annotated[
        str, typer.Option("--steps", metavar="STEPS", help="6 to 8 of 28 speed steps.")
    ] = "",
    seed: Annotated[int, typer.Option("--seed", help="Another number, another order.")] = 1,
    role: RolesOption = None,
    profile: ProfileOption = "",
    saved_for: SavedForOption = "",
    state: StateOption = None,
    form: SheetFormatOption = SheetFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Print the runs to be timed, in random order, and what to do for them.

    The form csv is a list to be filled in; html is a page to print.
    """
    from cvlib.engine.speed.members import check_curves, momentum_of
    from cvlib.engine.speed.timings import USUAL_STEPS, plan_runs
    from cvlib.files.read.timings import HEADINGS, parse_figure
    from cvlib.render.views import match

    if not length:
        raise problem("match plan needs --length.", advice='One lap or way: --length "180 cm".')
    parse_figure(length, "m")
    words = steps.replace(",", " ").split()
    if not all(word.isdecimal() and len(word) < 4 for word in words):
        raise problem(f'"{steps}" is no list of steps.', advice="Write --steps 2,4,7,10,14,20,28.")
    members = _members(locos, role, profile, saved_for, state, definitions)[0]
    check_curves(members)
    names = tuple(one.name for one in members)
    runs = plan_runs(names, [int(word) for word in words] or USUAL_STEPS, seed)
    momentum = {one.name: momentum_of(one) for one in members}
    made = match.TimingPlan(names, runs, length, seed, momentum)
    show_or_put(
        form,
        lambda: match.plan_view(made),
        lambda: match.plan_data(made),
        lambda: match.plan_csv(made, HEADINGS),
    )
    return ExitCode.GOOD


def enter(
    file: Annotated[Path, typer.Argument(metavar="FILE", show_default=False)],
) -> int:
    """Take the times of a plan at a prompt, one run at a time; each goes into the file at once.

    A time that is too short to tell the speed to 2 % is asked for again, over more laps or more
    often. "undo" takes the last one back, "quit" stops.
    """
    from cvlib.cli.match_prompt import enter_timings

    enter_timings(file)
    return ExitCode.GOOD


def values(  # noqa: PLR0913 -- one argument for each option
    locos: LocosArgument,
    *,
    timings: Annotated[
        Path | None,
        typer.Option("--timings", metavar="FILE", help="The list of timings.", show_default=False),
    ] = None,
    top: Annotated[
        str,
        typer.Option(
            "--top", metavar="SPEED", help="Speed at step 28: 25 cm/s, or scale km/h with --scale."
        ),
    ] = "",
    scale: ScaleOption = 0.0,
    role: RolesOption = None,
    profile: ProfileOption = "",
    saved_for: SavedForOption = "",
    state: StateOption = None,
    main: MainOption = False,
    answers: AnswersOption = None,
    bits: BitsOption = True,
    why: WhyOption = False,
    form: SheetFormatOption = SheetFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Reckon the values with which the locos run alike, with a write sheet for each.

    They go by the slowest of them at each step, or to a speed at the top. The form csv holds the
    sheets alone.
    """
    from cvlib.engine.carry.order import plan as sheet_of
    from cvlib.engine.speed.members import match_by_timings
    from cvlib.engine.trial.library import check_statistics
    from cvlib.files.carrying import match_setup
    from cvlib.files.read.timings import parse_speed, read_timings
    from cvlib.render.views import match

    if timings is None:
        advice = '"cvlib match plan" prints such a list.'
        raise problem("match values needs --timings FILE.", advice=advice)
    check_statistics()
    members, held = _members(locos, role, profile, saved_for, state, definitions)
    found, _ = read_timings(timings)
    setup = setup_of(main, answers, False, None, bits)
    speed = parse_speed(top, scale) if top else None
    fleet = match_by_timings(members, found.timings, speed, reread=setup.answers or bits)
    setups = [match_setup(loco, role or (), setup) for loco in held]
    sheets = tuple(sheet_of(m.job, s) for m, s in zip(fleet.members, setups, strict=True))
    lengths = {row.loco: row.length for row in found.rows}
    told = match.MatchView(fleet, sheets, lengths, scale, bool(top))
    show_or_put(
        form,
        lambda: match.view(told, why=why),
        lambda: match.data(told),
        lambda: match.sheets_csv(told),
    )
    return ExitCode.GOOD


def _members(
    locos: list[Path],
    role: list[str] | None,
    profile: str,
    saved_for: str,
    state: StateWord | None,
    definitions: Path | None,
) -> tuple[list[Member], list[Loco]]:
    """The locos at their installed firmware, and as they were read."""
    from cvlib.engine.carry.carry_loco import Wish
    from cvlib.files.carrying import members
    from cvlib.files.read.interface import read_file
    from cvlib.files.store import open_store

    held = [read_file(path) for path in locos]
    said = Wish(profile=profile, saved_for=saved_for, state=state_of(state))
    return members(open_store(definitions), held, role or (), said), held


app = form_app(ABOUT, EXAMPLES)
app.command("plan", short_help="The runs to be timed, in random order.", epilog=PLAN)(plan)
app.command("enter", short_help="The times of a plan, taken at a prompt.", epilog=ENTER)(enter)
app.command("values", short_help="The values, and a write sheet a loco.", epilog=VALUES)(values)
