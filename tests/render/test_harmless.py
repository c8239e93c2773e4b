"""Whatever a file holds, every output shows it as text and nothing else."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.errors import Position, visible
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.to_csv import to_csv
from cvlib.render.to_github import annotation
from cvlib.render.to_html import to_html
from cvlib.render.to_markdown import to_markdown
from cvlib.render.to_terminal import to_terminal
from cvlib.render.view import (
    MOST_SHOWN,
    Block,
    Column,
    Heading,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)

MARKS = ("\x1b[31m", "\x07", "\x9b2J", "\u202e", "\u2066", "\u200b", "\udcff", "\x00", "\ue000")
OUTPUTS = {"terminal": to_terminal, "markdown": to_markdown, "html": to_html}


def blocks(text: str) -> list[Block]:
    """The text in every part of every block."""
    return [
        Heading(text),
        Paragraph((Piece(text), Piece(text, Role.CODE), Piece(text, Role.STRONG))),
        Literal(text),
        Table((Column(text),), ((plain(text),),), text),
    ]


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("output", list(OUTPUTS))
def test_no_mark_reaches_an_output(output: str, mark: str) -> None:
    """Escapes and marks of direction are shown by a stand-in, wherever they stand."""
    made = OUTPUTS[output](blocks(f"a{mark}b"))
    assert all(char.isprintable() or char == "\n" for char in made)
    assert "a\ufffd" in made
    made.encode("utf-8")


@given(st.text())
def test_what_is_visible_is_printable(text: str) -> None:
    """Nothing is lost but marks, and what is printable stays as it is."""
    made = visible(text)
    assert made.isprintable()
    assert len(made) == len(text)
    assert all(new in (old, " ", "\ufffd") for old, new in zip(text, made, strict=True))


@pytest.mark.parametrize("output", list(OUTPUTS))
def test_a_piece_is_bounded(output: str) -> None:
    """A name of a hundred thousand letters is cut, and marked."""
    made = OUTPUTS[output](
        [Heading("n" * 100_000), Table((Column("t"),), ((plain("c" * 99_999),),))]
    )
    assert made.count("n") < MOST_SHOWN * 2 + 400  # the page has it as its title as well
    assert made.count("c") < MOST_SHOWN + 3000  # the style of the page has some
    assert "…" in made


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\uff1d", " =", "\t=", "\n="])
def test_cell_like_a_formula_is_text(start: str) -> None:
    """In CSV, where a table program would run it."""
    ((cell, _),) = csv.reader(io.StringIO(to_csv([(f'{start}HYPERLINK("x";"y")', 1)])))
    assert cell[0] not in "=+-@\uff1d"
    assert not cell.lstrip().startswith(tuple("=+-@\uff1d"))


@pytest.mark.parametrize("number", ["-5", "+5", "-0.5", "-1,25", "7", "-"])
def test_number_stays_a_number(number: str) -> None:
    """-5 is no formula, and a dash alone stands for nothing."""
    assert to_csv([(number, -5)]) == f"{number},-5\n".replace("-1,25,", '"-1,25",').replace(
        "-0.5,", "-0.5,"
    )


@pytest.mark.parametrize(
    ("text", "harmful"),
    [
        ("a\n\n# Heading", "\n#"),
        ("a\n- item", "\n- "),
        ("a\n---", "\n---"),
        ("see @stranger", "@stranger"),
        ("closes #12", "#12"),
        ("x<img src=x>", "x<img"),
        ("[a](b)", "[a]"),
    ],
)
def test_markdown_is_text(text: str, harmful: str) -> None:
    """Nothing in a file makes a heading, a list, a link or an image, or calls anybody."""
    assert harmful not in to_markdown([Paragraph(plain(text))])


def test_annotation_shows_no_mark() -> None:
    """Neither in its file nor in its text."""
    told = annotation(Remark("a-code", Severity.ERROR, Position("a\x1b.toml", 1, 1), "x\u202ey"))
    assert "\x1b" not in told
    assert "\u202e" not in told
