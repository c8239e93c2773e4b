"""What a trial says, in words: the answer first, then each condition, then all the rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cvlib.engine.trial.days import DayBasis
from cvlib.engine.trial.reporting import (
    ConditionReport,
    Outcome,
    TrialAnswer,
    TrialReport,
    promise_of,
)
from cvlib.engine.trial.sums import Interval
from cvlib.engine.trial.verdict import (
    MANY_LOCOS,
    LocoCount,
    Obstacle,
    advice,
    judged,
    no_value_mends,
)
from cvlib.model.trial import TrialQuestion
from cvlib.render.phrases import counted, first_up, listed
from cvlib.render.places import Data
from cvlib.render.to_csv import Cell, to_csv
from cvlib.render.view import (
    Block,
    Column,
    DotRow,
    Dots,
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

_OBSTACLES = {
    "one-value": "a verdict on the setting takes two values of it (question acts or better).",
    "no-promise": "the plan has no two distances that the handbook promises for its values.",
    "no-figure": "under one condition fewer than two stops have a figure.",
    "other-way": "it acts the other way round than the handbook promises, and {:g} of {:g} near "
    "enough are too many for unreliable.",
    "early": "the first look of the plan is not reached.",
    "open": "the difference may still be nothing.",
    "between": "{:g} of {:g} near enough lies between works and unreliable.",
    "other-amount": "it acts, but by another amount than the handbook promises, and {:g} of {:g} "
    "near enough are too many for unreliable.",
}
_BASES = {
    DayBasis.DAYS: "",
    DayBasis.OTHER_DAYS: "How far days differ is taken from this loco's other days.",
    DayBasis.ASSUMED: "Nobody knows how far days differ for this loco: half the scatter of the "
    "runs is assumed.",
}
_WAYS = {"cm": ("farther", "shorter"), "s": ("later", "sooner")}


def view(report: TrialReport, name: str, command: str, *, everything: bool = False) -> list[Block]:
    """The report: two lines that answer, then the figures; ``command`` puts it into the profile."""
    trial = report.trial
    blocks: list[Block] = [Heading(f"{name}: {trial.setting}", 1)]
    blocks += [Paragraph(strong(first_line(report)))]
    blocks += [Paragraph(plain(line)) for line in answer_lines(report)]
    blocks += [Gap(), Paragraph(plain(missed_words(report))), Gap(), _table(report)]
    blocks += [Gap(), _dots(report), Gap()]
    blocks += [Paragraph(plain(line)) for line in _further(report, everything)]
    held = judged(report)
    if held.verdict is not None:
        words = f"As a bench test of the setting: {held.verdict.value}. Into the profile with"
        blocks += [Paragraph(plain(words)), Literal(command, indent=2)]
    else:
        words = f"No verdict on the setting: {obstacle_words(held.obstacle)}"
        blocks.append(Paragraph(plain(words)))
    return blocks


def first_line(report: TrialReport) -> str:
    """How many stops were near enough, and where the next one will lie."""
    trial = report.trial
    parts: list[str] = []
    if any(one.condition.wish is not None for one in report.own):
        near, reach = report.near, _figure(trial.margin, report)
        parts.append(f"{near} of {report.runs} stopped within {reach} of the mark.")
    spans = [(one, one.next_stop) for one in report.own if one.next_stop is not None]
    if spans:
        where = listed(
            [
                f"{_span(span, report)}" + (f" ({one.condition.name})" if len(spans) > 1 else "")
                for one, span in spans
            ]
        )
        parts.append(f"The next stop will lie between {where} (9 in 10, if nothing changes).")
    return " ".join(parts) or "One run says nothing yet."


def answer_lines(report: TrialReport) -> Iterator[str]:
    """The answer to the question of the plan."""
    answer, trial = report.answer, report.trial
    margin = _figure(answer.margin or trial.margin, report)
    match answer.outcome:
        case Outcome.NONE:
            return
        case Outcome.EARLY if trial.question is TrialQuestion.UPDATE:
            yield "No answer yet: both firmwares need their days."
        case Outcome.EARLY:
            first = trial.looks[0]
            yield f"No answer yet: the plan looks after {first} runs of each; {answer.more} more."
        case Outcome.HOPELESS:
            yield f"With this scatter a tape cannot answer: {_apart(report)}."
            yield "Choose a wider margin."
        case Outcome.SAME:
            yield f"{_SAME[trial.question]}: {_apart(report)}, which is within {margin}."
        case Outcome.DIFFERENT:
            yield f"{_DIFFERENT[trial.question]}: {_apart(report)}{_nearer(report)}."
        case Outcome.OPEN:
            yield from _open(report)
    if answer.days is not None and (words := _BASES[answer.days.basis]):
        yield words


_SAME = {
    TrialQuestion.STOPS: "Alike",
    TrialQuestion.SPEED: "Entry speed does not matter",
    TrialQuestion.BETTER: "Neither is better",
    TrialQuestion.ACTS: "The setting does nothing to speak of",
    TrialQuestion.UPDATE: "The new firmware stops where the old one did",
}
_DIFFERENT = {
    TrialQuestion.STOPS: "They differ",
    TrialQuestion.SPEED: "Entry speed matters",
    TrialQuestion.BETTER: "They differ",
    TrialQuestion.ACTS: "The setting acts",
    TrialQuestion.UPDATE: "The new firmware stops elsewhere",
}


def _open(report: TrialReport) -> Iterator[str]:
    answer = report.answer
    if answer.days is not None:
        if min(answer.days.old, answer.days.new) < 2:
            yield (
                "One day with a firmware cannot say which is better, for days differ: "
                f"{_apart(report)}. {counted(answer.more, 'more day')} with each."
            )
        else:
            yield f"Not enough days to tell: {_apart(report)}. {answer.more} more with each."
        return
    more = f"{counted(answer.more, 'more run')} of each."
    if not answer.more:
        is_longer = answer.wanted > answer.look
        most = f" of {answer.wanted} runs of each" if is_longer else ""
        more = f"The plan has no further look: plan a new trial{most}."
    yield f"Not enough runs to tell: {_apart(report)}. {more}"


def _apart(report: TrialReport) -> str:
    """``fast stops 5.2 cm farther than slow (3.1 to 7.3)``."""
    answer = report.answer
    if answer.interval is None:
        return "too few stops have a figure"
    far, short = _WAYS[report.trial.unit]
    way = far if answer.difference >= 0 else short
    low, high = sorted(
        answer.interval if answer.difference >= 0 else (-answer.interval.high, -answer.interval.low)
    )
    size = _figure(abs(answer.difference), report, finer=True)
    return (
        f"{answer.other} stops {size} {way} than {answer.one} "
        f"({_plain(low, report)} to {_plain(high, report)})"
    )


def _nearer(report: TrialReport) -> str:
    """Which of the two is nearer to its mark; for two values the promise of the handbook."""
    answer, trial = report.answer, report.trial
    promise = promise_of(trial)
    if trial.question is TrialQuestion.ACTS and promise is not None:
        way = _WAYS[trial.unit][promise < 0]
        turned = ": it acts the other way round" if answer.difference * promise < 0 else ""
        return f"; the handbook promises {_figure(abs(promise), report)} {way}{turned}"
    if trial.question not in (TrialQuestion.BETTER, TrialQuestion.UPDATE):
        return ""
    if not answer.nearer:
        return "; these runs cannot tell which is nearer to the mark"
    return f"; {answer.nearer} is nearer to the mark"


def missed_words(report: TrialReport) -> str:
    """Missed stops, with what so few runs leave possible."""
    share = report.missed_share
    runs = f"{report.missed} of {report.runs} stops missed"
    if not report.missed:
        return f"{runs}: could still be {_one_in(share.high)}."
    if report.missed == report.runs:
        return f"{runs}: could still be as few as {_percent(share.low)}."
    return f"{runs}: the true share is {_percent(share.low)} to {_percent(share.high)}."


def _one_in(share: float) -> str:
    """A share as people say it."""
    # Rounded to the larger share, or it would say less than is possible.
    return f"1 in {int(1 / share)}" if share <= 0.5 else _percent(share)


def _percent(share: float) -> str:
    return f"{share * 100:.{0 if share >= 0.01 else 1}f} %"


def _table(report: TrialReport) -> Table:
    unit = report.trial.unit
    columns = (
        Column("condition"),
        Column("stops", numeric=True),
        Column("near", numeric=True),
        Column(f"mean, {unit}", numeric=True),
        Column("95 % sure", shrinks=False),
        Column("scatter", numeric=True),
        Column("seen", shrinks=False),
    )
    return Table(columns, tuple(tuple(map(plain, _row(one, report))) for one in report.conditions))


def _row(one: ConditionReport, report: TrialReport) -> Iterator[str]:
    runs = f"{len(one.stops)}" + (f" + {one.missed} missed" if one.missed else "")
    yield one.condition.name
    yield runs
    yield f"{one.near}" if one.condition.wish is not None else ""
    yield "" if one.mean is None else _plain(one.mean, report)
    is_known = one.mean_in is not None and report.trial.question is not TrialQuestion.UPDATE
    yield _between(one.mean_in, report, finer=True) if is_known and one.mean_in else ""
    yield "" if one.mean_in is None else _scatter(one, report)
    yield f"{min(one.stops):g} to {max(one.stops):g}" if one.stops else ""


def _scatter(one: ConditionReport, report: TrialReport) -> str:
    half = report.trial.step / 2
    return f"under {half:g}" if one.scatter < half else _plain(one.scatter, report)


def _scatter_words(one: ConditionReport, unit: str) -> str:
    """What so few runs say of the scatter, and of the next stop by the range alone."""
    stops = f"{first_up(one.condition.name)}, {counted(len(one.stops), 'stop')}"
    seen = f"{min(one.stops):g} to {max(one.stops):g} {unit}"
    outside = f"the next stop falls outside of {seen} in 2 of {len(one.stops) + 1} cases"
    if one.factors is None:
        return f"{stops}: the scatter is finer than your tape; {outside}."
    times = f"{one.factors.low:.1f} to {one.factors.high:.1f} times what you saw"
    return f"{stops}: the true scatter is {times}; {outside}."


def _dots(report: TrialReport) -> Block:
    unit = report.trial.unit
    rows = [
        DotRow(one.condition.name, one.stops, one.condition.wish, report.trial.margin)
        for one in report.conditions
        if one.stops
    ]
    if not rows:
        return Paragraph(plain("No stop has a figure."))
    return Dots(tuple(rows), unit)


def _further(report: TrialReport, everything: bool) -> Iterator[str]:
    """What else the runs say."""
    answer, trial = report.answer, report.trial
    for one in report.conditions:
        if len(one.stops) > 1:
            yield _scatter_words(one, trial.unit)
    if answer.drift is not None and 0 not in answer.drift:
        first = _between(answer.drift, report, finer=True)
        yield f"The stops wander by {first} {trial.unit} from the first run to the last."
    if words := _ratio_words(answer):
        yield words
    for one in report.conditions:
        if one.suspect is not None:
            yield f"{first_up(one.condition.name)}: {one.suspect:g} {trial.unit} – typing error?"
    yield from _advice_words(report)
    if everything:
        yield from _many(report)


def _ratio_words(answer: TrialAnswer) -> str:
    if answer.ratio is None or answer.ratio_seen is None:
        return ""
    seen, span = answer.ratio_seen, f"{answer.ratio.low:.1f} to {answer.ratio.high:.1f} times"
    about = f"The scatter of {answer.other} is {seen:.1f} times that of {answer.one}"
    if 1 not in answer.ratio:
        return f"{about} ({span})."
    enough = f"; {answer.ratio_runs} each would" if answer.ratio_runs else ""
    return f"{about}, but {answer.look} runs each cannot tell: {span}{enough}."


def _advice_words(report: TrialReport) -> Iterator[str]:
    for one in advice(report):
        if one.value is None:
            yield "The stop does not follow the value in one direction: no value is advised."
        elif one.is_tested:
            yield f"For a stop at {_figure(one.wish, report)} set value {one.value}."
        else:
            yield (
                f"For a stop at {_figure(one.wish, report)} try value {one.value}, three runs: it "
                "lies outside of what was tested."
            )
    scattering = [one for one in report.own if one.condition.wish is not None]
    if scattering and all(no_value_mends(report, one) for one in scattering):
        yield (
            "No value of this setting mends the scatter: even with the mean on the mark too many "
            "would stop elsewhere. Look at rail, wheels, load, the other settings, the firmware."
        )


def _many(report: TrialReport) -> Iterator[str]:
    """Figures that take ten runs."""
    for one in report.conditions:
        if one.tolerance is not None and one.repeatability is not None:
            yield (
                f"{first_up(one.condition.name)}: 95 % of all stops lie between "
                f"{_span(one.tolerance, report)} (tolerance band, 95 % sure); two stops differ by "
                f"up to {_figure(one.repeatability, report, finer=True)} (repeatability limit, "
                "ISO 5725, with Student's t)."
            )
        else:
            yield f"{first_up(one.condition.name)}: a tolerance band takes ten stops."


def evidence_words(report: TrialReport) -> str:
    """What a trial says, in one line for the note of a bench source."""
    parts = [first_line(report), *answer_lines(report), missed_words(report)]
    return " ".join(parts)


def obstacle_words(obstacle: Obstacle | None) -> str:
    """Why there is no verdict."""
    return _OBSTACLES[obstacle.word].format(*obstacle.figures) if obstacle else ""


def several_view(reports: Sequence[tuple[str, TrialReport]], count: LocoCount) -> list[Block]:
    """Trials of several locos side by side, and what they come to together."""
    blocks: list[Block] = [Heading("Trials", 1)]
    for name, report in reports:
        verdict = judged(report).verdict
        word = f" As a bench test: {verdict.value}." if verdict is not None else ""
        line = (Piece(f"{name}: ", Role.STRONG), Piece(f"{first_line(report)}{word}"))
        blocks.append(Paragraph(line, hang=2))
    for verdict, locos in count.locos.items():
        words = f"{verdict.value}: on {locos} of {counted(count.judged, 'loco')}."
        blocks.append(Paragraph(plain(words)))
    if count.open:
        blocks.append(Paragraph(plain(f"No verdict: {counted(count.open, 'loco')}.")))
    if count.offset is not None and count.middle is not None:
        first = reports[0][1]
        blocks.append(
            Paragraph(
                plain(
                    f"Mean beside the mark over {count.means} locos: "
                    f"{_plain(count.middle, first)} {first.trial.unit} "
                    f"({_between(count.offset, first, finer=True)}, 95 % sure)."
                )
            )
        )
    else:
        blocks.append(Paragraph(plain(f"Under {MANY_LOCOS} locos they are only counted.")))
    words = "Owners of locos with trouble test more, so such counts look worse than the fleet is."
    return [*blocks, Paragraph(plain(words))]


def report_csv(report: TrialReport) -> str:
    """The runs as rows that can be entered again."""
    rows: list[tuple[Cell, ...]] = [("run", "condition", "stop", "date", "remark")]
    for number, run in enumerate(report.trial.runs, 1):
        stop = "missed" if run.stop is None else f"{run.stop:g}"
        rows.append((number, run.condition, stop, run.date, run.note))
    return to_csv(rows)


def report_data(report: TrialReport, name: str) -> Data:
    """The report as data; docs/schema/output-trial.schema.json describes it."""
    trial, answer, held = report.trial, report.answer, judged(report)
    return {
        "command": "trial report",
        "trial": name,
        "setting": trial.setting,
        "question": trial.question.value,
        "unit": trial.unit,
        "margin": trial.margin,
        "runs": report.runs,
        "near": report.near,
        "missed": report.missed,
        "missed_share": list(report.missed_share),
        "conditions": [_condition_data(one) for one in report.conditions],
        "answer": {
            "outcome": answer.outcome.value,
            "look": answer.look,
            "more": answer.more,
            "one": answer.one,
            "other": answer.other,
            "difference": answer.difference,
            "interval": _pair(answer.interval),
            "scatter_ratio": answer.ratio_seen,
            "scatter_ratio_interval": _pair(answer.ratio),
            "days": answer.days.basis.value if answer.days is not None else None,
        },
        "verdict": held.verdict.value if held.verdict is not None else None,
        "advice": [
            {"wish": one.wish, "value": one.value, "tested": one.is_tested}
            for one in advice(report)
        ],
    }


def _condition_data(one: ConditionReport) -> Data:
    return {
        "name": one.condition.name,
        "value": one.condition.value,
        "wish": one.condition.wish,
        "stops": list(one.stops),
        "missed": one.missed,
        "near": one.near,
        "mean": one.mean,
        "mean_interval": _pair(one.mean_in),
        "scatter": one.scatter,
        "scatter_factors": _pair(one.factors),
        "next_stop": _pair(one.next_stop),
        "typing_error": one.suspect,
        "tolerance": _pair(one.tolerance),
        "repeatability": one.repeatability,
    }


def _pair(interval: Interval | None) -> list[float] | None:
    return None if interval is None else list(interval)


def _plain(value: float, report: TrialReport) -> str:
    """A figure one place finer than the tape shows."""
    return _rounded(value, report.trial.step / 10)


def _rounded(value: float, step: float) -> str:
    places = 0 if step >= 1 else 1 if step >= 0.1 else 2 if step >= 0.01 else 3
    return f"{round(value, places) + 0.0:.{places}f}"


def _figure(value: float, report: TrialReport, *, finer: bool = False) -> str:
    shown = _plain(value, report) if finer else f"{round(value, 3):g}"
    return f"{shown} {report.trial.unit}"


def _between(interval: Interval, report: TrialReport, *, finer: bool = False) -> str:
    step = report.trial.step / (10 if finer else 1)
    return f"{_rounded(interval.low, step)} to {_rounded(interval.high, step)}"


def _span(interval: Interval, report: TrialReport) -> str:
    """``78 and 86 cm``; never below nothing."""
    step = report.trial.step
    low = _rounded(max(interval.low, 0.0), step)
    return f"{low} and {_rounded(interval.high, step)} {report.trial.unit}"
