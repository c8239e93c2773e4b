"""Values carried to another firmware as data for programs."""

from __future__ import annotations

from decimal import Decimal

from cvlib.engine.carry.carry_loco import DecoderCarried
from cvlib.engine.carry.carry_outcomes import (
    At,
    Clamped,
    Converted,
    Disputed,
    Dropped,
    Moved,
    New,
    Outcome,
    Refused,
    Same,
)
from cvlib.engine.known.told import where_text
from cvlib.findings.finding import Bits, Finding
from cvlib.model.coding import Number
from cvlib.model.cv import bits_of
from cvlib.model.profile import Place
from cvlib.render.places import raw_data
from cvlib.render.views import sheet
from cvlib.render.views.carry import kinds, told
from cvlib.render.views.carry_words import choices_of, row_of, title_of
from cvlib.render.views.check_data import finding_data

Data = dict[str, object]


def carry_data(result: DecoderCarried) -> Data:
    """The outcome for a decoder; docs/schema/output-carry.schema.json describes it."""
    carried = result.carried
    versions = dict.fromkeys(str(v) for v in carried.origin.saved.saved_for.values())
    return {
        "loco": {
            "name": result.loco.name,
            "file": result.loco.file,
            "address": result.loco.address,
            "role": result.decoder.role,
        },
        "from": {"profile": result.profile.id, "firmware": list(versions)},
        "to": {"profile": result.goal.id, "firmware": str(carried.goal.version)},
        "counts": kinds(carried.outcomes),
        "outcomes": [_outcome(result, outcome) for outcome in carried.outcomes],
        "left": [
            {
                "cv": held.slot.cv,
                "page": str(held.slot.page) if held.slot.page else None,
                "bits": list(bits_of(held.mask)),
                "value": held.value,
                "firmware": str(held.firmware),
            }
            for held in carried.left
        ],
        "superseded": [
            {"setting": held.setting, "old": _at(held.old)} for held in carried.superseded
        ],
        "unsaved": list(carried.unsaved),
        "held_back": [slot.typed for slot in sorted(carried.held_back)],
        "contested": {slot.typed: list(names) for slot, names in carried.contested.items()},
        "findings": [_finding(result, finding) for finding in carried.findings],
        "sheet": sheet.data(told(result)),
        "file_written": result.is_written,
    }


def _outcome(result: DecoderCarried, outcome: Outcome) -> Data:
    row = row_of(result, outcome)
    found: Data = {
        "outcome": outcome.kind,
        "setting": outcome.setting,
        "title": title_of(result, outcome.setting),
        "old": None,
        "new": None,
        "remark": row.remark,
        "wanted": None,
        "got": None,
        "lost": [],
        "reason": None,
        "stale": False,
        "needs": [],
        "candidates": [],
        "choices": [],
    }
    if not isinstance(outcome, (New, Refused)) and outcome.old is not None:
        found["old"] = _at(outcome.old)
    if isinstance(outcome, (Same, Moved, Converted, Clamped, New)) and outcome.new is not None:
        found["new"] = _at(outcome.new)
    match outcome:
        case Converted() | Clamped():
            found["wanted"], found["got"] = _figure(outcome.wanted), _figure(outcome.got)
            found["lost"] = list(outcome.lost) if isinstance(outcome, Clamped) else []
        case Dropped():
            found["reason"] = outcome.reason.value
        case New():
            found["stale"] = outcome.is_stale
        case Disputed():
            found["candidates"] = [_candidate(one.place, one.parts) for one in outcome.candidates]
            found["choices"] = list(choices_of(result, outcome.setting))
        case Refused():
            found["reason"], found["needs"] = outcome.reason.value, list(outcome.needs)
    return found


def _at(held: At) -> Data:
    coding, reading = held.place.coding, held.reading
    is_figure = isinstance(coding, Number)
    return {
        **_where(held.place),
        "raw": raw_data(coding, held.parts),
        "value": _figure(reading.value) if isinstance(reading.value, Decimal) else None,
        "unit": coding.unit if is_figure and isinstance(coding, Number) else "",
        "text": reading.text,
        "standing": held.standing.value,
        "firmware": str(held.firmware),
    }


def _candidate(place: Place | None, parts: tuple[int, ...] | None) -> Data | None:
    if place is None:
        return None
    raw = None if parts is None else raw_data(place.coding, parts)
    text = "" if parts is None else place.coding.decode(parts).text
    return {**_where(place), "raw": raw, "text": text}


def _where(place: Place) -> Data:
    page = place.fields[0].slot.page if place.fields else None
    return {
        "where": where_text(place),
        "cvs": [field.slot.cv for field in place.fields],
        "page": str(page) if page else None,
        "bits": (place.fields[0].bits or "") if place.fields else "",
    }


def _figure(figure: Decimal | None) -> int | float | None:
    if figure is None:
        return None
    return int(figure) if figure == figure.to_integral_value() else float(figure)


def _finding(result: DecoderCarried, finding: Finding) -> Data:
    return {
        **finding_data(finding, f"firmware {result.carried.goal.version}"),
        "bits": [_bits(held) for held in finding.bits],
        "id": finding.name,
    }


def _bits(held: Bits) -> Data:
    return {
        "cv": held.cv,
        "page": held.page or None,
        "bits": list(bits_of(held.mask)),
        "value": held.value,
    }
