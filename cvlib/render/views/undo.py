"""A file that was put back to a former state."""

from __future__ import annotations

from cvlib.engine.change.former import Undone
from cvlib.render.places import Data
from cvlib.render.view import Block, Paragraph, Piece, Role
from cvlib.render.views.log import when


def view(undone: Undone) -> list[Block]:
    """Which state the file has again, and where that which was there is."""
    state = undone.state
    words = f" is as it was until {when(state)}, before cvlib {state.cause} (state {state.number})."
    kept = f" What was there is kept as state {undone.kept}."
    return [Paragraph((Piece(undone.file, Role.CODE), Piece(words, Role.GOOD), Piece(kept)))]


def data(undone: Undone) -> Data:
    """The same as data; docs/schema/output-undo.schema.json describes it."""
    state = undone.state
    return {
        "file": undone.file,
        "state": state.number,
        "until": state.until,
        "command": state.cause,
        "kept_as": undone.kept,
    }
