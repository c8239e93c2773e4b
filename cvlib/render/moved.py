"""Values that mean something else now, or nothing, told by what must be done about them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from cvlib.findings.finding import Finding, Told
from cvlib.render.phrases import counted, listed, runs_text
from cvlib.render.words import LONG

CODES = ("reused", "recoded", "older-only", "newer-only")
"""The findings about values whose meaning went elsewhere, or nowhere."""

MOST = 4
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
        if told.setting not in written and not told.keeper and not _is_byte(told)
    }
    offered = {told.setting: told for one in findings for told in one.offered}
    gone: dict[str, Told] = {}
    for one in findings:
        homes = {told.setting: told for told in one.lives_at if not told.keeper}
        for told in one.was:
            if _is_byte(told) or told.setting in written:
                continue
            if told.setting in homes:
                wanted[told.setting] = homes[told.setting]
            elif told.setting not in wanted:
                gone.setdefault(told.setting, told)
    tasks = []
    if written:
        lines = _by_cv(written.values())
        tasks.append(Task(f'"{command}" writes them anew:', _some(lines)))
    if given := [offered[name] for name in wanted if name in offered]:
        lines = _by_cv(given)
        tasks.append(Task("Nobody has set these; the factory values, or choose:", _some(lines)))
    if open_ := [told for name, told in wanted.items() if name not in offered]:
        tasks.append(Task("Choose anew:", _some(_to_choose(open_))))
    if gone:
        titles = [told.title for told in gone.values()]
        here = f"Leave out what is gone from {firmware}: {listed(titles, 2)}."
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


def _is_byte(told: Told) -> bool:
    """Whether a setting is only the byte that others lie in, or an area that nothing is set in."""
    return told.legal.startswith(("fields", "area"))


def _by_cv(told: Iterable[Told]) -> list[str]:
    """What is written, the bits of one CV together."""
    found: dict[str, list[tuple[str, Told]]] = {}
    for one in told:
        cv, _, bits = one.writes.partition(" bit")
        found.setdefault(cv if bits else one.writes, []).append((bits, one))
    lines = []
    for cv, held in found.items():
        if len(held) == 1:
            lines.append(f"{held[0][1].writes}: {_said(held[0][1])}")
        else:
            said = [f"bit{bits}" for bits, _ in held if bits]
            titles = listed([one.title for _, one in held], 2)
            lines.append(f"{' '.join(filter(None, (cv, ', '.join(said))))}: {titles}")
    return lines


def _to_choose(told: Iterable[Told]) -> list[str]:
    """What is to be chosen anew, with what is allowed; the bits of one CV together."""
    found: dict[str, list[Told]] = {}
    for one in told:
        found.setdefault(one.where.rpartition(" of ")[2], []).append(one)
    return [
        f"{held[0].where}: {held[0].title}, {_coded(held[0])}"
        if len(held) == 1
        else f"{', '.join(one.where.rpartition(' of ')[0] for one in held)} of {cv}: "
        f"{listed([one.title for one in held], 2)}"
        for cv, held in found.items()
    ]


def _coded(told: Told) -> str:
    legal = told.legal.partition(" ")[2] or told.legal
    return legal if len(legal) < LONG // 2 else f"{legal[: LONG // 2].rpartition(', ')[0]} …"


def _said(told: Told) -> str:
    value = told.value if len(told.value) < LONG // 3 else ""
    return f"{told.title}, {value}" if value else told.title


def _some(lines: Iterable[str]) -> tuple[str, ...]:
    found = list(dict.fromkeys(lines))
    if len(found) <= MOST + 1:
        return tuple(found)
    return (*found[:MOST], f"and {len(found) - MOST} more.")
