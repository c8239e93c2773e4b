"""What is stale as data for programs; docs/schema/output-stale.schema.json describes it."""

from __future__ import annotations

from cvlib.engine.change.stale import Contradicted, Open, Outside, Rechecked, Stale, Uncovered
from cvlib.engine.known.told import where_text
from cvlib.findings.catalogue import Severity
from cvlib.render.places import Data
from cvlib.render.to_json import fault_data
from cvlib.render.views.review_data import meaning_data
from cvlib.render.views.review_words import answer_text


def data(result: Stale) -> Data:
    """Everything that wants looking at; each thing has its severity."""
    return {
        "counts": {severity.value: result.count(severity) for severity in Severity},
        "profiles": list(result.profiles),
        "uncovered": [_uncovered(one) for one in result.uncovered],
        "contradicted": [_contradicted(one) for one in result.contradicted],
        "questions": [_question(one) for one in result.questions],
        "outside": [_outside(one) for one in result.outside],
        "rechecked": [_rechecked(one) for one in result.rechecked],
        "unrecorded": result.unrecorded,
        "faults": [fault_data(fault) for fault in result.faults],
    }


def _uncovered(one: Uncovered) -> Data:
    return {
        "severity": one.severity.value,
        "profile": one.profile.id,
        "release": str(one.release.version),
        "date": one.release.date,
        "known": one.known.value,
        "settings": one.settings,
        "documented": one.documented,
        "disputed": one.disputed,
    }


def _contradicted(one: Contradicted) -> Data:
    return {
        "severity": one.severity.value,
        "profile": one.profile.id,
        "setting": one.setting,
        "test": one.test.id,
        "firmware": one.test.firmware.text(),
        "verdict": one.verdict.value,
        "place": where_text(one.place),
        "sources": list(one.sources),
        "otherwise": answer_text(one.beside),
        "standing": one.beside.standing.value,
    }


def _question(one: Open) -> Data:
    question = one.question
    return {
        "severity": one.severity.value,
        "profile": one.profile.id,
        "id": question.id,
        "date": question.date,
        "days": one.days,
        "about": list(question.about),
        "text": question.text,
        "settle": question.settle,
    }


def _outside(one: Outside) -> Data:
    return {
        "severity": one.severity.value,
        "loco": one.loco.name,
        "file": one.loco.file,
        "role": one.decoder.role,
        "profile": one.decoder.profile,
        "firmware": one.decoder.firmware,
        "known": one.known.value,
        "listed": one.is_release,
    }


def _rechecked(one: Rechecked) -> Data:
    return {
        "severity": one.severity.value if one.severity else None,
        "loco": one.loco.name,
        "file": one.loco.file,
        "role": one.decoder.role,
        "profile": one.last.profile,
        "firmware": one.last.firmware,
        "date": one.last.date,
        "same_answers": one.is_same,
        "changes": [meaning_data(held) for held in one.changes],
        "edited": [
            {"cv": slot.cv, "page": str(slot.page) if slot.page else None} for slot in one.edited
        ],
        "other_firmware": one.firmware,
        "other_profile": one.profile,
    }
