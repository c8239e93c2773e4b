"""A check as data for programs: facts and words of every finding, every saved bit once."""

from __future__ import annotations

from collections.abc import Iterable

from cvlib.engine.account.check import Checked
from cvlib.engine.account.decide import Decided, Ground
from cvlib.engine.account.ledger import Account
from cvlib.engine.bench.outcome import DecoderChecked, FleetChecked, LocoChecked
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits, Finding
from cvlib.model.cv import bits_of
from cvlib.model.profile import Question
from cvlib.render.to_json import as_data, fault_data
from cvlib.render.views.check import open_questions
from cvlib.render.views.why import why_data
from cvlib.render.words import finding_words

Data = dict[str, object]


def check_data(result: FleetChecked, *, why: bool = False) -> Data:
    """The check of some locos; docs/schema/output-check.schema.json describes it."""
    return {
        "counts": {severity.value: result.count(severity) for severity in Severity},
        "faults": [fault_data(fault) for fault in result.faults],
        "locos": [_loco(loco, why=why) for loco in result.locos],
    }


def _loco(loco: LocoChecked, *, why: bool) -> Data:
    return {
        "name": loco.loco.name,
        "file": loco.loco.file,
        "address": loco.loco.address,
        "decoders": [_decoder(decoder, why=why) for decoder in loco.decoders],
    }


def _decoder(decoder: DecoderChecked, *, why: bool) -> Data:
    profile, outcome = decoder.profile, decoder.outcome
    data: Data = {
        "role": decoder.decoder.role,
        "profile": profile.id,
        "maker": profile.maker,
        "name": profile.name,
        "decided": isinstance(outcome, Decided),
        "firmware": None,
        "ground": None,
        "counts": {severity.value: decoder.count(severity) for severity in Severity},
        "findings": [],
        "accounts": [],
        "assumed": [],
        "questions": [],
        "stretches": [],
        "reads": [],
        "offer": None,
        "changes": None,
    }
    if decoder.changes is not None:
        from cvlib.render.views.keep import changes_data

        data["changes"] = changes_data(decoder.changes)
    if decoder.offer is not None:
        from cvlib.render.views.offer import offer_data

        data["offer"] = offer_data(decoder.offer)
    resolver = Resolver(profile)
    if isinstance(outcome, Decided):
        is_known = outcome.ground is not Ground.ALIKE
        data["firmware"] = str(outcome.checked.firmware) if is_known else None
        data["ground"] = outcome.ground.value
        data["questions"] = [_question(q) for q in open_questions(decoder, outcome.checked)]
        return data | _checked(resolver, outcome.checked, why=why)
    data["reads"] = list(outcome.reads)
    data["stretches"] = [
        {
            "firmware": stretch.firmware.text(),
            "known": stretch.known.value,
            "checked_at": str(checked.firmware),
            **_checked(resolver, checked, why=why),
        }
        for stretch, checked in outcome.possible
    ]
    return data


def _checked(resolver: Resolver, checked: Checked, *, why: bool) -> Data:
    return {
        "findings": [_finding(resolver, checked, one, why=why) for one in checked.findings],
        "accounts": [_account(account) for account in checked.accounts],
        "assumed": list(checked.assumed()),
    }


TOLD = ("was", "now", "lives_at", "carried", "offered", "after_update", "decided_by")


def finding_data(finding: Finding, firmware: str) -> Data:
    """What every output tells of a finding; ``firmware`` names the installed one in its words."""
    words = finding_words(finding, firmware, fully=True)
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "subject": words.subject,
        "message": words.message,
        "advice": words.advice,
        "settings": list(finding.settings),
    }


def _finding(resolver: Resolver, checked: Checked, finding: Finding, *, why: bool) -> Data:
    data: Data = {
        **finding_data(finding, f"firmware {checked.firmware}"),
        "bits": [_bits(held) for held in finding.bits],
        "standing": finding.standing,
        "text": finding.text,
        "id": finding.name,
    }
    for key in TOLD:
        data[key] = as_data(getattr(finding, key))
    if why:
        data["why"] = list(_why(resolver, checked, finding.settings))
    return data


def _why(resolver: Resolver, checked: Checked, settings: Iterable[str]) -> Iterable[Data]:
    for name in settings:
        answer = resolver.answer(resolver.profile.settings[name], checked.firmware.key)
        yield why_data(resolver.profile, answer)


def _bits(held: Bits) -> Data:
    return {
        "cv": held.cv,
        "page": held.page or None,
        "bits": list(bits_of(held.mask)),
        "value": held.value,
    }


def _account(account: Account) -> Data:
    return {
        "cv": account.slot.cv,
        "page": str(account.slot.page) if account.slot.page else None,
        "bits": list(bits_of(account.mask)),
        "value": account.value,
        "verdict": account.verdict,
        "settings": list(account.now.names),
        "known_to": list(account.was.names or account.known_to),
        "standing": account.now.claims[0].answer.standing.value if account.now.claims else None,
    }


def _question(question: Question) -> Data:
    return {
        "id": question.id,
        "date": question.date,
        "about": list(question.about),
        "text": question.text,
        "settle": question.settle,
    }
