"""Random edits to good profiles: a review shows what changed, or the reader refuses the file."""

from collections import Counter

import pytest

from review.mutations import Outcome, tried

SEEDS = (1, 2, 3, 4)
EDITS = 60
LEAST = 0.95


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_a_review_shows_what_an_edit_changed(seed: int) -> None:
    """Of the edits that change a printed answer, at least 95 in 100 are shown or refused."""
    done = list(tried(EDITS, seed))
    counts = Counter(one.outcome for one in done)
    escaped = [one for one in done if one.outcome is Outcome.ESCAPED]
    caught = counts[Outcome.SHOWN] + counts[Outcome.REFUSED]
    assert counts[Outcome.SHOWN] >= EDITS / 3, "hardly any edit changed an answer"
    assert caught / (caught + len(escaped)) >= LEAST, escaped
