"""The profiles of a store as a list."""

from __future__ import annotations

import re
from collections.abc import Sequence

from cvlib.model.summary import Summary
from cvlib.render.phrases import counted, firmware_words
from cvlib.render.places import Data
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)

_FIRST = re.compile(r"(?:>=|==)([^,]+)")
_LAST = re.compile(r"(?:<=|==)([^,]+)$")


def view(profiles: Sequence[Summary], words: Sequence[str]) -> list[Block]:
    """One row for each profile, those that cannot be read told below."""
    fitting = f' that fit "{" ".join(words)}"' if words else ""
    if not profiles:
        return [Paragraph(plain(f"There are no profiles{fitting}."))]
    columns = (
        Column("profile", shrinks=False),
        Column("kind", shrinks=False),
        Column("documented"),
        Column("releases"),
    )
    blocks: list[Block] = [
        Heading(f"{counted(len(profiles), 'profile')}{fitting}", 1),
        Table(columns, tuple(map(_row, profiles))),
    ]
    faults = [one for one in profiles if one.fault]
    if faults:
        blocks.append(Gap())
        blocks += [Paragraph((Piece(str(one.fault), Role.ERROR),), hang=2) for one in faults]
    return [*blocks, Gap(), Paragraph(faint('More: "cvlib timeline ID" and "cvlib settings ID".'))]


def data(profiles: Sequence[Summary]) -> Data:
    """The list as data; docs/schema/output-profiles.schema.json describes it."""
    return {
        "profiles": [
            {
                "id": one.id,
                "maker": one.maker,
                "name": one.name,
                "kind": one.kind,
                "scheme": one.scheme,
                "covered": one.covered,
                "releases": list(one.releases),
                "file": one.file,
                "fault": str(one.fault) if one.fault else None,
            }
            for one in profiles
        ]
    }


def _row(one: Summary) -> tuple[Line, ...]:
    name = f"{one.maker} {one.name}".strip()
    told = Piece("cannot be read", Role.ERROR) if one.fault else Piece(name)
    return (
        (Piece(one.id, Role.CODE), Piece("\n"), told),
        plain(one.kind),
        plain(_covered(one.covered)),
        plain(_releases(one.releases)),
    )


def _covered(text: str) -> str:
    """The documented firmware; of several spans the two ends, and how many gaps there are."""
    spans = text.split(" or ")
    ends = _FIRST.match(spans[0]), _LAST.search(spans[-1])
    if len(spans) == 1 or not (ends[0] and ends[1]):
        return "; ".join(map(firmware_words, spans)) if text else "-"
    return f"{ends[0][1]} to {ends[1][1]}, {counted(len(spans) - 1, 'gap')}"


def _releases(releases: tuple[str, ...]) -> str:
    return f"{len(releases)}, newest {releases[-1]}" if len(releases) > 1 else "".join(releases)
