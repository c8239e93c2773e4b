"""The one question about values that nobody dated: what became of them at the last update."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.cli.prompts import StoppedError, ask, can_ask, confirm
from cvlib.errors import problem

if TYPE_CHECKING:
    from cvlib.files.store import Store
    from cvlib.model.loco import Loco, State

QUESTION = (
    "Values may be left over from before an update. Was the decoder reset to its factory values "
    "after it (reset), not reset (not-reset), or never updated (never-updated)"
)


def asked_state(
    store: Store, path: Path, loco: Loco, role: str = "", profile: str = "", firmware: str = ""
) -> State:
    """What a person at a terminal says where it matters; unknown where nobody is asked.

    ``profile`` and ``firmware`` are what was said beside the file. The answer is kept in a loco
    file, if the person wants that.
    """
    from cvlib.files.identifying import may_be_older
    from cvlib.model.loco import State

    held = [decoder for decoder in loco.decoders if not role or decoder.role == role]
    if not can_ask() or len(held) != 1 or held[0].state:
        return State.UNKNOWN
    name = profile or held[0].profile
    decoder = replace(held[0], firmware=firmware or held[0].firmware)
    if not name or not may_be_older(store, decoder, name):
        return State.UNKNOWN
    try:
        state = _parsed(ask(QUESTION, "unknown", _parsed))
        if state and path.suffix == ".toml" and confirm(f"Keep that in {path}"):
            _keep(path, loco.decoders.index(held[0]), state)
    except StoppedError:
        return State.UNKNOWN
    return state


def _parsed(text: str) -> State:
    from cvlib.model.loco import State

    said = text.strip().casefold().replace(" ", "-")
    if said not in ("unknown", *(state.value for state in State if state)):
        raise problem(
            "that is none of the answers.",
            advice='Say "reset", "not-reset", "never-updated" or "unknown".',
        )
    return State.UNKNOWN if said == "unknown" else State(said)


def _keep(path: Path, decoder: int, state: State) -> None:
    from datetime import date

    from cvlib.files.edit_readings import NewReadings, keep_readings

    keep_readings(path, NewReadings(decoder, "", "", {}, (), date.today(), "", state.value))
