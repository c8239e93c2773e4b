"""What lint found: one line a finding, as editors and people read it, or a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from cvlib.engine.lint.finding import Linted
from cvlib.errors import Position
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.phrases import counted, listed
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
    plain,
)
from cvlib.render.views.undecided import SEVERITY_ROLES


def view(linted: Linted) -> list[Block]:
    """Every finding in the order of the files, then what they come to."""
    blocks: list[Block] = []
    if linted.remarks:
        # As they are and not wrapped: editors and other programs look for one line a finding.
        blocks += [Literal("\n".join(map(str, linted.remarks))), Gap()]
    return [*blocks, Paragraph(summary(linted))]


def page(linted: Linted, remarks: Sequence[Remark], most: int | None = None) -> list[Block]:
    """What was found for a page: what it comes to, then a table of these remarks.

    With more rows than ``most`` the rest is counted below the table.
    """
    blocks: list[Block] = [Heading("Lint of the definitions", 2), Paragraph(summary(linted))]
    if remarks:
        shown = remarks[:most]
        more = len(remarks) - len(shown)
        columns = tuple(map(Column, ("severity", "code", "where", "what, and what to do")))
        rows = tuple(_row(one) for one in shown)
        blocks.append(Table(columns, rows, f"and {more} more" if more else ""))
    return blocks


def _row(remark: Remark) -> tuple[Line, ...]:
    return (
        (Piece(remark.severity.value, SEVERITY_ROLES[remark.severity]),),
        (Piece(remark.code, Role.CODE),),
        (Piece(str(remark.position), Role.CODE),),
        plain(remark.text),
    )


def summary(linted: Linted) -> Line:
    """What the findings come to, in one line."""
    looked = f" in {_looked_at(linted)}."
    accepted = f" {counted(linted.accepted, 'finding')} accepted." if linted.accepted else ""
    if linted.known:
        accepted += f" {counted(linted.known, 'finding')} that the revision had too."
    if not linted.remarks:
        none = "No new findings" if linted.known else "No findings"
        return Piece(none, Role.GOOD), Piece(looked + accepted)
    counts = Counter(one.severity for one in linted.remarks)
    grave = sorted(counts, key=lambda severity: -list(Severity).index(severity))
    each = listed([counted(counts[severity], severity.value) for severity in grave])
    codes = Counter(one.code for one in linted.remarks).most_common()
    told = listed([f"{number} {code}" for code, number in codes])
    return Piece(each, SEVERITY_ROLES[grave[0]]), Piece(f"{looked} {told}.{accepted}")


def data(linted: Linted) -> Data:
    """The findings as data; docs/schema/output-lint.schema.json describes it."""
    return {
        "profiles": linted.profiles,
        "blocks": linted.blocks,
        "files": linted.files,
        "accepted": linted.accepted,
        "known": linted.known,
        "messages": [
            {
                "code": one.code,
                "severity": one.severity.value,
                "file": one.position.file,
                "line": one.position.line,
                "column": one.position.column,
                "problem": one.problem,
                "advice": one.advice,
                "about": one.about,
                "other": _spot(one.other) if one.other else None,
            }
            for one in linted.remarks
        ],
    }


def _spot(spot: Position) -> Data:
    return {"file": spot.file, "line": spot.line, "column": spot.column}


def _looked_at(linted: Linted) -> str:
    parts = [
        counted(linted.profiles, "profile"),
        counted(linted.blocks, "blocks file"),
        *([counted(linted.files, "other file")] if linted.files else []),
    ]
    return listed(parts)
