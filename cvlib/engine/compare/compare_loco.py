"""Saved locos as members of a comparison, each at the firmware that is installed in it."""

from __future__ import annotations

from cvlib.engine.account.claims import Layout
from cvlib.engine.carry.carry import Goal, carry
from cvlib.engine.carry.carry_loco import Wish, origin_of
from cvlib.engine.compare.compare import Member
from cvlib.engine.known.identity import versions_answering
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, UndecidedError
from cvlib.model.loco import Loco, SavedDecoder
from cvlib.model.versions import FirmwareVersion


def member_of(
    loco: Loco, decoder: SavedDecoder, resolver: Resolver, said: Wish | None = None
) -> Member:
    """A loco as it runs: the values that its installed firmware acts on.

    ``said`` is what the person says of all the locos compared. Values saved for other firmware
    count as far as they can be carried to the installed one.
    Raises :class:`~cvlib.errors.UndecidedError` where the installed firmware is not known, or where
    values that nobody dated may be older and then mean something else.
    """
    version = _installed(loco, decoder, resolver)
    origin = origin_of(loco, decoder, resolver, said or Wish())
    saved = origin.saved
    if all(held == version for held in saved.saved_for.values()):
        values = dict(saved.values)
    else:
        goal = Goal(resolver, version, dict(saved.values), False, decoder.options, {})
        image = carry(origin, goal).image
        values = {slot: v for slot, v in saved.values.items() if saved.saved_for[slot] == version}
        sure = {slot: held for slot, held in image.items() if held.carries() and not held.unread}
        values |= {slot: held.value for slot, held in sure.items()}
    return Member(loco.name, Layout(resolver, version, values, decoder.options))


def _installed(loco: Loco, decoder: SavedDecoder, resolver: Resolver) -> FirmwareVersion:
    profile = resolver.profile
    if decoder.firmware:
        return one_firmware(resolver, decoder.firmware)
    found = versions_answering(profile, {s: held.value for s, held in decoder.values.items()})
    if len(found) == 1:
        return found[0]
    known = ", ".join(str(release.version) for release in profile.releases)
    raise UndecidedError(
        Fault(
            f"{loco.file or loco.name}: the installed firmware is not known.",
            advice=f"Note it in the loco file. Known of {profile.name}: {known}.",
        )
    )
