"""What a file accepts of what lint has against it: each with a reason, and only while needed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from cvlib.engine.lint.finding import LintFinding, LintRule
from cvlib.engine.lint.rules import RULES
from cvlib.errors import did_you_mean, problem
from cvlib.files.faults import Path
from cvlib.model.profile import is_about

CODES = tuple(rule.code for rule in RULES if rule.check or rule.across)
"""The codes that can be accepted; a file that cannot be read cannot accept that."""


def check_code(code: str) -> None:
    """Refuse a code that lint does not have."""
    if code not in CODES:
        raise problem(
            f'lint has no code "{code}" that can be accepted.',
            advice=did_you_mean(code, CODES) or "docs/lint.md lists them.",
        )


class Accepted:
    """The ``[[accepted]]`` tables of one file, and which of their names were of use."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        tables = data.get("accepted", ())
        self._names = {
            (at, str(table["code"]), name): False
            for at, table in enumerate(tables)
            for name in _listed(table["about"])
        }

    def takes(self, rule: LintRule, finding: LintFinding) -> bool:
        """Whether a finding is accepted; what accepts it was of use then."""
        spot = finding.spot
        taken = False
        for key in self._names:
            _, code, name = key
            if code == rule.code and is_about((name,), spot.id or spot.table):
                self._names[key] = taken = True
        return taken

    def unneeded(self) -> Iterator[tuple[Path, str, str]]:
        """Each name that accepted nothing: its path in the file, the problem, what to do."""
        for (at, code, name), used in self._names.items():
            if used:
                continue
            if code not in CODES:
                problem = f'lint has no code "{code}" that can be accepted.'
                yield ("accepted", at, "code"), problem, did_you_mean(code, CODES)
            else:
                problem = f'"{code}" is accepted about "{name}", but is not found there.'
                advice = "Take the name out, and the table with its last name."
                yield ("accepted", at, "about"), problem, advice


def _listed(about: Any) -> list[str]:
    """One name or a list of names."""
    return [about] if isinstance(about, str) else [str(name) for name in about]
