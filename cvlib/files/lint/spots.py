"""Where the parts of a profile are written: in its own file or in one of those it follows."""

from __future__ import annotations

from cvlib.engine.lint.finding import Spot
from cvlib.errors import Position
from cvlib.files.locate import Locator
from cvlib.files.store import Store
from cvlib.model.profile import Profile


class Locators:
    """The locator of each file of a store, made once."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._made: dict[str, Locator] = {}

    def of(self, name: str) -> Locator:
        """The locator of a file by its name in the store, with the ending."""
        if name not in self._made:
            shown, text = self.store.text(name)
            self._made[name] = Locator(text, shown)
        return self._made[name]


def position_of(profile: Profile, spot: Spot, own: Locator, others: Locators) -> Position:
    """Where a spot of a profile is written; the top of its own file where it is not found."""
    setting = profile.settings.get(spot.id) if spot.table == "setting" else None
    if setting is not None and setting.origin:
        found = _taken_over(setting.origin, spot, others)
    else:
        found = own.find(spot)
        # A rule of a block has no origin of its own: look where the profile takes blocks from.
        for origin in profile.follows if found is None else ():
            found = found or _taken_over(origin, spot, others)
    return found or Position(own.name, 1, 1)


def _taken_over(origin: str, spot: Spot, others: Locators) -> Position | None:
    folder, at_blocks, block = origin.partition("/blocks/")
    if at_blocks:
        return others.of(f"{folder}/blocks.toml").find(spot, block)
    standard = origin.partition("@")[0]
    return others.of(f"{standard}.toml").find(spot)
