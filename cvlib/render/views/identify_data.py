"""An identification as data for programs."""

from __future__ import annotations

from cvlib.engine.bench.evidence import Evidence
from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.identification import Identification, Told
from cvlib.engine.bench.identify import Candidate
from cvlib.engine.bench.next_read import Suggestion
from cvlib.engine.bench.weigh import Read
from cvlib.render.places import Data, slot_data
from cvlib.render.views.bench_words import HINTS
from cvlib.render.views.identify import reason_words
from cvlib.render.views.trees import answers_data


def data(result: Identification) -> Data:
    """An identification; docs/schema/output-identify.schema.json describes it."""
    found = result.found
    told = {id(one.candidate): one for one in result.told}
    return {
        "verdict": found.verdict.value,
        "reads": [read_data(read) for read in found.reads],
        "saved_values": result.is_saved,
        "name": result.name,
        "only_profile": result.profile,
        "profiles": found.count,
        "candidates": [_candidate(held, told.get(id(held))) for held in found.candidates],
        "more_candidates": found.left_out,
        "not_in_store": round(found.stranger, 6),
        "cannot_answer": round(found.mute, 6),
        "next_reads": [suggestion_data(one) for one in result.suggestions],
        "hints": [{"code": hint.value, "text": HINTS[hint]} for hint in result.hints],
        "version_named": result.version,
        "rival": result.rival,
        "versus": [_evidence(one, result.told[0]) for one in result.versus],
        "left_out": [str(fault) for fault in result.faults],
    }


def read_data(read: Read) -> Data:
    """One read: the CV and its value, nothing where it gave no answer."""
    return {**slot_data(read.slot), "answer": read.answer if read.is_answered else None}


def suggestion_data(one: Suggestion) -> Data:
    """A read worth making."""
    return {**slot_data(one.slot), "bits": one.bits, "aim": one.aim.value}


def _candidate(held: Candidate, told: Told | None) -> Data:
    return {
        "profile": held.profile,
        "maker": held.maker,
        "name": held.name,
        "kind": held.kind,
        "generation": held.stretch,
        "known": held.known.value,
        "releases": list(held.releases),
        "chance": round(held.chance, 6),
        "fit": held.fit.value,
        "misread": held.misread,
        "evidence": [_evidence(one, told) for one in told.evidence] if told else [],
    }


def _evidence(one: Evidence, told: Told) -> Data:
    return evidence_data(one, told.titles.get(one.slot, ()))


def evidence_data(one: Evidence, titles: tuple[str, ...]) -> Data:
    """What one CV says of a candidate; ``titles`` name the settings that live there."""
    return {
        **slot_data(one.slot),
        "answers": [None if answer == NO_ANSWER else answer for answer in one.answers],
        "ground": one.ground.value,
        "expected": answers_data(one.expected),
        "bits": one.bits,
        "settings": list(titles),
        "text": reason_words(one, titles),
    }
