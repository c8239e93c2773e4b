"""The firmware that is offered where nobody noted it: which, why, and how to take it."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.bench.identify import Candidate
from cvlib.engine.bench.offer import Offer
from cvlib.errors import InputError, problem
from cvlib.model.loco import Loco
from cvlib.render.phrases import firmware_words
from cvlib.render.view import Block, Paragraph, Piece, Role, plain
from cvlib.render.views.bench_words import share_words
from cvlib.render.views.identify import firmware_of, reason_words
from cvlib.render.views.identify_data import evidence_data

LIKELY = 0.5
"""An offer that is less likely than all others together is not called the most likely."""

Data = dict[str, object]


def offered(offer: Offer) -> Iterator[Block]:
    """What the values were most likely saved for, why, and the command that takes it."""
    yield from weighed(offer)
    if offer.other is not None:
        yield Paragraph(plain(_other(offer.best, offer.other)), indent=2, hang=2)
    for words in _ways(offer):
        yield Paragraph(plain(f"→ {words}"), hang=2)


def weighed(offer: Offer, indent: int = 0) -> Iterator[Block]:
    """What the values were most likely saved for, and which of them speak for it."""
    before, after = _said(offer)
    said = (Piece(before), Piece(firmware_of(offer.best), Role.STRONG), Piece(after))
    yield Paragraph(said, indent=indent)
    for words in _reasons(offer):
        yield Paragraph(plain(words), indent=indent + 2, hang=2)


def _said(offer: Offer) -> tuple[str, str]:
    """How sure the offer is, in what stands before and after the firmware."""
    share = share_words(offer.best.chance)
    if offer.is_sure:
        return "By the values themselves they were saved for ", f" ({share})."
    if offer.best.chance >= LIKELY:
        return "By the values themselves they were most likely saved for ", f" ({share})."
    return "The values themselves do not decide it; the likeliest is ", f" ({share})."


def _reasons(offer: Offer) -> Iterator[str]:
    titles = offer.titles or {}
    if offer.rival and offer.reasons:
        yield f"What tells it from firmware {firmware_words(offer.rival)}:"
    for one in offer.reasons:
        yield f"- {reason_words(one, titles.get(one.slot, ()))}"
    if not offer.reasons and not offer.is_sure:
        yield "No single value tells it from other firmware."


def _other(best: Candidate, other: Candidate) -> str:
    name = firmware_of(other)
    if other.profile != best.profile:
        name = f"{other.profile}, {name}"
    return f"It could also be {name} ({share_words(other.chance)})."


def _ways(offer: Offer) -> Iterator[str]:
    if not offer.words:
        yield "No version of that firmware is known by name, so read the decoder before you check."
        return
    yield f"If the decoder still has that firmware: {command(offer)}"
    yield (
        "If it was updated since: give what it has now with --firmware, and add "
        f"--saved-for {offer.firmware}."
    )


def command(offer: Offer) -> str:
    """The command that takes an offer, as it is typed."""
    return " ".join(["cvlib check", *map(_typed, offer.words)])


def _typed(word: str) -> str:
    return f'"{word}"' if " " in word else word


def no_profile(loco: Loco, offer: Offer | None) -> InputError:
    """The fault of a loco that names no profile, with what its values were likely saved for."""
    what = f"{'' if loco.file else f'{loco.name}: '}no decoder profile is named."
    if offer is None:
        return problem(
            what,
            advice='Give one with --profile, such as "--profile ferrow/lark-8"; '
            '"cvlib identify" with the same file says whether any fits.',
        )
    best, titles = offer.best, offer.titles or {}
    reasons = [reason_words(one, titles.get(one.slot, ())).rstrip(".") for one in offer.reasons]
    how = "By its values it is "
    if best.chance < LIKELY:
        how = "Its values do not decide it; the likeliest is "
    elif not offer.is_sure:
        how = "By its values it is most likely "
    said = f"{how}{best.profile}, {firmware_of(best)} ({share_words(best.chance)}). "
    why = f"Why: {'; '.join(reasons)}. " if reasons else ""
    take = f"Take it with: {command(offer)}" if offer.words else ""
    return problem(what, advice=f"{said}{why}{take}".strip())


def offer_data(offer: Offer | None) -> Data | None:
    """An offer as data for programs; nothing where there is none."""
    if offer is None:
        return None
    best, titles = offer.best, offer.titles or {}
    return {
        "profile": best.profile,
        "generation": best.stretch,
        "known": best.known.value,
        "releases": list(best.releases),
        "firmware": offer.firmware or None,
        "chance": round(best.chance, 6),
        "sure": offer.is_sure,
        "told_from": offer.rival or None,
        "reasons": [evidence_data(one, titles.get(one.slot, ())) for one in offer.reasons],
        "command": command(offer) if offer.words else None,
    }
