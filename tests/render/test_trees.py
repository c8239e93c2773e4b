"""What a tree of reads says where its reads end."""

import pytest

from cvlib.engine.bench.tree import Branch, Node, Share, Tree
from cvlib.model.cv import Slot
from cvlib.render.to_terminal import to_terminal
from cvlib.render.views.trees import tree_blocks


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.997, "all is settled."),
        (0.93, "as was likely already; no read tells more."),
        (0.6, "not settled, and no read tells more."),
    ],
)
def test_an_answer_that_tells_nothing_new_is_not_called_open(chance: float, words: str) -> None:
    """What was settled by the reads before stays settled."""
    branch = Branch(1 << 7, 1.0, (Share(0, chance),), (), None)
    tree = Tree(Node(Slot(60), (branch,)), 1.0, chance)
    blocks = tree_blocks(tree, lambda _: "", everything=True)
    assert words in to_terminal(blocks)
