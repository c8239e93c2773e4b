"""A probe asked of a store: which firmware, which answers so far, what came out, and keeping it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.identify import Verdict
from cvlib.engine.bench.layouts import bundle_of
from cvlib.engine.bench.learnt import learnt_from
from cvlib.engine.bench.next_read import candidate_tree
from cvlib.engine.bench.outside import open_at
from cvlib.engine.bench.probing import Candidates, Probing
from cvlib.engine.bench.session import IdentifySession, ProbeSession
from cvlib.engine.bench.situation import Situation
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.compose import unmatched
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError, problem
from cvlib.files.answers import answers_text, parse_words, read_answers
from cvlib.files.identifying import AskedIdentity, gather
from cvlib.files.store import Store
from cvlib.files.text import is_there
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder, State
from cvlib.model.profile import Profile


@dataclass(frozen=True, slots=True)
class Stated:
    """What the person says of the decoder; it goes before what a loco file says."""

    profile: str = ""
    firmware: str = ""
    role: str = ""
    about: tuple[str, ...] = ()
    """Settings and groups; empty: all."""


class AskedProbe:
    """A probe with all that was said for a start.

    Where profile or firmware are not known, ``search`` is the session that finds them, and
    ``session`` is there once :meth:`go_on` has taken over what it found.
    """

    def __init__(
        self,
        store: Store,
        words: Sequence[str],
        situation: Situation,
        stated: Stated,
        answers: Path | None = None,
    ) -> None:
        self.store = store
        self.situation = situation
        self.path, self.loco, self.decoder = _loco(words, stated.role)
        if stated.role and self.path is None:
            raise problem("--role needs a loco file.", advice="Name the file, or leave it out.")
        typed = [word for word in words if word != str(self.path)]
        self.profile = stated.profile or (self.decoder.profile if self.decoder else "")
        self.firmware = stated.firmware or (self.decoder.firmware if self.decoder else "")
        self.about = stated.about
        if self.decoder is not None and situation.state is None:
            self.situation = replace(situation, state=self.decoder.state or None)
        self.session: ProbeSession | None = None
        self.search: AskedIdentity | None = None
        self.saved: tuple[Read, ...] = ()
        """Reads that the loco file holds already."""
        if self.profile and self.firmware:
            self.saved = self._saved_reads()
            self._stands_as_saved()
            self.session = self._session(typed, answers)
        else:
            self.saved = self._saved_identity()
            self._stands_as_saved()
            self.search = AskedIdentity(store, typed, self.situation, self.profile, "", answers)
            held = self.search.session.entries
            held[:0] = [read for read in self.saved if read not in held]

    def _stands_as_saved(self) -> None:
        """What is saved was read as the decoder stood, so further reads are taken likewise."""
        if self.situation.is_reset:
            self.saved = ()
        elif self.saved:
            self.situation = replace(self.situation, is_reset=False)

    def _saved_reads(self) -> tuple[Read, ...]:
        """What was read at the very firmware, by the loco file."""
        profile = self.store.profile(self.profile)
        version = profile.version(self.firmware)
        values = self.decoder.values.values() if self.decoder else ()
        return tuple(
            Read(held.slot, held.value)
            for held in values
            if held.how == "read" and held.installed and profile.version(held.installed) == version
        )

    def _saved_identity(self) -> tuple[Read, ...]:
        """What the loco file holds of the CVs by which a decoder says who it is.

        Nobody sets them, so they were read, whatever the file says of it.
        """
        telling = {Slot(7), Slot(8)}
        if self.profile:
            profile = self.store.profile(self.profile)
            telling |= {part.field.slot for part in profile.parts}
            telling |= {answer.slot for answer in profile.identity.answers}
        values = self.decoder.values.values() if self.decoder else ()
        return tuple(Read(held.slot, held.value) for held in values if held.slot in telling)

    def _session(self, words: Sequence[str], answers: Path | None) -> ProbeSession:
        resolver = Resolver(self.store.profile(self.profile))
        check_names(resolver.profile, self.about)
        version = one_firmware(resolver, self.firmware)
        disputed = open_at(resolver, version)

        def sides(setting: str) -> int:
            at = bundle_of(disputed, setting)
            return 0 if at is None else len(disputed.bundles[at].sides)

        typed = parse_words(words, sides)
        kept = read_answers(answers, sides) if answers is not None else ()
        known = [read for read in self.saved if read not in kept]
        return ProbeSession(resolver, version, self.situation, (*known, *typed, *kept), self.about)

    def go_on(self) -> bool:
        """Take over profile and firmware from the search, once one firmware is found."""
        if self.session is not None:
            return True
        assert self.search is not None
        found = self.search.session.found()
        if found.verdict is not Verdict.ONE or len(found.fitting[0].releases) != 1:
            return False
        best = found.fitting[0]
        self.profile, self.firmware = best.profile, best.releases[0]
        resolver = Resolver(self.store.profile(best.profile))
        version = resolver.profile.version(self.firmware)
        entries = self.search.session.entries
        check_names(resolver.profile, self.about)
        self.session = ProbeSession(resolver, version, self.situation, entries, self.about)
        return True

    def result(self, day: date, written: str = "") -> Probing | Candidates:
        """What is known now."""
        if self.session is None and not self.go_on():
            return self._candidates()
        session = self.session
        assert session is not None
        probed = session.probed(with_plans=True)
        contradicted = session.contradictions()
        has_answers = bool(probed.reads or probed.results) and not contradicted
        answers = session.resolver.at(session.version).values()
        return Probing(
            session.resolver.profile,
            probed,
            sum(not answer.is_absent for answer in answers),
            session.hints(),
            learnt_from(session.resolver, probed, day.isoformat()) if has_answers else None,
            self.loco.name if self.loco else "",
            written,
            contradicted,
        )

    def _candidates(self) -> Candidates:
        assert self.search is not None
        session: IdentifySession = self.search.session
        result = self.search.result()
        tree = None
        if session.situation.can_read and session.reads:
            tree = candidate_tree(session.index, result.found, session.terms, session.skipped)
        return Candidates(result, tree)

    def check_keeping(self) -> None:
        """Raise InputError where there is no loco file that could be written."""
        if self.path is None or self.loco is None or self.decoder is None:
            raise problem("--write needs a loco file.", advice="Name it before the answers.")

    def why_not_kept(self) -> InputError | None:
        """Why firmware and readings cannot be written yet; nothing where they can."""
        if self.session is None and not self.go_on():
            return problem(
                "the firmware is not settled, so nothing was written.",
                advice="Answer more reads, or give it with --firmware.",
            )
        assert self.session is not None
        for one in self.session.contradictions():
            return problem(
                f"{one.slot} answered {one.answer}, and {self.profile} {self.firmware} answers "
                f"{one.expected}, so nothing was written.",
                advice="Read it once more; cvlib identify finds which decoder it is.",
            )
        return None

    def keep(self, day: date) -> str:
        """Write firmware and readings into the loco file; the name of the file.

        Raises InputError, with the file as it was, where there is none or it cannot be written.
        """
        self.check_keeping()
        if (fault := self.why_not_kept()) is not None:
            raise fault
        assert self.path is not None
        assert self.loco is not None
        assert self.decoder is not None
        assert self.session is not None
        from cvlib.files.edit_readings import NewReadings, keep_readings

        reads = [read for read in self.session.reads if read not in self.saved]
        silent = {read.slot: None for read in reads if read.answer == NO_ANSWER}
        values = {read.slot: read.answer for read in reads if read.is_answered}
        after_reset = self.session.terms.after_reset
        state = State.RESET if after_reset else self.session.situation.state
        keep_readings(
            self.path,
            NewReadings(
                self.loco.decoders.index(self.decoder),
                self.profile,
                self.firmware,
                values,
                tuple(slot for slot in silent if slot not in values),
                day,
                "after a factory reset" if after_reset else "",
                (state or State.UNKNOWN).value,
            ),
            "probe",
            self.loco.digest,
            answers_text(reads, "cvlib probe").encode("utf-8"),
        )
        return str(self.path)


def check_names(profile: Profile, about: Sequence[str]) -> None:
    """Raise InputError where a name is neither a setting of the profile nor the start of some."""
    for name in unmatched(about, profile.settings):
        profile.setting(name)


def _loco(words: Sequence[str], role: str) -> tuple[Path | None, Loco | None, SavedDecoder | None]:
    """The loco file among the words, if there is one."""
    files = [word for word in words if "=" not in word or is_there(Path(word))]
    if not files:
        return None, None, None
    found = gather(files, role)
    return found.path, found.loco, found.decoder
