"""What lint found, one line a fault, as editors and people read it."""

from __future__ import annotations

from collections import Counter

from cvlib.engine.lint.finding import Linted
from cvlib.render.phrases import counted, listed
from cvlib.render.places import Data
from cvlib.render.view import Block, Gap, Literal, Paragraph, Piece, Role


def view(linted: Linted) -> list[Block]:
    """Every fault in the order of the files, then one line that counts them."""
    blocks: list[Block] = []
    if linted.messages:
        # As they are and not wrapped: editors and other programs look for one line a fault.
        blocks += [Literal("\n".join(map(str, linted.messages))), Gap()]
    counts = Counter(one.code for one in linted.messages)
    each = listed([f"{number} {code}" for code, number in counts.most_common()])
    found = f"{counted(len(linted.messages), 'fault')}: {each}" if each else "No faults"
    role = Role.ERROR if each else Role.GOOD
    return [*blocks, Paragraph((Piece(found, role), Piece(f" in {_looked_at(linted)}.")))]


def data(linted: Linted) -> Data:
    """The faults as data; docs/schema/output-lint.schema.json describes it."""
    return {
        "profiles": linted.profiles,
        "blocks": linted.blocks,
        "files": linted.files,
        "messages": [
            {
                "code": one.code,
                "file": one.position.file,
                "line": one.position.line,
                "column": one.position.column,
                "problem": one.problem,
                "advice": one.advice,
            }
            for one in linted.messages
        ],
    }


def _looked_at(linted: Linted) -> str:
    parts = [
        counted(linted.profiles, "profile"),
        counted(linted.blocks, "blocks file"),
        *([counted(linted.files, "other file")] if linted.files else []),
    ]
    return listed(parts)
