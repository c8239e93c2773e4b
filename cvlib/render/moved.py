"""Values that mean something else now, or nothing, told by what must be done about them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from cvlib.findings.finding import Finding, Told
from cvlib.render.phrases import counted, listed, runs_text
from cvlib.render.words import LONG

CODES = ("reused", "recoded", "older-only", "newer-only")
"""The findings about values whose meaning went elsewhere, or nowhere."""

MOST = 6
"""Settings named with their figure before the rest is counted."""


class Task(NamedTuple):
    """One thing to do, and for which settings."""

    text: str
    lines: tuple[str, ...]


class Moved(NamedTuple):
    """Many such values in words."""

    subject: str
    message: str
    tasks: tuple[Task, ...]


def moved(findings: Sequence[Finding], firmware: str, command: str) -> Moved:
    """Some findings as one, each setting told once: what carry writes, what to choose, the rest.

    ``command`` is the one that carries the values.
    """
    written = {told.setting: told for one in findings for told in one.carried}
    wanted = {
        told.setting: told
        for one in findings
        for told in one.now
        if told.setting not in written and not told.keeper
    }
    offered = {told.setting: told for one in findings for told in one.offered}
    gone: dict[str, Told] = {}
    for one in findings:
        here = {told.setting for told in one.lives_at if not told.keeper}
        for told in one.was:
            if told.setting in here and told.setting not in written:
                place = next(held for held in one.lives_at if held.setting == told.setting)
                wanted[told.setting] = place
            elif told.setting not in written and told.setting not in wanted:
                gone.setdefault(told.setting, told)
    tasks = []
    if written:
        lines = [f"{told.writes}: {_said(told)}" for told in written.values()]
        tasks.append(Task(f'"{command}" writes them anew:', _some(lines)))
    if given := [offered[name] for name in wanted if name in offered]:
        lines = [f"{told.writes}: {_said(told)}" for told in given]
        tasks.append(Task("Nobody has set these; the factory values, or choose:", _some(lines)))
    if open_ := [told for name, told in wanted.items() if name not in offered]:
        titles = [f"{told.title} ({told.where})" for told in open_]
        tasks.append(Task(f"Choose anew: {listed(titles, MOST)}.", ()))
    if gone:
        titles = [told.title for told in gone.values()]
        here = f"Leave out what is gone from {firmware}: {listed(titles, MOST)}."
        tasks.append(Task(here, ()))
    bits = [held for one in findings for held in one.bits]
    count = len({(held.cv, held.page) for held in bits})
    cvs = runs_text(bits)
    verb = "means" if count == 1 else "mean"
    return Moved(
        f"{counted(count, 'value')} {verb} something else in {firmware}, or nothing",
        f"{cvs}.",
        tuple(tasks),
    )


def _said(told: Told) -> str:
    value = told.value if len(told.value) < LONG // 3 else ""
    return f"{told.title}, {value}" if value else told.title


def _some(lines: Iterable[str]) -> tuple[str, ...]:
    found = list(dict.fromkeys(lines))
    if len(found) <= MOST + 1:
        return tuple(found)
    return (*found[:MOST], f"and {len(found) - MOST} more.")
