"""A review as data for programs; docs/schema/output-review.schema.json describes it."""

from __future__ import annotations

from cvlib.engine.account.decide import Decided
from cvlib.engine.account.meaning import MeaningChange
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.engine.change.effect import DecoderEffect
from cvlib.engine.change.review import ProfileReview, SettingChange
from cvlib.engine.change.reviewed import Broken, Reviewed
from cvlib.engine.known.digest import behaviour_digest, wording_digest
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault
from cvlib.findings.finding import Finding
from cvlib.model.answer import Answer
from cvlib.model.profile import Profile
from cvlib.render.places import Data
from cvlib.render.to_json import as_data, fault_data
from cvlib.render.views.check_data import finding_data
from cvlib.render.views.settings_data import answer_data


def data(result: Reviewed) -> Data:
    """The review with every change, whole answers on both sides."""
    return {
        "before": as_data(result.before),
        "after": as_data(result.after),
        "folder": result.folder,
        "step": result.step.value,
        "version": {"tag": result.tag, "next": result.version} if result.version else None,
        "unchanged": result.unchanged,
        "older": dict(result.older),
        "broken": [
            *(_broken(one, "before") for one in result.broken_before),
            *(_broken(one, "after") for one in result.broken_after),
        ],
        "profiles": [profile_data(one) for one in result.review.profiles],
        "decoders": [_effect(one) for one in result.effects],
        "untouched": result.untouched,
        "faults": [fault_data(fault) for fault in result.faults],
    }


def meaning_data(one: MeaningChange) -> Data:
    """A saved value with what it meant and means."""
    return {
        "cv": one.slot.cv,
        "page": str(one.slot.page) if one.slot.page else None,
        "value": one.value,
        "before": one.before,
        "after": one.after,
    }


def _broken(one: Broken, side: str) -> Data:
    return {"id": one.id, "side": side, "faults": [fault_data(fault) for fault in one.faults]}


def profile_data(one: ProfileReview) -> Data:
    """What changed in one profile, with whole answers on both sides."""
    held = one.after or one.before
    return {
        "id": one.id,
        "was": one.was,
        "maker": held.maker if held else "",
        "name": held.name if held else "",
        "change": _what(one),
        "step": one.step.value,
        "digests": {"before": _digests(one.before), "after": _digests(one.after)},
        "changes": [_change(one, change) for change in one.changes],
        "items": [as_data(item) for item in one.items],
        "wording": [as_data(words) for words in one.wording],
    }


def _digests(profile: Profile | None) -> Data | None:
    """The two digests of a profile: equal behaviour means equal answers at all firmware."""
    if profile is None:
        return None
    behaviour = behaviour_digest(Resolver(profile))
    return {"behaviour": behaviour, "wording": wording_digest(profile)}


def _what(one: ProfileReview) -> str:
    """What happened to a profile as a whole."""
    if one.before is None:
        return "added"
    if one.after is None:
        return "removed"
    if one.is_recounted:
        return "recounted"
    return "renamed" if one.was else "changed"


def _change(one: ProfileReview, change: SettingChange) -> Data:
    return {
        "setting": change.setting,
        "title": change.title,
        "kinds": [kind.value for kind in change.kinds],
        "firmware": change.firmware.text(),
        "releases": list(change.releases),
        "area": change.is_area,
        "before": _answer(one.before, change.before),
        "after": _answer(one.after, change.after),
    }


def _answer(profile: Profile | None, answer: Answer | None) -> Data | None:
    return answer_data(profile, answer) if profile and answer else None


def _effect(one: DecoderEffect) -> Data:
    return {
        "loco": one.loco.name,
        "file": one.loco.file,
        "role": one.decoder.role,
        "profile": one.decoder.profile,
        "renamed": one.renamed,
        "before": _side(one.before),
        "after": _side(one.after),
        "gone": [_finding(finding, one) for finding in one.gone],
        "new": [_finding(finding, one) for finding in one.new],
        "meanings": [meaning_data(held) for held in one.meanings],
    }


def _side(side: DecoderChecked | Fault) -> Data:
    """Whether a decoder could be checked, and for which firmware."""
    fault = fault_data(side) if isinstance(side, Fault) else None
    decided = isinstance(side, DecoderChecked) and isinstance(side.outcome, Decided)
    checked = side.checked if isinstance(side, DecoderChecked) else None
    return {
        "fault": fault,
        "decided": decided,
        "firmware": str(checked.firmware) if checked else None,
    }


def _finding(finding: Finding, one: DecoderEffect) -> Data:
    said = finding_data(finding, f"firmware {one.decoder.firmware}".rstrip())
    return {**said, "bits": as_data(finding.bits)}
