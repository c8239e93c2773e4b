"""The words of a write sheet: cautions, deeds, and why each value is written."""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.write_sheet import (
    Act,
    Caution,
    Matter,
    Purpose,
    Read,
    Reason,
    Track,
    Write,
)
from cvlib.model.cv import WHOLE, Slot, bit_words, bits_of
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
    Caution.STOPPING: "Stopping can fail: a wrong value, a dirty rail, a heavy train. Test it "
    "with free track behind the place where the loco is to stop, and nothing to run into.",
    Caution.SHARED: "Two decoders at one address: both take the writes, unless the lock chooses "
    "one (their CV 16 values must differ, as read from each alone) or the other is unplugged.",
    Caution.RESET: "A factory reset loses everything that is not on this sheet. Read and keep "
    "every CV first. Outputs may switch on by it, and the decoder answers at its factory address, "
    "mostly 3: unplug smoke units and coils, and keep locos of that address off the track.",
    Caution.UPDATE: "An update can lose or change values: keep a list of every CV from before it, "
    "and follow the maker's handbook for the update itself, with this decoder alone on the track: "
    "others take part in it. Where CVs changed by it, use a sheet made with --all.",
    Caution.MOTOR: "Wrong motor values can overheat motor and decoder. Feel both after the first "
    "minutes, and switch off when something gets hot.",
    Caution.CURRENT: "A limit of a current that is too high protects nothing: wires, motor and "
    "decoder burn. Never set more than the maker allows for the weakest part.",
    Caution.SMOKE: "A smoke unit gets hot and must not run dry. Empty or unplug it until the "
    "values are written and tried.",
    Caution.COILS: "Coils of turnouts and couplers burn when they stay on. Unplug them until the "
    "values are written and tried.",
    Caution.UNMARKED: "Of some settings on this sheet nobody has noted what they can do. Take them "
    "to be dangerous: unplug smoke units and coils, and try one after the other.",
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
    Act.CHECK_DECODER: "Look whether this is {decoder}: label, handbook, behaviour. Else stop.",
    Act.LOCK_UNKNOWN: "If this decoder was ever given a lock number (CV 16), write that number "
    "into CV 15 first; else it ignores all that follows.",
    Act.CHECK_VALUES: "Look at each line whether the decoder does what it says.",
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

_ONLY_WHERE: dict[Reason, str] = {
    Reason.UNLOCK: "CV 15 holds neither the number of CV 16 nor 255",
    Reason.LOCK: "it was opened above",
}

_WHENCE: dict[Whence, str] = {
    Whence.SAVED: "as saved",
    Whence.CLEARED: "cleared of what another setting left",
    Whence.DEFAULT: "as they are",
    Whence.ZERO: "as they are",
}

MATTERS: dict[Matter, str] = {
    Matter.DECIDE: "To decide: {words}",
    Matter.BY_HAND: "By hand: {words}",
    Matter.REFUSED: "Not written: {words}",
    Matter.CLAMPED: "Clamped, and holds it already: {words}",
    Matter.UNREAD: "Not written, because nobody knows the other bits of this CV: {words}",
    Matter.CHANGED: "To decide: {words}; never saved, and the CV meant something else before",
    Matter.ADDRESS: "The long address has no place in this decoder; it answers at its short one",
}

TRACKS: dict[Track, str] = {
    Track.PROGRAMMING: "on the programming track",
    Track.MAIN: "on the main",
}


def why_written(
    write: Write,
    said: Mapping[str, Said],
    contested: tuple[str, ...],
    notes: Mapping[str, str],
) -> str:
    """Why a CV gets its value; ``said`` holds what each setting is called and its new value."""
    if write.reason is Reason.VALUE and write.composed is not None:
        words = composed_words(write.composed, said, notes)
    else:
        words = _REASONS[write.reason]
    if write.if_locked:
        words += f"; only where {_ONLY_WHERE[write.reason]}"
    if write.from_step is not None:
        words += f"; the value read in step {write.from_step}{_changes(write)}"
    if write.moves_to is not None:
        words += f"; from now on the decoder answers at {write.moves_to}"
    if contested:
        words += f"; may also be {listed(contested, 3, 'or')}"
    return words


def _changes(write: Write) -> str:
    """What becomes of a value that was read, bit by bit."""
    if write.value is None or write.mask == WHOLE:
        return ""
    on, off = bits_of(write.mask & write.value), bits_of(write.mask & ~write.value)
    steps = [f"add {1 << bit} if bit {bit} is clear" for bit in on]
    steps += [f"take {1 << bit} away if bit {bit} is set" for bit in off]
    return f": {listed(steps)}"


def why_read(read: Read, said: Mapping[str, Said], notes: Mapping[str, str]) -> str:
    """Why a CV is read, and what to do with the answer."""
    match read.purpose:
        case Purpose.PROVE if read.expected is not None:
            mask = read.expected.mask
            bits = "" if mask == WHOLE else f" in {bit_words(mask)}"
            return f"must be {read.expected}{bits}, else stop: another decoder or firmware"
        case Purpose.LOCK if read.expected is not None:
            key = read.expected
            return f"the lock; if it is not {key}, write {key} first, and what it was at the end"
        case Purpose.LOCK:
            return "the lock; note what it holds"
        case Purpose.CHANGED:
            words = notes.get(read.setting) or title_of(said, read.setting)
            return f"never saved, and meant something else before; now {words}: set what you want"
        case _:
            return "note what it holds; it is needed later"


def composed_words(composed: Composed, said: Mapping[str, Said], notes: Mapping[str, str]) -> str:
    """What a CV is made of: each setting with its value, and where the other bits come from."""
    parts: list[str] = []
    for bits in composed.parts:
        if bits.whence is Whence.CARRIED:
            parts.append(_setting(composed.slot, bits, said))
            if bits.setting in notes:
                parts.append(notes[bits.setting])
        elif bits.whence is Whence.OFFERED:
            parts.append(f"{_setting(composed.slot, bits, said)} (factory value)")
    rest: dict[Whence, int] = {}
    for bits in composed.parts:
        if bits.whence not in (Whence.CARRIED, Whence.OFFERED):
            rest[bits.whence] = rest.get(bits.whence, 0) | bits.mask
    parts += [f"{bit_words(mask)} {_WHENCE[whence]}" for whence, mask in rest.items()]
    return "; ".join(parts)


def title_of(said: Mapping[str, Said], setting: str) -> str:
    """What a setting is called; its id where no words for it are at hand."""
    held = said.get(setting)
    return held.title if held else setting


def _setting(slot: Slot, bits: BitsFrom, said: Mapping[str, Said]) -> str:
    held = said.get(bits.setting)
    words = held.at(slot) if held else bits.setting
    return words if bits.mask == WHOLE else f"{bit_words(bits.mask)} {words}"
