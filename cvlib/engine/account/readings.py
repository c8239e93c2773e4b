"""A reading kept in a loco file, and what changed since the one before, told in settings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from cvlib.engine.account.cells import State as CellState
from cvlib.engine.account.cells import cell_of
from cvlib.engine.account.claims import Basis, Claim, Layout
from cvlib.engine.account.meaning import value_gist
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import tell
from cvlib.findings.finding import Told
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.loco import Loco, Reading, SavedDecoder, State, latest_values


@dataclass(frozen=True, slots=True)
class ChangedNumber:
    """A CV with another number than before."""

    slot: Slot
    was: int
    now: int


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A setting of which CVs have other numbers than before; CVs that no setting owns alone."""

    numbers: tuple[ChangedNumber, ...]
    now: Told | None = None
    """The setting as it is now, at the firmware of the later reading."""
    was: str = ""
    """What it was by the reading before, in words, or what its CV was instead; empty where that is
    not known."""
    is_factory: bool = False
    """Whether it has the factory value now."""


@dataclass(frozen=True, slots=True)
class ReadingChanges:
    """A reading of a decoder held against those before it."""

    before: Reading
    after: Reading
    changes: tuple[SettingChange, ...]
    """In the order of their CVs."""
    left_over: tuple[Slot, ...]
    """CVs with the number of the reading before that stands for something else now."""
    disputed: tuple[Slot, ...]
    """CVs with that number of which nobody knows what they were, or what they are now."""
    same: int
    """How many CVs have the number that they had."""
    new: int
    """How many CVs no earlier reading has."""

    @property
    def is_update(self) -> bool:
        """Whether the firmware was changed between the two."""
        one, other = self.before.firmware, self.after.firmware
        return bool(one and other and one != other)

    def set_by_people(self) -> tuple[SettingChange, ...]:
        """The changes apart from what the decoder says of itself."""
        return tuple(one for one in self.changes if one.now is None or not one.now.keeper)

    @property
    def is_by_itself(self) -> bool:
        """Whether nobody says that the changes were made on purpose: the update may have."""
        return self.is_update and not self.after.meant_for


@dataclass(frozen=True, slots=True)
class Kept:
    """A reading as it stands in the loco file now."""

    file: str
    loco: Loco
    decoder: SavedDecoder
    reading: Reading
    is_new: bool
    """Whether the file was made for it."""
    is_held: bool
    """Whether it was there already, so that nothing was written."""
    firmware_from: str
    """``said``, ``answered`` by the version CVs among the values, ``noted`` in the file before, or
    empty where the firmware is not known.
    """
    is_open: bool
    """Whether some values may be older than the firmware and would mean something else then."""
    is_open_before: bool
    """Whether values noted before the last update may be older than the firmware of then."""
    changes: ReadingChanges | None
    """What it has otherwise than those before; nothing where it is the only one, or not the last.
    """


def last_changes(resolver: Resolver | None, decoder: SavedDecoder) -> ReadingChanges | None:
    """What the last reading has otherwise; nothing where there is none before it.

    Without a resolver, and where no firmware is noted, it is told in CVs alone. Raises
    :class:`~cvlib.errors.InputError` for a firmware that is none.
    """
    if len(decoder.readings) < 2:
        return None
    return _held_against(resolver, decoder, decoder.readings[:-1], decoder.readings[-1])


def update_changes(resolver: Resolver, decoder: SavedDecoder) -> ReadingChanges | None:
    """What was read after the last update and is otherwise than before it, or means otherwise.

    Nothing where there are no two readings, nothing is otherwise, or the values are known to be
    meant for the new firmware.
    """
    numbered = enumerate(decoder.readings, 1)
    others = [n for n, one in numbered if one.firmware and one.firmware != decoder.firmware]
    cut = others[-1] if others and decoder.firmware else 0
    later = [one for one in decoder.readings[cut:] if one.how not in ("written", "carried")]
    if not cut or not later:
        return None
    values = {slot: value for one in later for slot, value in one.values.items()}
    after = replace(later[-1], values=values, firmware=decoder.firmware)
    found = _held_against(resolver, decoder, decoder.readings[:cut], after)
    since, open_ = (
        tuple(slot for slot in slots if decoder.values[slot].firmware != decoder.firmware)
        for slots in (found.left_over, found.disputed)
    )
    is_told = found.is_by_itself and (since or open_ or found.set_by_people())
    return replace(found, left_over=since, disputed=open_) if is_told else None


def _held_against(
    resolver: Resolver | None, decoder: SavedDecoder, earlier: Sequence[Reading], after: Reading
) -> ReadingChanges:
    old = {slot: value.value for slot, value in latest_values(earlier, "").items()}
    new = {slot: value.value for slot, value in after.values.items()}
    shared = [slot for slot in sorted(new, key=lambda one: one.order) if slot in old]
    changed = [slot for slot in shared if old[slot] != new[slot]]
    firmware = after.firmware or decoder.firmware
    was_firmware = next((one.firmware for one in reversed(earlier) if one.firmware), firmware)
    left_over: list[Slot] = []
    disputed: list[Slot] = []
    if resolver is None or not firmware:
        changes = tuple(_bare(slot, old, new) for slot in changed)
    else:
        was = Layout(resolver, one_firmware(resolver, was_firmware), old, decoder.options)
        now = Layout(resolver, one_firmware(resolver, firmware), {**old, **new}, decoder.options)
        changes = tuple(_changes(changed, was, now))
        if was_firmware != firmware and not after.meant_for and decoder.state is not State.RESET:
            same = (slot for slot in shared if old[slot] == new[slot])
            left_over = [slot for slot in same if _gists(was, slot) != _gists(now, slot)]
            disputed = [s for s in left_over if _is_disputed(was, s) or _is_disputed(now, s)]
            left_over = [slot for slot in left_over if slot not in disputed]
    count = len(shared) - len(changed), len(new) - len(shared)
    return ReadingChanges(earlier[-1], after, changes, tuple(left_over), tuple(disputed), *count)


def _bare(slot: Slot, old: Mapping[Slot, int], new: Mapping[Slot, int]) -> SettingChange:
    return SettingChange((ChangedNumber(slot, old[slot], new[slot]),))


def _changes(changed: list[Slot], was: Layout, now: Layout) -> Iterator[SettingChange]:
    """The changed CVs by the settings that own changed bits of them now."""
    claims: dict[str, Claim] = {}
    slots: dict[str, list[Slot]] = {}
    for slot in changed:
        bits = was.values[slot] ^ now.values[slot]
        owned = dict(_owners(now, slot, bits))
        claims |= {name: claim for name, claim in owned.items() if name not in claims}
        for name in tuple(owned) or (str(slot),):
            slots.setdefault(name, []).append(slot)
    for name, held in slots.items():
        numbers = tuple(ChangedNumber(s, was.values[s], now.values[s]) for s in held)
        if name not in claims:
            yield SettingChange(numbers)
            continue
        claim = claims[name]
        parts, before = claim.place.parts(now.values), cell_of(was, name)
        text = before.text if before.state is CellState.SAVED else _other(was, held[0], name)
        yield SettingChange(
            numbers,
            tell(claim.setting, claim.place, parts, str(now.version)),
            text,
            parts is not None and parts == now.factory(claim.place),
        )


def _other(layout: Layout, slot: Slot, name: str) -> str:
    """Which other setting a CV was before, with its value; empty where it was none."""
    for other, claim in _owners(layout, slot, WHOLE):
        parts = claim.place.parts(layout.values)
        if other != name and parts is not None:
            return f"{claim.setting.title} {claim.place.coding.decode(parts).text}"
    return ""


def _owners(layout: Layout, slot: Slot, bits: int) -> Iterator[tuple[str, Claim]]:
    for bit in range(8):
        owner = layout.owner(slot, bit)
        if bits >> bit & 1 and owner.basis <= Basis.DISPUTED:
            yield from ((claim.setting.id, claim) for claim in owner.claims)


def _is_disputed(layout: Layout, slot: Slot) -> bool:
    return any(layout.owner(slot, bit).basis is Basis.DISPUTED for bit in range(8))


def _gists(layout: Layout, slot: Slot) -> list[list[object]]:
    """What the number of a CV stands for, bit by bit."""
    owners = (layout.owner(slot, bit) for bit in range(8))
    return [
        value_gist(claim, slot, layout.values)
        for owner in owners
        if owner.basis <= Basis.DISPUTED
        for claim in owner.claims
    ]
