"""The former states of a file: when each was replaced, by what, and what changed then."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.change.former import FormerState, StateChange, StateLog
from cvlib.model.cv import Slot
from cvlib.render.phrases import counted
from cvlib.render.places import Data
from cvlib.render.view import Block, Column, Gap, Heading, Paragraph, Piece, Role, Table, plain

MOST = 4
"""CVs that are told one by one before they are counted."""


def view(log: StateLog, *, everything: bool = False) -> list[Block]:
    """A row for each state, newest first, and how to get one back."""
    blocks: list[Block] = [Heading(log.file, 1)]
    if not log.states:
        words = "No former state is kept: cvlib has not written over this file yet."
        return [*blocks, Paragraph(plain(words))]
    columns = (
        Column("state", numeric=True),
        Column("until", shrinks=False),
        Column("replaced by"),
        Column("which changed"),
    )
    rows = (
        (
            plain(str(one.number)),
            plain(when(one)),
            (Piece(f"cvlib {one.cause}", Role.CODE),),
            plain(_changed(one, everything=everything)),
        )
        for one in reversed(log.states)
    )
    way = plain('"cvlib undo FILE" goes back one state, "cvlib undo FILE --to STATE" to any.')
    return [*blocks, Table(columns, tuple(rows)), Gap(), Paragraph(way)]


def when(state: FormerState) -> str:
    """Until when a state stood."""
    return f"{state.until.removesuffix('Z').replace('T', ' ')} UTC"


def data(log: StateLog) -> Data:
    """The states as data; docs/schema/output-log.schema.json describes it."""
    return {"file": log.file, "states": [state_data(one) for one in log.states]}


def state_data(state: FormerState) -> Data:
    """One state as data."""
    return {
        "state": state.number,
        "until": state.until,
        "command": state.cause,
        "changes": [_change_data(change) for change in state.changes],
    }


def _change_data(change: StateChange) -> Data:
    return {
        "decoder": change.decoder,
        "what": change.what.typed if isinstance(change.what, Slot) else change.what,
        "was": change.was,
        "now": change.now,
    }


def _changed(state: FormerState, *, everything: bool) -> str:
    told = [_told(one) for one in state.changes if not isinstance(one.what, Slot)]
    values = [one for one in state.changes if isinstance(one.what, Slot)]
    if everything or len(values) <= MOST:
        told += map(_told, values)
    else:
        told += _counts(values)
    if not told and state.is_held:
        return "nothing: the file holds this state"
    return "; ".join(told) or "no value"


def _told(change: StateChange) -> str:
    what = str(change.what)
    was, now = ("none" if one is None else one for one in (change.was, change.now))
    return f"{what} {was} → {now}"


def _counts(values: list[StateChange]) -> Iterator[str]:
    new = sum(one.was is None for one in values)
    gone = sum(one.now is None for one in values)
    for count, word in ((len(values) - new - gone, "other"), (new, "new"), (gone, "gone")):
        if count:
            yield f"{counted(count, 'CV')} {word}"
