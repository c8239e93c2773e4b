"""What every saved value of a loco does now, in the order in which a person asks.

Nothing is judged here: whose a bit is says the account, what is wrong with it the check, what
several values come to the sums of the standards.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from cvlib.engine.account.cells import State, cell_of
from cvlib.engine.account.check import Checked
from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.dating import saved_of
from cvlib.engine.account.ledger import Account
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.engine.carry.addresses import long_address_in_use
from cvlib.engine.carry.carry_outcomes import At
from cvlib.engine.compare.curves import Times, curve_of, times_of
from cvlib.engine.compare.motion import Drawn, Form
from cvlib.engine.explain.explain import layout_of
from cvlib.engine.explain.key_table import NO_KEYS, KeyTable, key_table
from cvlib.engine.explain.sums import Sum, sums
from cvlib.engine.known.listing import Wanted
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding
from cvlib.model.assignment import Topic
from cvlib.model.coding import Parts
from cvlib.model.cv import WHOLE, Field, Slot
from cvlib.model.loco import Loco
from cvlib.model.profile import Place, Setting

OF_NO_VALUE = frozenset(("unset", "changed", "read-only"))
"""Codes of notes that say nothing of what a value does."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """What a value is, or may be: a setting at a place, and its parts where all are saved."""

    setting: Setting
    place: Place
    parts: Parts | None


@dataclass(frozen=True, slots=True)
class CardValue:
    """Saved bits that one setting owns, or nobody."""

    slots: tuple[Slot, ...]
    mask: int
    """The bits, where it is one CV; all of them where it is several."""
    raw: tuple[int, ...]
    """The number in those bits of each CV."""
    candidates: tuple[Candidate, ...]
    """Several only where nothing decides between them; none where nobody knows the CV."""
    standing: str = ""
    codes: tuple[str, ...] = ()
    """What a check finds about it: trap, asleep, undated and others."""
    is_factory: bool = False
    """Whether a factory reset leaves the same."""
    area: str = ""
    """The title of the area that the bits lie in, where no setting owns them."""
    was: str = ""
    """What the bits are in other firmware, where no setting owns them now."""

    @property
    def setting(self) -> Setting | None:
        """The setting that owns the bits, the first where several may."""
        return self.candidates[0].setting if self.candidates else None

    @property
    def topic(self) -> Topic | None:
        """Which question of a person it answers; nothing where the profile does not say."""
        return self.setting.topic if self.setting else None

    @property
    def group(self) -> str:
        """The group of its setting; empty where it has none."""
        return self.setting.group if self.setting else ""

    @property
    def is_clear(self) -> bool:
        """Whether it is bits that no setting owns, none of them set, with nothing against it."""
        return not self.candidates and bool(self.area) and not any(self.raw) and not self.codes

    @property
    def is_sure(self) -> bool:
        """Whether it says one thing and nothing is to be said against it but its standing."""
        one = len(self.candidates) == 1 and self.candidates[0].parts is not None
        return one and not self.codes and self.standing not in ("disputed", "faulty")


@dataclass(frozen=True, slots=True)
class DecoderCard:
    """What the values of one decoder do; nothing of it where the firmware is not known."""

    checked: DecoderChecked
    values: tuple[CardValue, ...] = ()
    """Every saved bit once, in CV order."""
    keys: KeyTable = NO_KEYS
    sums: tuple[tuple[Topic | None, Sum], ...] = ()
    """What several values come to, each with the topic of its first CV."""
    curve: Drawn | None = None
    is_factory_curve: bool = False
    """Whether the curve rests on factory values of which nothing is saved."""
    times: Times | None = None
    address: int | None = None
    """The address that a vehicle decoder answers to; nothing where its values do not say."""
    is_long: bool = False
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class LocoCard:
    """The card of a loco: one for all of its decoders."""

    loco: Loco
    decoders: tuple[DecoderCard, ...]

    @property
    def is_undecided(self) -> bool:
        """Whether the firmware of a decoder is not known and makes a difference."""
        return any(held.checked.checked is None for held in self.decoders)


def decoder_card(held: DecoderChecked, wanted: Wanted | None = None) -> DecoderCard:
    """What the values of a checked decoder do; with ``wanted`` only those asked for."""
    checked = held.checked
    if checked is None:
        return DecoderCard(held)
    resolver = Resolver(held.profile)
    saved = saved_of(resolver, held.decoder)
    layout = layout_of(resolver, checked.firmware, saved.values, saved.options)
    values = tuple(_values(layout, checked))
    keys = key_table(layout)
    if wanted is not None:
        settings = {
            name for name, one in held.profile.settings.items() if wanted.wants(one, one.places)
        }
        values = tuple(one for one in values if settings & {c.setting.id for c in one.candidates})
        works = tuple(one for one in keys.works if one.setting in settings)
        return DecoderCard(held, values, replace(keys, works=works), findings=checked.findings)
    topics = {slot: one.topic for one in reversed(values) for slot in one.slots if one.candidates}
    address, is_long = _address(layout)
    return DecoderCard(
        held,
        values,
        keys,
        tuple((topics.get(Slot(one.cvs[0])), one) for one in sums(layout)),
        *_curve(layout),
        times_of(layout),
        address,
        is_long,
        checked.findings,
    )


CURVE = {
    Form.TABLE: ("speed.table",),
    Form.THREE_POINT: ("speed.minimum", "speed.middle", "speed.maximum"),
}
"""The settings of the standards that a speed curve is made of."""


def _curve(layout: Layout) -> tuple[Drawn | None, bool]:
    """The speed curve, and whether factory values are in it; none where half of it is saved."""
    curve = curve_of(layout)
    cells = [cell_of(layout, name) for name in CURVE.get(curve.form, ())] if curve else []
    left = [one.place for one in cells if one.state is State.UNSAVED and one.place is not None]
    if any(field.slot in layout.values for place in left for field in place.fields):
        return None, False
    return curve, bool(left)


def _address(layout: Layout) -> tuple[int | None, bool]:
    """The address of a vehicle decoder, and whether it is the long one."""
    at: dict[str, At] = {}
    for name, answer in layout.answers.items():
        place = answer.place
        parts = place.parts(layout.values) if place is not None else None
        if place is not None and parts is not None and layout.active(place):
            at[name] = At(place, parts, answer.standing, layout.version)
    chosen = at.get("configuration.extended-address")
    if chosen is not None and any(chosen.parts):
        return long_address_in_use(at), True
    short = at.get("address.short")
    is_legal = short is not None and short.reading.fault is None
    return (short.parts[0] if short is not None and is_legal else None), False


def _values(layout: Layout, checked: Checked) -> Iterator[CardValue]:
    """Every saved bit once: the accounts of a check, those of one owner put together."""
    grouped: dict[tuple[object, ...], list[Account]] = {}
    for account in checked.accounts:
        claims = _claims(account)
        is_owned = bool(account.asleep) or account.now.basis <= Basis.DISPUTED
        key = tuple(claim.setting.id for claim in claims) if is_owned else (account.slot,)
        grouped.setdefault((is_owned, *key), []).append(account)
    for accounts in grouped.values():
        yield _value(layout, checked, accounts)


def _claims(account: Account) -> tuple[Claim, ...]:
    """Whose the bits are, or would be were it not for another value."""
    return account.asleep or account.now.claims


def _value(layout: Layout, checked: Checked, accounts: list[Account]) -> CardValue:
    first = accounts[0]
    claims = tuple(dict.fromkeys(claim for one in accounts for claim in _claims(one)))
    area = ""
    if claims and not first.asleep and first.now.basis in (Basis.AREA, Basis.FIELDS):
        area, claims = claims[0].setting.title, ()
    found = {(one.setting.id, one.place): _candidate(layout, one) for one in claims}
    candidates = tuple(found.values())
    masks: dict[Slot, int] = {}
    for one in accounts:
        masks[one.slot] = masks.get(one.slot, 0) | one.mask
    held = {one.slot: one.value for one in accounts}
    standing = claims[0].answer.standing.value if claims else ""
    return CardValue(
        tuple(masks),
        masks[first.slot] if len(masks) == 1 else WHOLE,
        tuple(Field(slot, mask).take(held[slot]) for slot, mask in masks.items()),
        candidates,
        standing,
        _codes(masks, candidates, standing, checked),
        _is_factory(layout, candidates),
        area,
        "" if claims else _elsewhere(layout, first),
    )


def _elsewhere(layout: Layout, account: Account) -> str:
    """The title of what some bits were, or are in other firmware."""
    names = account.was.names if account.was.basis <= Basis.DISPUTED else account.known_to
    settings = layout.resolver.profile.settings
    return next((settings[name].title for name in names if name in settings), "")


def _candidate(layout: Layout, claim: Claim) -> Candidate:
    return Candidate(claim.setting, claim.place, claim.place.parts(layout.values))


def _is_factory(layout: Layout, candidates: Iterable[Candidate]) -> bool:
    held = list(candidates)
    if len(held) != 1 or held[0].parts is None:
        return False
    return layout.factory(held[0].place) == held[0].parts


def _codes(
    masks: Mapping[Slot, int], candidates: Iterable[Candidate], standing: str, checked: Checked
) -> tuple[str, ...]:
    """What the check finds about the bits or their settings, unless the standing says the same.

    A check judges no value of which nobody knows what it was saved as; that it is not allowed as
    what it is now is told all the same.
    """
    held, found = list(candidates), []
    names = {one.setting.id for one in held}
    bits = {(slot.cv, str(slot.page or "")): mask for slot, mask in masks.items()}
    for finding in checked.findings:
        if finding.bits:
            meets = any(bits.get((b.cv, b.page), 0) & b.mask for b in finding.bits)
        else:
            meets = bool(names.intersection(finding.settings))
        is_idle = finding.code in OF_NO_VALUE and finding.severity is Severity.NOTE
        found += [finding.code] if meets and not is_idle else []
    faults = [_fault(one) for one in held]
    found += [faults[0]] if faults and all(faults) else []
    return tuple(code for code in dict.fromkeys(found) if code != standing)


def _fault(one: Candidate) -> str:
    """Why a value cannot be what it may be: out-of-range, undefined-choice or empty."""
    marks = one.place.marks
    if one.parts is None or marks.read_only or marks.internal or marks.volatile or marks.reserved:
        return ""
    fault = one.place.coding.decode(one.parts).fault
    return fault.value if fault is not None else ""
