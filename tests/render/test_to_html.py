"""Blocks as a page to print, and curves drawn with characters."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.render.marks import BLANK, BOX
from cvlib.render.plot import BOTH, curves_text
from cvlib.render.to_html import to_html
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)


def caution(text: str) -> Paragraph:
    """A paragraph that opens with a warning."""
    return Paragraph((Piece("Caution: ", Role.WARNING), Piece(text)))


def test_everything_is_escaped() -> None:
    """No text of a profile or a loco file becomes part of the page's own language."""
    evil = '<script>alert("&")</script>'
    blocks: list[Block] = [
        Heading(evil, 1),
        Paragraph(plain(evil)),
        Literal(evil),
        Table((Column(evil),), ((plain(evil),),), evil),
    ]
    page = to_html(blocks)
    assert "<script" not in page
    assert page.count("&lt;script&gt;") == 7 + 1, "and once in the name of the table"


def test_a_run_of_cautions_has_one_frame() -> None:
    """The first caution of a run closes the frame above, the last below; gaps do not part them."""
    page = to_html([caution("a"), Gap(), caution("b"), caution("c"), Paragraph(plain("d"))])
    assert 'class="caution first">' in page
    assert 'class="caution">' in page
    assert 'class="caution last">' in page
    assert 'class="caution first last">' in to_html([caution("alone")])


def test_boxes_and_blanks_are_drawn() -> None:
    """A cell that is a box or a blank is drawn; the same signs inside a sentence stay text."""
    table = Table((Column("a"),), ((plain(BOX),), (plain(BLANK),), (plain(f"tick {BOX}"),)))
    page = to_html([table])
    assert page.count('class="box"') == 1
    assert page.count('class="blank"') == 1
    assert f"tick {BOX}" in page


@pytest.mark.parametrize("role", Role)
def test_no_role_is_a_colour_alone(role: Role) -> None:
    """Each role keeps its words, and the style knows no role; print is black, white and grey."""
    page = to_html([Paragraph((Piece("words", role),))])
    assert "words" in page
    style = page[page.index("<style>") : page.index("</style>")]
    assert not [one for one in ("error", "warning", "note", "good") if f".{one}" in style]
    at = style.index("@media print")
    colours = set(re.findall(r"#[0-9a-f]{3,6}", style[at : style.index("} }", at)]))
    assert colours == {"#000", "#fff", "#333", "#ccc"}


levels = st.lists(st.integers(0, 255).map(Fraction), min_size=28, max_size=28)


@given(levels, levels)
def test_every_step_of_every_curve_is_drawn(one: list[Fraction], other: list[Fraction]) -> None:
    """Each column has the letters of both curves, or one mark where they meet."""
    lines = curves_text([one, other]).splitlines()
    rows = [line.partition("|")[2] for line in lines if "|" in line]
    for step in range(28):
        column = "".join(row[step * 2 : step * 2 + 1].strip() for row in rows)
        assert sorted(column) in (["A", "B"], [BOTH])


def test_an_unknown_curve_is_left_out() -> None:
    """The other curves keep their letters."""
    text = curves_text([None, [Fraction(255)] * 28])
    assert "A" not in text
    assert text.splitlines()[0].count("B") == 28
