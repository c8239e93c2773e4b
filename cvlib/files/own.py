"""What a person keeps: a folder of definitions of one's own, and texts to be sent on."""

from __future__ import annotations

import os
from pathlib import Path

from cvlib.errors import Position, problem
from cvlib.files.disk import check_mine, target_of
from cvlib.files.store import VARIABLE
from cvlib.files.text import decode, encode_as, file_name, is_folder, is_there, read_bytes
from cvlib.files.write import any_text, create_file, rewrite_file

_RULE = "\n---\n\n"
"""Stands between two texts in one file."""


def own_folder(given: Path | None) -> Path | None:
    """The folder given, else the one that CVLIB_DEFINITIONS names, else nothing."""
    named = os.environ.get(VARIABLE)
    return given if given is not None else Path(named) if named else None


def check_text(path: Path) -> None:
    """Raise InputError where a text could not be put into a file: ask before anything is done."""
    target = target_of(path)
    if os.path.lexists(path):
        decode(read_bytes(path), file_name(path))
        check_mine(target, path)
    elif not is_folder(path.parent):
        raise problem(
            "there is no such folder.", advice="Make it first.", position=Position(file_name(path))
        )
    if not os.access(target.parent, os.W_OK):
        raise problem(
            "you may not write in this folder.",
            advice="Name another file.",
            position=Position(file_name(path)),
        )


def add_text(path: Path, text: str) -> None:
    """Put a text into a file, behind what it holds already."""
    entered = text.encode("utf-8")

    def change(was: bytes) -> bytes:
        held = decode(was, file_name(path))
        before = held.replace("\r\n", "\n").rstrip()
        return encode_as(f"{before}\n{_RULE}{text}" if before else text, was, held)

    if is_there(path):
        rewrite_file(path, change, any_text, entered=entered)
    else:
        create_file(path, entered, any_text, entered=entered)
