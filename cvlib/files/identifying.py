"""Which decoder this is, asked of a whole store: reads gathered, the index opened, titles added."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from cvlib.engine.expect import NO_ANSWER, Terms
from cvlib.engine.identification import Identification, Told
from cvlib.engine.identify import Candidate, Fit, Identified, evidence, identify
from cvlib.engine.index import IdentityIndex
from cvlib.engine.resolve import Resolver
from cvlib.engine.session import Entry, IdentifySession
from cvlib.engine.situation import Situation
from cvlib.engine.weigh import Read
from cvlib.errors import Fault, InputError, problem
from cvlib.files.answers import parse_reads, split_silent
from cvlib.files.index import open_index
from cvlib.files.read.interface import read_content
from cvlib.files.store import Store
from cvlib.files.text import decode, file_name, read_bytes
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder

MOST_EXPLAINED = 5
"""Candidates whose evidence is told with the names of settings."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """Reads out of a file and words, and the decoder that the file is of."""

    reads: tuple[Read, ...]
    loco: Loco | None = None
    decoder: SavedDecoder | None = None
    path: Path | None = None


def gather(words: Sequence[str], role: str = "") -> Gathered:
    """Reads from words such as ``8=13`` and from one file: a loco file, or a list of values.

    A list may hold lines such as ``28 = no answer``. Raises InputError where a file cannot be read.
    """
    typed = [word for word in words if "=" in word and not Path(word).exists()]
    files = [Path(word) for word in words if word not in typed]
    if len(files) > 1:
        raise problem(
            f"{files[1]}: only one file can be identified at a time.",
            advice="Give the files one after the other.",
        )
    reads = parse_reads(typed)
    if not files:
        return Gathered(reads)
    loco, silent = _read(files[0])
    decoder = _decoder(loco, role)
    saved = tuple(Read(slot, held.value) for slot, held in decoder.values.items())
    none = tuple(Read(slot, NO_ANSWER) for slot in silent)
    return Gathered((*saved, *none, *reads), loco, decoder, files[0])


def _read(path: Path) -> tuple[Loco, tuple[Slot, ...]]:
    name = file_name(path)
    text = decode(read_bytes(path), name)
    silent, rest = split_silent(text)
    if not silent:
        return read_content(text.encode("utf-8"), name), ()
    if not rest.strip():
        return Loco(path.stem, (SavedDecoder({}),), name), silent
    return read_content(rest.encode("utf-8"), name), silent


def _decoder(loco: Loco, role: str) -> SavedDecoder:
    if role:
        kept = [decoder for decoder in loco.decoders if decoder.role == role]
        if kept:
            return kept[0]
    elif len(loco.decoders) == 1:
        return loco.decoders[0]
    roles = ", ".join(f'"{decoder.role}"' for decoder in loco.decoders if decoder.role)
    wrong = f'no decoder has the role "{role}".' if role else "the loco has several decoders."
    raise problem(
        f"{loco.file or loco.name}: {wrong}",
        advice=f"Say which with --role: {roles}." if roles else "Its decoders have no roles.",
    )


def identification(
    store: Store,
    session: IdentifySession,
    gathered: Gathered | None = None,
    faults: Iterable[Fault] = (),
) -> Identification:
    """What a session has found, with the evidence for each candidate worth showing."""
    found = session.found()
    is_saved = gathered is not None and gathered.decoder is not None
    shown = [held for held in found.candidates if held.fit is Fit.FITS] or found.candidates[:2]
    told = tuple(
        Told(
            held,
            evidence(session.index, held, found.reads, session.terms),
            _titles(store, session.index, held, found.reads) if at < MOST_EXPLAINED else {},
        )
        for at, held in enumerate(shown)
    )
    return Identification(
        found,
        told,
        () if is_saved else session.suggestions(),
        () if is_saved else session.hints(),
        is_saved,
        session.profile,
        gathered.loco.name if gathered and gathered.loco else "",
        tuple(faults),
    )


def session_for(
    store: Store,
    situation: Situation,
    entries: Iterable[Entry],
    profile: str = "",
) -> tuple[IdentifySession, tuple[Fault, ...]]:
    """A session over the whole store, or over the firmware of one profile."""
    opened = open_index(store)
    if profile:
        store.path(profile)
    return IdentifySession(opened.index, situation, entries, profile), opened.faults


def likely_saved_for(store: Store, decoder: SavedDecoder) -> Identified:
    """Which decoder and generation saved values were most likely saved for.

    For a loco file that does not note them; where it notes the profile, only its firmware is
    looked at.
    """
    reads = tuple(Read(slot, held.value) for slot, held in decoder.values.items())
    return identify(open_index(store).index, reads, Terms(), decoder.profile)


def _titles(
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
