"""What a recipe reads, row by row, and a recipe proposed."""

from __future__ import annotations

from cvlib.errors import one_line
from cvlib.model.recipe import ByRecipe, RecipeProposal, RecipeRow, label
from cvlib.render.phrases import counted
from cvlib.render.places import Data
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)

MOST_SHOWN = 1000
"""Rows that are shown as a table."""


def view(found: ByRecipe) -> list[Block]:
    """A row for each row of the file, then the decoders it holds and what is wrong as a whole."""
    has_several = len(found.locos) > 1
    columns = (
        Column("line", numeric=True, shrinks=False),
        Column("number", shrinks=False),
        Column("value", shrinks=False),
        *((Column("decoder"),) if has_several else ()),
        Column("read as"),
    )
    counts = (
        (sum(row.byte is not None for row in found.rows), "read"),
        (sum(bool(row.skipped) for row in found.rows), "left out"),
        (len(found.faults), "wrong"),
    )
    told = ", ".join(f"{count} {word}" for count, word in counts if count)
    blocks: list[Block] = [
        Heading(f"{found.file}: {counted(len(found.rows), 'row')}, {told}", 1),
        Table(columns, tuple(_row(row, has_several) for row in found.rows[:MOST_SHOWN])),
    ]
    if len(found.rows) > MOST_SHOWN:
        more = counted(len(found.rows) - MOST_SHOWN, "more row")
        blocks.append(Paragraph(faint(f"{more}: --format json has them all.")))
    shown = {row.fault for row in found.rows[:MOST_SHOWN]}
    others = [fault for fault in found.faults if fault not in shown]
    if others:
        blocks.append(Gap())
        blocks += [Paragraph((Piece(str(fault), Role.ERROR),), hang=2) for fault in others]
    if has_several:
        names = ", ".join(f'"{label(key)}"' for key in found.locos)
        words = f"{len(found.locos)} decoders: {names}. Choose one with --role."
        blocks += [Gap(), Paragraph((Piece(one_line(words), Role.WARNING),))]
    return blocks


def _row(row: RecipeRow, has_several: bool) -> tuple[Line, ...]:
    outcome: Line = plain(f"{row.slot} = {row.byte}")
    if row.fault is not None:
        outcome = (Piece(f"{row.fault.problem} {row.fault.advice}", Role.ERROR),)
    elif row.skipped:
        outcome = faint(f"left out: {row.skipped}")
    decoder = (plain(one_line(label(row.decoder))),) if has_several else ()
    written = plain(one_line(row.number)), plain(one_line(row.value))
    return plain(str(row.line)), *written, *decoder, outcome


def proposal_view(found: RecipeProposal) -> list[Block]:
    """The recipe as it is to be kept, its reasons in remarks."""
    return [Literal(found.text.rstrip("\n"))]


def proposal_data(found: RecipeProposal) -> Data:
    """The proposal as data; docs/schema/output-recipe.schema.json describes it."""
    return {
        **data(found.outcome),
        "recipe": found.text,
        "certainty": found.certainty,
        "reasons": list(found.reasons),
    }


def data(found: ByRecipe) -> Data:
    """The rows as data; docs/schema/output-recipe.schema.json describes it."""
    return {
        "file": found.file,
        "rows": [_row_data(row) for row in found.rows],
        "decoders": [
            {"role": key[0], "name": key[1], "address": key[2], "values": len(decoder.values)}
            for key, loco in found.locos.items()
            for decoder in loco.decoders
        ],
        "faults": [str(fault) for fault in found.faults],
    }


def _row_data(row: RecipeRow) -> Data:
    page = row.slot.page if row.slot else None
    return {
        "line": row.line,
        "written": {"number": row.number, "value": row.value, "page": row.page},
        "decoder": label(row.decoder),
        "cv": row.slot.cv if row.slot else None,
        "page": str(page) if page else None,
        "value": row.byte,
        "skipped": row.skipped or None,
        "fault": row.fault.problem if row.fault else None,
    }
