"""How grave a finding is: an error only where leaving the value as it is does harm or no good."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.ledger import Account
from cvlib.engine.account.verdicts import Verdicts
from cvlib.findings.catalogue import Severity, row
from cvlib.model.coding import Flags, Parts, Switch
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.model.versions import FirmwareVersion

IDLE_NAMES = frozenset(("off", "none"))
"""Special names of values by which nothing is wanted."""


class _Use(NamedTuple):
    """A place that the bits had, with what a factory reset left there."""

    place: Place
    factory: Parts | None


class Severities:
    """The severity of findings about the accounts of one check."""

    def __init__(
        self,
        now: Layout,
        saved_for: Mapping[Slot, FirmwareVersion],
        layouts: Mapping[FirmwareVersion, Layout],
        verdicts: Verdicts,
    ) -> None:
        self.now = now
        self.saved_for = saved_for
        self.layouts = layouts
        self.verdicts = verdicts

    def of(self, group: list[Account]) -> Severity:
        """The severity of one finding about some accounts that share owners and verdict."""
        verdict = row(group[0].verdict)
        if verdict.code == "read-only" and any(map(self.verdicts.contradicted, group)):
            return verdict.raised or Severity.ERROR
        if verdict.milder is not None and all(map(self._is_harmless, group)):
            return verdict.milder
        return verdict.severity or Severity.ERROR

    def _is_harmless(self, account: Account) -> bool:
        match account.verdict:
            case "recoded":
                if account.now.claims[0].place.marks.unused:
                    return all(map(self._is_idle, self._uses(account)))
                return self._is_own_now(account) or self._means_the_same(account)
            case "older-only" | "newer-only":
                uses = list(self._uses(account))
                return bool(uses) and all(u.place.marks.is_own or self._is_idle(u) for u in uses)
            case "reused":
                return self._is_own_now(account) and not self._goes_elsewhere(account)
            case "disputed":
                return _mean_alike(account, self.now.values)
            case _:
                return False

    def _is_own_now(self, account: Account) -> bool:
        return all(claim.place.marks.is_own for claim in account.now.claims)

    def _means_the_same(self, account: Account) -> bool:
        """Whether the number says the same by both codings, and is allowed by both."""
        here, there = account.now.claims[0].place, account.was.claims[0].place
        return here.marks.unused == there.marks.unused and _alike((here, there), self.now.values)

    def _goes_elsewhere(self, account: Account) -> bool:
        """Whether a setting of old can be set somewhere here."""
        for claim in account.was.claims:
            place = self.now.answers[claim.setting.id].place
            if not claim.place.marks.is_own and place is not None and not place.marks.is_own:
                return True
        return False

    def _uses(self, account: Account) -> Iterator[_Use]:
        if account.was.basis is Basis.SETTING:
            then = self.layouts[self.saved_for[account.slot]]
            yield from (_Use(c.place, then.factory(c.place)) for c in account.was.claims)
            return
        users = self.now.resolver.users(account.slot)
        for setting, place in users:
            on_bits = (f for f in place.fields if f.slot == account.slot and f.mask & account.mask)
            if setting.id in account.known_to and any(on_bits):
                yield _Use(place, self.now.factory(place))

    def _is_idle(self, use: _Use) -> bool:
        """Whether what is saved of a place is "off", or what a factory reset left."""
        place, values = use.place, self.now.values
        if use.factory is not None:
            pairs = zip(place.fields, use.factory, strict=True)
            saved = [(f.take(values[f.slot]), part) for f, part in pairs if f.slot in values]
            if all(held == part for held, part in saved):
                return True
        parts = place.parts(values)
        if parts is None:
            return False
        reading = place.coding.decode(parts)
        if isinstance(place.coding, (Switch, Flags)):
            return not reading.value
        return (reading.name or reading.text).casefold() in IDLE_NAMES


def _alike(places: Iterable[Place], values: Mapping[Slot, int]) -> bool:
    """Whether what is saved says one and the same at each place, and is allowed at each."""
    said: set[tuple[str, str]] = set()
    for place in places:
        parts = place.parts(values)
        if parts is None:
            return False
        reading = place.coding.decode(parts)
        if reading.fault is not None:
            return False
        said.add((reading.text, reading.name or ""))
    return len(said) == 1


def _mean_alike(account: Account, values: Mapping[Slot, int]) -> bool:
    """Whether all who may own disputed bits give the saved value one meaning."""
    claims: tuple[Claim, ...] = (*account.now.claims, *account.was.claims)
    if not claims or len({claim.setting.id for claim in claims}) > 1:
        return False
    if any(None in claim.answer.candidates or claim.answer.tried for claim in claims):
        return False
    places = [claim.place for claim in claims]
    places += [place for claim in claims for place in claim.answer.places()]
    fields = {place.fields for place in places}
    conditions = {place.when for place in places}
    return len(fields) == 1 and len(conditions) == 1 and _alike(places, values)
