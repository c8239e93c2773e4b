"""Questions asked one at a time, and the answers so far; each can be taken back.

A session is a list of entries in the order they came. What to ask next follows from them alone,
so an entry taken back leaves no trace and a session kept in a file goes on where it stopped.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from cvlib.engine.bench.behaviour import BenchTest
from cvlib.engine.bench.contradicted import Contradicted, contradictions
from cvlib.engine.bench.expect import Terms
from cvlib.engine.bench.identify import Identified, Unsure, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.layouts import Tried
from cvlib.engine.bench.next_read import Aim, Suggestion, next_reads
from cvlib.engine.bench.probe import Probed, probe
from cvlib.engine.bench.situation import (
    SURELY_SILENT,
    Fact,
    Hint,
    Situation,
    detected,
    hints_for,
    open_facts,
)
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import Area
from cvlib.model.cv import Slot
from cvlib.model.loco import State
from cvlib.model.profile import Profile
from cvlib.model.versions import FirmwareVersion

CONTROLS = (Slot(8), Slot(7), Slot(1), Slot(29))
"""CVs that nearly every decoder answers, the best to try first."""
LOCK_SLOTS = (Slot(15), Slot(16))
"""The decoder lock, by NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27)."""


@dataclass(frozen=True, slots=True)
class FactTold:
    """A fact about the bench."""

    fact: Fact
    answer: bool | State


@dataclass(frozen=True, slots=True)
class Skipped:
    """A read or test that the person does not make."""

    what: Slot | str
    """The CV, or the setting of a test."""


Entry: TypeAlias = FactTold | Read | Tried | Skipped
Question: TypeAlias = Fact | Suggestion | BenchTest


class Session(ABC):
    """The entries so far and the question that follows from them."""

    def __init__(self, situation: Situation, entries: Iterable[Entry] = ()) -> None:
        self.given = situation
        self.entries: list[Entry] = list(entries)

    @property
    def reads(self) -> tuple[Read, ...]:
        """The reads made."""
        return tuple(entry for entry in self.entries if isinstance(entry, Read))

    @property
    def results(self) -> tuple[Tried, ...]:
        """The behaviour tests made."""
        return tuple(entry for entry in self.entries if isinstance(entry, Tried))

    @property
    def skipped(self) -> frozenset[Slot]:
        """The CVs that are not to be asked for."""
        return frozenset(
            entry.what
            for entry in self.entries
            if isinstance(entry, Skipped) and isinstance(entry.what, Slot)
        )

    @property
    def skipped_tests(self) -> frozenset[str]:
        """The settings that are not to be tried."""
        return frozenset(
            entry.what
            for entry in self.entries
            if isinstance(entry, Skipped) and isinstance(entry.what, str)
        )

    @property
    def situation(self) -> Situation:
        """What is known of the bench."""
        found = self.given
        for entry in self.entries:
            if isinstance(entry, FactTold):
                found = found.told(entry.fact, entry.answer)
        return found

    @property
    def terms(self) -> Terms:
        """The terms under which the reads were made."""
        is_reset = self.situation.is_reset is True
        return Terms(is_reset, leftovers=not is_reset and self.situation.state is State.NOT_RESET)

    def add(self, entry: Entry) -> None:
        """Take in an answer."""
        self.entries.append(entry)

    def undo(self) -> Entry | None:
        """Take the last answer back; nothing where there is none."""
        return self.entries.pop() if self.entries else None

    @abstractmethod
    def question(self) -> Question | None:
        """What to ask next; nothing where no further answer would tell anything."""

    @abstractmethod
    def hints(self) -> tuple[Hint, ...]:
        """What to do first or beware of, by what was told and what the reads give away."""


class IdentifySession(Session):
    """The search for which decoder this is."""

    def __init__(
        self,
        index: IdentityIndex,
        situation: Situation,
        entries: Iterable[Entry] = (),
        profile: str = "",
    ) -> None:
        super().__init__(situation, entries)
        self.index = index
        self.profile = profile

    def found(self) -> Identified:
        """What the reads say so far; nothing is decided while two decoders may have answered."""
        found = identify(self.index, self.reads, self.terms, self.profile)
        if found.verdict is Verdict.ONE and not self.situation.is_surely_apart:
            return replace(found, verdict=Verdict.SEVERAL, unsure=Unsure.SHARED)
        return found

    def question(self) -> Question | None:
        """A fact that is open, else the read that tells most; nothing once one decoder fits."""
        facts = open_facts(self.situation, ask_reset=True)
        if facts:
            return facts[0]
        if not self.situation.can_read or self._is_hopeless():
            return None
        found = self.found()
        if found.verdict is Verdict.ONE:
            return None
        told = next_reads(self.index, found, self.terms, self.skipped, most=1)
        return told[0] if told else None

    def suggestions(self) -> tuple[Suggestion, ...]:
        """The reads that would tell most, the best first."""
        if not self.situation.can_read:
            return ()
        return next_reads(self.index, self.found(), self.terms, self.skipped)

    def hints(self) -> tuple[Hint, ...]:
        """What to do first or beware of."""
        found = self.found()
        kinds = {held.kind for held in found.fitting}
        is_told = len(kinds) == 1 and found.verdict is not Verdict.SILENT
        kind = kinds.pop() if is_told else ""
        told = hints_for(self.situation, kind)
        best = found.candidates[0] if found.candidates else None
        is_none = found.verdict is Verdict.NONE and (best is None or best.misread > 1)
        is_none = is_none or self._names_two()
        seen = detected(self.reads, kind, is_none=is_none)
        return tuple(dict.fromkeys((*told, *seen)))

    def _names_two(self) -> bool:
        """Whether product answers were read that no single decoder type gives together."""
        telling = set(self.index.telling)
        named = [
            self.index.named_by(read.slot, read.answer)
            for read in self.reads
            if read.is_answered and read.slot in telling
        ]
        sets = [one for one in named if one]
        return len(sets) > 1 and not frozenset.intersection(*sets)

    def _is_hopeless(self) -> bool:
        """Whether so many reads were not answered that further ones will not be either."""
        slots = {read.slot for read in self.reads}
        return len(slots) > SURELY_SILENT and not any(read.is_answered for read in self.reads)


class ProbeSession(Session):
    """The search for where the settings of a disputed firmware live."""

    def __init__(
        self,
        resolver: Resolver,
        version: FirmwareVersion,
        situation: Situation,
        entries: Iterable[Entry] = (),
        about: Sequence[str] = (),
    ) -> None:
        super().__init__(situation, entries)
        self.resolver = resolver
        self.version = version
        self.about = tuple(about)
        """The settings and groups that are asked about; empty: all."""

    @property
    def terms(self) -> Terms:
        """The terms under which the reads were made; without a word of it, values may be left over
        from before an update.
        """
        is_reset = self.situation.is_reset is True
        return Terms(is_reset, leftovers=not is_reset and self.situation.has_leftovers is not False)

    def probed(self, *, with_plans: bool = False) -> Probed:
        """What the reads and tests say so far; with the trees of reads where they are wanted.

        While nothing was answered the next read is one that the decoder surely answers.
        """
        found = probe(
            self.resolver,
            self.version,
            self.reads,
            self.terms,
            self.results,
            can_read=self.situation.can_read and not self._is_hopeless(),
            avoid=self.skipped,
            with_plans=with_plans,
            about=self.about,
        )
        control = None if found.next_read is None else self._control()
        return found if control is None else replace(found, next_read=control)

    def question(self) -> Question | None:
        """A fact that is open, else a read, else a behaviour test; nothing once all is settled."""
        probed = self.probed()
        if not probed.disputed.bundles or probed.is_settled:
            return None
        facts = open_facts(self.situation, ask_reset=True, ask_leftover=True)
        if facts:
            return facts[0]
        if not self.situation.is_apart:
            return None
        if probed.next_read is not None:
            return probed.next_read
        left = (test for test in probed.tests if test.setting not in self.skipped_tests)
        return next(left, None)

    def hints(self) -> tuple[Hint, ...]:
        """What to do first or beware of."""
        profile = self.resolver.profile
        told = hints_for(self.situation, profile.kind, has_lock=has_lock(profile))
        seen = detected(self.reads, profile.kind, control=self._control_slot())
        others = (Hint.OTHER_DECODER,) if self.contradictions() else ()
        if self.terms.leftovers and any(read.is_answered for read in self.reads):
            others = (*others, Hint.LEFTOVERS)
        return tuple(dict.fromkeys((*told, *seen, *others)))

    def contradictions(self) -> tuple[Contradicted, ...]:
        """The answers that this decoder type does not give at this firmware."""
        return contradictions(self.resolver.profile, self.version, self.reads)

    def _is_hopeless(self) -> bool:
        """Whether a CV that the decoder surely has was not answered, nor anything else."""
        seen = detected(self.reads, self.resolver.profile.kind, control=self._control_slot())
        return Hint.NOTHING_ANSWERS in seen

    def _control(self) -> Suggestion | None:
        """A read of a CV that the decoder surely has, while nothing was answered yet."""
        slot = self._control_slot()
        if slot is None or slot in self.skipped or not self.reads:
            return None
        if any(read.is_answered or read.slot == slot for read in self.reads):
            return None
        return Suggestion(slot, 0.0, Aim.CONTROL)

    def _control_slot(self) -> Slot | None:
        """A CV that the decoder has whatever layout is true; the usual ones first."""
        never = set(self.resolver.profile.identity.no_answer)
        held = {
            part.slot
            for answer in self.resolver.at(self.version).values()
            if answer.place is not None
            and not answer.place.when
            and not isinstance(answer.place.coding, Area)
            for part in answer.place.fields
            if part.slot.page is None and part.slot.cv not in never
        }
        usual = (slot for slot in CONTROLS if slot in held)
        return next(usual, min(held, key=lambda slot: slot.order, default=None))


def has_lock(profile: Profile) -> bool:
    """Whether the decoder has the lock of CVs 15 and 16."""
    used = {
        part.slot
        for setting in profile.settings.values()
        for place in setting.places
        for part in place.fields
    }
    return used.issuperset(LOCK_SLOTS)
