"""A probe as data for programs."""

from __future__ import annotations

from collections.abc import Callable

from cvlib.engine.bench.behaviour import BenchTest, Trial
from cvlib.engine.bench.layouts import Bundle, Tried
from cvlib.engine.bench.learnt import Learnt, Observation, Readout
from cvlib.engine.bench.probe import Plan, Standing
from cvlib.engine.bench.probing import Candidates, Probing
from cvlib.engine.known.told import coding_text, where_text
from cvlib.model.profile import Place
from cvlib.render.observation import amend_command, observation_text, question_command
from cvlib.render.places import Data, slot_data
from cvlib.render.views import identify_data
from cvlib.render.views.bench_words import HINTS
from cvlib.render.views.identify_data import read_data, suggestion_data
from cvlib.render.views.trees import tree_data


def data(result: Probing | Candidates, typed: Callable[..., str]) -> Data:
    """A probe; docs/schema/output-probe.schema.json describes it.

    Either ``candidates`` or ``probe`` is there; the other one is null. ``typed`` gives a command as
    it is typed in the shell.
    """
    if isinstance(result, Candidates):
        whole = identify_data.data(result.identification)
        return {"candidates": {"found": whole, "tree": tree_data(result.tree)}, "probe": None}
    return {"candidates": None, "probe": _probe(result, typed)}


def _probe(result: Probing, typed: Callable[..., str]) -> Data:
    probed = result.probed
    pairs = zip(probed.disputed.bundles, probed.standings, strict=True)
    read = probed.next_read
    return {
        "profile": result.profile.id,
        "firmware": str(probed.disputed.version),
        "loco": result.loco,
        "settings": result.settings,
        "settled": result.is_settled,
        "outside": probed.disputed.is_outside,
        "after_reset": probed.terms.after_reset,
        "bundles": [_bundle(bundle, standing) for bundle, standing in pairs],
        "reads": [read_data(one) for one in probed.reads],
        "results": [_result(one) for one in probed.results],
        "next_read": None if read is None else suggestion_data(read),
        "plans": [_plan(plan) for plan in probed.plans],
        "tests": [_test(test) for test in probed.tests],
        "contradicted": [
            {
                **slot_data(one.slot),
                "answer": one.answer,
                "expected": one.expected,
            }
            for one in result.contradicted
        ],
        "hints": [{"code": hint.value, "text": HINTS[hint]} for hint in result.hints],
        "learnt": None if result.learnt is None else _learnt(result.learnt, typed),
        "file_written": result.written,
    }


def _bundle(bundle: Bundle, standing: Standing) -> Data:
    return {
        "settings": list(bundle.settings),
        "sides": [
            {
                "firmware": side.firmware,
                "unknown": side.is_unknown,
                "places": {name: _place(place) for name, place in side.places.items()},
                "chance": round(chance, 6),
            }
            for side, chance in zip(bundle.sides, standing.chances, strict=True)
        ],
        "side": standing.side,
    }


def _place(place: Place | None) -> Data | None:
    if place is None:
        return None
    return {"where": where_text(place), "coding": coding_text(place)}


def _result(one: Tried) -> Data:
    return {"setting": one.setting, "side": one.side}


def _plan(plan: Plan) -> Data:
    return {
        "after_reset": plan.terms.after_reset,
        "layouts": [list(layout) for layout in plan.layouts],
        "tree": tree_data(plan.tree),
        "unreadable": list(plan.unreadable),
    }


def _test(test: BenchTest) -> Data:
    return {
        "bundle": test.bundle,
        "setting": test.setting,
        "title": test.title,
        "watch": test.watch,
        "same_place": test.is_same_place,
        "needs_motor": test.needs_motor,
        "absent_on": list(test.absent),
        "unknown_on": list(test.unknown),
        "cautions": [caution.value for caution in test.cautions],
        "trials": [_trial(trial) for trial in test.trials],
    }


def _trial(trial: Trial) -> Data:
    return {
        "side": trial.side,
        "where": trial.where,
        "coding": trial.coding,
        "meaning": trial.meaning,
        "writes": [
            {**slot_data(slot), "mask": mask, "value": value} for slot, mask, value in trial.writes
        ],
    }


def _learnt(learnt: Learnt, typed: Callable[..., str]) -> Data:
    return {
        "source": learnt.source,
        "date": learnt.day,
        "summary": learnt.summary,
        "observations": [_observation(one) for one in learnt.observations],
        "settled": [
            {
                "settings": list(one.settings),
                "side": one.side,
                "firmware": one.firmware,
                "chance": one.chance,
            }
            for one in learnt.settled
        ],
        "inferred": list(learnt.inferred),
        "still_open": list(learnt.still_open),
        "read": [_readout(one) for one in learnt.readouts],
        "tests": [_test(test) for test in learnt.tests],
        "toml": observation_text(learnt),
        "command": amend_command(learnt, typed),
        "question_command": question_command(learnt, typed),
    }


def _observation(one: Observation) -> Data:
    return {
        "setting": one.setting,
        "title": one.title,
        "where": one.where,
        **slot_data(one.slot),
        "at": one.at,
        "firmware": one.firmware,
        "verdict": one.verdict.value,
        "seen": one.seen,
        "origin": one.origin,
    }


def _readout(one: Readout) -> Data:
    return {
        "setting": one.setting,
        "title": one.title,
        "where": one.where,
        "seen": one.seen,
        "unread": [slot_data(slot) for slot in one.unread],
    }
