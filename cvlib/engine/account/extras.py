"""Findings about settings as wholes: standing, rules, advisories, unset and changed values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.ledger import FINE, Account
from cvlib.engine.account.rules import broken_rules, held, kept_settings, without_effect
from cvlib.engine.known.told import tell, tell_answer, where_text
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits, Finding, Told
from cvlib.model.answer import Standing
from cvlib.model.coding import Area, Fields
from cvlib.model.cv import Field, Slot
from cvlib.model.facet import same_meaning
from cvlib.model.profile import Place, Setting, is_about

DOUBTFUL = (Standing.BEYOND, Standing.BEFORE, Standing.FAULTY)


def saved_claims(accounts: Iterable[Account]) -> dict[str, Claim]:
    """The settings of the installed firmware of which something is saved, in CV order."""
    found: dict[str, Claim] = {}
    for account in accounts:
        if account.now.basis is Basis.SETTING:
            claim = account.now.claims[0]
            found.setdefault(claim.setting.id, claim)
    return found


def bits_of(layout: Layout, fields: Iterable[Field]) -> tuple[Bits, ...]:
    """The saved bits among some fields."""
    return tuple(
        Bits(
            field.slot.cv,
            str(field.slot.page or ""),
            field.mask,
            layout.values[field.slot],
        )
        for field in fields
        if field.slot in layout.values
    )


def standing_findings(layout: Layout, claims: Iterable[Claim]) -> Iterator[Finding]:
    """A warning for each saved setting whose place is extrapolated, or failed on the bench."""
    for claim in claims:
        code = "faulty" if claim.answer.is_unreliable else claim.answer.standing.value
        if claim.answer.is_unreliable or claim.answer.standing in DOUBTFUL:
            finding = _about(layout, claim, code, Severity.WARNING)
            works, locos = claim.answer.tried_on
            if works:
                finding = replace(finding, text=f"It works on {works} of {locos} locos.")
            yield replace(finding, lives_at=_elsewhere(layout, claim))


def _elsewhere(layout: Layout, claim: Claim) -> tuple[Told, ...]:
    """Where the handbooks have a setting, apart from the place that the bench tested."""
    beside = claim.answer.beside
    told = tell_answer(layout.resolver, beside) if beside is not None else ()
    tested = where_text(claim.place)
    return tuple(one for one in told if one.where != tested)


def partial_findings(layout: Layout, claims: Iterable[Claim]) -> Iterator[Finding]:
    """One finding for each setting of several CVs of which only some are saved.

    Of a place that only failed on the bench no further CV is needed.
    """
    for claim in claims:
        if claim.place == claim.answer.place and claim.place.parts(layout.values) is None:
            yield _about(layout, claim, "unset", _unset_severity(claim.setting, claim.place))


def rule_findings(layout: Layout, accounts: Iterable[Account]) -> Iterator[Finding]:
    """One finding for each broken rule or trap, with the settings and CVs involved.

    A trap is made of values that mean what they say: where the account finds one of them wrong
    or in doubt, that is told instead.
    """
    wrong: dict[Slot, int] = {}
    for account in accounts:
        if account.verdict != FINE:
            wrong[account.slot] = wrong.get(account.slot, 0) | account.mask
    for rule in broken_rules(layout):
        kept = kept_settings(layout, rule) if rule.trap else ()
        places = [
            (name, answer.place)
            for name in rule.settings()
            if name not in kept
            if (answer := layout.answers.get(name)) is not None and answer.place is not None
        ]
        fields = [field for _, place in places for field in place.fields]
        if rule.trap and any(wrong.get(field.slot, 0) & field.mask for field in fields):
            continue
        settings = layout.resolver.profile.settings
        yield Finding(
            "trap" if rule.trap else "rule",
            Severity(rule.severity),
            tuple(name for name, _ in places),
            bits_of(layout, fields),
            now=tuple(
                tell(settings[name], place, place.parts(layout.values))
                for name, place in places
                if place.fields
            ),
            text=rule.text,
            advice=rule.repair,
            name=rule.id,
        )


def advisory_findings(layout: Layout, claims: Iterable[Claim]) -> Iterator[Finding]:
    """One warning for each advisory that covers the firmware and touches a saved setting."""
    saved = list(claims)
    for advisory in layout.resolver.profile.advisories:
        if layout.version not in advisory.firmware:
            continue
        touched = [
            claim
            for claim in saved
            if not advisory.about or is_about(advisory.about, claim.setting.id)
        ]
        if touched:
            yield Finding(
                "advisory",
                Severity.WARNING,
                tuple(claim.setting.id for claim in touched),
                bits_of(layout, (f for claim in touched for f in claim.place.fields))
                if advisory.about
                else (),
                text=advisory.text,
                advice=advisory.do,
                name=advisory.id,
            )


def unset_findings(layout: Layout, left_over: Iterable[Layout] = ()) -> Iterator[Finding]:
    """One finding for each setting that must be known and of which nothing is saved.

    That is what the standard makes mandatory, what decides over saved values, and what lives where
    another setting did in older firmware, ``left_over``, whose values may still be in the decoder.
    In the order of their CVs.
    """
    places = [place for answer in layout.answers.values() for place in answer.places()]
    saved = (p for p in places if any(field.slot in layout.values for field in p.fields))
    deciding = {when.setting for place in saved for when in place.when}
    before, idle = list(left_over), without_effect(layout)
    settings = layout.resolver.profile.settings
    unset: list[tuple[str, Place]] = []
    for name, answer in layout.answers.items():
        place = answer.place
        if place is None or not place.can_be_set or layout.active(place) is not True:
            continue
        if not any(field.slot in layout.values for field in place.fields):
            unset.append((name, place))
    for name, place in sorted(unset, key=lambda held: held[1].fields[0].slot.order):
        was = tuple(_owners_before(before, name, place))
        if was or name in deciding or place.marks.requirement == "mandatory":
            severity = _unset_severity(settings[name], place)
            severity = Severity.NOTE if name in idle else severity
            now = (tell(settings[name], place),)
            yield Finding("unset", severity, (name,), was=was, now=now)


def _owners_before(before: Iterable[Layout], name: str, place: Place) -> Iterator[Told]:
    """What older firmware made of the CVs of a setting, where that was something else."""
    slots = {field.slot for field in place.fields}
    for layout in before:
        users = [
            (answer.setting, one)
            for answer in layout.answers.values()
            for one in answer.places()
            if not isinstance(one.coding, (Area, Fields))
            if any(field.slot in slots for field in one.fields)
        ]
        if any(other == name and _says_the_same(one, place) for other, one in users):
            continue
        for other, one in users:
            setting = layout.resolver.profile.settings[other]
            yield tell(setting, one, firmware=str(layout.version))


def _says_the_same(old: Place, new: Place) -> bool:
    """Whether every value that was allowed means the same now."""
    if same_meaning(old, new):
        return True
    if old.fields != new.fields or len(old.fields) != 1:
        return False
    allowed = (
        (raw, reading.text)
        for raw in range(1 << old.fields[0].width)
        if (reading := old.coding.decode((raw,))).fault is None
    )
    here = ((new.coding.decode((raw,)), text) for raw, text in allowed)
    return all(reading.fault is None and reading.text == text for reading, text in here)


def _unset_severity(setting: Setting, place: Place) -> Severity:
    """A warning where a wrong value may do harm."""
    return Severity.WARNING if setting.risk and place.can_be_set else Severity.NOTE


def changed_findings(layout: Layout, claims: Iterable[Claim]) -> Iterator[Finding]:
    """A note for each saved value that is not the factory default."""
    for claim in claims:
        found, default = held(layout, claim.setting.id), layout.factory(claim.place)
        if found is None or default is None or found.parts == default:
            continue
        if claim.place.can_be_set or isinstance(claim.place.coding, Fields):
            before = tell(claim.setting, claim.place, default, "factory default")
            yield replace(_about(layout, claim, "changed", Severity.NOTE), was=(before,))


def _about(layout: Layout, claim: Claim, code: str, severity: Severity) -> Finding:
    parts = claim.place.parts(layout.values)
    return Finding(
        code,
        severity,
        (claim.setting.id,),
        bits_of(layout, claim.place.fields),
        now=(tell(claim.setting, claim.place, parts, str(layout.version)),),
        standing=claim.answer.standing.value,
    )
