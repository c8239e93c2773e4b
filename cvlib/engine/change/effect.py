"""What changed definitions mean for saved locos: other findings, other meanings of values."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from cvlib.engine.account.decide import Decided, Undecided
from cvlib.engine.account.meaning import MeaningChange, meaning_changes, meanings
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.errors import Fault
from cvlib.findings.finding import Finding, Told
from cvlib.model.loco import Loco, SavedDecoder


@dataclass(frozen=True, slots=True)
class DecoderEffect:
    """One decoder of a loco, checked with the definitions before and after."""

    loco: Loco
    decoder: SavedDecoder
    before: DecoderChecked | Fault
    """What kept the decoder from being checked, where something did."""
    after: DecoderChecked | Fault
    gone: tuple[Finding, ...] = ()
    """Findings that there are no more."""
    new: tuple[Finding, ...] = ()
    meanings: tuple[MeaningChange, ...] = ()
    """Only where one firmware was decided on before and after, and it is the same."""
    renamed: str = ""
    """The id that the loco's profile has now, where the file names another."""

    @property
    def is_touched(self) -> bool:
        """Whether anything is different for this decoder."""
        broken = [isinstance(side, Fault) for side in (self.before, self.after)]
        return bool(
            self.gone or self.new or self.meanings or self.renamed or broken[0] != broken[1]
        )


def effect(
    loco: Loco,
    decoder: SavedDecoder,
    before: DecoderChecked | Fault,
    after: DecoderChecked | Fault,
    renamed: str = "",
) -> DecoderEffect:
    """What is different for one decoder.

    Findings are told apart by what they say of CVs and values, not by titles. Where several
    firmwares fit, a finding counts that any of them has.
    """
    if isinstance(before, Fault) or isinstance(after, Fault):
        return DecoderEffect(loco, decoder, before, after, renamed=renamed)
    old, new = _findings(before.outcome), _findings(after.outcome)
    return DecoderEffect(
        loco,
        decoder,
        before,
        after,
        tuple(held for key, held in old.items() if key not in new),
        tuple(held for key, held in new.items() if key not in old),
        _meanings(before, after),
        renamed,
    )


def _meanings(before: DecoderChecked, after: DecoderChecked) -> tuple[MeaningChange, ...]:
    old, new = before.checked, after.checked
    if old is None or new is None or old.firmware != new.firmware:
        return ()
    return meaning_changes(meanings(old), meanings(new))


def _findings(outcome: Decided | Undecided) -> dict[Hashable, Finding]:
    checks = (
        [outcome.checked]
        if isinstance(outcome, Decided)
        else [checked for _, checked in outcome.possible]
    )
    return {_gist(finding): finding for checked in checks for finding in checked.findings}


def _gist(finding: Finding) -> Hashable:
    """What makes two findings the same, whatever their settings are called."""
    return (
        finding.code,
        finding.severity,
        finding.settings,
        finding.bits,
        _places(finding.was),
        _places(finding.now),
        _places(finding.lives_at),
        finding.standing,
        finding.name,
    )


def _places(told: Iterable[Told]) -> Hashable:
    return tuple((one.setting, one.where, one.value, one.legal) for one in told)
