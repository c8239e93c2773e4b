"""What saved values mean at a firmware, one CV at a time, and a digest to know it again by.

The digest stands for the meaning alone: which setting the bits are, what the value comes to, and
whether it counts. Titles, help, legal ranges and how well a place is known are no part of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cvlib.engine.account.claims import Basis, Claim
from cvlib.engine.account.ledger import FINE, Account
from cvlib.engine.known.digest import digest, plain
from cvlib.errors import one_line
from cvlib.model.answer import Standing
from cvlib.model.coding import Coding, Fields, Number, Parts, Reading, signed_value
from cvlib.model.coding_many import Curve, Text
from cvlib.model.cv import Slot
from cvlib.model.profile import Place

if TYPE_CHECKING:
    from cvlib.engine.account.check import Checked

LENGTH = 16
"""Characters of a meaning's digest: enough for the values of one loco."""


@dataclass(frozen=True, slots=True)
class ValueMeaning:
    """What one saved CV value means."""

    slot: Slot
    value: int
    words: str
    """The settings with their values, such as ``braking.stopping-distance: 80 cm``."""
    digest: str


@dataclass(frozen=True, slots=True)
class MeaningChange:
    """A saved value that means something else than before."""

    slot: Slot
    value: int
    before: str
    """In words."""
    after: str


def meanings(checked: Checked) -> dict[Slot, ValueMeaning]:
    """The meaning of every saved value of a check, in CV order."""
    values = {account.slot: account.value for account in checked.accounts}
    grouped: dict[Slot, list[Account]] = {}
    for account in checked.accounts:
        grouped.setdefault(account.slot, []).append(account)
    return {
        slot: _meaning(slot, sorted(held, key=_lowest), values) for slot, held in grouped.items()
    }


def meaning_changes(
    before: Mapping[Slot, ValueMeaning], after: Mapping[Slot, ValueMeaning]
) -> tuple[MeaningChange, ...]:
    """The values that mean something else after than before; both are of the same values."""
    return tuple(
        MeaningChange(slot, held.value, before[slot].words, held.words)
        for slot, held in after.items()
        if slot in before and before[slot].digest != held.digest
    )


def _lowest(account: Account) -> int:
    return account.mask & -account.mask


def _meaning(slot: Slot, accounts: list[Account], values: Mapping[Slot, int]) -> ValueMeaning:
    told = [
        [account.mask, account.verdict, _basis(account), _gists(account, values)]
        for account in accounts
    ]
    words = dict.fromkeys(words for account in accounts for words in _words(account, values))
    return ValueMeaning(
        slot, accounts[0].value, one_line("; ".join(words)) or "nothing", digest(told)[:LENGTH]
    )


def _basis(account: Account) -> str:
    """On what the bits are owned, where that is in doubt."""
    doubtful = account.now.basis in (Basis.UNDECIDED, Basis.DISPUTED)
    return account.now.basis.name.lower() if doubtful else ""


def _gists(account: Account, values: Mapping[Slot, int]) -> list[object]:
    return [
        [claim.setting.id, _at(claim.place, account.slot), _works(claim), _value(claim, values)]
        for claim in _owners(account)
    ]


def value_gist(claim: Claim, slot: Slot, values: Mapping[Slot, int]) -> list[object]:
    """What a value in a CV comes to if a claim on it holds; equal where it means the same."""
    return [claim.setting.id, _at(claim.place, slot), _value(claim, values)]


def _owners(account: Account) -> tuple[Claim, ...]:
    """The settings that the bits belong to, or would; areas own nothing, and bytes of fields only
    where their value stands for something as a whole.
    """
    claims = account.asleep or account.now.claims
    return tuple(
        c for c in claims if not isinstance(c.place.coding, Fields) or c.basis is Basis.SETTING
    )


def _works(claim: Claim) -> bool:
    return claim.answer.standing is not Standing.FAULTY


def _at(place: Place, slot: Slot) -> int:
    """Which of the CVs of a place a slot is; a second number stands for the first CV."""
    return next((at for at, field in enumerate(place.fields) if field.slot == slot), 0)


def _value(claim: Claim, values: Mapping[Slot, int]) -> object:
    """The value as plain data: what it comes to, and in which unit."""
    coding, parts = claim.place.coding, claim.place.parts(values)
    if parts is None or isinstance(coding, (Curve, Text)):
        return _part(claim, values)
    reading = coding.decode(parts)
    held = reading.value
    value = sorted(held) if isinstance(held, frozenset) else plain(held)
    if isinstance(coding, Number):
        how = [coding.unit, coding.refers_to, coding.measure and coding.measure.value]
        return [coding.kind, value, reading.name, *how]
    return [coding.kind, value, reading.name]


def _part(claim: Claim, values: Mapping[Slot, int]) -> object:
    """The value of single CVs, where each stands for itself or another of them is not saved."""
    held = [values.get(field.slot) for field in claim.place.fields]
    alone = isinstance(claim.place.coding, (Curve, Text))
    return [claim.place.coding.kind, None if alone else held]


def _words(account: Account, values: Mapping[Slot, int]) -> Iterable[str]:
    if owners := _owners(account):
        sure = account.verdict == FINE and len(owners) == 1
        doubt = "" if sure else f" ({account.verdict})"
        for claim in owners:
            faulty = "" if _works(claim) else " (no effect)"
            yield f"{claim.setting.id}: {_told(claim, account.slot, values)}{faulty}{doubt}"
    elif account.verdict != FINE:
        names = ", ".join(account.was.names or account.known_to)
        yield f"nothing here ({account.verdict}{f': {names}' if names else ''})"


def _told(claim: Claim, slot: Slot, values: Mapping[Slot, int]) -> str:
    place, coding = claim.place, claim.place.coding
    parts = place.parts(values)
    if isinstance(coding, (Curve, Text)):
        sign = coding.sign if isinstance(coding, Curve) else None
        point, at = signed_value(values[slot], 8, sign), _at(place, slot) + 1
        return f"{point}, number {at} of {len(place.fields)}"
    if parts is None:
        return f"{values[slot]}, one of {len(place.fields)} CVs"
    return _short(coding, parts, coding.decode(parts))


def _short(coding: Coding, parts: Parts, reading: Reading) -> str:
    if isinstance(coding, Number) and reading.name is None:
        return coding.figure(coding.signed(coding.join(parts)))
    return reading.text
