"""A decision tree of reads as indented lines: the read, its answers, and what follows from each."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from cvlib.engine.bench.expect import NO_ANSWER, members
from cvlib.engine.bench.plan import SETTLED
from cvlib.engine.bench.tree import LIKELY, Branch, Node, Told, Tree
from cvlib.model.cv import spans_of
from cvlib.render.places import Data, slot_data
from cvlib.render.view import Block, Paragraph, Piece, Role
from cvlib.render.views.bench_words import answers_words, page_step, share_words

FEW_ANSWERS, FEW_LEVELS = 4, 3
"""Answers to a read, and reads in a row, that are shown unless everything is asked for."""
RARELY = 0.03
"""Answers less likely than this are shown only when everything is asked for."""

Words = Callable[[Branch], str]
"""What the answers of a branch mean."""


def tree_blocks(tree: Tree, words: Words, *, everything: bool) -> Iterator[Block]:
    """The tree from its first read on."""
    if tree.root is not None:
        yield from _node(tree.root, words, 1, everything)


def _node(node: Node, words: Words, depth: int, everything: bool) -> Iterator[Block]:
    step = page_step(node.slot)
    line = (
        Piece("Read "),
        Piece(str(node.slot), Role.STRONG),
        Piece(f". {step}" if step else "."),
    )
    yield Paragraph(line, indent=4 * depth - 2, hang=2)
    shown = [branch for branch in node.branches if everything or branch.chance >= RARELY]
    if not everything:
        shown = shown[:FEW_ANSWERS]
    for branch in shown:
        yield from _branch(branch, words, depth, everything)
    left = len(node.branches) - len(shown)
    if left:
        more = (
            f"{left} rarer answers; --all shows them."
            if left > 1
            else ("One rarer answer; --all shows it.")
        )
        yield Paragraph((Piece(more, Role.FAINT),), indent=4 * depth)


def _branch(branch: Branch, words: Words, depth: int, everything: bool) -> Iterator[Block]:
    said = words(branch)
    line = [
        Piece(answers_words(branch.answers), Role.STRONG),
        Piece(f" ({share_words(branch.chance)})"),
        Piece(f": {said}." if said else ":"),
    ]
    is_end = branch.then is None and not branch.is_cut
    hidden = branch.then is not None and depth >= FEW_LEVELS and not everything
    if branch.is_cut or hidden:
        line.append(Piece(" Further reads then tell the rest.", Role.FAINT))
    elif is_end and not said:
        line.append(Piece(f" {_end(branch)}"))
    yield Paragraph(tuple(line), indent=4 * depth, hang=2)
    if branch.then is not None and not hidden:
        yield from _node(branch.then, words, depth + 1, everything)


def _end(branch: Branch) -> str:
    """What is to be said where the reads end and nothing new was told."""
    if branch.shares and branch.shares[0].chance >= SETTLED:
        return "all is settled."
    if branch.shares and branch.shares[0].chance >= LIKELY:
        return "as was likely already; no read tells more."
    return "not settled, and no read tells more."


def tree_data(tree: Tree | None) -> Data | None:
    """A tree as data; nothing where there is none."""
    if tree is None:
        return None
    root = None if tree.root is None else _node_data(tree.root)
    return {"reads": tree.reads, "sure": tree.sure, "root": root}


def _node_data(node: Node) -> Data:
    return {
        **slot_data(node.slot),
        "branches": [_branch_data(branch) for branch in node.branches],
    }


def _branch_data(branch: Branch) -> Data:
    return {
        **answers_data(branch.answers),
        "chance": branch.chance,
        "told": [_told_data(one) for one in branch.told],
        "likely": [{"label": one.label, "chance": one.chance} for one in branch.shares],
        "not_planned": branch.is_cut,
        "then": None if branch.then is None else _node_data(branch.then),
    }


def _told_data(one: Told) -> Data:
    return {"part": one.facet, "side": one.value, "chance": one.chance}


def answers_data(answers: int) -> Data:
    """A set of answers: spans of values, and whether "no answer" is one of them."""
    spans = spans_of(value for value in members(answers) if value != NO_ANSWER)
    return {"values": spans, "no_answer": bool(answers >> NO_ANSWER & 1)}
