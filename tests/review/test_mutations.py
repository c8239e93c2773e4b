"""Random edits to good profiles: lint finds them, a review shows them, or the file is refused."""

from collections import Counter

import pytest

from review.edits import FOUND
from review.mutations import Trial

SEEDS = (1, 2, 3, 4)
EDITS = 75
LINTED = 60
LEAST = 0.95


@pytest.fixture(scope="module")
def trial() -> Trial:
    """The shipped store, read once."""
    return Trial()


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_an_edit_that_changes_an_answer_is_told(trial: Trial, seed: int) -> None:
    """Of the edits that change a printed answer, at least 95 in 100 are shown, found or refused."""
    done = list(trial.edits(EDITS, seed))
    refused = sum(one.review.refused for one in done)
    changed = [one for one in done if one.review.changed]
    untold = [one for one in changed if not one.review.shown and not trial.found(one)]
    assert len(changed) >= EDITS / 4, "hardly any edit changed an answer"
    told = refused + len(changed) - len(untold)
    assert told / (refused + len(changed)) >= LEAST, [str(one) for one in untold]


@pytest.mark.slow
def test_what_lint_is_there_for_it_finds(trial: Trial) -> None:
    """Of the edits that lint has a rule for, at least 95 in 100 are found or refused.

    A kind that few profiles allow, such as one of a bench test, may not be drawn.
    """
    done = list(trial.edits(LINTED, seed=1, kinds=FOUND))
    missed = [one for one in done if not one.review.refused and not trial.found(one)]
    assert len(Counter(one.kind for one in done)) >= len(FOUND) - 1
    assert 1 - len(missed) / len(done) >= LEAST, [str(one) for one in missed]
