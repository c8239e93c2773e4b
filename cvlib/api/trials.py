"""Bench trials: planned, entered run by run, and told what they say."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cvlib.api.opening import read_loco
from cvlib.engine.account.cells import State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.engine.bench.harm import Harm, harm_of, is_within
from cvlib.engine.bench.visible import centimetres, seconds
from cvlib.engine.carry.cautions import risk_cautions
from cvlib.engine.carry.write_sheet import Caution
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.trial import days, planning
from cvlib.engine.trial.library import check_statistics
from cvlib.engine.trial.reporting import TrialReport, report_of
from cvlib.engine.trial.verdict import judged
from cvlib.errors import problem
from cvlib.model.coding import Number, Parts
from cvlib.model.cv import parse_slot
from cvlib.model.loco import Loco, SavedDecoder, one_decoder
from cvlib.model.profile import Place, Setting
from cvlib.model.trial import (
    MOST_CONDITIONS,
    MOST_RUNS,
    BenchTrial,
    Run,
    TrialCondition,
    TrialQuestion,
)
from cvlib.model.versions import FirmwareVersion

if TYPE_CHECKING:
    from cvlib.files.store import Store

_NUMBERED = re.compile(r"(.+)#(\d{1,4})", re.ASCII | re.DOTALL)
_USUAL_STEP = {"cm": 1.0, "s": 0.1}
AS_SET = "as it is set"
"""The condition of a trial in which nothing is varied."""


@dataclass(frozen=True, slots=True)
class TrialRequest:
    """A trial as a person asks for it; what is empty is worked out."""

    setting: str
    """``braking.stopping-distance``, or with the CV tried: ``braking.stopping-distance@144``."""
    question: TrialQuestion | None = None
    speeds: tuple[str, ...] = ()
    values: tuple[str, ...] = ()
    wish: str = ""
    margin: str = ""
    step: str = ""
    scatter: str = ""
    runs: int = 0
    seed: int = 0
    role: str = ""
    to: str = ""
    """The new firmware of an update trial, where it is known."""
    has_control: bool = False
    note: str = ""


class PlannedTrial(NamedTuple):
    """A trial planned: not written yet."""

    loco: Loco
    number: int
    """The number that it has, or will have, among those of the loco, from 1."""
    trial: BenchTrial
    setting: Setting
    place: Place
    cautions: tuple[Caution, ...]
    scatter: float | None
    """What the true scatter stays below, by an earlier trial or as said."""
    later: tuple[Place, ...] = ()
    """Where the setting is with the new firmware of an update; nothing where that is not known."""


class FoundTrial(NamedTuple):
    """A trial of a loco file."""

    path: Path
    loco: Loco
    number: int
    """From 1."""
    trial: BenchTrial


def plan_trial(store: Store, path: Path, asked: TrialRequest, today: date) -> PlannedTrial:
    """A trial for a loco; raises InputError for what cannot be tried or told."""
    check_statistics()
    _check_texts(asked)
    loco = read_loco(path)
    decoder = _decoder(loco, asked.role)
    resolver = Resolver(store.profile(decoder.profile))
    version = one_firmware(resolver, decoder.firmware)
    setting, place = _place(resolver, version, asked.setting)
    held = {slot: value.value for slot, value in decoder.values.items()}
    layout = Layout(resolver, version, held, decoder.options)
    question = asked.question or _question(asked)
    conditions, unit = _conditions(asked, question, setting, place, place.parts(held))
    step = _figure(asked.step, unit) or _USUAL_STEP[unit]
    margin = _margin(asked, conditions, unit, step)
    limit = _figure(asked.scatter, unit) or earlier_scatter(loco, asked.setting, unit)
    later = _later(resolver, version, asked, question, setting)
    looks, order = _runs(asked, question, conditions, limit, margin)
    if len(order) > MOST_RUNS:
        raise problem(f"that makes {len(order)} runs.", advice=f"Plan at most {MOST_RUNS}.")
    trial = BenchTrial(
        asked.setting,
        question,
        conditions,
        margin,
        unit,
        step,
        looks,
        order,
        today.isoformat(),
        decoder.firmware,
        asked.to.strip(),
        decoder.role,
        asked.seed,
        dict(_concerned(layout, setting)),
        note=asked.note.strip(),
    )
    cautions = risk_cautions(setting.risk)
    return PlannedTrial(loco, len(loco.trials) + 1, trial, setting, place, cautions, limit, later)


def keep_trial(planned: PlannedTrial) -> None:
    """Put a planned trial into its loco file, in one step."""
    from cvlib.files.edit_trials import add_trial

    add_trial(Path(planned.loco.path), planned.trial, planned.loco.digest)


def find_trial(text: str) -> FoundTrial:
    """The trial that ``my-loco.toml#2`` names; without a number the last one of the loco."""
    found = _NUMBERED.fullmatch(text)
    path = Path(found[1] if found else text)
    loco = read_loco(path)
    number = int(found[2]) if found else len(loco.trials)
    if not 1 <= number <= len(loco.trials):
        there = f"It has {len(loco.trials)}." if loco.trials else "It has none yet."
        raise problem(
            f"{loco.file}: there is no trial {number or 1}.",
            advice=f'{there} "cvlib trial plan {loco.file} SETTING --write" makes one.',
        )
    return FoundTrial(path, loco, number, loco.trials[number - 1])


def enter_runs(found: FoundTrial, kept: int, runs: Sequence[Run], entered: bytes = b"") -> None:
    """Leave a trial with its first runs and put others behind them, in one step."""
    from cvlib.files.edit_trials import set_runs

    set_runs(found.path, found.number - 1, kept, runs, found.loco.digest, entered)


def runs_of(path: Path, found: FoundTrial, day: date) -> tuple[Run, ...]:
    """The runs of a list as people type it."""
    from cvlib.files.run_lists import read_runs

    return read_runs(path, found.trial, day.isoformat())


def report_trial(found: FoundTrial) -> TrialReport:
    """What a trial says; raises InputError where it has no run yet."""
    check_statistics()
    if not found.trial.runs:
        raise problem(
            f"{found.loco.file}: trial {found.number} has no runs yet.",
            advice=f'Enter them with "cvlib trial enter {found.path}#{found.number}".',
        )
    mine = [one for one in found.loco.trials if one is not found.trial]
    return report_of(found.trial, [one for one in mine if one.unit == found.trial.unit])


def profile_of(found: FoundTrial) -> str:
    """The profile of the decoder on trial."""
    return _decoder(found.loco, found.trial.role).profile


class BenchWords(NamedTuple):
    """What a trial says to ``cvlib amend bench``."""

    profile: str
    subject: str
    firmware: str
    date: str
    title: str
    note: str


def bench_words(found: FoundTrial) -> BenchWords:
    """A trial as a bench test of a profile; raises InputError where it gives no verdict."""
    from cvlib.render.views.trial import evidence_words, obstacle_words

    report = report_trial(found)
    held = judged(report)
    if held.verdict is None:
        raise problem(
            f"{found.loco.file}: trial {found.number} gives no verdict: "
            f"{obstacle_words(held.obstacle)}",
            advice='"cvlib trial report" shows what it says.',
        )
    decoder = _decoder(found.loco, found.trial.role)
    trial = found.trial
    last = max((run.date for run in trial.runs if run.date), default=trial.date)
    subject = f"{trial.setting}={held.verdict.value}"
    title = f"Trial of {found.loco.name}, {report.runs} runs"
    return BenchWords(decoder.profile, subject, trial.firmware, last, title, evidence_words(report))


def check_new_evidence(store: Store, words: BenchWords) -> None:
    """Raise InputError where a profile holds a trial of the same loco, setting and firmware.

    One loco behind two sources would count as two.
    """
    profile = store.profile(words.profile)
    setting = profile.setting(words.subject.partition("=")[0].partition("@")[0])
    cited = {one.source for place in setting.places for one in place.citations}
    loco = words.title.rpartition(",")[0]
    for source in profile.sources.values():
        is_there = source.id in cited and profile.version(words.firmware) in source.firmware
        if is_there and source.title.rpartition(",")[0] == loco:
            raise problem(
                f'"{source.id}" is a trial of this loco already, and one loco counts once.',
                advice='Correct what it says with "cvlib amend place" and '
                f"--source {source.id}=VERDICT; for another loco of that name give --title.",
            )


def check_twice(trials: Sequence[FoundTrial]) -> None:
    """Raise InputError where the same trial is named twice, also by a copy of its file."""
    for at, one in enumerate(trials):
        for other in trials[:at]:
            if one.trial == other.trial:
                raise problem(
                    f"{one.path}#{one.number} and {other.path}#{other.number} are the same trial.",
                    advice="Name each trial once.",
                )


def loco_key(found: FoundTrial) -> str:
    """What is the same for two trials of one loco."""
    return f"{found.loco.name.casefold()} {found.loco.address}"


def earlier_scatter(loco: Loco, setting: str, unit: str) -> float | None:
    """What the scatter of a loco stays below, by its last trial of the setting with six stops."""
    from cvlib.engine.trial.sums import scatter_limit

    for trial in reversed(loco.trials):
        if trial.setting.partition("@")[0] != setting.partition("@")[0] or trial.unit != unit:
            continue
        runs = map(trial.of, (one.name for one in trial.conditions))
        variance, freedom = days.within(
            [[r.stop for r in own if r.stop is not None] for own in runs]
        )
        if freedom >= planning.LEAST - 1:
            return max(scatter_limit(variance**0.5, freedom), trial.step / 2)
    return None


def _decoder(loco: Loco, role: str) -> SavedDecoder:
    name, decoder = loco.file or loco.name, one_decoder(loco, role)
    if not decoder.profile or not decoder.firmware:
        lacking = "firmware" if decoder.profile else "profile"
        raise problem(
            f"{name}: the {lacking} of the decoder is not noted.",
            advice=f'Note it in the file; "cvlib identify {name}" helps to find it.',
        )
    return decoder


def _place(resolver: Resolver, version: FirmwareVersion, text: str) -> tuple[Setting, Place]:
    from cvlib.files.amend.bench import tested_place

    name, _, cv = text.partition("@")
    setting = resolver.profile.setting(name.strip())
    slot = parse_slot(cv) if cv else None
    place = setting.places[tested_place(resolver, setting, version, slot, "")]
    if harm_of(setting) is Harm.NEVER:
        why = "nobody noted what it may harm" if setting.risk is None else "it may do harm at once"
        raise problem(
            f'"{setting.id}" is not tried at the layout: {why}.',
            advice="docs/cautions.md says what can be hurt.",
        )
    return setting, place


def _check_texts(asked: TrialRequest) -> None:
    """Raise InputError for what was typed and the loco file could not hold."""
    from cvlib.files.run_lists import check_remark
    from cvlib.files.text import quoted

    check_remark("the note", asked.note)
    check_remark("--to", asked.to)
    for name in asked.speeds:
        check_remark("--speed", name)
        if not name.strip() or ":" in name:
            raise problem(
                f"{quoted(name)} is no name of an entry speed.",
                advice="Write a word without a colon, as in --speed slow.",
            )
    if len(asked.speeds) > MOST_CONDITIONS:
        raise problem("there are too many speeds.", advice=f"Name at most {MOST_CONDITIONS}.")


def _later(
    resolver: Resolver,
    version: FirmwareVersion,
    asked: TrialRequest,
    question: TrialQuestion,
    setting: Setting,
) -> tuple[Place, ...]:
    """Where the setting is with the new firmware; raises InputError where that is none."""
    from cvlib.render.phrases import listed

    if question is not TrialQuestion.UPDATE:
        if asked.to or asked.has_control:
            raise problem("--to and --control belong to an update.", advice="Add --before-update.")
        return ()
    if not asked.to:
        return ()
    profile = resolver.profile
    new = one_firmware(resolver, asked.to)
    newer = [one.version for one in profile.releases if one.version.key > version.key]
    if new not in newer:
        why = (
            "is the firmware that the loco has"
            if new == version
            else f"is older than that of the loco, {version}"
            if new.key < version.key
            else f"is not listed for {profile.id}"
        )
        known = listed([str(one) for one in newer[-6:]], last="or")
        advice = f"Name a newer one: {known}." if newer else "No newer one is listed."
        raise problem(f"--to: {new} {why}.", advice=advice)
    return tuple(resolver.answer(setting, new.key).places())


def _question(asked: TrialRequest) -> TrialQuestion:
    if asked.speeds:
        return TrialQuestion.SPEED
    return TrialQuestion.ACTS if len(asked.values) > 1 else TrialQuestion.STOPS


def _conditions(
    asked: TrialRequest,
    question: TrialQuestion,
    setting: Setting,
    place: Place,
    saved: Parts | None,
) -> tuple[tuple[TrialCondition, ...], str]:
    """The conditions of a trial, and the unit that it is measured in."""
    unit = _unit(asked, place)
    said = _figure(asked.wish, unit)
    values = [_value(setting, place, text) for text in asked.values]
    if question in (TrialQuestion.ACTS, TrialQuestion.BETTER):
        _check_values(question, place, values)
        made = [
            TrialCondition(
                f"value {place.coding.join(parts)}",
                place.coding.join(parts),
                said or _wished(place, parts, unit),
            )
            for parts in values
        ]
        return tuple(made), unit
    if len(values) > 1:
        raise problem(f'the question "{question}" takes one value.', advice="Leave others out.")
    parts = values[0] if values else saved
    raw = place.coding.join(parts) if parts is not None else None
    wish = said or (_wished(place, parts, unit) if parts is not None else None)
    if wish is None:
        raise problem(
            "nothing says where the loco should stop.",
            advice='Give it with --wish "82 cm".',
        )
    names: Iterable[str] = (AS_SET,)
    if question is TrialQuestion.SPEED:
        names = asked.speeds
        if len(names) < 2:
            raise problem(
                "entry speeds are told apart with two or more of them.",
                advice="Name each: --speed slow --speed fast.",
            )
    elif question is TrialQuestion.UPDATE:
        names = (days.OLD, days.NEW, *((days.CONTROL,) if asked.has_control else ()))
    if len(set(names)) != len(tuple(names)):
        raise problem("a condition is named twice.", advice="Give each a name of its own.")
    own = [TrialCondition(name, raw, wish) for name in names if name != days.CONTROL]
    others = [TrialCondition(name) for name in names if name == days.CONTROL]
    return (*own, *others), unit


def _unit(asked: TrialRequest, place: Place) -> str:
    """Centimetres, or seconds where the setting or the wish is a time."""
    if re.search(r"\d\s*(s|sec|min)$", asked.wish.strip()):
        return "s"
    coding = place.coding
    is_time = isinstance(coding, Number) and seconds(coding, coding.split(0)) is not None
    return "s" if is_time and not asked.wish else "cm"


def _wished(place: Place, parts: Parts, unit: str) -> float | None:
    """Where the loco should stop by the handbook, for a value that is a way or a time."""
    found = (seconds if unit == "s" else centimetres)(place.coding, parts)
    return found if found and found > 0 else None


def _value(setting: Setting, place: Place, text: str) -> Parts:
    """A value to be tried; raises InputError where it is not allowed or may do harm."""
    coding = place.coding
    typed = text.strip()
    parts = coding.raw(int(typed) if typed.isdecimal() and len(typed) < 10 else typed)
    if coding.decode(parts).fault is not None:
        raise problem(f"{typed} is not allowed there.", advice=f"Allowed: {coding.legal()}.")
    if not is_within(harm_of(setting), place, parts):
        raise problem(
            f"{typed} is above the factory value of {setting.title}, which may do harm.",
            advice="Try lower values; docs/cautions.md says why.",
        )
    return parts


def _check_values(question: TrialQuestion, place: Place, values: Sequence[Parts]) -> None:
    coding = place.coding
    if len(values) < 2 or (question is TrialQuestion.ACTS and len(values) > 2):
        count = "two" if question is TrialQuestion.ACTS else "two or more"
        raise problem(
            f'the question "{question}" takes {count} values of the setting.',
            advice="Name each with --value.",
        )
    held = [coding.join(parts) for parts in values]
    if len(set(held)) != len(held):
        raise problem("a value is named twice.", advice="Give each value once.")
    if question is TrialQuestion.ACTS and isinstance(coding, Number):
        apart = -(-(coding.high - coding.low) // 3)
        if abs(held[0] - held[1]) < apart:
            raise problem(
                f"{held[0]} and {held[1]} are too near to each other to show that it acts.",
                advice=f"Take values a third of the range apart, {apart} or more.",
            )


def _figure(text: str, unit: str) -> float:
    """A figure as typed, in the unit; 0 where nothing was typed."""
    from cvlib.files.run_lists import parse_stop

    value = parse_stop(text, unit) if text.strip() else 0.0
    if value is None or (text.strip() and not value):
        raise problem(f'"{text}" is no figure above 0.', advice=f"Write it as in 82 {unit}.")
    return value


def _margin(
    asked: TrialRequest, conditions: Sequence[TrialCondition], unit: str, step: float
) -> float:
    said = _figure(asked.margin, unit)
    wishes = [one.wish for one in conditions if one.wish is not None]
    if not said and not wishes:
        raise problem(
            "nothing says what is near enough.", advice="Give it with --margin, as in 2 cm."
        )
    margin = said or planning.usual_margin(min(wishes), unit)
    if margin < step:
        raise problem(
            f"near enough, {margin:g} {unit}, is finer than the tape, {step:g} {unit}.",
            advice="Choose a wider margin, or measure more finely and say so with --step.",
        )
    return margin


def _runs(
    asked: TrialRequest,
    question: TrialQuestion,
    conditions: Sequence[TrialCondition],
    limit: float | None,
    margin: float,
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """The looks of a plan and its runs in their order."""
    names = [one.name for one in conditions]
    if question is TrialQuestion.UPDATE:
        each = max(asked.runs // (2 * planning.DAYS), planning.RUNS_A_DAY)
        beside = [days.CONTROL] * each if asked.has_control else []
        order = [
            planning.blocks_of([side] * each + beside, planning.DAYS, asked.seed + at)
            for at, side in enumerate((days.OLD, days.NEW))
        ]
        return (planning.DAYS,), (*order[0], *order[1])
    looks = planning.looks_for(len(names), asked.runs, limit, margin)
    return looks, planning.blocks_of(names, looks[-1], asked.seed)


def _concerned(layout: Layout, setting: Setting) -> Iterable[tuple[str, str]]:
    """The saved settings of the same group, with their values in words."""
    for name in layout.answers:
        if layout.resolver.profile.settings[name].group == setting.group:
            cell = cell_of(layout, name)
            if cell.state is State.SAVED and cell.text:
                yield name, cell.text
