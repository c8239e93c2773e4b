"""What is offered for saved values of which nobody noted the firmware, with the reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cvlib.engine.bench.evidence import Evidence, Ground, evidence
from cvlib.engine.bench.identify import Candidate, Identified, Verdict
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.saved_for import SAVED
from cvlib.model.cv import Slot

MOST_REASONS = 3
"""Reasons told for an offer, the strongest first."""
TELLS = 1.0
"""A value that tells less than this many bits is no reason."""


@dataclass(frozen=True, slots=True)
class Offer:
    """The decoder and generation that saved values were most likely saved for."""

    best: Candidate
    is_sure: bool
    """Whether nothing else fits."""
    other: Candidate | None
    """The likeliest other that fits as well."""
    reasons: tuple[Evidence, ...]
    """Why, the strongest first; none where no value tells it from anything else."""
    rival: str = ""
    """The firmware that the reasons tell it from, in the spelling of profiles; empty where they
    tell it from any decoder."""
    titles: Mapping[Slot, tuple[str, ...]] | None = None
    """For each CV the titles of the settings that live there."""
    words: tuple[str, ...] = ()
    """What to type to take the offer; empty where nobody named a version of that firmware."""

    @property
    def firmware(self) -> str:
        """The newest release of that firmware; empty where none is known."""
        return self.best.releases[-1] if self.best.releases else ""


def offer_of(index: IdentityIndex, found: Identified) -> Offer | None:
    """What is most likely by saved values, and why; nothing where no decoder fits them."""
    if found.verdict in (Verdict.NONE, Verdict.SILENT) or not found.fitting:
        return None
    best, *others = found.fitting
    other = others[0] if others else None
    own = [held for held in found.candidates if held.profile == best.profile and held != best]
    is_other_decoder = any(
        held.profile != best.profile and held.chance > 0 for held in found.candidates
    )
    if is_other_decoder:
        reasons, rival = _telling(evidence(index, best.rows[0], found.reads, SAVED)), ""
    else:
        reasons, rival = _against(index, found, best, own)
    return Offer(best, found.verdict is Verdict.ONE, other, reasons, rival)


def _against(
    index: IdentityIndex, found: Identified, best: Candidate, others: Sequence[Candidate]
) -> tuple[tuple[Evidence, ...], str]:
    """What tells the best candidate from the likeliest other generation that is told apart."""
    for other in others:
        reasons = _telling(evidence(index, best.rows[0], found.reads, SAVED, other.rows[0]))
        if reasons:
            return reasons, other.stretch
    return (), ""


def _telling(told: Sequence[Evidence]) -> tuple[Evidence, ...]:
    """The strongest of what is told, as far as it is a reason: not what is left open."""
    known = (one for one in told if one.ground is not Ground.UNCERTAIN)
    return tuple(one for one in known if one.bits >= TELLS)[:MOST_REASONS]
