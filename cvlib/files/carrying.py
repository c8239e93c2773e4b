"""Carry and compare saved locos with the profiles of a store, and keep the result in the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from cvlib.engine.carry.carry_loco import (
    DecoderCarried,
    Wish,
    carry_decoder,
    is_kept_already,
    kept_slots,
    saved_slots,
    setup_in,
    wanted_decoder,
)
from cvlib.engine.carry.compose_bytes import Composed, Whence
from cvlib.engine.carry.write_sheet import Setup
from cvlib.engine.compare.compare import Compared, Member, compare
from cvlib.engine.compare.compare_loco import member_of
from cvlib.engine.compare.match import Matched, match
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import problem
from cvlib.files.store import Store
from cvlib.model.cv import bits_text
from cvlib.model.loco import Loco


def carry_loco(store: Store, loco: Loco, wish: Wish) -> DecoderCarried:
    """One decoder of a loco carried to the firmware or decoder type wished for.

    Raises :class:`~cvlib.errors.InputError` for names that are not known, and
    :class:`~cvlib.errors.UndecidedError` where firmware is not known.
    """
    decoder = wanted_decoder(loco, wish)
    resolver = Resolver(store.profile(decoder.profile))
    name = wish.to_profile or decoder.profile
    target = resolver if name == decoder.profile else Resolver(store.profile(name))
    return carry_decoder(loco, decoder, resolver, target, wish)


def keep_carried(path: Path, result: DecoderCarried, day: date) -> DecoderCarried:
    """Write the carried values into the loco file, unless it holds them already.

    The outcome says which. The former state goes to the history of the file. Raises InputError,
    with the file as it was, where it cannot be written.
    """
    from cvlib.files.edit_loco import NewState, NewValue, carry_in_file

    if is_kept_already(result):
        return replace(result, is_written=False)
    values = tuple(
        NewValue(slot, held.value, _remark(result, held))
        for slot, held in sorted(saved_slots(result).items(), key=lambda item: item[0].order)
    )
    versions = dict.fromkeys(str(v) for v in result.carried.origin.saved.saved_for.values())
    profile = f"{result.profile.id} " if result.profile.id != result.goal.id else ""
    carry_in_file(
        path,
        NewState(
            _number(result),
            result.goal.id,
            str(result.carried.goal.version),
            result.wish.saved_for or result.decoder.firmware or str(result.carried.origin.version),
            values,
            kept_slots(result),
            f"carried from {profile}{', '.join(versions)}",
            day,
            result.carried.goal.options,
            bool(result.wish.saved_for),
        ),
        result.loco.digest,
    )
    return replace(result, is_written=True)


def _number(result: DecoderCarried) -> int:
    roles = [one.role for one in result.loco.decoders]
    return roles.index(result.decoder.role)


def _remark(result: DecoderCarried, held: Composed) -> str:
    """Where the value of a CV was before, where it was elsewhere, and what of it nobody knows."""
    said: list[str] = []
    if held.unread:
        said.append(f"bits {bits_text(held.unread)} are not known until it is read")
    for name in held.settings(Whence.CARRIED):
        outcome = result.carried.setting(name)
        old = getattr(outcome, "old", None)
        if outcome is None or outcome.kind == "same" or old is None:
            continue
        slots = ", ".join(dict.fromkeys(f"CV {field.slot.typed}" for field in old.place.fields))
        raw = ", ".join(map(str, old.parts))
        said.append(f"{name}, was {slots} = {raw} at {old.firmware}")
    return "; ".join(said) if len(said) < 4 else f"{len(said)} settings, see the history"


def compare_locos(
    store: Store,
    locos: Sequence[Loco],
    roles: Sequence[str] = (),
    said: Wish | None = None,
    *,
    everything: bool = False,
) -> Compared:
    """Two or more locos side by side; of a loco with several decoders the role says which one.

    ``said`` holds what is said of all of them: profile, saved-for and state.
    """
    return compare(members(store, locos, roles, said), everything=everything)


def match_locos(
    store: Store, loco: Loco, model: Loco, roles: Sequence[str] = (), said: Wish | None = None
) -> Matched:
    """The values that bring a loco closest to a model loco."""
    member, other = members(store, (loco, model), roles, said)
    return match(member, other)


def match_setup(loco: Loco, roles: Sequence[str], setup: Setup) -> Setup:
    """How the decoder that is matched is reached, with what its loco says of other decoders."""
    setup = setup_in(loco, wanted_decoder(loco, Wish(role=_role(loco, roles))), setup)
    return replace(setup, usual_address=loco.address)


def members(
    store: Store, locos: Sequence[Loco], roles: Sequence[str], said: Wish | None = None
) -> list[Member]:
    """The locos with their values at the installed firmware, each under a name of its own."""
    if len(locos) < 2:
        raise problem("two locos or more are needed.", advice="Name another loco file.")
    there = {one.role for loco in locos for one in loco.decoders if one.role}
    for role in roles:
        if role not in there:
            known = ", ".join(f'"{one}"' for one in sorted(there))
            advice = f"Their roles are {known}." if known else "Their decoders have no roles."
            raise problem(f'no decoder of these locos has the role "{role}".', advice=advice)
    found: list[Member] = []
    for loco in locos:
        decoder = wanted_decoder(loco, replace(said or Wish(), role=_role(loco, roles)))
        made = member_of(loco, decoder, Resolver(store.profile(decoder.profile)), said)
        names = [one.name for one in found]
        name = made.name if made.name not in names else f"{made.name} ({len(found) + 1})"
        found.append(replace(made, name=name))
    return found


def _role(loco: Loco, roles: Sequence[str]) -> str:
    """The role that is asked for and that this loco has; none where it has one decoder."""
    if len(loco.decoders) == 1:
        return ""
    return next((role for role in roles if any(one.role == role for one in loco.decoders)), "")
