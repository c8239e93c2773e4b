"""What a factory reset leaves at a place, where that depends on the values of other settings."""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.known.conditions import satisfied
from cvlib.model.coding import Parts
from cvlib.model.conditions import When
from cvlib.model.profile import Place

Values = Mapping[str, tuple[Place, Parts]]
"""What is known of settings: where each lives, and its value there."""


def factory_parts(
    place: Place, places: Mapping[str, Place | None], known: Values | None = None
) -> Parts | None:
    """What a factory reset leaves at a place; nothing where nobody can say.

    Deciding settings have the values that are known, else their own factory values.
    """
    return _Reset(places, known or {}).parts(place)


def holds_at_factory(when: When, places: Mapping[str, Place | None]) -> bool | None:
    """Whether a condition holds after a factory reset; nothing where nobody can say."""
    return _Reset(places, {}).holds(when)


class _Reset:
    """A factory reset, with what each deciding setting comes to, worked out once."""

    def __init__(self, places: Mapping[str, Place | None], known: Values) -> None:
        self._places = places
        self._left: dict[str, tuple[Place | None, Parts | None]] = dict(known)

    def parts(self, place: Place) -> Parts | None:
        return place.factory(self.holds)

    def holds(self, when: When) -> bool | None:
        name = when.setting
        if name not in self._left:
            place = self._places.get(name)
            self._left[name] = (place, None)  # a circle decides nothing
            self._left[name] = (place, self.parts(place) if place is not None else None)
        place, parts = self._left[name]
        if place is None or parts is None:
            return None
        return satisfied(place.coding, when.test, when.values, place.coding.decode(parts))
