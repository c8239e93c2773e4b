"""The verdict on bits that the installed firmware knows: is the value itself allowed?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.ledger import FINE, Account
from cvlib.engine.known.identity import Expected, expected_answers
from cvlib.model.cv import Field, Slot
from cvlib.model.versions import FirmwareVersion

READ_ONLY = "read-only"
RESERVED = "reserved-bits"
UNOWNED = (FINE, "unknown", RESERVED)
"""Verdicts on bits that no setting claims."""


class Verdicts:
    """Refines the ledger's accounts by the values saved."""

    def __init__(self, layout: Layout, saved_for: Mapping[Slot, FirmwareVersion]) -> None:
        self.layout = layout
        self.saved_for = saved_for
        profile = layout.resolver.profile
        self.expected = expected_answers(profile, layout.version)
        self.expected_then = {
            version: expected_answers(profile, version) for version in set(saved_for.values())
        }

    def refine(self, accounts: Iterable[Account]) -> Iterator[Account]:
        """The accounts with faulty values, stray bits and read-only CVs picked out."""
        for account in accounts:
            if account.verdict == FINE and account.now.basis is Basis.SETTING:
                yield from self._of_setting(account, account.now.claims[0])
            elif account.verdict == FINE and account.now.basis is Basis.FIELDS:
                yield replace(account, verdict=self._identity(account) or FINE)
            elif account.now.basis >= Basis.AREA and _is_free(account):
                yield from self._of_nobody(account)
            else:
                yield account

    def _of_nobody(self, account: Account) -> Iterator[Account]:
        """Bits that no setting owns, but through which the decoder may say who it is."""
        expected = self.expected.get(account.slot)
        told = expected.mask & account.mask if expected is not None else 0
        if told:
            yield replace(account, mask=told, verdict=READ_ONLY, known_to=(), newer_use=())
        if account.mask & ~told:
            yield replace(account, mask=account.mask & ~told)

    def contradicted(self, account: Account) -> Expected | None:
        """What identity expects of an account's bits, where the saved value differs.

        A decoder's answer is read anew after an update, or stands as it was read before: it may be
        that of the installed firmware, or of the one that the values were saved for.
        """
        version = self.saved_for.get(account.slot)
        answers = [self.expected, *([self.expected_then[version]] if version else [])]
        expected = [held[account.slot] for held in answers if account.slot in held]
        if any(one.allows(account.value, account.mask) for one in expected):
            return None
        return self.expected.get(account.slot)

    def _of_setting(self, account: Account, claim: Claim) -> Iterator[Account]:
        marks = claim.place.marks
        if marks.reserved:
            verdict = RESERVED if account.value & account.mask else FINE
            yield replace(account, verdict=verdict)
            return
        verdict = self._identity(account)
        if not verdict and (marks.read_only or marks.internal):
            verdict = READ_ONLY
        parts = claim.place.parts(self.layout.values)
        if verdict or parts is None:
            yield replace(account, verdict=verdict or FINE)
            return
        reading = claim.place.coding.decode(parts)
        if reading.fault is not None:
            yield replace(account, verdict=READ_ONLY if marks.volatile else reading.fault.value)
            return
        stray = stray_mask(claim, account.slot, reading.stray) & account.mask
        if stray:
            yield replace(account, mask=stray, verdict=RESERVED)
        if account.mask & ~stray:
            yield replace(account, mask=account.mask & ~stray)

    def _identity(self, account: Account) -> str:
        """The read-only verdict for bits through which the decoder says who it is."""
        expected = self.expected.get(account.slot)
        return READ_ONLY if expected is not None and expected.mask & account.mask else ""


def _is_free(account: Account) -> bool:
    """Whether no setting stands behind bits that nobody owns: none that the value was saved for,
    and none that another value keeps away.
    """
    was_nobodys = account.was.basis > Basis.DISPUTED
    return account.verdict in UNOWNED or (was_nobodys and not account.asleep)


def stray_mask(claim: Claim, slot: Slot, stray: int) -> int:
    """The stray bits of a whole value that lie in one of its CVs, as bits of that CV."""
    if not stray:
        return 0
    parts = claim.place.coding.split(stray)
    found = 0
    for field, part in zip(claim.place.fields, parts, strict=True):
        if field.slot == slot:
            found |= Field.put(field, 0, part)
    return found
