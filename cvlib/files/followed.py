"""What a definition follows, as its text names it: also where it cannot be read whole."""

from __future__ import annotations

import re

_FOLLOWED = re.compile(r"[\"']([\w.-]+)/(?:blocks/|([\w.-]+)@)")
"""Blocks of a folder, or a standard's edition."""


def followed_names(text: str) -> tuple[str, ...]:
    """The files that a profile may take settings from, by their names in the store, each once.

    >>> followed_names('follows = ["standard/rcn-225@2025-07-27", "ferrow/blocks/lamps"]')
    ('standard/rcn-225.toml', 'ferrow/blocks.toml')
    """
    found = (f"{one[1]}/{one[2] or 'blocks'}.toml" for one in _FOLLOWED.finditer(text))
    return tuple(dict.fromkeys(found))
