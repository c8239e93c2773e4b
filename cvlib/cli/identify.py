"""``cvlib identify``: which decoder and firmware answers like this."""

from __future__ import annotations

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
    Format,
    FormatOption,
    ProfileOption,
    RecipeOption,
    RoleOption,
    StateOption,
    examples,
    state_of,
)
from cvlib.cli.prompts import can_ask
from cvlib.cli.show import show
from cvlib.errors import problem

EXAMPLES = examples(
    "cvlib identify 8=13 7=2 109=9 110=201 261@0/255=42",
    "cvlib identify 8=13 28=none --profile ferrow/lark-8",
    "cvlib identify --ask",
    "cvlib identify my-loco.toml",
    "cvlib identify values.xml --recipe recipe.toml",
    "",
    "Exit code 0 where one decoder and generation fits, 3 where several or none do.",
)


def run(  # noqa: PLR0913 -- one argument for each option
    things: ThingsArgument = None,
    *,
    profile: ProfileOption = "",
    role: RoleOption = "",
    recipe: RecipeOption = None,
    answers: AnswersFileOption = None,
    ask: AskOption = None,
    state: StateOption = None,
    after_reset: AfterResetOption = None,
    main: MainOption = None,
    load: LoadOption = None,
    bidirectional: BidirectionalOption = None,
    alone: AloneOption = None,
    chosen: ChosenOption = None,
    everything: AllOption = False,
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Say which decoder and firmware answered like this, and which read would tell most.

    Every profile is looked at, and everything that fits is listed with what speaks for and
    against it. Given a loco file or a full list, the answer is what its values were most likely
    saved for. A CV that gave no answer is a reading too: write 28=none.
    """
    from cvlib.engine.bench.identify import Verdict
    from cvlib.files.identifying import AskedIdentity
    from cvlib.files.store import open_store
    from cvlib.render.views import identify as views
    from cvlib.render.views.identify_data import data
    from cvlib.render.views.progress import identify_progress

    said = situation_of(after_reset, main, load, bidirectional, alone, chosen, state_of(state))
    asked = AskedIdentity(
        *(open_store(definitions), things or [], said, profile, role, answers, recipe),
        state_of(state),
    )
    held = asked.gathered
    if held.loco is not None and held.path is not None and can_ask() and not state:
        from cvlib.cli.state_prompt import asked_state

        asked.state = asked_state(
            asked.store, held.path, held.loco, role, profile, cause="identify"
        )
    is_asking = can_ask() if ask is None and not asked.session.entries else bool(ask)
    if is_asking:
        words = ["cvlib", "identify", *(["--profile", profile] if profile else [])]
        words += resumed(said, definitions)
        session, keeping = asked.session, Keeping(words, answers)
        ask_all(session, keeping, lambda: identify_progress(session.found()))
    elif not asked.session.reads:
        raise problem("there are no answers.", advice="Give them as 8=13 28=none, or use --ask.")
    result = asked.result()
    show(form, lambda: views.view(result, everything=everything), lambda: data(result))
    return ExitCode.GOOD if result.found.verdict is Verdict.ONE else ExitCode.UNDECIDED
