"""Where the changes of a review are written: in the later state, or where they were before."""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.change.review import ProfileReview, SettingChange, StoreReview
from cvlib.engine.lint.finding import Spot, at_place
from cvlib.errors import Fault, Position
from cvlib.files.lint.spots import Locators, position_of
from cvlib.files.revisions import State, States
from cvlib.model.answer import Answer
from cvlib.model.profile import Profile


def positions_of(
    states: States, found: StoreReview, broken: Mapping[str, tuple[Fault, ...]]
) -> Mapping[str, tuple[Position, ...]]:
    """Of each profile that changed, where it is written, and then where each of its changes is.

    Of each that cannot be read in the later state, where its faults are. Files are named from the
    top of the repository.
    """
    folder = states.folder.as_posix()
    before, after = _Written(states.before, folder), _Written(states.after, folder)
    return {one.id: _positions(one, before, after) for one in found.profiles} | {
        id: tuple(after.named(fault.position, f"{id}.toml") for fault in faults)
        for id, faults in broken.items()
    }


class _Written:
    """One state with its files by name."""

    def __init__(self, state: State, folder: str) -> None:
        self._locators = Locators(state)
        self._folder = folder
        self._names = {state.shown(name): name for name in state.names}

    def spot(self, profile: Profile, spot: Spot) -> Position:
        """Where a spot of a profile is written; the top of the profile where it lies elsewhere."""
        own = f"{profile.id}.toml"
        return self.named(position_of(profile, spot, self._locators.of(own), self._locators), own)

    def named(self, found: Position | None, own: str) -> Position:
        """A position with its file named from the top; that of ``own`` where it lies elsewhere."""
        name = self._names.get(found.file) if found else None
        if found is None or name is None:
            return Position(f"{self._folder}/{own}", 1, 1)
        return Position(f"{self._folder}/{name}", found.line, found.column, found.end)


def _positions(one: ProfileReview, before: _Written, after: _Written) -> tuple[Position, ...]:
    written, held = (after, one.after) if one.after else (before, one.before)
    if held is None:
        return ()
    own = written.spot(held, Spot("decoder", key=("id",)))
    return own, *(_position(one, change, before, after) for change in one.changes)


def _position(
    one: ProfileReview, change: SettingChange, before: _Written, after: _Written
) -> Position:
    """Where the later answer has its place; where that is gone, the setting, or what it was."""
    now = _spot(one.after, change.setting, change.after)
    if one.after and now:
        return after.spot(one.after, now)
    then = _spot(one.before, change.setting, change.before)
    held = one.before or one.after
    return before.spot(held, then) if held and then else Position("", 1, 1)


def _spot(profile: Profile | None, name: str, answer: Answer | None) -> Spot | None:
    """The place of an answer, else the setting as a whole; nothing where there is none."""
    setting = profile.settings.get(name) if profile else None
    if setting is None:
        return None
    places = answer.places() if answer else ()
    return at_place(setting, places[0]) if places else Spot("setting", name)
