"""Locos matched by measurement as blocks: the plan of timings, the speeds foreseen, the sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from cvlib.engine.carry.write_sheet import Caution, Sheet
from cvlib.engine.speed.fit import MOST_CHANGED
from cvlib.engine.speed.members import MatchedFleet, MatchedMember
from cvlib.engine.speed.speed_match import SpeedCheck, StepForecast
from cvlib.engine.speed.timings import PlannedRun, way_word
from cvlib.render.marks import BLANK
from cvlib.render.phrases import listed
from cvlib.render.plot import LETTERS
from cvlib.render.short_values import Said
from cvlib.render.to_csv import to_csv
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)
from cvlib.render.views import sheet
from cvlib.render.views.sheet_words import CAUTIONS

Data = dict[str, object]

CLEAR_TRACK = (
    "Without momentum a loco starts and stops at once, and at the highest step it is as fast as "
    "it can be. Time it alone, on a closed track with nothing to run into, fingers off the rails, "
    "a hand near the stop button."
)


@dataclass(frozen=True, slots=True)
class TimingPlan:
    """The runs to be timed, and what belongs around them."""

    locos: tuple[str, ...]
    runs: tuple[PlannedRun, ...]
    length: str
    """The length of one lap, as it was said."""
    seed: int
    momentum: Mapping[str, Mapping[int, int]]
    """For each loco the CVs of its momentum that are not 0, with their saved values."""


@dataclass(frozen=True, slots=True)
class MatchView:
    """A match with its sheets and what puts its speeds into words."""

    fleet: MatchedFleet
    sheets: tuple[Sheet, ...]
    lengths: Mapping[str, float]
    """Metres of one lap, by loco."""
    scale: float = 0.0
    """What of a scale model one is, such as 87; 0 for plain speeds."""
    to_top: bool = False
    """Whether a top speed was wished for."""


def plan_view(plan: TimingPlan) -> list[Block]:
    """What to do, then the runs in their order, with room for what is measured."""
    blocks: list[Block] = [Heading(f"Timings of {listed(plan.locos)}", 1)]
    caution = Piece("Caution: ", Role.WARNING)
    cautions = (CLEAR_TRACK, CAUTIONS[Caution.MOTOR])
    blocks += [Paragraph((caution, Piece(text)), hang=2) for text in cautions]
    deeds = enumerate(_what_to_do(plan), 1)
    blocks += [Gap(), *(Paragraph(plain(f"{at}. {text}"), hang=3) for at, text in deeds)]
    columns = (
        *(Column(title, numeric=True, shrinks=False) for title in ("run", "step")),
        Column("loco"),
        *(Column(title, shrinks=False) for title in ("direction", "laps", "time")),
    )
    rows = [
        (str(run.number), str(run.step), run.loco, way_word(run.is_forward), BLANK, BLANK)
        for run in plan.runs
    ]
    caption = f"Order by seed {plan.seed}; one lap is {plan.length}."
    return [*blocks, Gap(), Table(columns, tuple(tuple(map(plain, r)) for r in rows), caption)]


def _what_to_do(plan: TimingPlan) -> Iterator[str]:
    yield "The values in the loco files must be those that are in the decoders now."
    for loco in plan.locos:
        held = plan.momentum.get(loco, {})
        if held:
            zero = listed([f"CV {cv} = 0" for cv in held])
            back = listed([f"CV {cv} = {value}" for cv, value in held.items()])
            yield f"{loco}: write {zero} for the timings, and {back} when they are done."
        else:
            yield f"{loco}: momentum is 0, as saved."
    yield "Set the throttle to 28 speed steps. Take every loco without its train, on one track."
    yield "Run each loco warm for ten minutes, half of it each way, before its first timing."
    yield "Begin each run from a stand, let the speed settle, and time from mark to mark."
    yield (
        "A time of 15 s or more tells the speed to 2 %; a shorter one needs more laps, or repeats "
        "(four of 7.5 s): 7.6 / 7.5 / 7.7 / 7.6 s. Where the loco does not move write: stands."
    )
    yield (
        "Keep the order. The step that comes first comes back in the middle and last; where it "
        f"changed by more than {MOST_CHANGED * 100:.0f} % the timings of that loco are refused."
    )


def plan_csv(plan: TimingPlan, headings: Sequence[str]) -> str:
    """The runs as a list to be filled in."""
    rows = [
        (run.number, run.loco, run.step, way_word(run.is_forward), plan.length, "", "", "")
        for run in plan.runs
    ]
    return to_csv([headings, *rows])


def plan_data(plan: TimingPlan) -> Data:
    """The plan as data; docs/schema/output-match.schema.json describes it."""
    runs = [
        {**_step_data(run), "run": run.number, "loco": run.loco, "reference": run.is_reference}
        for run in plan.runs
    ]
    return {"plan": {"runs": runs, "length": plan.length, "seed": plan.seed}, "match": None}


def view(told: MatchView, *, why: bool = False) -> list[Block]:
    """How alike they will run, the speeds foreseen, and for each loco its sheet."""
    members, match = told.fleet.members, told.fleet.match
    step, is_forward = match.apart_at
    below = (
        f" Below step {match.known_from} one of them was not timed so slow; times at lower steps "
        "would tell more."
    )
    blocks: list[Block] = [
        Heading(f"{listed([one.member.name for one in members])}, matched by measurement", 1),
        _text(
            f"From step {match.known_from} to 28 they will run within {100 * match.apart:.0f} % "
            "of each other (9 times in 10, if nothing changes); worst is step "
            f"{step} {way_word(is_forward)}." + (below if match.known_from > 1 else "")
        ),
        _text(
            f"{'The wish' if told.to_top else 'The slowest of them at each step'}: "
            f"{_speed(match.wish[-1] or 0, told.scale)} at step 28."
        ),
        _text(
            "A drive level is no speed: this holds for these locos on the track where they were "
            "timed, warm and without a train. Nothing but the speed curve is written."
        ),
        Gap(),
        Heading("Speeds foreseen"),
        _speeds(told),
    ]
    for letter, one, plan in zip(LETTERS, members, told.sheets, strict=False):
        blocks += [Gap(), Heading(f"{letter}: {one.member.name}"), *_loco(one), Gap()]
        blocks += [*sheet.view(told_of(one, plan), why=why, level=3), *_checks(told, one)]
    return blocks


def sheets_csv(told: MatchView) -> str:
    """The sheets as rows, one under the other, each under the name of its loco."""
    made = []
    for one, plan in zip(told.fleet.members, told.sheets, strict=True):
        rows = [(*[""] * 6, text) for text in _check_lines(told, one)]
        made.append(to_csv([(one.member.name,)]) + sheet.to_csv(told_of(one, plan)) + to_csv(rows))
    return "".join(made)


def _speeds(told: MatchView) -> Table:
    members, match = told.fleet.members, told.fleet.match
    letters = LETTERS[: len(members)]
    columns = [Column("step", numeric=True, shrinks=False), Column("wish", numeric=True)]
    columns += [Column(f"{held} {way}") for held in letters for way in ("forward", "reverse")]
    rows: list[tuple[Line, ...]] = []
    for at, wish in enumerate(match.wish):
        cells = [str(at + 1), _speed(wish, told.scale) if wish is not None else ""]
        for one in members:
            own = [held for held in one.values.forecast if held.step == at + 1]
            cells += [_cell(held, at + 1 < one.values.first_step) for held in own]
        rows.append(tuple(map(plain, cells)))
    caption = (
        "How far off the wish each will be, by what whole entries and one trim cannot mend, with "
        "the uncertainty of its speed (9 in 10). Extrapolated: never timed so slow, so no figure."
    )
    return Table(tuple(columns), tuple(rows), caption)


def _cell(held: StepForecast, is_below: bool) -> str:
    if is_below or held.off is None:
        return "extrapolated"
    return f"{round(100 * held.off, 1) + 0.0:+.1f} ± {164.5 * held.error:.0f} %"


def _speed(speed: float, scale: float) -> str:
    """Scale kilometres an hour, or plain centimetres a second."""
    return f"{speed * 3.6 * scale:.1f} km/h" if scale else f"{speed * 100:.1f} cm/s"


def _loco(one: MatchedMember) -> Iterator[Block]:
    values = one.values
    if values.table is not None:
        yield _text(
            f"28 entries, {values.table[0]} to {values.table[-1]}; those below step "
            f"{values.first_step} are extrapolated."
        )
    elif values.points is not None:
        minimum, middle, maximum = values.points
        yield _text(f"CV 2 = {minimum}, CV 6 = {middle}, CV 5 = {maximum}; no table.")
    if values.forward_trim is not None:
        yield _text(f"Trims: {values.forward_trim} forward, {values.reverse_trim} reverse, of 128.")
    worst = max(values.forecast, key=lambda held: abs(held.off or 0))
    yield _text(
        f"Not mended: at most {100 * (worst.off or 0):+.1f} %, at step {worst.step} "
        f"{way_word(worst.is_forward)}. The reference step changed by "
        f"{100 * one.loco.change:.1f} %."
    )


def _text(text: str) -> Paragraph:
    return Paragraph(plain(text))


def _checks(told: MatchView, one: MatchedMember) -> Iterator[Block]:
    yield Gap()
    yield Heading("Three steps to time", 3)
    yield _text(
        "Warm, momentum 0, from a stand, as before. All of them lie inside 9 times in 10; where "
        "one lies outside, look for what changed before you trust the match. Then put the "
        "momentum back as it was."
    )
    columns = (
        Column("step", numeric=True, shrinks=False),
        *(Column(title, shrinks=False) for title in ("direction", "laps", "foreseen", "found")),
    )
    rows = []
    for held in one.values.checks:
        laps, text = _time_of(told, one, held)
        cells = (str(held.step), way_word(held.is_forward), str(laps), text, BLANK)
        rows.append(tuple(map(plain, cells)))
    yield Table(columns, tuple(rows))


def _check_lines(told: MatchView, one: MatchedMember) -> Iterator[str]:
    for held in one.values.checks:
        laps, text = _time_of(told, one, held)
        yield f"Time step {held.step} {way_word(held.is_forward)}, laps {laps}: {text}; found:"


def _time_of(told: MatchView, one: MatchedMember, held: SpeedCheck) -> tuple[int, str]:
    length = told.lengths[one.member.name]
    laps = max(1, ceil(15 * held.high / length))
    way = laps * length
    return laps, f"{way / held.speed:.1f} s ({way / held.high:.1f} to {way / held.low:.1f})"


def told_of(one: MatchedMember, plan: Sheet) -> sheet.Told:
    """The sheet of one loco with what it needs to be put into words."""
    profile = one.member.layout.resolver.profile
    said = {
        name: Said.of(profile.settings[name].title, held.place, held.parts)
        for name, held in one.new.items()
    }
    decoder = f"{profile.maker} {profile.name} {one.member.layout.version}"
    return sheet.Told(plan, said, decoder=decoder)


def data(told: MatchView) -> Data:
    """The match as data; docs/schema/output-match.schema.json describes it."""
    match = told.fleet.match
    step, is_forward = match.apart_at
    return {
        "plan": None,
        "match": {
            "wish": [_rounded(speed) for speed in match.wish],
            "apart": {
                "share": _rounded(match.apart),
                "step": step,
                "direction": way_word(is_forward),
            },
            "locos": [
                _loco_data(told, one, plan)
                for one, plan in zip(told.fleet.members, told.sheets, strict=True)
            ],
        },
    }


def _loco_data(told: MatchView, one: MatchedMember, plan: Sheet) -> Data:
    held = one.values
    return {
        "name": held.loco,
        "table": held.table,
        "points": held.points,
        "forward_trim": held.forward_trim,
        "reverse_trim": held.reverse_trim,
        "first_step": held.first_step,
        "reference_changed": _rounded(one.loco.change),
        "forecast": [
            {
                **_step_data(step),
                "drive": round(float(step.drive), 2),
                "speed": _rounded(None if step.off is None else step.speed),
                "error": _rounded(None if step.off is None else step.error),
                "off": _rounded(step.off),
            }
            for step in held.forecast
        ],
        "checks": [
            {
                **_step_data(step),
                "laps": _time_of(told, one, step)[0],
                "speed": _rounded(step.speed),
                "low": _rounded(step.low),
                "high": _rounded(step.high),
            }
            for step in held.checks
        ],
        "sheet": sheet.data(told_of(one, plan)),
    }


def _step_data(held: StepForecast | SpeedCheck | PlannedRun) -> Data:
    return {"step": held.step, "direction": way_word(held.is_forward)}


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 5)
