"""How far a long work has come, on the error stream of a terminal."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable

FEW = 30
"""Up to so many files a work is done before anybody could read a bar."""


def watched(names: Collection[str]) -> Iterable[str]:
    """The names one by one; on a terminal a bar shows how many are done."""
    if len(names) <= FEW or not sys.stderr.isatty():
        return names
    from rich.console import Console
    from rich.progress import track

    return track(
        names,
        description="files",
        total=len(names),
        console=Console(stderr=True),
        transient=True,
    )
