"""What is stale in a store and in some locos, with the files that could not be read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

from cvlib.engine.change import stale
from cvlib.engine.change.recheck import rechecked
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, InputError
from cvlib.files.reviewing import Check
from cvlib.files.store import Store
from cvlib.model.loco import Loco, SavedDecoder


def stale_in(
    store: Store,
    only: Sequence[str],
    locos: Sequence[Loco],
    check: Check,
    today: date,
    faults: Sequence[Fault] = (),
) -> stale.Stale:
    """What is stale in profiles and in the decoders of some locos.

    ``only`` names the profiles; without it those that the locos use, and without locos all.
    Raises InputError for an unknown profile, and where there are faults and no loco is left.
    """
    if faults and not locos:
        raise InputError(*faults)
    for id in only:
        store.path(id)
    used = {held.profile for loco in locos for held in loco.decoders if held.profile}
    ids = only or sorted(used) or store.ids()
    work = _Work(store, check, list(faults))
    resolvers = [resolver for id in ids if (resolver := work.resolver(id))]
    decoders = [(loco, decoder) for loco in locos for decoder in loco.decoders]
    outside = tuple(one for held in decoders if (one := work.outside(*held)))
    again = tuple(found for held in decoders if (found := work.rechecked(*held)))
    return stale.Stale(
        tuple(resolver.profile.id for resolver in resolvers),
        tuple(one for resolver in resolvers for one in stale.uncovered(resolver)),
        tuple(one for resolver in resolvers for one in stale.contradicted(resolver)),
        stale.open_questions((resolver.profile for resolver in resolvers), today),
        outside,
        again,
        sum(decoder.last_check is None for _, decoder in decoders),
        tuple(work.faults),
    )


class _Work:
    """Looks at profiles and decoders one by one, and goes on after a fault."""

    def __init__(self, store: Store, check: Check, faults: list[Fault]) -> None:
        self.store = store
        self.check = check
        self.faults = faults
        self._resolvers: dict[str, Resolver | None] = {}

    def resolver(self, id: str) -> Resolver | None:
        if id not in self._resolvers:
            try:
                self._resolvers[id] = Resolver(self.store.profile(id))
            except InputError as error:
                self._resolvers[id] = None
                self.faults.extend(error.faults)
        return self._resolvers[id]

    def outside(self, loco: Loco, decoder: SavedDecoder) -> stale.Outside | None:
        resolver = self.resolver(decoder.profile) if decoder.profile else None
        if resolver is None:
            return None
        try:
            return stale.outside(resolver, loco, decoder)
        except InputError as error:
            self._note(loco, error)
            return None

    def rechecked(self, loco: Loco, decoder: SavedDecoder) -> stale.Rechecked | None:
        last = decoder.last_check
        resolver = self.resolver(last.profile) if last else None
        if last is None or resolver is None:
            return None
        try:
            again = partial(self.check, self.store, loco=loco)
            return rechecked(loco, decoder, last, resolver.profile, again)
        except InputError as error:
            self._note(loco, error)
            return None

    def _note(self, loco: Loco, error: InputError) -> None:
        """Note what is wrong with a loco, under the name of its file."""
        for fault in error.faults:
            where = "" if fault.position else f"{loco.file or loco.name}: "
            self.faults.append(Fault(where + fault.problem, fault.position, fault.advice))
