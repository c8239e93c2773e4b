"""What a check leaves in a loco file, and what has become of it since."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from cvlib.engine.account.decide import Decided, Ground
from cvlib.engine.account.meaning import MeaningChange, meanings
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.engine.change.stale import Rechecked
from cvlib.engine.known.digest import behaviour_digest
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import Slot
from cvlib.model.loco import CheckedValue, LastCheck, Loco, SavedDecoder, SavedValue
from cvlib.model.profile import Profile


@dataclass(frozen=True, slots=True)
class Unrecorded:
    """Why a check leaves nothing behind."""

    reason: str
    advice: str


def record_of(checked: DecoderChecked, day: date) -> LastCheck | Unrecorded:
    """What the check of a decoder leaves behind: the profile's digest and the values' meanings."""
    outcome = checked.outcome
    if not isinstance(outcome, Decided) or outcome.ground is Ground.ALIKE:
        return Unrecorded(
            "the installed firmware is not known.",
            'Write firmware = "…" in the file, then the check can be recorded.',
        )
    resolver = Resolver(checked.profile)
    return LastCheck(
        day.isoformat(),
        checked.profile.id,
        str(outcome.checked.firmware),
        behaviour_digest(resolver),
        {
            slot: CheckedValue(held.value, held.digest, held.words)
            for slot, held in meanings(outcome.checked).items()
        },
    )


def rechecked(
    loco: Loco,
    decoder: SavedDecoder,
    last: LastCheck,
    profile: Profile,
    check: Callable[[SavedDecoder], DecoderChecked],
) -> Rechecked:
    """A decoder held against its last check; ``profile`` is that of the check, as it is now.

    The values that were recorded are checked again, not those that the file holds by now: so only
    the definitions can make a difference. What was edited in the file since is told apart.
    """
    edited = tuple(sorted(_edited(decoder, last), key=lambda slot: slot.order))
    firmware = decoder.firmware
    is_same = behaviour_digest(Resolver(profile)) == last.digest
    other_profile = "" if decoder.profile in ("", last.profile) else decoder.profile
    return Rechecked(
        loco,
        decoder,
        last,
        () if is_same else _changes(decoder, last, check),
        edited,
        "" if other_profile or not firmware or _is_same(profile, firmware, last) else firmware,
        other_profile,
        is_same,
    )


def _is_same(profile: Profile, firmware: str, last: LastCheck) -> bool:
    return profile.version(firmware) == profile.version(last.firmware)


def _changes(
    decoder: SavedDecoder, last: LastCheck, check: Callable[[SavedDecoder], DecoderChecked]
) -> tuple[MeaningChange, ...]:
    values = {slot: _as_checked(decoder, slot, held) for slot, held in last.values.items()}
    again = check(replace(decoder, values=values, firmware=last.firmware, profile=last.profile))
    if again.checked is None:
        return ()
    return tuple(
        MeaningChange(slot, held.value, last.values[slot].means, held.words)
        for slot, held in meanings(again.checked).items()
        if held.digest != last.values[slot].digest
    )


def _as_checked(decoder: SavedDecoder, slot: Slot, held: CheckedValue) -> SavedValue:
    """The value as it was checked; what it was saved for stands beside the value in the file."""
    saved = decoder.values.get(slot)
    return replace(saved, value=held.value) if saved else SavedValue(slot, held.value)


def _edited(decoder: SavedDecoder, last: LastCheck) -> set[Slot]:
    now: Mapping[Slot, int] = {slot: held.value for slot, held in decoder.values.items()}
    then = {slot: held.value for slot, held in last.values.items()}
    return {slot for slot in now.keys() | then.keys() if now.get(slot) != then.get(slot)}
