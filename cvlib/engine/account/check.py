"""Saved values held against the right profile: findings, and an account of every saved bit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from cvlib.engine.account import extras
from cvlib.engine.account.claims import Basis, Layout, Owner, canonical
from cvlib.engine.account.ledger import FINE, Account, Ledger, sleepers_of
from cvlib.engine.account.severities import Severities
from cvlib.engine.account.undated import History, outlived_findings, undated_finding
from cvlib.engine.account.verdicts import Verdicts
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import tell, tell_answer, tell_uses
from cvlib.errors import problem
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits, Finding, Told
from cvlib.model.answer import Standing
from cvlib.model.cv import LAST_PAGED, Slot
from cvlib.model.loco import State
from cvlib.model.ranges import is_older
from cvlib.model.versions import FirmwareVersion


class Saved(NamedTuple):
    """The values of one decoder, ready to be checked."""

    values: Mapping[Slot, int]
    saved_for: Mapping[Slot, FirmwareVersion]
    """The firmware each value was saved for, where that is known."""
    options: Mapping[str, str | int]
    history: History = History()


@dataclass(frozen=True, slots=True)
class Checked:
    """The outcome of a check at one firmware."""

    firmware: FirmwareVersion
    findings: tuple[Finding, ...]
    """Errors first, then warnings, then notes; each in CV order."""
    accounts: tuple[Account, ...]
    """Every bit of every saved CV, once."""

    def assumed(self) -> tuple[str, ...]:
        """The saved settings of which no document of the decoder says anything, in CV order."""
        claims = extras.saved_claims(self.accounts).items()
        return tuple(name for name, claim in claims if claim.answer.standing is Standing.ASSUMED)

    def worst(self) -> Severity | None:
        """The gravest severity found, or nothing where nothing was found."""
        return self.findings[0].severity if self.findings else None

    def has(self, code: str) -> bool:
        """Whether there is a finding of a code."""
        return any(finding.code == code for finding in self.findings)


def check(
    resolver: Resolver,
    installed: FirmwareVersion,
    saved: Saved,
    *,
    changed: bool = False,
    undated: bool = False,
) -> Checked:
    """What is wrong, doubtful or worth knowing about saved values at the installed firmware.

    ``changed`` adds a note for each value that differs from the factory default. ``undated`` says
    that the firmware is the installed one for sure, and asks what values of which nobody noted the
    firmware would mean if they are older.
    """
    return _Case(resolver, installed, saved).checked(changed=changed, undated=undated)


class _Case:
    """One check under way."""

    def __init__(self, resolver: Resolver, installed: FirmwareVersion, saved: Saved) -> None:
        self.resolver = resolver
        second = canonical(resolver.profile.settings.values(), saved.values)
        self.written: dict[Slot, list[Slot]] = {}
        for slot in saved.values:
            self.written.setdefault(second.get(slot, slot), []).append(slot)
        self.second_names = {slot: names for slot, names in self.written.items() if names != [slot]}
        values = {
            slot: _one_value({name: saved.values[name] for name in names})
            for slot, names in self.written.items()
        }
        self.saved_for = {second.get(s, s): version for s, version in saved.saved_for.items()}
        self.history = saved.history
        self.layouts = {
            version: Layout(resolver, version, values, saved.options)
            for version in {installed, *self.saved_for.values(), *saved.history.earlier}
        }
        self.now = self.layouts[installed]
        self.verdicts = Verdicts(self.now, self.saved_for)
        self.severities = Severities(self.now, self.saved_for, self.layouts, self.verdicts)

    def checked(self, *, changed: bool, undated: bool) -> Checked:
        ledger = Ledger(self.now, self.saved_for, self.layouts)
        accounts = tuple(self.verdicts.refine(ledger.accounts()))
        claims = tuple(extras.saved_claims(accounts).values())
        of_settings = [
            *extras.standing_findings(self.now, claims),
            *extras.partial_findings(self.now, claims),
            *extras.rule_findings(self.now, accounts),
            *extras.advisory_findings(self.now, claims),
            *extras.unset_findings(self.now, self._left_over()),
            *(extras.changed_findings(self.now, claims) if changed else ()),
            *(self.undated() if undated else ()),
        ]
        findings = [*self._account_findings(accounts), *map(self._as_saved, of_settings)]
        as_saved = [
            account if name == account.slot else replace(account, slot=name)
            for account in accounts
            for name in self.written[account.slot]
        ]
        return Checked(self.now.version, tuple(sorted(findings, key=_order)), tuple(as_saved))

    def _left_over(self) -> tuple[Layout, ...]:
        """The older firmware from which CVs that nobody saved may still hold their values."""
        if self.history.state in (State.RESET, State.NEVER_UPDATED):
            return ()
        installed = self.now.version
        return tuple(
            self.layouts[version]
            for version in dict.fromkeys((*self.saved_for.values(), *self.history.earlier))
            if is_older(version, installed)
        )

    def undated(self) -> Iterator[Finding]:
        """What the values that nobody dated would mean if they are older; nothing if the same."""
        slots = (slot for slot in self.now.values if slot not in self.saved_for)
        found = undated_finding(self.now, slots, self.history)
        if found is not None:
            yield found
        outlived = [
            slot
            for slot, names in self.written.items()
            if slot in self.saved_for and self.history.outlived.intersection(names)
        ]
        yield from outlived_findings(
            self.layouts.__getitem__, self.saved_for, outlived, self.history
        )

    def _account_findings(self, accounts: Iterable[Account]) -> Iterator[Finding]:
        grouped: dict[tuple[object, ...], list[Account]] = {}
        for account in accounts:
            if account.verdict != FINE:
                grouped.setdefault(_group(account), []).append(account)
        for group in grouped.values():
            yield self._kept_asleep(group) if group[0].asleep else self._finding(group)

    def _finding(self, group: list[Account]) -> Finding:
        first = group[0]
        owned = first.was.basis <= Basis.DISPUTED
        known = first.was.names if owned else first.known_to
        lives_at = tuple(
            told
            for name in known
            if name not in first.now.names
            for told in tell_answer(self.resolver, self.now.answers[name])
        )
        owners = first.now if first.now.basis <= Basis.AREA else Owner(Basis.NONE)
        return Finding(
            first.verdict,
            self.severities.of(group),
            tuple(dict.fromkeys((*known, *owners.names))),
            self._bits(group),
            self._was(group, known),
            self._told(owners),
            lives_at,
            self._after_update(group),
            standing=self._standing(first, known),
            text=self._expectation(group),
            decided_by=self._deciding(first),
        )

    def _kept_asleep(self, group: list[Account]) -> Finding:
        """Values that would count, were it not for the value of another setting."""
        claims = group[0].asleep
        deciding = dict.fromkeys(n for c in claims for n in self.now.against(c.place))
        return Finding(
            group[0].verdict,
            self.severities.of(group),
            sleepers_of(claims),
            self._bits(group),
            now=self._told(Owner(Basis.SETTING, claims)),
            standing=claims[0].answer.standing.value,
            decided_by=tuple(self._with_value(name) for name in deciding),
        )

    def _with_value(self, name: str) -> Told:
        """A setting of the installed firmware with the value that is saved of it."""
        answer, reading = self.now.answers[name], self.now.reading(name)
        setting = self.resolver.profile.settings[name]
        if answer.place is None or reading is None:
            return Told(name, setting.title)
        return replace(tell(setting, answer.place), value=reading.text)

    def _standing(self, account: Account, known: tuple[str, ...]) -> str:
        """How well it is known who owns the bits now, or that their owner of old does not."""
        if account.now.claims and account.now.basis is not Basis.AREA:
            return account.now.claims[0].answer.standing.value
        return self.now.answers[known[0]].standing.value if known else ""

    def _was(self, group: Iterable[Account], known: tuple[str, ...]) -> tuple[Told, ...]:
        every = (told for account in group for told in self._was_of(account, known))
        return tuple(dict.fromkeys(every))

    def _after_update(self, group: Iterable[Account]) -> tuple[Told, ...]:
        """What newer firmware would make of the bits of some accounts."""
        return tuple(
            dict.fromkeys(
                told
                for account in group
                for told in tell_uses(self.resolver, account.newer_use, account.slot, account.mask)
            )
        )

    def _was_of(self, account: Account, known: tuple[str, ...]) -> tuple[Told, ...]:
        if account.was.basis > Basis.DISPUTED:
            return tell_uses(self.resolver, known, account.slot, account.mask)
        firmware = str(self.saved_for[account.slot])
        return tuple(
            tell(claim.setting, claim.place, claim.place.parts(self.now.values), firmware)
            for claim in account.was.claims
        )

    def _told(self, owner: Owner) -> tuple[Told, ...]:
        found: list[Told] = []
        for claim in owner.claims:
            parts = claim.place.parts(self.now.values)
            if claim.answer.standing is Standing.DISPUTED:
                found.extend(tell_answer(self.resolver, claim.answer))
            elif owner.basis is Basis.DISPUTED:
                firmware = self.resolver.effective(claim.setting, claim.place).text()
                found.append(tell(claim.setting, claim.place, parts, firmware))
            else:
                found.append(tell(claim.setting, claim.place, parts, str(self.now.version)))
        return tuple(dict.fromkeys(found))

    def _deciding(self, account: Account) -> tuple[Told, ...]:
        """The settings that decide between the owners, where nothing is saved of them."""
        if account.verdict != "undecided":
            return ()
        owner, layout = account.now, self.now
        if owner.basis is not Basis.UNDECIDED:
            owner, layout = account.was, self.layouts[self.saved_for[account.slot]]
        names = (name for c in owner.claims for name in layout.undecided_by(c.place))
        settings = self.resolver.profile.settings
        return tuple(
            told
            for name in dict.fromkeys(names)
            if name in settings
            for told in tell_answer(self.resolver, layout.answers[name])
            or (Told(name, settings[name].title),)
        )

    def _expectation(self, group: Iterable[Account]) -> str:
        """What identity expects, where a read-only CV says otherwise."""
        held = (self.verdicts.contradicted(one) for one in group if one.verdict == "read-only")
        return next((str(expected) for expected in held if expected is not None), "")

    def _as_saved(self, finding: Finding) -> Finding:
        """A finding whose bits are named by the CV numbers they were saved under."""
        bits = (
            replace(held, cv=slot.cv)
            for held in finding.bits
            for slot in (self.second_names.get(Slot(held.cv), ()) if not held.page else ())
            or (Slot(held.cv),)
        )
        return replace(finding, bits=tuple(bits)) if self.second_names else finding

    def _bits(self, group: Iterable[Account]) -> tuple[Bits, ...]:
        """The bits of some accounts, under the CV numbers they were saved by."""
        return tuple(
            Bits(slot.cv, str(slot.page or ""), account.mask, account.value)
            for account in group
            for slot in self.written[account.slot]
        )


def _one_value(values: Mapping[Slot, int]) -> int:
    """The value of one CV saved under one or two numbers; refused where they differ."""
    found = set(values.values())
    if len(found) > 1:
        named = " and ".join(f"{slot} = {value}" for slot, value in values.items())
        raise problem(f"{named} are one CV with two values.", advice="Leave one of them out.")
    return found.pop()


def _group(account: Account) -> tuple[object, ...]:
    """What accounts must share to be one finding."""
    owners = (account.now.names, account.was.names, account.known_to)
    if account.asleep:
        return account.verdict, sleepers_of(account.asleep)
    named = account.now.basis is Basis.SETTING or account.was.names or account.known_to
    together = named and account.verdict != "disputed"
    return account.verdict, owners, None if together else account.slot


def _order(finding: Finding) -> tuple[int, int, str]:
    severity = (Severity.ERROR, Severity.WARNING, Severity.NOTE).index(finding.severity)
    last = 0 if finding.code != "unset" else LAST_PAGED + 1
    first = finding.bits[0].cv if finding.bits else last
    return severity, first, finding.code
