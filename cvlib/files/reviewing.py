"""A review put together: the states out of the repository, what changed, the locos it touches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.engine.change.effect import DecoderEffect, effect
from cvlib.engine.change.review import review
from cvlib.engine.change.reviewed import Broken, Reviewed, StateName
from cvlib.engine.known.digest import Step, next_version
from cvlib.errors import Fault, InputError
from cvlib.files.git import Commit
from cvlib.files.review_positions import positions_of
from cvlib.files.revisions import Changed, Revisions, State, States, changed_profiles, states_of
from cvlib.files.store import Store
from cvlib.model.loco import Loco, SavedDecoder


class Check(Protocol):
    """The check of one decoder of a loco with the definitions of a store."""

    def __call__(self, store: Store, decoder: SavedDecoder, loco: Loco) -> DecoderChecked:
        """The check; raises InputError where profile or firmware are not to be used."""


WORKING = "the working files"


def reviewed(
    asked: Revisions, locos: Iterable[Loco], check: Check, faults: Iterable[Fault] = ()
) -> Reviewed:
    """The review of a store between two states, with its effect on some locos.

    Raises :class:`~cvlib.errors.InputError` where the repository or a revision is not to be used.
    """
    states = states_of(asked)
    changed = changed_profiles(states.before, states.after)
    found = review(
        changed.before, changed.after, changed.renamed, files_differ=changed.files_differ
    )
    tag, version = _version(states, found.step)
    locos_changed = _Effects(states, changed, check)
    effects = [locos_changed.of(loco, held) for loco in locos for held in loco.decoders]
    told = tuple(one for one in effects if one is not None and one.is_touched)
    return Reviewed(
        _named(states.base),
        _named(states.head) if states.head else StateName(WORKING, ""),
        str(states.folder),
        found,
        changed.unchanged,
        _broken(changed.broken_before),
        _broken(changed.broken_after),
        states.before.older,
        tag,
        version,
        told,
        len(effects) - len(told),
        tuple(faults),
        positions_of(states, found, changed.broken_after),
    )


def _named(commit: Commit) -> StateName:
    return StateName(commit.called, commit.name)


def _broken(held: Mapping[str, tuple[Fault, ...]]) -> tuple[Broken, ...]:
    return tuple(Broken(id, faults) for id, faults in sorted(held.items()))


def _version(states: States, step: Step) -> tuple[str, str]:
    """The newest tag of a store version, and the version that the later state must have.

    What changed between the tag and the first state counts too.
    """
    tag = states.repository.tag_before(states.base)
    number = tag.rpartition("-")[2]
    if not tag:
        return "", ""
    try:
        commit = states.repository.commit(f"refs/tags/{tag}")
        if commit.name != states.base.name:
            changed = changed_profiles(states.at(commit), states.after)
            step = review(
                changed.before, changed.after, changed.renamed, files_differ=changed.files_differ
            ).step
        return tag, next_version(number, step)
    except InputError:
        return "", ""


@dataclass(frozen=True, slots=True)
class _Effects:
    """What a changed store means for single decoders."""

    states: States
    changed: Changed
    check: Check

    def of(self, loco: Loco, decoder: SavedDecoder) -> DecoderEffect | None:
        """The effect on a decoder; nothing where its profile is what it was."""
        old, new = self._ids(decoder.profile)
        touched = self.changed.before.keys() | self.changed.broken_before.keys()
        come = self.changed.after.keys() | self.changed.broken_after.keys()
        if old not in touched and new not in come:
            return None
        renamed = new if new != decoder.profile else ""
        return effect(
            loco,
            decoder,
            self._checked(self.states.before, loco, replace(decoder, profile=old)),
            self._checked(self.states.after, loco, replace(decoder, profile=new)),
            renamed,
        )

    def _ids(self, profile: str) -> tuple[str, str]:
        """The ids that a profile had and has, whichever of them a loco file names."""
        was = {new: old for old, new in self.changed.renamed.items()}
        return was.get(profile, profile), self.changed.renamed.get(profile, profile)

    def _checked(self, state: State, loco: Loco, decoder: SavedDecoder) -> DecoderChecked | Fault:
        try:
            return self.check(state, decoder, loco)
        except InputError as error:
            return error.faults[0]
