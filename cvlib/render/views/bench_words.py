"""What is said at the bench: answers, facts asked for, hints, and how a read is made."""

from __future__ import annotations

from cvlib.engine.bench.expect import NO_ANSWER, members
from cvlib.engine.bench.next_read import Aim
from cvlib.engine.bench.situation import Fact, Hint
from cvlib.model.cv import Slot, spans_of

FACTS: dict[Fact, tuple[str, str]] = {
    Fact.TRACK: (
        "Where does the decoder stand: on the programming track, or on the main",
        "programming",
    ),
    Fact.LOAD: (
        "Is its motor connected, or a lamp at an output of a decoder without a motor",
        "yes",
    ),
    Fact.BIDIRECTIONAL: (
        "Does the main have bidirectional communication, and is it switched on in the decoder",
        "no",
    ),
    Fact.ALONE: ("Is it the only decoder in the loco and on this track", "yes"),
    Fact.CHOSEN: (
        "Is the other one unplugged now, or locked out by CVs 15 and 16",
        "no",
    ),
    Fact.RESET: (
        "Was the decoder reset to its factory values, with nothing written since",
        "no",
    ),
    Fact.LEFTOVER: (
        "What became of the values when its firmware was last changed: reset to the factory "
        "values, not-reset, or never-updated",
        "unknown",
    ),
}
"""Each fact as a question, and the usual answer."""

HINTS: dict[Hint, str] = {
    Hint.LEFTOVERS: "A value may be left over from before an update, so it tells that there is a "
    "CV, and not what the CV does. If the decoder was never updated, or reset after it, say so "
    "with --state. Else note every value, reset the decoder and read again.",
    Hint.CONNECT_MOTOR: "A motor decoder without a motor draws too little to acknowledge, so on "
    "the programming track it answers nothing. Connect the motor, or a load in its place that the "
    "decoder's handbook allows (common practice, no source).",
    Hint.CONNECT_LAMP: "A decoder without a motor acknowledges with what hangs on its outputs. "
    "Connect a lamp or the load that its handbook names (common practice, no source).",
    Hint.CONNECT_LOAD: "A decoder acknowledges by drawing current: with its motor, or with a lamp "
    "at an output. Without either it answers nothing (NMRA S-9.2.3, July 2012, section D).",
    Hint.TO_PROGRAMMING_TRACK: "On the main an answer comes back only with bidirectional "
    "communication. Put the loco on the programming track to read it.",
    Hint.UNPLUG_OTHER: "Two decoders on one track or at one address answer at the same time, and "
    "what comes back belongs to neither. Unplug one of them (common practice, no source).",
    Hint.USE_LOCK: "Where neither can be unplugged, write into CV 15 the value that CV 16 of the "
    "wanted decoder holds: the others then ignore it (NMRA S-9.2.2, July 2012, CVs 15-16). The "
    "values in CV 16 must differ and must have been set beforehand.",
    Hint.NOTHING_ANSWERS: "Nothing was answered at all. More likely than a decoder without these "
    "CVs is one that cannot answer where it stands.",
    Hint.ANSWERS_DIFFER: "One CV answered differently when it was read again. Clean the contacts "
    "and read it a third time. Two decoders that answer at once look like this too: unplug one.",
    Hint.TWO_SUSPECTED: "No single decoder answers like this. Is there a second one on the track, "
    "such as a sound or function decoder in the same loco? Unplug one and read again.",
    Hint.OTHER_DECODER: "An answer does not fit this decoder type and firmware. Read it once more. "
    "If it stays, this is another decoder or firmware: cvlib identify finds which.",
    Hint.PAGE_NOT_TOLD: "CVs 257 to 512 lie on pages that CV 31 and CV 32 choose; a value without "
    "its page says nothing. Write CV, page and value as 261@0/255=42, or give CV 31 and CV 32 "
    "first (RCN-225, 2025-07-27).",
    Hint.ONLY_TESTS: "As things stand nothing can be read; only a test of what the decoder does "
    "will tell.",
}

AIMS: dict[Aim, str] = {
    Aim.DECODER: "tells decoders apart",
    Aim.FIRMWARE: "tells releases apart",
    Aim.SETTING: "tells where settings live",
    Aim.PRODUCT: "makes sure of the one that is left",
    Aim.CONTROL: "shows whether the decoder answers at all",
    Aim.CONFIRM: "read it once more: the first answer may have been misread",
}


def answer_words(answer: int) -> str:
    """One answer: its value, or that there was none."""
    return "no answer" if answer == NO_ANSWER else str(answer)


def answers_words(answers: int, most: int = 3) -> str:
    """A set of answers in words, cut short where it has many parts.

    >>> answers_words(0b1111 | 1 << 9)
    '0-3 or 9'
    >>> answers_words(1 << 256)
    'no answer'
    """
    spans = spans_of(value for value in members(answers) if value != NO_ANSWER)
    words = [str(low) if low == high else f"{low}-{high}" for low, high in spans]
    if len(words) > most:
        words = [*words[: most - 1], "other values"]
    if answers >> NO_ANSWER & 1:
        words.append("no answer")
    return " or ".join(words) if len(words) < 3 else f"{', '.join(words[:-1])} or {words[-1]}"


def page_step(slot: Slot) -> str:
    """What to write before a CV on an index page is read; empty for any other CV."""
    if slot.page is None:
        return ""
    return (
        f"First note CVs 31 and 32, then write CV 31 = {slot.page.high} and "
        f"CV 32 = {slot.page.low}; put both back afterwards."
    )


def share_words(chance: float) -> str:
    """A likelihood in words that promise no more than is known.

    >>> share_words(0.9996), share_words(0.42), share_words(0.0004)
    ('over 99 %', '42 %', 'under 1 %')
    """
    if chance > 0.99:
        return "over 99 %"
    if chance < 0.01:
        return "under 1 %"
    return f"{round(chance * 100)} %"
