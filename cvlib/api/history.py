"""The states that a file went through, and one of them put back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.errors import InputError

if TYPE_CHECKING:
    from cvlib.engine.change.former import StateLog, Undone
    from cvlib.model.loco import Loco


def log(path: Path) -> StateLog:
    """The former states of a file that are kept, with what each of the following ones changed.

    Raises :class:`~cvlib.errors.InputError` where there is no such file.
    """
    from cvlib.engine.change.former import FormerState, StateLog, changes_between
    from cvlib.files.history import former_files
    from cvlib.files.text import file_name, read_bytes

    data = read_bytes(path)
    known = former_files(path)
    locos = [*(_loco(path, read_bytes(one.path)) for one in known), _loco(path, data)]
    states = (
        FormerState(
            one.number,
            one.until,
            one.cause,
            changes_between(held, then) if held is not None and then is not None else (),
            read_bytes(one.path) == data,
        )
        for one, held, then in zip(known, locos, locos[1:], strict=False)
    )
    return StateLog(file_name(path), tuple(states))


def undo(path: Path, number: int = 0) -> Undone:
    """Put a file back to the state before the last write, or to the state of a number.

    What the file holds now is kept as a state of its own. Raises
    :class:`~cvlib.errors.InputError`, with the file as it was, where there is no such state.
    """
    from cvlib.engine.change.former import FormerState, Undone
    from cvlib.files.history import put_back
    from cvlib.files.text import file_name

    found, kept = put_back(path, number)
    state = FormerState(found.number, found.until, found.cause, ())
    return Undone(file_name(path), state, kept)


def _loco(path: Path, data: bytes) -> Loco | None:
    from cvlib.files.read.interface import read_content

    try:
        return read_content(data, str(path))
    except InputError:
        return None
