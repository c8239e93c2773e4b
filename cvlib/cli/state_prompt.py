"""The one question about values that nobody dated: what became of them at the last update."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.cli.prompts import StoppedError, ask, can_ask, confirm

if TYPE_CHECKING:
    from cvlib.files.store import Store
    from cvlib.model.loco import Loco, SavedDecoder, State

QUESTION = (
    "Values may be left over from before an update. Was the decoder reset to its factory values "
    "after it (reset), not reset (not-reset), or never updated (never-updated)"
)


def asked_state(
    store: Store,
    path: Path,
    loco: Loco,
    role: str = "",
    profile: str = "",
    firmware: str = "",
    cause: str = "check",
) -> State:
    """What a person at a terminal says where it matters; unknown where nobody is asked.

    ``profile`` and ``firmware`` are what was said beside the file. The answer is kept in a loco
    file, if the person wants that; ``cause`` is the command that asks.
    """
    from cvlib.model.loco import State

    held = [decoder for decoder in loco.decoders if not role or decoder.role == role]
    if not can_ask() or len(held) != 1 or held[0].state:
        return State.UNKNOWN
    found = replace(
        held[0], profile=profile or held[0].profile, firmware=firmware or held[0].firmware
    )
    state = said_state(store, found)
    try:
        if state and path.suffix == ".toml" and confirm(f"Keep that in {path}"):
            _keep(path, loco.decoders.index(held[0]), state, cause)
    except StoppedError:
        return State.UNKNOWN
    return state


def said_state(store: Store, decoder: SavedDecoder) -> State:
    """What a person says became of the values of a decoder, where that is open and matters."""
    from cvlib.files.answers import parse_state
    from cvlib.files.identifying import may_be_older
    from cvlib.model.loco import State

    if decoder.state or not decoder.profile:
        return State.UNKNOWN
    if not can_ask() or not may_be_older(store, decoder, decoder.profile):
        return State.UNKNOWN
    try:
        return parse_state(ask(QUESTION, "unknown", parse_state))
    except StoppedError:
        return State.UNKNOWN


def _keep(path: Path, decoder: int, state: State, cause: str) -> None:
    from cvlib.files.edit_readings import NewReadings, keep_readings

    keep_readings(path, NewReadings(decoder, "", "", {}, (), None, "", state.value), cause)
