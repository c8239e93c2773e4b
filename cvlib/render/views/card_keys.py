"""The table of function keys and outputs: which key switches which output, and what else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cvlib.engine.explain.key_table import KeyTable, KeyWork
from cvlib.render.view import Block, Column, Line, Paragraph, Table, faint, plain, text_of

MARKS = {"": "x", "forward": "f", "reverse": "r"}
LEGEND = "x both ways, f forwards only, r backwards only, -x keeps it off."
WORDS_LEGEND = "(f forwards only, r backwards only, -x keeps it off)"


def key_blocks(keys: KeyTable) -> Iterator[Block]:
    """One row for each key that works something, one column for each output."""
    if not keys.works:
        return
    outputs = sorted({one.output for one in keys.works if one.output is not None})
    has_more = any(one.does for one in keys.works)
    columns = (
        Column("key", shrinks=False),
        *(Column(str(output), shrinks=False) for output in outputs),
        *((Column("works"),) if has_more else ()),
    )
    table = tuple(
        (
            plain(f"state {key}" if is_state else f"F{key}"),
            *(_cell(works, output) for output in outputs),
            *((_more(works),) if has_more else ()),
        )
        for (is_state, key), works in _by_key(keys).items()
    )
    yield Table(columns, table, indent=2)
    if any(one.direction or one.blocks for one in keys.works):
        yield Paragraph(faint(LEGEND), indent=2)


def _by_key(keys: KeyTable) -> dict[tuple[bool, int], list[KeyWork]]:
    rows: dict[tuple[bool, int], list[KeyWork]] = {}
    for one in keys.works:
        rows.setdefault((one.is_state, one.key), []).append(one)
    return rows


def key_words(keys: KeyTable) -> Iterator[Block]:
    """The same as running text: ``F0 1 f, 2 r; F3 5, shunting range``."""
    said: dict[str, list[str]] = {}
    for (is_state, key), works in _by_key(keys).items():
        outputs = sorted({one.output for one in works if one.output is not None})
        cells = [f"{output} {text_of(_cell(works, output))}" for output in outputs]
        more = text_of(_more(works))
        words = [cell.removesuffix(" x") for cell in cells] + ([more] if more else [])
        said[f"state {key}" if is_state else f"F{key}"] = words
    if said:
        text = "; ".join(f"{name}: {', '.join(held)}" for name, held in said.items())
        marked = any(one.direction or one.blocks for one in keys.works)
        yield Paragraph(plain(f"{text}." + (f" {WORDS_LEGEND}" if marked else "")), indent=2)


def _cell(works: Sequence[KeyWork], output: int) -> Line:
    """How a key works an output."""
    held = [one for one in works if one.output == output]
    marks = []
    for blocks in (False, True):
        directions = {one.direction for one in held if one.blocks is blocks}
        if directions:
            both = "" in directions or len(directions) > 1
            marks.append("-" * blocks + MARKS["" if both else directions.pop()])
    return plain(" ".join(marks))


def _more(works: Sequence[KeyWork]) -> Line:
    words = [
        f"{one.does} ({one.direction})" if one.direction else one.does for one in works if one.does
    ]
    return plain(", ".join(dict.fromkeys(words)))
