"""What comes out of checking decoders, locos and a fleet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from cvlib.engine.account.check import Checked
from cvlib.engine.account.decide import Decided, Undecided
from cvlib.errors import Fault
from cvlib.findings.catalogue import Severity
from cvlib.model.loco import Loco, SavedDecoder
from cvlib.model.profile import Profile

if TYPE_CHECKING:
    from cvlib.engine.account.readings import ReadingChanges
    from cvlib.engine.bench.offer import Offer


class DecoderChecked(NamedTuple):
    """The check of one decoder of a loco."""

    decoder: SavedDecoder
    profile: Profile
    outcome: Decided | Undecided
    offer: Offer | None = None
    """What the values were most likely saved for, where the firmware is undecided."""
    changes: ReadingChanges | None = None
    """What was read after the last update and is otherwise than before it; nothing without two."""

    @property
    def checked(self) -> Checked | None:
        """The check at the one firmware; nothing where several fit and they differ."""
        return self.outcome.checked if isinstance(self.outcome, Decided) else None

    def count(self, severity: Severity) -> int:
        """How many findings of a severity there are; none where the firmware is undecided."""
        found = self.checked.findings if self.checked else ()
        return sum(finding.severity is severity for finding in found)


class LocoChecked(NamedTuple):
    """The check of a loco: one outcome for each of its decoders."""

    loco: Loco
    decoders: tuple[DecoderChecked, ...]


class FleetChecked(NamedTuple):
    """The check of some locos, with what was wrong with files that could not be used."""

    locos: tuple[LocoChecked, ...]
    faults: tuple[Fault, ...] = ()

    def decoders(self) -> Iterator[DecoderChecked]:
        """Every decoder of every loco."""
        return (decoder for loco in self.locos for decoder in loco.decoders)

    def count(self, severity: Severity) -> int:
        """How many findings of a severity there are in all."""
        return sum(decoder.count(severity) for decoder in self.decoders())

    @property
    def is_undecided(self) -> bool:
        """Whether the firmware of some decoder is not known and makes a difference."""
        return any(decoder.checked is None for decoder in self.decoders())

    def has(self, least: Severity) -> bool:
        """Whether anything was found that is as grave as ``least`` or graver."""
        return any(self.count(severity) for severity in Severity if severity.at_least(least))
