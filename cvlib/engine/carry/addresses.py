"""The long address carried to a decoder that has it under other names: it is one by standard.

CVs 17 and 18 and bit 5 of CV 29 mean the same in every vehicle decoder: NMRA S-9.2.2 (2012-07)
and RCN-225 (2025-07-27).
"""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.carry.carry_outcomes import At
from cvlib.engine.carry.compose_bytes import owned_bits
from cvlib.model import formulas
from cvlib.model.coding import Parts
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.profile import Place, group_of

SHORT, EXTENDED_HIGH, EXTENDED_LOW, CONFIGURATION = Slot(1), Slot(17), Slot(18), Slot(29)
EXTENDED_BIT = 0x20
_NEEDED = {EXTENDED_HIGH: WHOLE, EXTENDED_LOW: WHOLE, CONFIGURATION: EXTENDED_BIT}
_GROUPS = {EXTENDED_HIGH: "address", EXTENDED_LOW: "address", CONFIGURATION: "configuration"}


def address_bits(settings: Mapping[str, At]) -> dict[Slot, tuple[int, str]]:
    """CVs 17 and 18 and bit 5 of CV 29 as far as settings hold them, each with its setting."""
    found: dict[Slot, tuple[int, str]] = {}
    for name, held in settings.items():
        owned = owned_bits(held.place)
        for field, mask, part in zip(held.place.fields, owned, held.parts, strict=True):
            needed = _NEEDED.get(field.slot)
            if needed and mask & needed == needed and _is_address(name, field.slot):
                found[field.slot] = (field.put(0, part) & needed, name)
    return found


def long_address_in_use(settings: Mapping[str, At]) -> int | None:
    """The long address at which a decoder with these settings answers, if it does."""
    bits = address_bits(settings)
    if bits.keys() != _NEEDED.keys() or not bits[CONFIGURATION][0]:
        return None
    return formulas.extended_address(bits[EXTENDED_HIGH][0], bits[EXTENDED_LOW][0])


def under_other_names(
    old: Mapping[str, At], new: Mapping[str, At], places: Mapping[str, Place]
) -> dict[str, tuple[At, Place, Parts]] | None:
    """The settings that hold the long address there, each with what it was and what it is to be.

    ``new`` are the settings that go over by name, ``places`` those that there are. Empty where
    they hold the address already; nothing where that decoder has no room for all of it.
    """
    wanted, there = address_bits(old), address_bits(new)
    missing = [slot for slot in _NEEDED if there.get(slot, (None,))[0] != wanted[slot][0]]
    found: dict[str, tuple[At, Place, Parts]] = {}
    for slot in missing:
        name = next((name for name in places if _holds(name, places[name], slot)), None)
        if name is None:
            return None
        place, was = places[name], old[wanted[slot][1]]
        values = {one: value for one, (value, _) in wanted.items()}
        parts = place.parts(values)
        if parts is None:
            return None
        found[name] = was, place, parts
    return found


def _holds(name: str, place: Place, slot: Slot) -> bool:
    """Whether a setting is this part of the long address and nothing else."""
    if not _is_address(name, slot):
        return False
    owned = dict(zip((field.slot for field in place.fields), owned_bits(place), strict=True))
    return slot in owned and all(mask == _NEEDED.get(one) for one, mask in owned.items())


def _is_address(name: str, slot: Slot) -> bool:
    return group_of(name) == _GROUPS[slot]
