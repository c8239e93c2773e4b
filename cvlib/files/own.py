"""What a person keeps: a folder of definitions of one's own, and texts to be sent on."""

from __future__ import annotations

import os
from pathlib import Path

from cvlib.files.store import VARIABLE
from cvlib.files.text import decode, file_name, read_bytes
from cvlib.files.write import create_file, replace_file

_RULE = "\n---\n\n"
"""Stands between two texts in one file."""


def own_folder(given: Path | None) -> Path | None:
    """The folder given, else the one that CVLIB_DEFINITIONS names, else nothing."""
    named = os.environ.get(VARIABLE)
    return given if given is not None else Path(named) if named else None


def add_text(path: Path, text: str) -> None:
    """Put a text into a file, behind what it holds already."""
    if not path.exists():
        create_file(path, text.encode("utf-8"))
        return
    held = read_bytes(path)
    before = decode(held, file_name(path)).rstrip()
    made = f"{before}\n{_RULE}{text}" if before else text
    replace_file(path, made.encode("utf-8"), held)
