"""A small store in which one profile follows blocks, and one a standard."""

from pathlib import Path

PROFILE = """format = 2
[decoder]
id = "{id}"
maker = "Ferrow"
name = "Gull"
kind = "motor"
follows = [{follows}]
[firmware]
scheme = "number"
parts = []
[[source]]
id = "h"
kind = "document"
title = "Handbook"
date = 2020-01-01
firmware = ">=1, <=9"
[[setting]]
id = "speed.top"
title = "Top speed"
[[setting.place]]
cv = 5
kind = "number"
"""
BLOCKS = """format = 2
[[block]]
id = "lamps"
title = "Lamps"
[[block.setting]]
id = "lamps.brightness"
title = "Brightness"
[[block.setting.place]]
cv = 62
kind = "number"
"""


def profile(id: str, follows: str = "") -> str:
    """A small profile, perhaps one that follows something."""
    return PROFILE.format(id=id, follows=f'"{follows}"' if follows else "")


STORE = {
    "gulls/gull.toml": profile("gulls/gull"),
    "gulls/tern.toml": profile("gulls/tern", "gulls/blocks/lamps"),
    "gulls/skua.toml": profile("gulls/skua"),
    "gulls/blocks.toml": BLOCKS,
    "standard/own.toml": profile("standard/own").replace('"motor"', '"standard"'),
    "ilex-works/heron.toml": profile("ilex-works/heron", "standard/own@1"),
}


def put(here: Path, name: str, text: str) -> Path:
    """Write a file of the store."""
    path = here / "definitions" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")
    return path
