"""What tidying came to: the files that were not tidy, then one line that counts."""

from __future__ import annotations

from cvlib.engine.change.tidied import Tidied
from cvlib.render.phrases import counted
from cvlib.render.places import Data
from cvlib.render.view import Block, Gap, Literal, Paragraph, Piece, Role


def view(tidied: Tidied) -> list[Block]:
    """A line for each file that was not tidy, and how many were looked at."""
    untidy = tidied.untidy
    blocks: list[Block] = []
    if untidy:
        blocks += [Literal("\n".join(one.file for one in untidy)), Gap()]
    done = "not tidy" if tidied.is_check else "tidied"
    words = f"{counted(len(untidy), 'file')} {done}" if untidy else "Every file is tidy"
    role = Role.WARNING if untidy and tidied.is_check else Role.GOOD
    total = f", {counted(len(tidied.files), 'file')} looked at."
    return [*blocks, Paragraph((Piece(words, role), Piece(total)))]


def data(tidied: Tidied) -> Data:
    """The files as data; docs/schema/output-tidy.schema.json describes it."""
    return {
        "check": tidied.is_check,
        "files": [{"file": one.file, "was_tidy": one.was_tidy} for one in tidied.files],
        "faults": [str(fault) for fault in tidied.faults],
    }
