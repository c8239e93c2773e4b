"""The firmware that is offered for saved values of which nobody noted it, asked of the store."""

from __future__ import annotations

from functools import lru_cache

from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.offer import Offer, offer_of
from cvlib.engine.bench.saved_for import saved_for
from cvlib.engine.bench.weigh import Read
from cvlib.files.identifying import may_be_older, titles_of
from cvlib.files.index import open_index
from cvlib.files.store import Store
from cvlib.model.loco import Loco, SavedDecoder

STANDARD_INPUT = "standard input"
"""What a list is called that does not lie in a file."""


def offer_for(store: Store, decoder: SavedDecoder, loco: Loco) -> Offer | None:
    """The decoder and generation that a decoder's values were most likely saved for, with the
    command that takes it; nothing where no value is saved or no profile fits.

    Where the profile is known, only its firmware is looked at. Where the file notes the firmware
    of every value, there is nothing to offer.
    """
    reads = tuple(Read(slot, held.value) for slot, held in decoder.values.items())
    if decoder.profile and all(held.firmware for held in decoder.values.values()):
        return None
    if not reads:
        return None
    index = _index(store)
    found, _ = saved_for(
        index, reads, decoder.profile, lambda name: may_be_older(store, decoder, name)
    )
    offer = offer_of(index, found)
    if offer is None or _rests_on_version(store, decoder, offer):
        return None
    told = tuple(Read(one.slot, one.answers[-1]) for one in offer.reasons)
    return Offer(
        offer.best,
        offer.is_sure,
        offer.other,
        offer.reasons,
        offer.rival,
        titles_of(store, index, offer.best, told),
        _words(offer, decoder, loco),
    )


def _rests_on_version(store: Store, decoder: SavedDecoder, offer: Offer) -> bool:
    """Whether version CVs speak for an offer where they say nothing: the settings may be older."""
    if not decoder.profile:
        return False
    versions = {part.field.slot for part in store.profile(decoder.profile).parts}
    is_named = any(one.slot in versions for one in offer.reasons)
    return is_named and may_be_older(store, decoder, decoder.profile)


@lru_cache(maxsize=1)
def _index(store: Store) -> IdentityIndex:
    """The index of a store, opened once for all the locos of a check."""
    return open_index(store).index


def _words(offer: Offer, decoder: SavedDecoder, loco: Loco) -> tuple[str, ...]:
    """What to type after ``cvlib check`` to take an offer."""
    if not offer.firmware:
        return ()
    if loco.file == STANDARD_INPUT:
        words = ["-"]
    elif loco.file:
        words = [loco.file]
    else:
        words = [f"{slot.typed}={held.value}" for slot, held in decoder.values.items()]
    if len(loco.decoders) > 1 and decoder.role:
        words += ["--role", decoder.role]
    if all(held.profile != offer.best.profile for held in loco.decoders):
        words += ["--profile", offer.best.profile]
    return (*words, "--firmware", offer.firmware)
