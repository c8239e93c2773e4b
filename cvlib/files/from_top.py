"""Files named from the top of a repository, as programs outside of this one want them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from cvlib.errors import Position
from cvlib.files.text import real_path
from cvlib.findings.remark import Remark


def from_top(remarks: Iterable[Remark], top: Path) -> tuple[Remark, ...]:
    """The remarks with their files named from a folder on, with forward slashes.

    A file that lies elsewhere is named by its whole path.
    """
    names: dict[str, str] = {}

    def named(spot: Position) -> Position:
        if spot.file not in names:
            names[spot.file] = _name(spot.file, top)
        return replace(spot, file=names[spot.file])

    return tuple(
        replace(one, position=named(one.position), other=named(one.other) if one.other else None)
        for one in remarks
    )


def _name(file: str, top: Path) -> str:
    path = real_path(Path(file))
    return (path.relative_to(top) if path.is_relative_to(top) else path).as_posix()
