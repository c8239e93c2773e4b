"""The card of a loco: what all its values do now."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cvlib.api.answers import found_by
from cvlib.api.checks import Asked, Stated, check_asked
from cvlib.errors import InputError, problem

if TYPE_CHECKING:
    from cvlib.engine.explain.card import LocoCard
    from cvlib.files.store import Store


def card(
    store: Store, asked: Asked, stated: Stated | None = None, find: Iterable[str] = ()
) -> LocoCard:
    """What the values of one loco do, all of its decoders on one card.

    ``find`` narrows it to settings that these words find. Raises
    :class:`~cvlib.errors.InputError` for what is not one loco, and for words that find nothing.
    """
    from cvlib.engine.explain.card import LocoCard, decoder_card
    from cvlib.engine.known.listing import Wanted

    result = check_asked(store, asked, stated)
    if result.faults:
        raise InputError(*result.faults)
    if len(result.locos) != 1:
        raise problem("a card is of one loco.", advice="Name one loco file.")
    words = tuple(find)
    wanted = Wanted(find=found_by(words)) if words else None
    (loco,) = result.locos
    made = LocoCard(loco.loco, tuple(decoder_card(held, wanted) for held in loco.decoders))
    if words and not any(held.values for held in made.decoders):
        raise problem(f'no saved value is of a setting that "{" ".join(words)}" finds.')
    return made
