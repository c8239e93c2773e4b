"""Which decoder this is, asked of a whole store: reads gathered, the index opened, titles added."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cvlib.engine.account.dating import open_question, saved_of
from cvlib.engine.bench.evidence import Evidence, evidence
from cvlib.engine.bench.expect import NO_ANSWER, Terms
from cvlib.engine.bench.identification import Identification, Told
from cvlib.engine.bench.identify import Candidate, Fit, Identified
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.saved_for import SAVED, saved_for
from cvlib.engine.bench.session import Entry, IdentifySession
from cvlib.engine.bench.situation import Situation
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.identity import versions_answering
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError, problem
from cvlib.files.answers import parse_words, read_answers, split_silent
from cvlib.files.compiled import digest
from cvlib.files.index import open_index
from cvlib.files.read.interface import read_content, read_file
from cvlib.files.store import Store
from cvlib.files.text import decode_list, file_name, is_there, read_bytes
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder, State, one_decoder

MOST_EXPLAINED = 5
"""Candidates whose evidence is told with the names of settings."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """Reads out of a file and words, and the decoder that the file is of."""

    entries: tuple[Entry, ...]
    loco: Loco | None = None
    decoder: SavedDecoder | None = None
    path: Path | None = None


def gather(words: Sequence[str], role: str = "", recipe: Path | None = None) -> Gathered:
    """Reads from words such as ``8=13`` and from one file: a loco file, or a list of values.

    A list may hold lines such as ``28 = no answer``. Raises InputError where a file cannot be read.
    """
    if not all(words):
        raise problem(
            "an answer is empty.", advice="Write the CV and what it answered, as 8=13 or 28=none."
        )
    typed = [word for word in words if "=" in word and not is_there(Path(word))]
    files = [Path(word) for word in words if word not in typed]
    if len(files) > 1:
        raise problem(
            f"{files[1]}: only one file can be identified at a time.",
            advice="Give the files one after the other.",
        )
    entries = parse_words(typed)
    if not files:
        if role:
            raise problem(
                "--role chooses among the decoders of a loco file, and none is named.",
                advice="Name the file, or leave --role out.",
            )
        return Gathered(entries)
    loco, silent = _read(files[0], role, recipe)
    decoder = one_decoder(loco, role)
    saved = tuple(Read(slot, held.value) for slot, held in decoder.values.items())
    none = tuple(Read(slot, NO_ANSWER) for slot in silent)
    return Gathered((*saved, *none, *entries), loco, decoder, files[0])


def _read(path: Path, role: str, recipe: Path | None) -> tuple[Loco, tuple[Slot, ...]]:
    if recipe is not None:
        from cvlib.files.read.recipe import open_recipe

        return read_file(path, open_recipe(recipe, (role,) if role else ())), ()
    name, data = file_name(path), read_bytes(path)
    silent, rest = split_silent(decode_list(data, name))
    if not silent:
        loco = read_content(data, name)
    elif rest.strip():
        loco = read_content(rest.encode("utf-8"), name)
    else:
        loco = Loco(path.stem, (SavedDecoder({}),), name)
    return replace(loco, path=str(path), digest=digest(data)), silent


def _told(store: Store, index: IdentityIndex, found: Identified, terms: Terms) -> tuple[Told, ...]:
    shown = [held for held in found.candidates if held.fit is Fit.FITS] or found.candidates[:2]
    return tuple(
        Told(
            held,
            evidence(index, held.rows[0], found.reads, terms),
            titles_of(store, index, held, found.reads) if at < MOST_EXPLAINED else {},
        )
        for at, held in enumerate(shown)
    )


class AskedIdentity:
    """The question who a decoder is, with all that was said for a start."""

    def __init__(
        self,
        store: Store,
        words: Sequence[str],
        situation: Situation,
        profile: str = "",
        role: str = "",
        answers: Path | None = None,
        recipe: Path | None = None,
        state: State = State.UNKNOWN,
    ) -> None:
        self.state = state
        if profile:
            store.path(profile)
        self.store = store
        self.gathered = gather(words, role, recipe)
        kept = read_answers(answers) if answers is not None else ()
        held = self.gathered.decoder
        noted = held.profile if held is not None else ""
        opened = open_index(store)
        self.faults = opened.faults
        self.session = IdentifySession(
            opened.index, situation, (*self.gathered.entries, *kept), profile or noted
        )
        if noted and not profile:
            store.path(noted)

    def result(self) -> Identification:
        """What is known now, with the evidence for each candidate worth showing."""
        if self.gathered.decoder is not None:
            return self._saved()
        found = self.session.found()
        return Identification(
            found,
            _told(self.store, self.session.index, found, self.session.terms),
            self.session.suggestions(),
            self.session.hints(),
            False,
            self.session.profile,
            "",
            faults=self.faults,
        )

    def _saved(self) -> Identification:
        """What saved values were saved for; what they say of the firmware itself comes apart."""
        index, session = self.session.index, self.session
        decoder = self.gathered.decoder
        assert decoder is not None
        decoder = replace(decoder, state=self.state or decoder.state)
        found, version = saved_for(
            index,
            session.reads,
            session.profile,
            lambda name: may_be_older(self.store, decoder, name),
        )
        told = _told(self.store, index, found, SAVED)
        versus: tuple[Evidence, ...] = ()
        if found.rival is not None and told:
            best = told[0].candidate
            versus = evidence(index, best.rows[0], found.reads, SAVED, found.rival)
        loco = self.gathered.loco
        return Identification(
            found,
            told,
            (),
            (),
            True,
            session.profile,
            loco.name if loco else "",
            version,
            index.row(found.rival).stretch if versus and found.rival is not None else "",
            versus,
            self.faults,
        )


def may_be_older(store: Store, decoder: SavedDecoder, profile: str) -> bool:
    """Whether values that nobody dated may be older than the firmware that the decoder names."""
    resolver = Resolver(store.profile(profile))
    saved = saved_of(resolver, decoder)
    saved = saved._replace(history=replace(saved.history, outlived=frozenset()))
    named = versions_answering(resolver.profile, saved.values)
    if decoder.firmware and not named:
        named = (one_firmware(resolver, decoder.firmware),)
    return len(named) == 1 and open_question(resolver, named[0], saved) is not None


def titles_of(
    store: Store, index: IdentityIndex, candidate: Candidate, reads: Iterable[Read]
) -> dict[Slot, tuple[str, ...]]:
    """The titles of the settings that live in the CVs read, at a candidate's firmware."""
    try:
        profile = store.profile(candidate.profile)
    except InputError:
        return {}
    resolver = Resolver(profile)
    point = index.row(candidate.rows[0]).firmware.oldest
    wanted = {read.slot for read in reads}
    found: dict[Slot, list[str]] = {}
    for name, answer in resolver.at_point(point).items():
        for place in answer.places():
            if place.coding.kind in ("area", "fields"):
                continue
            for part in place.fields:
                if part.slot in wanted:
                    found.setdefault(part.slot, []).append(profile.settings[name].title)
    return {slot: tuple(dict.fromkeys(titles)) for slot, titles in found.items()}
