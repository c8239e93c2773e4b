"""How many runs it takes, in which order, and when the answer may be looked for."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from random import Random

from cvlib.errors import problem

LOOKS = (6, 12, 18)
"""Runs a side after which one may look, each look at 98 %; looking whenever one likes is wrong too
often (tests/engine/trial/test_simulated.py: three looks 5 %, a look after every run 15 %)."""
LEAST, MOST = 6, 64
"""Runs a side: fewer say nothing of scatter, more nobody makes."""
FIRST = 12
"""Runs of a trial of one condition, where nothing is known."""
RUNS_FOR_CONDITION = 4
DAYS, RUNS_A_DAY = 3, 2
MARGIN_SHARE = 0.1
LEAST_MARGIN = {"cm": 2.0, "s": 0.5}
"""Near enough is never less; the figure of seconds is for a watch held in the hand (common
practice, no source)."""


def usual_margin(wish: float, unit: str) -> float:
    """Near enough, where nobody says otherwise: a tenth, but not less than can be measured."""
    return max(abs(wish) * MARGIN_SHARE, LEAST_MARGIN.get(unit, 0.0))


def power(n: int, scatter: float, margin: float, level: float = 0.95) -> float:
    """How often n runs a side show a difference as large as the margin (Student's t)."""
    from scipy.special import nctdtr, stdtrit

    freedom = 2 * n - 2
    limit = float(stdtrit(freedom, (1 + level) / 2))
    shift = margin / (scatter * sqrt(2 / n))
    return float(1 - nctdtr(freedom, shift, limit) + nctdtr(freedom, shift, -limit))


def runs_needed(scatter: float, margin: float, level: float = 0.95) -> int:
    """Runs a side that show a difference of the margin four times in five; 0: too many to make.

    >>> [runs_needed(scatter, 2) for scatter in (1, 2, 4)]
    [6, 17, 64]
    """
    if scatter <= 0:
        return LEAST
    return next((n for n in range(LEAST, MOST + 1) if power(n, scatter, margin, level) >= 0.8), 0)


def looks_for(sides: int, total: int, limit: float | None, margin: float) -> tuple[int, ...]:
    """After how many runs a side the answer may be looked for.

    ``total`` are the runs that somebody asks for, 0 where nobody does; ``limit`` is the scatter
    that the true one stays below, where it is known. Raises InputError where that many conditions
    cannot be told apart, or no number of runs would do.
    """
    if total:
        if sides * RUNS_FOR_CONDITION > total:
            raise problem(
                f"{total} runs are too few for {sides} conditions: with fewer than "
                f"{RUNS_FOR_CONDITION} runs of each, beside the blocks, nothing is left to tell "
                "scatter by.",
                advice=f"Take at most {total // RUNS_FOR_CONDITION} conditions, or "
                f"{sides * RUNS_FOR_CONDITION} runs.",
            )
        if total % sides or total > 3 * MOST * sides:
            raise problem(
                f"{total} runs do not make whole blocks of {sides}, up to {3 * MOST} runs each.",
                advice=f"Take {-(-total // sides) * sides}."
                if total <= 3 * MOST * sides
                else "Take fewer.",
            )
        return (total // sides,)
    if limit is not None and sides > 1:
        needed = runs_needed(limit, margin)
        if not needed:
            raise problem(
                f"with a scatter of up to {limit:.2g} no {MOST} runs a side show a difference of "
                f"{margin:.2g}: a tape cannot answer this.",
                advice=f"Choose a wider margin: {seen_with(LOOKS[-1], limit):.2g} takes "
                f"{LOOKS[-1]} runs a side.",
            )
        return (needed,)
    return LOOKS if sides > 1 else (FIRST,)


def seen_with(n: int, scatter: float, level: float = 0.95) -> float:
    """The difference that n runs a side show four times in five."""
    low, high = 0.0, 100 * scatter
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if power(n, scatter, middle, level) < 0.8 else (low, middle)
    return high


def blocks_of(names: Sequence[str], blocks: int, seed: int) -> tuple[str, ...]:
    """The conditions run by run: every block holds each once, in an order drawn by the seed.

    A name that stands there twice comes twice in each block.
    """
    drawn = Random(seed)
    order: list[str] = []
    for _ in range(blocks):
        order += drawn.sample(list(names), len(names))
    return tuple(order)
