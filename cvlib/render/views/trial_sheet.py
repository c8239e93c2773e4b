"""The sheet of a planned trial: what to measure and how, then a line for each run."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.carry.write_sheet import Caution
from cvlib.engine.trial.days import CONTROL, NEW, OLD
from cvlib.model.profile import Place, Setting
from cvlib.model.trial import BenchTrial, TrialCondition, TrialQuestion
from cvlib.render.marks import BLANK
from cvlib.render.phrases import counted, listed
from cvlib.render.places import Data
from cvlib.render.to_csv import to_csv
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
    strong,
)
from cvlib.render.views.sheet_words import CAUTIONS

_QUESTIONS = {
    TrialQuestion.STOPS: "Does it stop within {margin} of the mark?",
    TrialQuestion.SPEED: "Does the entry speed matter by more than {margin}?",
    TrialQuestion.BETTER: "At which value does it stop better, with {margin} for nothing?",
    TrialQuestion.ACTS: "Does the setting act at all?",
    TrialQuestion.UPDATE: "Does the new firmware stop better, with {margin} for nothing?",
}


def view(
    trial: BenchTrial,
    loco: str,
    setting: Setting,
    place: Place,
    cautions: tuple[Caution, ...],
    scatter: float | None,
    later: tuple[Place, ...],
    carry: str,
) -> list[Block]:
    """Question, cautions, how to measure, the runs, and when the answer may be looked for.

    ``later``: the places of the setting with the new firmware of an update; ``carry``: the command
    that carries the values there.
    """
    margin = f"{trial.margin:g} {trial.unit}"
    title = f"{loco}: {setting.title}"
    question = _QUESTIONS[trial.question].format(margin=margin)
    blocks: list[Block] = [Heading(f"Bench trial, {title}", 1), Paragraph(strong(question))]
    blocks += [Paragraph(plain(line)) for line in _plan_words(trial, scatter)]
    if trial.question is TrialQuestion.UPDATE:
        blocks += [Paragraph(plain(_moves(trial, place, later))), Literal(carry, indent=2)]
    blocks.append(Gap())
    for caution in dict.fromkeys((Caution.HANDBOOK, *cautions, Caution.STOPPING)):
        blocks.append(Paragraph((Piece("Caution: ", Role.WARNING), Piece(CAUTIONS[caution]))))
    blocks += [Gap(), Heading("How to measure")]
    blocks += [Paragraph(plain(f"{at}. {line}"), hang=3) for at, line in _steps(trial, place)]
    blocks += [
        Gap(),
        Heading("Conditions"),
        _conditions(trial, place, later),
        Gap(),
        Heading("Runs"),
    ]
    return [*blocks, _runs(trial)]


def _plan_words(trial: BenchTrial, scatter: float | None) -> Iterator[str]:
    wishes = {one.wish for one in trial.conditions if one.wish is not None}
    if len(wishes) == 1:
        (wish,) = wishes
        yield f"The mark: {wish:g} {trial.unit}; near enough is within {trial.margin:g}."
    if trial.question is TrialQuestion.UPDATE:
        yield (
            f"{trial.looks[0]} days with the old firmware, then {trial.looks[0]} with the new one; "
            "days are counted, not runs, for what differs from day to day would pass for the "
            "firmware. An update cannot be taken back: keep a list of every CV before it."
        )
        return
    looks = listed([str(look) for look in trial.looks], last="and")
    if len(trial.conditions) > 1:
        often = "once" if len(trial.looks) == 1 else f"{len(trial.looks)} times"
        yield (
            f"The answer is looked for {often}: after {looks} runs of each condition. Looking more "
            "often finds what is not there."
        )
    if scatter is not None:
        yield f"So many runs because the scatter may be up to {scatter:.2g} {trial.unit}."
    elif len(trial.looks) > 1:
        yield f"Nobody knows the scatter yet: {trial.looks[0]} of each first."


def _steps(trial: BenchTrial, place: Place) -> Iterator[tuple[int, str]]:
    lines = [
        "Warm up: ten minutes of running, in both directions, before the first run.",
        "Leave free track behind the mark, at least as much as before it, and nothing to run into.",
    ]
    if trial.unit == "s":
        lines.append(f"Time it with a watch from the same mark to a stand, to {trial.step:g} s.")
    else:
        lines.append(
            "Lay a tape beside the track, 0 where the braking begins, and read it at the same "
            f"part of the loco each time, to {trial.step:g} cm."
        )
    lines += [
        "Make the runs in the order below: same train, same direction, same throttle.",
        'Where the loco does not stop by itself, write "missed": that is a result. Leave no run '
        "out; a remark says what was odd.",
    ]
    values = {one.value for one in trial.conditions if one.value is not None}
    if len(values) > 1:
        where = place.fields[0].slot if place.fields else ""
        lines.append(f"Write {where} as the condition says before the run, and nothing else.")
    return enumerate(lines, 1)


def _slots(place: Place) -> str:
    return ", ".join(dict.fromkeys(str(field.slot) for field in place.fields))


def _moves(trial: BenchTrial, place: Place, later: tuple[Place, ...]) -> str:
    """Where the setting is with either firmware, and what to do before the first new run."""
    old, new = _slots(place), trial.to or "the new firmware"
    then = " or ".join(dict.fromkeys(map(_slots, later)))
    where = f"with {new} " + (f"at {then}" if then else "its place is not known")
    todo = "After the update, before the first run, write the sheet of"
    return f"With {trial.firmware} the setting is at {old}, {where}. {todo}"


def _conditions(trial: BenchTrial, place: Place, later: tuple[Place, ...]) -> Table:
    then = " or ".join(dict.fromkeys(map(_slots, later)))
    new = f"firmware {trial.to}" if trial.to else "the new firmware"
    told = {
        OLD: f"firmware {trial.firmware}, {_slots(place)}",
        NEW: f"{new}, {then}" if then else new,
        CONTROL: "another loco, not updated, on the same days",
    }
    is_update = trial.question is TrialQuestion.UPDATE
    rows = tuple(
        tuple(
            plain(text)
            for text in (
                one.name,
                told.get(one.name, "") if is_update else _written(one, place),
                "" if one.wish is None else f"{one.wish:g}",
                str(trial.order.count(one.name)),
            )
        )
        for one in trial.conditions
    )
    columns = (
        Column("condition"),
        Column("what"),
        Column(f"mark, {trial.unit}", numeric=True),
        Column("runs", numeric=True),
    )
    return Table(columns, rows)


def _written(one: TrialCondition, place: Place) -> str:
    """What the decoder holds in these runs, where one whole CV says it."""
    if one.value is None or len(place.fields) != 1 or place.fields[0].bits is not None:
        return ""
    return f"{place.fields[0].slot} = {one.value}"


def _runs(trial: BenchTrial) -> Table:
    columns = (
        Column("run", numeric=True),
        Column("condition"),
        Column(f"stop, {trial.unit}", shrinks=False),
        Column("date", shrinks=False),
        Column("remark"),
    )
    rows = tuple(
        (plain(str(at)), plain(name), plain(BLANK), plain(BLANK), plain(""))
        for at, name in enumerate(trial.order, 1)
    )
    caption = f"{counted(len(rows), 'run')}, drawn with seed {trial.seed}"
    return Table(columns, rows, caption=caption)


def plan_csv(trial: BenchTrial) -> str:
    """The sheet for a table program; filled in, ``cvlib trial enter`` reads it."""
    headings = ("run", "condition", f"stop ({trial.unit})", "date", "remark")
    return to_csv([headings, *((at, name, "", "", "") for at, name in enumerate(trial.order, 1))])


def data(trial: BenchTrial, name: str, *, is_written: bool) -> Data:
    """The plan as data; docs/schema/output-trial.schema.json describes it."""
    return {
        "command": "trial plan",
        "trial": name,
        "setting": trial.setting,
        "question": trial.question.value,
        "unit": trial.unit,
        "margin": trial.margin,
        "step": trial.step,
        "looks": list(trial.looks),
        "seed": trial.seed,
        "conditions": [
            {"name": one.name, "value": one.value, "wish": one.wish} for one in trial.conditions
        ],
        "order": list(trial.order),
        "written": is_written,
    }
