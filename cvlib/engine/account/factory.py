"""What a factory reset leaves at a place, where that depends on the values of other settings."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from cvlib.engine.known.conditions import satisfied
from cvlib.model.coding import Parts
from cvlib.model.conditions import When
from cvlib.model.profile import Place

Values = Mapping[str, tuple[Place, Parts]]
"""What is known of settings: where each lives, and its value there."""

_DEEPEST = 8
"""Defaults that depend on defaults are followed this far: a circle decides nothing."""


def factory_parts(
    place: Place, places: Mapping[str, Place | None], known: Values | None = None, deep: int = 0
) -> Parts | None:
    """What a factory reset leaves at a place; nothing where nobody can say.

    Deciding settings have the values that are known, else their own factory values.
    """
    return place.factory(partial(holds_at_factory, places=places, known=known or {}, deep=deep))


def holds_at_factory(
    when: When, places: Mapping[str, Place | None], known: Values | None = None, deep: int = 0
) -> bool | None:
    """Whether a condition holds after a factory reset; nothing where nobody can say."""
    place, parts = (known or {}).get(when.setting, (places.get(when.setting), None))
    if place is not None and parts is None and deep < _DEEPEST:
        parts = factory_parts(place, places, known, deep + 1)
    if place is None or parts is None:
        return None
    return satisfied(place.coding, when.test, when.values, place.coding.decode(parts))
