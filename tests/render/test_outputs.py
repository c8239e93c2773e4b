"""Blocks become text for a terminal, Markdown and JSON."""

import json
from decimal import Decimal

import pytest
from markdown_it import MarkdownIt

from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits
from cvlib.render.to_json import as_data, to_json
from cvlib.render.to_markdown import to_markdown
from cvlib.render.to_terminal import to_terminal
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

LONG = "Stopping distance now lives at CV 144, and nobody knows why it moved there at all."
TABLE = Table(
    (Column("loco"), Column("CVs", numeric=True, shrinks=False)),
    ((plain("No. 4 Marsh Harrier"), plain("7")), (plain("No. 5"), plain("123"))),
    caption="two locos",
)
BLOCKS: list[Block] = [
    Heading("Check", 1),
    Gap(),
    Paragraph((Piece("error", Role.ERROR), Piece("  "), Piece("reused", Role.CODE))),
    Paragraph(plain(LONG), indent=2, hang=2),
    TABLE,
    Literal("cvlib check x.toml", 2),
]


@pytest.mark.parametrize("width", [20, 40, 80, 120])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    """At every width lines fit, and no line ends in spaces."""
    lines = to_terminal(BLOCKS, width).splitlines()
    assert max(map(len, lines)) <= width
    assert [line for line in lines if line != line.rstrip()] == []


def test_a_paragraph_is_indented_and_hangs() -> None:
    """The first line stands in by the indent, the others by the hang more."""
    assert to_terminal([Paragraph(plain(LONG), indent=2, hang=2)], 40) == (
        "  Stopping distance now lives at CV 144,\n"
        "    and nobody knows why it moved there\n"
        "    at all.\n"
    )


@pytest.mark.parametrize("width", range(20, 60))
def test_a_number_stays_with_its_cv(width: int) -> None:
    """No line ends between "CV" and its number."""
    text = to_terminal([Paragraph(plain(LONG))], width)
    assert "CV 144" in text
    assert "\ue000" not in text


def test_a_table_stands_in_columns() -> None:
    """Titles, a rule, figures to the right, the caption below."""
    assert to_terminal([TABLE], 60) == (
        "loco                 CVs\n"
        "────────────────────────\n"
        "No. 4 Marsh Harrier    7\n"
        "No. 5                123\n"
        "two locos\n"
    )


def test_colours_only_when_asked_for_and_words_stay() -> None:
    """Escape sequences come with colour only; without them the text is the same."""
    bare, coloured = to_terminal(BLOCKS, 80), to_terminal(BLOCKS, 80, colour=True)
    assert "\x1b" not in bare
    assert "\x1b[1;31merror" in coloured
    assert "error" in bare


@pytest.mark.parametrize("text", ["a\x1b[31mb", "a\x07b", "a\x9b1mb", "a\u202eb", "a\rb"])
def test_a_name_cannot_steer_the_terminal(text: str) -> None:
    """Control characters of a file are shown as marks, never sent on."""
    shown = to_terminal([Paragraph(plain(text)), Heading(text), Literal(text)], 80)
    assert not any(not c.isprintable() and c != "\n" for c in shown)


@pytest.mark.parametrize(
    "text",
    [
        "*a* _b_ `c` [d](e) <f> | ~~g~~ \\ h",
        "# no heading",
        "- no list",
        "+ no list",
        "1. no list",
        "&amp; &copy",
        "output[3].brightness",
        "=== ",
    ],
)
def test_markdown_shows_text_as_it_is(text: str) -> None:
    """What a Markdown reader renders is one paragraph with exactly the text."""
    tokens = MarkdownIt("commonmark").parse(to_markdown([Paragraph(plain(text))]))
    assert [token.type for token in tokens] == ["paragraph_open", "inline", "paragraph_close"]
    children = tokens[1].children or []
    assert "".join(child.content for child in children) == text.strip()
    assert {child.type for child in children} <= {"text", "text_special"}


def test_markdown_sets_roles_off() -> None:
    """Severities are bold, codes are code, tables are tables, literal text is fenced."""
    text = to_markdown(BLOCKS)
    assert text.startswith("# Check\n\n**error**  `reused`\n\n")
    assert "| loco | CVs |\n| --- | ---: |\n| No. 4 Marsh Harrier | 7 |\n" in text
    assert text.endswith("```\ncvlib check x.toml\n```\n")


@pytest.mark.parametrize("code", ["a`b", "`", "a|b", "``x``"])
def test_code_with_backticks_stays_code(code: str) -> None:
    """A code piece is read back as it was, whatever backticks it holds."""
    text = to_markdown([Paragraph((Piece(code, Role.CODE),))])
    inline = MarkdownIt("commonmark").parse(text)[1]
    (child,) = inline.children or []
    assert (child.type, child.content.replace("\\|", "|")) == ("code_inline", code)


def test_a_fence_is_longer_than_those_inside() -> None:
    """Literal text with a fence of its own stays one block."""
    inside = "```\nx\n```"
    (token,) = MarkdownIt("commonmark").parse(to_markdown([Literal(inside)]))
    assert token.type == "fence"
    assert token.content.rstrip() == inside


def test_json_is_sorted_and_has_its_version() -> None:
    """Keys in order, format beside the data, whole numbers of a list on one line."""
    text = to_json({"b": [1, 2], "a": {"d": "ü", "c": None}})
    assert text == (
        '{\n  "a": {\n    "c": null,\n    "d": "ü"\n  },\n  "b": [1, 2],\n  "format": 1\n}\n'
    )


def test_json_leaves_text_that_looks_like_a_list_alone() -> None:
    """A text with line ends and brackets is not touched."""
    data = {"a": "[\n  1,\n  2\n]"}
    assert json.loads(to_json(data)) == {**data, "format": 1}


def test_results_become_plain_data() -> None:
    """Dataclasses become objects, enumerations their values, figures without a type texts."""
    assert as_data(Bits(1, "", 255, 3)) == {"cv": 1, "page": "", "mask": 255, "value": 3}
    held = {"x": (Severity.ERROR, Decimal("1.5"), None, True), 2: frozenset("ba")}
    assert as_data(held) == {"x": ["error", "1.5", None, True], "2": ["a", "b"]}
