"""``cvlib probe``: the few reads that settle an undocumented firmware."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.bench_options import (
    AfterResetOption,
    AloneOption,
    AnswersFileOption,
    AskOption,
    BidirectionalOption,
    ChosenOption,
    LoadOption,
    MainOption,
    ThingsArgument,
    resumed,
    situation_of,
)
from cvlib.cli.bench_prompt import Keeping, ask_all
from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    AllOption,
    DefinitionsOption,
    FirmwareOption,
    Format,
    FormatOption,
    ProfileOption,
    RoleOption,
    StateOption,
    examples,
    state_of,
)
from cvlib.cli.show import show

if TYPE_CHECKING:
    from cvlib.files.probing import AskedProbe

EXAMPLES = examples(
    "cvlib probe --profile ferrow/lark-8 --firmware 3.0.8",
    "cvlib probe --profile ferrow/lark-8 --firmware 3.0.8 113=60 146=none --after-reset",
    "cvlib probe my-loco.toml --ask --answers bench.txt --write",
    "cvlib probe --profile ferrow/lark-8 --firmware 3.0.8 --group braking",
    "cvlib probe 8=13 7=3",
    "",
    "Exit code 0 where nothing is disputed any more, 3 where something still is.",
)

WriteOption = Annotated[
    bool,
    typer.Option("--write", help="Write firmware and readings into the loco file, dated."),
]


AboutOption = Annotated[
    list[str] | None,
    typer.Option(
        "--setting",
        "--group",
        metavar="ID",
        help="Ask about one setting or group only, such as braking; may be repeated.",
        show_default=False,
    ),
]


def run(  # noqa: PLR0913 -- one argument for each option
    things: ThingsArgument = None,
    *,
    profile: ProfileOption = "",
    firmware: FirmwareOption = "",
    role: RoleOption = "",
    answers: AnswersFileOption = None,
    ask: AskOption = None,
    state: StateOption = None,
    after_reset: AfterResetOption = None,
    main: MainOption = None,
    load: LoadOption = None,
    bidirectional: BidirectionalOption = None,
    alone: AloneOption = None,
    chosen: ChosenOption = None,
    setting: AboutOption = None,
    write: WriteOption = False,
    everything: AllOption = False,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Find the reads, and where no read tells the tests, that settle where settings live.

    Without answers the plan is shown as a tree: what to read, and what each answer means, as the
    decoder stands and after a factory reset. Answers narrow it down; at the end stands what was
    learnt, ready for the profile. Where the firmware is not known, the reads that find it come
    first.
    """
    from datetime import date

    from cvlib.files.probing import AskedProbe, Stated
    from cvlib.files.store import open_store
    from cvlib.files.text import typed
    from cvlib.render.views import probe as views
    from cvlib.render.views.probe_data import data

    said = situation_of(after_reset, main, load, bidirectional, alone, chosen, state_of(state))
    stated = Stated(profile, firmware, role, tuple(setting or ()))
    asked = AskedProbe(open_store(definitions), things or [], said, stated, answers)
    if write:
        asked.check_keeping()
    if ask:
        more = [*(["--role", role] if role else []), *(["--write"] if write else [])]
        _ask(asked, answers, [*more, *resumed(said, definitions)])
    today = date.today()
    fault = asked.why_not_kept() if write else None
    written = asked.keep(today) if write and fault is None else ""
    result = asked.result(today, written)
    show(
        form,
        lambda: views.view(result, typed, everything=everything),
        lambda: data(result, typed),
    )
    if fault is not None:
        raise fault
    return ExitCode.GOOD if result.is_settled else ExitCode.UNDECIDED


def _command(asked: AskedProbe, more: list[str]) -> list[str]:
    words = ["cvlib", "probe", *([str(asked.path)] if asked.path else [])]
    for name, value in (("--profile", asked.profile), ("--firmware", asked.firmware)):
        words += [name, value] if value else []
    words += [word for name in asked.about for word in ("--setting", name)]
    return [*words, *more]


def _ask(asked: AskedProbe, answers: Path | None, more: list[str]) -> None:
    """Ask for what finds the firmware, where it is not known, and then for what settles it."""
    from cvlib.render.views.progress import identify_progress, probe_progress

    if asked.search is not None and not asked.go_on():
        search = asked.search.session
        keeping = Keeping(_command(asked, more), answers)
        ask_all(search, keeping, lambda: identify_progress(search.found()))
        asked.go_on()
    session = asked.session
    if session is not None:
        keeping = Keeping(_command(asked, more), answers)
        ask_all(session, keeping, lambda: probe_progress(session.probed()))
