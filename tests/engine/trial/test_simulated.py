"""Simulated locos: each statement of a report holds as often as it says.

The daily tests have fixed seeds and wide bounds; the long ones hold each figure of docs/trial.md
against 10,000 trials.
"""

from collections.abc import Callable
from typing import Any

import pytest

from cvlib.engine.trial.reporting import Outcome
from tools.bench import trials as simulated

LONG = 10_000
Holds = Callable[[Any], bool]

LEVELS: dict[str, tuple[Holds, float, float]] = {
    "mean, fine tape": (simulated.mean_holds(2.0, 6), 0.94, 0.96),
    "mean, one step": (simulated.mean_holds(1.0, 6), 0.94, 0.97),
    "mean, below a step": (simulated.mean_holds(0.3, 6), 0.94, 1.0),
    "next stop, six": (simulated.next_holds(2.0, 6), 0.88, 0.92),
    "next stop, twelve": (simulated.next_holds(4.0, 12), 0.88, 0.92),
    "difference": (simulated.difference_holds((2.0, 2.0)), 0.935, 0.965),
    "difference, unlike scatters": (simulated.difference_holds((1.0, 3.0)), 0.93, 0.965),
    "difference, drift": (simulated.difference_holds((2.0, 2.0), drift=6.0), 0.935, 0.965),
    "difference, below a step": (simulated.difference_holds((0.3, 0.3)), 0.94, 1.0),
    "difference, missed stops": (
        simulated.difference_holds((2.0, 2.0), 12, missed=0.2),
        0.935,
        1.0,
    ),
    "false, three looks": (simulated.false_difference(simulated.LOOKS), 0.0, 0.067),
    "plans strong enough": (simulated.plan_is_strong(1.5), 0.78, 1.0),
    "days": (simulated.days_hold(2.0), 0.94, 0.96),
    "days with a control": (simulated.days_hold(2.0, control=True), 0.94, 0.96),
}
"""A statement, and between which shares it is to hold."""

WRONG: dict[str, tuple[Holds, float]] = {
    "yes, one of three": (
        simulated.wrong_answer((80.0, 80.0, 84.0), 2.0, Outcome.SAME, looks=(6,)),
        0.035,
    ),
    "yes, three looks": (simulated.wrong_answer((80.0, 84.0), 2.0, Outcome.SAME), 0.035),
    "no, two": (
        simulated.wrong_answer((80.0, 84.0), 2.0, Outcome.DIFFERENT, looks=(6,)),
        0.053,
    ),
    "no, three looks": (simulated.wrong_answer((80.0, 84.0), 2.0, Outcome.DIFFERENT), 0.053),
}


@pytest.mark.parametrize("name", [name for name in LEVELS if not name.startswith("false")])
def test_a_statement_holds_about_as_often_as_it_says(name: str) -> None:
    """A hundred trials: far from right would show."""
    holds, low, high = LEVELS[name]
    assert low - 0.06 <= simulated.share(120, 1, holds) <= min(high + 0.05, 1.0)


def test_runs_of_one_day_are_no_proof_of_a_firmware() -> None:
    """Counted so, an interval said to hold 95 % holds far less where days differ as runs do."""
    assert simulated.share(300, 2, simulated.runs_as_units(2.0)) < 0.75
    assert simulated.share(300, 2, simulated.days_hold(2.0)) > 0.9


def test_looking_at_will_finds_what_is_not_there() -> None:
    """A look after every run is wrong more than twice as often as three looks."""
    at_will = simulated.share(100, 3, simulated.false_at_will())
    planned = simulated.share(100, 3, simulated.false_difference(simulated.LOOKS))
    assert at_will > 0.1 > planned


@pytest.mark.long
@pytest.mark.parametrize("name", LEVELS)
def test_a_statement_holds_as_often_as_it_says(name: str) -> None:
    """Ten thousand trials."""
    holds, low, high = LEVELS[name]
    assert low <= simulated.share(LONG, 4, holds) <= high


@pytest.mark.long
@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_answer_is_seldom(name: str) -> None:
    """Entry speeds that differ by exactly the margin, ten thousand trials."""
    holds, most = WRONG[name]
    assert simulated.share(LONG, 5, holds) <= most
