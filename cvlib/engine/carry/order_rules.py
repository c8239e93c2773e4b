"""The rules of writing CVs in a safe order, each with the source that it comes from.

Rules of kind ``standard`` are from the published standards, those of kind ``trade`` are common
practice with no source.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class OrderRule:
    """One rule of writing CVs."""

    id: str
    text: str
    source: str


_ROWS = (
    OrderRule(
        "prove-first",
        "Before the first write manufacturer and version are read, so that no other decoder gets "
        "these values.",
        PRACTICE,
    ),
    OrderRule(
        "short-address-side-effect",
        "Writing CV 1 clears CV 29 bit 5 (extended address) and CV 19 (consist address), so CV 1 "
        "is written before CV 29 and CV 19.",
        "NMRA S-9.2.3 (2012-07), section E, address-only mode",
    ),
    OrderRule(
        "short-address-maker-choice",
        "A maker may choose whether writing CV 1 clears CV 29 bit 5, and must say so in the "
        "handbook.",
        "RCN-225 (2025-07-27), CV 29 bit 5",
    ),
    OrderRule(
        "page-before-paged",
        "CVs 257-512 are reached through the page chosen by CV 31 and CV 32; both are written "
        "before any paged CV.",
        "NMRA S-9.2.2 (2012-07), CVs 31-32; RCN-225 (2025-07-27)",
    ),
    OrderRule(
        "page-restored",
        "After the paged CVs CV 31 and CV 32 get back the values they are to have.",
        PRACTICE,
    ),
    OrderRule(
        "lock-before-write",
        "With several decoders at one address, CV 15 is set to the wanted decoder's CV 16 value "
        "before its CVs are written; the others ignore the write.",
        "NMRA S-9.2.2 (2012-07), CVs 15-16",
    ),
    OrderRule(
        "lock-always-writable",
        "CV 15 can be written whatever CV 16 holds; 255 in CV 15 unlocks every decoder; 240-255 "
        "are commands and are not stored.",
        "RCN-225 (2025-07-27), CVs 15-16",
    ),
    OrderRule(
        "reset-by-cv8",
        "Writing 8 into CV 8 in programming mode resets every CV to its factory value.",
        "RCN-226 (2014-09-12), section 2.1",
    ),
    OrderRule(
        "acknowledge",
        "A decoder acknowledges in service mode by drawing at least 60 mA more for 6 ms +/- 1 ms; "
        "it may do so with its motor.",
        "NMRA S-9.2.3 (2012-07), section D",
    ),
    OrderRule(
        "service-mode-energy",
        "The programming track is a low-energy place: more than 250 mA for longer than 100 ms is "
        "a fault.",
        "NMRA S-9.2.3 (2012-07), section B",
    ),
    OrderRule(
        "main-write-twice",
        "A long-form CV access on the main needs two identical packets before the decoder obeys.",
        "NMRA S-9.2.1 (2012-07), long form",
    ),
    OrderRule(
        "consist-address-no-cv-access",
        "A decoder does not obey the long-form CV access at its consist address.",
        "NMRA S-9.2.1 (2012-07), long form",
    ),
    OrderRule(
        "no-motor-no-acknowledge",
        "A motor decoder used without a motor draws too little to acknowledge, so it cannot be "
        "read on the programming track; a load or a sister decoder at the same address makes it "
        "answer, or the writes are made blind.",
        PRACTICE,
    ),
    OrderRule(
        "shared-address-writes-both",
        "Two decoders at one address both take a write on the main unless the decoder lock is "
        "used or one is unplugged.",
        PRACTICE,
    ),
    OrderRule(
        "read-back",
        "After a write every value is read back where the decoder can answer.",
        PRACTICE,
    ),
    OrderRule(
        "unknown-bits",
        "Bits of a CV that nobody knows are read first and kept; a decoder that cannot be read "
        "gets single bits instead of the whole CV.",
        PRACTICE,
    ),
    OrderRule(
        "address-last",
        "On the main the address CVs are written last, because the decoder stops answering at "
        "its old address.",
        PRACTICE,
    ),
    OrderRule(
        "note-before-reset",
        "Before a factory reset or a firmware update every CV is read and kept, because both can "
        "lose them.",
        PRACTICE,
    ),
)

RULES: dict[str, OrderRule] = {rule.id: rule for rule in _ROWS}
"""Every rule by its id, in the order in which a sheet lists them."""
