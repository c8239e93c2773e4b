"""Every saved bit accounted for exactly once: who owns it now, who did, and the verdict."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from cvlib.engine.account.claims import NOBODY, Basis, Claim, Layout, Owner
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Side
from cvlib.model.coding import Area
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.facet import same_meaning
from cvlib.model.profile import Place, Setting
from cvlib.model.ranges import is_older
from cvlib.model.versions import FirmwareVersion

FINE = "fine"
"""The verdict on a bit with which nothing is wrong."""


@dataclass(frozen=True, slots=True)
class Account:
    """Some bits of one saved CV that share owners and verdict."""

    slot: Slot
    mask: int
    value: int
    verdict: str
    """A finding code, or ``fine``."""
    now: Owner = NOBODY
    was: Owner = NOBODY
    """The owner in the firmware the value was saved for, where that is another one."""
    known_to: tuple[str, ...] = ()
    """For bits nobody owns now: the settings of other firmware that use them."""
    newer_use: tuple[str, ...] = ()
    """For bits nobody owns now: the settings of newer firmware that use them."""
    asleep: tuple[Claim, ...] = ()
    """For bits nobody owns now: who would, were it not for the value of another setting."""


class Use(NamedTuple):
    """A setting that uses some bits at firmware other than the installed one."""

    setting: Setting
    place: Place
    side: Side

    @property
    def name(self) -> tuple[str, Side]:
        """The setting's id and on which side of the installed firmware it uses the bits."""
        return self.setting.id, self.side


class Ledger:
    """The accounts of one decoder's saved values, at the installed firmware."""

    def __init__(
        self,
        now: Layout,
        saved_for: Mapping[Slot, FirmwareVersion],
        layouts: Mapping[FirmwareVersion, Layout],
    ) -> None:
        self.now = now
        self.saved_for = saved_for
        self.layouts = layouts

    def accounts(self) -> Iterator[Account]:
        """The accounts in CV order; together they cover all eight bits of every saved CV."""
        for slot in sorted(self.now.values, key=lambda held: held.order):
            yield from self._of(slot)

    def _of(self, slot: Slot) -> Iterator[Account]:
        then = self._layout_then(slot)
        groups: dict[tuple[object, ...], tuple[int, Owner, Owner, tuple[Claim, ...]]] = {}
        for unit in self._units(slot, then):
            bit = unit.bit_length() - 1
            now = self.now.owner(slot, bit)
            was = self._owner_then(then, slot, bit)
            free = now.basis >= Basis.FIELDS
            asleep = self.now.asleep(slot, bit) if free else ()
            uses = uses_of(self.now.resolver, slot, unit, self.now.version) if free else ()
            elsewhere = tuple(use.name for use in uses)
            key = (now.basis, now.names, was.basis, was.names, sleepers_of(asleep), elsewhere)
            mask = groups[key][0] if key in groups else 0
            groups[key] = (mask | unit, now, was, asleep)
        for mask, now, was, asleep in groups.values():
            unused = was.basis >= Basis.FIELDS
            if asleep and (unused or was.names[0] in sleepers_of(asleep)):
                value = self.now.values[slot]
                yield Account(slot, mask, value, "asleep", now, was, asleep=asleep)
            else:
                yield self._judged(slot, mask, now, was, then)

    def _units(self, slot: Slot, then: Layout | None) -> tuple[int, ...]:
        """The bits of a CV one by one, or all together where every claim is on the whole CV."""
        masks = self.now.masks(slot) | (then.masks(slot) if then else set())
        for _, place in self.now.resolver.users(slot):
            masks |= {field.mask for field in place.fields if field.slot == slot}
        return (WHOLE,) if masks <= {WHOLE} else tuple(1 << bit for bit in range(8))

    def _layout_then(self, slot: Slot) -> Layout | None:
        version = self.saved_for.get(slot)
        return None if version is None or version == self.now.version else self.layouts[version]

    def _owner_then(self, then: Layout | None, slot: Slot, bit: int) -> Owner:
        """Who owned a bit when saved; its byte, where that had no field there and is gone."""
        if then is None:
            return NOBODY
        was = then.owner(slot, bit)
        if was.basis is Basis.FIELDS and was.names[0] not in self.now.bytes_on(slot):
            return Owner(Basis.SETTING, was.claims)
        return was

    def _judged(
        self, slot: Slot, mask: int, now: Owner, was: Owner, then: Layout | None
    ) -> Account:
        value = self.now.values[slot]
        if then is not None and was.basis is Basis.SETTING:
            verdict = self._against(now, was, then.bytes_on(slot))
        elif was.basis in (Basis.DISPUTED, Basis.UNDECIDED) and now.basis is Basis.SETTING:
            verdict = self._against_several(now, was)
        else:
            verdict = {
                Basis.SETTING: FINE,
                Basis.UNDECIDED: "undecided",
                Basis.DISPUTED: "disputed",
            }.get(now.basis, "")
        if verdict == "disputed" and was.basis is Basis.NONE:
            uses = uses_of(self.now.resolver, slot, mask, self.now.version)
            known = tuple(dict.fromkeys(use.setting.id for use in uses))
            return Account(slot, mask, value, verdict, now, was, known)
        if verdict:
            return Account(slot, mask, value, verdict, now, was)
        return self._unowned(slot, mask, now, was, then)

    def _against(self, now: Owner, was: Owner, bytes_then: tuple[str, ...]) -> str:
        """The verdict on bits that a setting owned when the value was saved."""
        if now.basis is Basis.DISPUTED:
            return "disputed"
        if now.basis is Basis.UNDECIDED:
            return "undecided" if was.names[0] in now.names else "reused"
        if now.basis is Basis.FIELDS:
            return "" if now.names[0] in (*bytes_then, *was.names) else "reused"
        if now.basis is not Basis.SETTING:
            return ""
        if now.names != was.names:
            return "reused"
        here, there = now.claims[0].place, was.claims[0].place
        same = same_meaning(here, there)
        if same and bool(here.marks.unused) is bool(there.marks.unused):
            return FINE
        return "recoded"

    def _against_several(self, now: Owner, was: Owner) -> str:
        """The verdict on bits of which it is open what they meant when the value was saved."""
        claim = now.claims[0]
        alike = set(was.names) == {claim.setting.id}
        if alike and all(same_meaning(then.place, claim.place) for then in was.claims):
            return FINE
        if was.basis is Basis.DISPUTED:
            return "disputed"
        return "undecided" if now.names[0] in was.names else "reused"

    def _unowned(
        self, slot: Slot, mask: int, now: Owner, was: Owner, then: Layout | None
    ) -> Account:
        value = self.now.values[slot]
        uses = list(uses_of(self.now.resolver, slot, mask, self.now.version))
        older = [use for use in uses if use.side is not Side.NEWER]
        newer = [use for use in uses if use.side is not Side.OLDER]
        if was.basis is Basis.SETTING and then is not None:
            verdict = self._gone(was, uses, then)
            known = was.names
        else:
            beside = then.claimed_mask(slot) if then is not None else 0
            verdict = self._by_neighbours(slot, mask, now, beside, older, newer)
            known = tuple(dict.fromkeys(use.setting.id for use in older or newer))
        ahead = tuple(dict.fromkeys(use.setting.id for use in newer))
        return Account(slot, mask, value, verdict, now, was, known, ahead)

    def _gone(self, was: Owner, uses: list[Use], then: Layout) -> str:
        """The verdict on bits whose owner at saving does not use them now."""
        if not is_older(then.version, self.now.version):
            return "newer-only"
        returns = any(use.setting.id == was.names[0] and use.side is not Side.OLDER for use in uses)
        return "asleep" if returns else "older-only"

    def _by_neighbours(
        self, slot: Slot, mask: int, now: Owner, beside: int, older: list[Use], newer: list[Use]
    ) -> str:
        """The verdict on bits by the firmware that uses them; zeros only fill up a CV in use."""
        value = self.now.values[slot]
        if (self.now.claimed_mask(slot) or beside) and not value & mask:
            return FINE
        if older or newer:
            both = {use.setting.id for use in older} & {use.setting.id for use in newer}
            return "asleep" if both else "older-only" if older else "newer-only"
        if mask != WHOLE and not value & mask:
            return FINE
        if now.basis is Basis.AREA and isinstance(area := now.claims[0].place.coding, Area):
            if area.use == "user":
                return FINE
            whole = mask == WHOLE and area.use != "reserved"
            return "unknown" if whole else "reserved-bits"
        if mask == WHOLE and now.basis is Basis.NONE:
            return "unknown"
        return "reserved-bits" if value & mask else FINE


def sleepers_of(claims: Iterable[Claim]) -> tuple[str, ...]:
    """The ids of the settings that make some claims, once each."""
    return tuple(dict.fromkeys(claim.setting.id for claim in claims))


def uses_of(resolver: Resolver, slot: Slot, mask: int, version: FirmwareVersion) -> Iterator[Use]:
    """The settings that use some bits at firmware older or newer than the given one.

    Where documents say so of the given one too, and only a test knows better, both sides do.
    """
    for setting, place in resolver.users(slot):
        if any(field.slot == slot and field.mask & mask for field in place.fields):
            held = resolver.known(setting, place)
            encloses = version in held
            older = encloses or held.lies_before(version.key)
            newer = encloses or held.lies_after(version.key)
            if older or newer:
                side = Side.BOTH if older and newer else Side.OLDER if older else Side.NEWER
                yield Use(setting, place, side)
