"""Everything to be said about a probe."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.engine.bench.contradicted import Contradicted
from cvlib.engine.bench.identification import Identification
from cvlib.engine.bench.learnt import Learnt
from cvlib.engine.bench.probe import Probed
from cvlib.engine.bench.situation import Hint
from cvlib.engine.bench.tree import Tree
from cvlib.model.profile import Profile


@dataclass(frozen=True, slots=True)
class Probing:
    """A probe of a disputed firmware, as far as it has come."""

    profile: Profile
    probed: Probed
    settings: int
    """How many settings the firmware has or may have."""
    hints: tuple[Hint, ...]
    learnt: Learnt | None
    """What the answers have shown; nothing before the first."""
    loco: str = ""
    """The loco that the decoder is in, where a loco file was given."""
    written: str = ""
    """The loco file that was written, if one was."""
    contradicted: tuple[Contradicted, ...] = ()
    """Answers that this decoder type does not give at this firmware."""

    @property
    def is_settled(self) -> bool:
        """Whether nothing is disputed (any more), and nothing says that it is another decoder."""
        return self.probed.is_settled and not self.contradicted


@dataclass(frozen=True, slots=True)
class Candidates:
    """Several decoders or generations that are to be told apart before anything else."""

    identification: Identification
    tree: Tree | None
    """The reads that tell them apart; its labels number the candidates. Nothing where there are
    too many to plan for: then the single reads of the identification are the plan."""

    @property
    def is_settled(self) -> bool:
        """Never: while there are several, nothing is settled."""
        return False
