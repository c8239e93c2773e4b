"""The words of a write sheet: cautions, deeds, and why each value is written."""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.write_sheet import Act, Caution, Reason, Track, Write
from cvlib.model.cv import WHOLE, Slot, bits_text
from cvlib.render.phrases import listed
from cvlib.render.short_values import Said

CAUTIONS: dict[Caution, str] = {
    Caution.HANDBOOK: "The maker's handbook, the rules where you live and licensed people come "
    "before this sheet. Mains supplies stay closed.",
    Caution.PROGRAMMING_TRACK: "Use a programming track with limited current, and put this one "
    "decoder on it and nothing else: every decoder on it takes the writes.",
    Caution.TWITCH: "The decoder may answer with its motor, and the loco twitch. Give it room.",
    Caution.BLIND: "This decoder cannot answer, so nothing is read back. Write each line twice if "
    "in doubt, and try what it does.",
    Caution.MAIN_TRACK: "Nothing else on the main may have the addresses used here; best take "
    "other locos off the track.",
    Caution.CONSIST: "The decoder is in a consist. Address it at its own address: at the consist "
    "address it obeys no CV access.",
    Caution.MOVES: "After a write the loco may start by itself, faster than before, or the other "
    "way. Try it slowly, with clear track and a hand near the stop button.",
    Caution.SHARED: "Two decoders at one address: both take the writes, unless the lock chooses "
    "one (their CV 16 values must differ, as read from each alone) or the other is unplugged.",
    Caution.RESET: "A factory reset loses everything that is not on this sheet. Read and keep "
    "every CV first.",
    Caution.UPDATE: "An update can lose or change values: keep a list of every CV from before it, "
    "and follow the maker's handbook for the update itself. Where CVs changed by it, use a sheet "
    "made with --all.",
    Caution.MOTOR: "Wrong motor values can overheat motor and decoder. Feel both after the first "
    "minutes, and switch off when something gets hot.",
    Caution.SMOKE: "A smoke unit gets hot and must not run dry. Empty or unplug it until the "
    "values are written and tried.",
    Caution.COILS: "Coils of turnouts and couplers burn when they stay on. Unplug them until the "
    "values are written and tried.",
    Caution.SHORT_ADDRESS: "Makers differ in whether writing CV 1 switches the extended address "
    "off; the handbook says what this decoder does.",
    Caution.CONTESTED: "A CV on this sheet may belong to a setting whose place nobody knows. It is "
    "marked; note its value before you write it.",
    Caution.DOUBTFUL: "The place of some settings is not proved for this firmware. Try one after "
    "the other.",
}

ACTS: dict[Act, str] = {
    Act.KEEP_ALL: "Read every CV and keep the list.",
    Act.UNPLUG_OTHER: "Unplug the other decoder, or take it off the track.",
    Act.WAIT_FOR_RESET: "Wait until the reset is done, as the handbook says.",
    Act.POWER_CYCLE: "Switch the track power off, wait ten seconds, switch it on.",
    Act.PAGE_STAYS: "CV 31 and CV 32 keep the last page: what they held before is not known.",
    Act.CONFIGURATION_UNKNOWN: "The write of CV 1 that follows ends a consist and switches the "
    "extended address off. Set by hand what is not written again below: CV 19, or CV 29 bit 5.",
    Act.TRY: "Try what was changed, one thing after the other; run a loco slowly at first.",
}

_REASONS: dict[Reason, str] = {
    Reason.UNLOCK: "opens the lock of this decoder alone",
    Reason.LOCK: "the lock as it was",
    Reason.PAGE: "chooses the index page",
    Reason.PAGE_BACK: "index page as before",
    Reason.RESET: "factory reset",
    Reason.AGAIN: "again as before, because writing CV 1 clears part of it",
    Reason.SHORT_FOR_NOW: "extended address off while the addresses change",
}

_WHENCE: dict[Whence, str] = {
    Whence.SAVED: "as saved",
    Whence.DEFAULT: "factory value",
    Whence.ZERO: "0, nothing known",
}

TRACKS: dict[Track, str] = {
    Track.PROGRAMMING: "on the programming track",
    Track.MAIN: "on the main",
}


def why_written(write: Write, said: Mapping[str, Said], contested: tuple[str, ...] = ()) -> str:
    """Why a CV gets its value; ``said`` holds what each setting is called and its new value."""
    if write.reason is Reason.VALUE and write.composed is not None:
        words = composed_words(write.composed, said)
    else:
        words = _REASONS[write.reason]
    if write.from_step is not None:
        words += f"; the value read in step {write.from_step}"
    if write.moves_to is not None:
        words += f"; from now on the decoder answers at {write.moves_to}"
    if contested:
        words += f"; may also be {listed(contested, 3, 'or')}"
    return words


def composed_words(composed: Composed, said: Mapping[str, Said]) -> str:
    """What a CV is made of: each setting with its value, and where the other bits come from."""
    parts: list[str] = []
    for bits in composed.parts:
        if bits.whence is Whence.CARRIED:
            parts.append(_setting(composed.slot, bits, said))
        elif bits.whence is Whence.OFFERED:
            parts.append(f"{_setting(composed.slot, bits, said)} (factory value)")
    rest: dict[Whence, int] = {}
    for bits in composed.parts:
        if bits.whence not in (Whence.CARRIED, Whence.OFFERED):
            rest[bits.whence] = rest.get(bits.whence, 0) | bits.mask
    parts += [f"{_bits(mask)} {_WHENCE[whence]}" for whence, mask in rest.items()]
    return "; ".join(parts)


def _setting(slot: Slot, bits: BitsFrom, said: Mapping[str, Said]) -> str:
    held = said.get(bits.setting)
    words = held.at(slot) if held else bits.setting
    return words if bits.mask == WHOLE else f"{_bits(bits.mask)} {words}"


def _bits(mask: int) -> str:
    return f"bit{'s' if mask.bit_count() > 1 else ''} {bits_text(mask)}"
