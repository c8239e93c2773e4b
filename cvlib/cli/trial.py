"""``cvlib trial``: stops planned, entered run by run, and what they say."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.carry_options import SheetFormat, SheetFormatOption
from cvlib.cli.exits import ExitCode, tell_way_back
from cvlib.cli.form_group import form_app
from cvlib.cli.options import AllOption, DefinitionsOption, RoleOption, examples
from cvlib.cli.prompts import ask_each, can_ask
from cvlib.cli.show import show_or_put
from cvlib.errors import problem
from cvlib.model.trial import TrialQuestion

if TYPE_CHECKING:
    from cvlib.api.trials import FoundTrial
    from cvlib.model.trial import Run

ABOUT = """Measured stops of a loco: planned, entered run by run, and told what they say.

A trial is kept in the loco file. LOCO#2 is the second trial of a loco; LOCO alone is its last.
"""
EXAMPLES = examples(
    "cvlib trial plan my-loco.toml braking.stopping-distance --write",
    "cvlib trial enter my-loco.toml",
    "cvlib trial report my-loco.toml",
    "",
    "The sums need numpy and scipy: python -m pip install 'dcc-cvlib[statistics]'",
)
app = form_app(ABOUT, EXAMPLES, "plan|enter|report ...")

Wish = Annotated[
    str, typer.Option("--wish", metavar="LENGTH", help="Where it should stop: 82cm, 32in, 4s.")
]
Margin = Annotated[
    str,
    typer.Option(
        "--margin", metavar="LENGTH", help="Near enough; not said, a tenth, at least 2 cm."
    ),
]
Asked = Annotated[
    TrialQuestion | None,
    typer.Option(
        "--question",
        help="What it is to answer; not said, by what is varied.",
        show_default=False,
    ),
]
Speeds = Annotated[
    list[str] | None,
    typer.Option("--speed", metavar="NAME", help="An entry speed, by name; repeat it."),
]
Values = Annotated[
    list[str] | None,
    typer.Option("--value", metavar="RAW", help="A value of the setting; repeat it."),
]
Step = Annotated[
    str,
    typer.Option("--step", metavar="LENGTH", help="Smallest step of the tape; not said, 1 cm."),
]
Runs = Annotated[
    int, typer.Option("--runs", min=0, help="Runs in all; not said, as many as it takes.")
]
Scatter = Annotated[
    str,
    typer.Option("--scatter", metavar="LENGTH", help="Standard deviation it may have at most."),
]
BeforeUpdate = Annotated[
    bool, typer.Option("--before-update", help="Old firmware against new, which cannot go back.")
]
To = Annotated[str, typer.Option("--to", metavar="VERSION", help="The new firmware of an update.")]
Control = Annotated[
    bool, typer.Option("--control", help="With a loco that is not updated, on the same days.")
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Draws the order of the runs.")]
Remark = Annotated[str, typer.Option("--note", help="A remark on the trial.")]
Write = Annotated[
    bool, typer.Option("--write", help="Put the plan into the loco file, for its runs.")
]


@app.command(
    "plan",
    short_help="A sheet for the layout: which runs, in which order, and when to look.",
    epilog=examples(
        "cvlib trial plan my-loco.toml braking.stopping-distance --write",
        "cvlib trial plan my-loco.toml braking.stopping-distance --speed slow --speed fast",
        "cvlib trial plan my-loco.toml braking.stopping-distance --value 40 --value 120 --write",
        "cvlib trial plan my-loco.toml braking.stopping-distance --before-update --control",
        "cvlib trial plan my-loco.toml braking.stopping-distance --format html > sheet.html",
    ),
)
def plan(  # noqa: PLR0913 -- one argument for each option
    loco: Annotated[Path, typer.Argument(metavar="LOCO", show_default=False)],
    setting: Annotated[str, typer.Argument(metavar="SETTING", show_default=False)],
    *,
    question: Asked = None,
    speed: Speeds = None,
    value: Values = None,
    wish: Wish = "",
    margin: Margin = "",
    step: Step = "",
    runs: Runs = 0,
    scatter: Scatter = "",
    before_update: BeforeUpdate = False,
    to: To = "",
    control: Control = False,
    seed: Seed = 1,
    note: Remark = "",
    role: RoleOption = "",
    write: Write = False,
    form: SheetFormatOption = SheetFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Plan a trial: the question and what is near enough are fixed before the first run."""
    from cvlib.api import open_store
    from cvlib.api.trials import TrialRequest, keep_trial, plan_trial
    from cvlib.files.text import typed
    from cvlib.render.views import trial_sheet

    varied = TrialQuestion.UPDATE if before_update else question
    asked = TrialRequest(
        *(setting, varied, tuple(speed or ()), tuple(value or ()), wish, margin, step, scatter),
        *(runs, seed, role, to, control, note),
    )
    planned = plan_trial(open_store(definitions), loco, asked, date.today())
    if write:
        keep_trial(planned)
    name = f"{loco}#{planned.number}"
    goal = planned.trial.to or "VERSION"
    carry = typed("cvlib", "carry", str(loco), "--to", goal)
    show_or_put(
        form,
        lambda: trial_sheet.view(planned.trial, planned.loco.name, *planned[3:], carry),
        lambda: trial_sheet.data(planned.trial, name, is_written=write),
        lambda: trial_sheet.plan_csv(planned.trial),
    )
    if write:
        print(f'cvlib: kept; enter the runs with "cvlib trial enter {name}".', file=sys.stderr)
        tell_way_back(str(loco))
    else:
        print("cvlib: not kept; --write puts the plan into the loco file.", file=sys.stderr)
    return ExitCode.GOOD


@app.command(
    "enter",
    short_help="Runs put into the loco file: typed one by one, or as a list.",
    epilog=examples(
        "cvlib trial enter my-loco.toml",
        "cvlib trial enter my-loco.toml#2 runs.csv",
        "",
        "At the prompt: 81.5, 812 mm, 32in, 81.5 wheels slipped, missed, fast: 81.5, undo, quit",
    ),
)
def enter(
    trial: Annotated[str, typer.Argument(metavar="LOCO[#N]", show_default=False)],
    runs: Annotated[Path | None, typer.Argument(metavar="[RUNS.csv]", show_default=False)] = None,
    *,
    day: Annotated[
        str, typer.Option("--date", metavar="DAY", help="The day of the runs; not said, today.")
    ] = "",
) -> int:
    """Enter the runs of a trial: one at a time with undo, or as a CSV list.

    All of them are written in one step at the end, also after Ctrl-C.
    """
    from cvlib.api.trials import enter_runs, find_trial, runs_of
    from cvlib.files.typed_keys import parse_day

    found = find_trial(trial)
    today = parse_day(day) if day else date.today()
    if runs is not None:
        made = runs_of(runs, found, today)
        enter_runs(found, len(found.trial.runs), made)
        _entered(found, len(made), trial)
        return ExitCode.GOOD
    if not can_ask():
        raise problem(
            "runs are asked for at a terminal.",
            advice=f'Name a list instead: "cvlib trial enter {trial} runs.csv".',
        )
    session = _Session(found, today.isoformat())
    code = ExitCode.GOOD
    try:
        session.ask()
    except KeyboardInterrupt:
        print(file=sys.stderr)
        code = ExitCode.INTERRUPTED
    if session.has_changed:
        enter_runs(found, session.kept, session.new, session.typed.encode())
    _entered(found, len(session.new), trial)
    return code


@app.command(
    "report",
    short_help="What the runs say, and how surely.",
    epilog=examples(
        "cvlib trial report my-loco.toml",
        "cvlib trial report my-loco.toml#2 --all",
        "cvlib trial report my-loco.toml --format html > report.html",
        "cvlib trial report one.toml other.toml#3",
        "",
        "Exit code 0, whatever the runs say; 2 where there are none.",
    ),
)
def report(
    trials: Annotated[list[str], typer.Argument(metavar="LOCO[#N]...", show_default=False)],
    *,
    everything: AllOption = False,
    form: SheetFormatOption = SheetFormat.TEXT,
) -> int:
    """Say what the runs of a trial show; of trials of several locos, what they come to together."""
    from cvlib.api.trials import check_twice, find_trial, loco_key, profile_of, report_trial
    from cvlib.engine.trial.verdict import counted_locos
    from cvlib.files.text import typed
    from cvlib.render.views import trial as views

    found = [find_trial(text) for text in trials]
    check_twice(found)
    done = [(f"{one.loco.name}, trial {one.number}", report_trial(one)) for one in found]
    if len(done) > 1:
        told = [
            views.report_data(held, f"{one.path}#{one.number}")
            for one, (_, held) in zip(found, done, strict=True)
        ]
        count = counted_locos(
            [(loco_key(one), held) for one, (_, held) in zip(found, done, strict=True)]
        )
        if form is SheetFormat.CSV:
            raise problem("a list holds the runs of one trial.", advice="Name one.")
        show_or_put(
            form,
            lambda: views.several_view(done, count),
            lambda: {"command": "trial report", "trials": told},
        )
        return ExitCode.GOOD
    ((name, held),), (one,) = done, found
    place = f"{one.path}#{one.number}"
    command = typed("cvlib", "amend", "bench", profile_of(one), "--trial", place)
    show_or_put(
        form,
        lambda: views.view(held, name, command, everything=everything),
        lambda: views.report_data(held, place),
        lambda: views.report_csv(held),
    )
    return ExitCode.GOOD


class _Session:
    """The runs of an evening, typed one by one; nothing is written before its end."""

    def __init__(self, found: FoundTrial, day: str) -> None:
        self.trial = found.trial
        self.day = day
        self.kept = len(found.trial.runs)
        """How many of the runs that were there before stay."""
        self.new: list[Run] = []
        self.typed = ""

    @property
    def has_changed(self) -> bool:
        """Whether there is anything to write."""
        return bool(self.new) or self.kept < len(self.trial.runs)

    def ask(self) -> None:
        """Ask for run after run of the plan, until it is complete or the person has enough."""
        ask_each(
            self._question,
            self._add,
            self._undo,
            f"A figure in {self.trial.unit} (or with its unit), a remark behind it; "
            '"missed"; "undo"; "quit".',
        )

    def _due(self) -> str:
        """The condition of the next run; nothing where the plan is complete."""
        held = (*self.trial.runs[: self.kept], *self.new)
        return next(replace(self.trial, runs=held).due(), "")

    def _question(self) -> str:
        due = self._due()
        if not due:
            print("  The plan is complete.", file=sys.stderr)
            return ""
        return f"run {self.kept + len(self.new) + 1} of {len(self.trial.order)}, {due}"

    def _add(self, text: str) -> None:
        from cvlib.files.run_lists import parse_run

        self.new.append(parse_run(text, self.trial, self._due(), self.day))
        self.typed += f"{text}\n"
        made = self.new[-1]
        note = f'; remark "{made.note}"' if made.note else ""
        print(f"  {made.condition}: {self._stop(made)}{note}", file=sys.stderr)

    def _undo(self) -> None:
        if self.new:
            gone: Run = self.new.pop()
        elif self.kept:
            self.kept -= 1
            gone = self.trial.runs[self.kept]
        else:
            print("  There is no run to take back.", file=sys.stderr)
            return
        print(f"  Taken back: {gone.condition}, {self._stop(gone)}", file=sys.stderr)

    def _stop(self, run: Run) -> str:
        return "missed" if run.stop is None else f"{run.stop:g} {self.trial.unit}"


def _entered(found: FoundTrial, count: int, trial: str) -> None:
    print(f'cvlib: {count} runs entered; "cvlib trial report {trial}" tells.', file=sys.stderr)
    if count:
        tell_way_back(str(found.path))
