"""Every finding code once: how grave it is, what it says, since when it exists.

A row, the page `docs/findings/<code>.md` and what `explain` shows are one thing: the page opens
with the sentence of the row. A code names what was found, never the remedy, and is never given
a second meaning.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Severity(StrEnum):
    """How grave a finding is, from the mildest to the gravest."""

    NOTE = "note"
    """Good to know; nothing need be done."""
    WARNING = "warning"
    """May do harm, or nobody knows."""
    ERROR = "error"
    """The saved value is wrong for the installed firmware."""

    def at_least(self, other: Severity) -> bool:
        """True when this severity is as grave as `other` or graver.

        >>> Severity.ERROR.at_least(Severity.WARNING)
        True
        >>> Severity.NOTE.at_least(Severity.WARNING)
        False
        """
        order = tuple(Severity)
        return order.index(self) >= order.index(other)


class CatalogueRow(NamedTuple):
    """One finding code and what holds for every finding that carries it."""

    code: str
    """Lower-case words joined by hyphens; also the name of the page."""
    severity: Severity | None
    """None: the severity is the one that the broken rule gives."""
    family: str
    """The work that yields the code: "check" for saved values held against a profile."""
    sentence: str
    """What was found, as one sentence; the page opens with it."""
    since: str
    """The release of cvlib that first used the code."""
    raised: Severity | None = None
    """The severity in the graver case that the page names; None when there is no such case."""
    milder: Severity | None = None
    """The severity in the milder case that the page names; None when there is no such case."""


CATALOGUE: tuple[CatalogueRow, ...] = (
    CatalogueRow(
        "older-only",
        Severity.ERROR,
        "check",
        "The CV belongs to a setting that only older firmware understands.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "newer-only",
        Severity.ERROR,
        "check",
        "The CV belongs to a setting that only newer firmware understands.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "reused",
        Severity.ERROR,
        "check",
        "The CV is one setting in the firmware it was saved for and another in the installed one.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "recoded",
        Severity.ERROR,
        "check",
        "The CV still holds the same setting, but its value is now coded differently.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "out-of-range",
        Severity.ERROR,
        "check",
        "The value is not allowed at this firmware.",
        "0.1.0",
    ),
    CatalogueRow(
        "undefined-choice",
        Severity.ERROR,
        "check",
        "The value names no choice of this setting.",
        "0.1.0",
    ),
    CatalogueRow(
        "reserved-bits",
        Severity.WARNING,
        "check",
        "Bits that no setting owns are set, or a reserved CV is written.",
        "0.1.0",
    ),
    CatalogueRow(
        "rule",
        None,
        "check",
        "A rule between settings is broken.",
        "0.1.0",
    ),
    CatalogueRow(
        "trap",
        Severity.WARNING,
        "check",
        "Each value is allowed, but together they do not do what was meant.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "advisory",
        Severity.WARNING,
        "check",
        "An advisory covers the installed firmware and touches a saved setting.",
        "0.1.0",
    ),
    CatalogueRow(
        "disputed",
        Severity.WARNING,
        "check",
        "Nobody knows which place applies at this firmware.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "beyond",
        Severity.WARNING,
        "check",
        "The installed firmware is newer than everything written about this setting.",
        "0.1.0",
    ),
    CatalogueRow(
        "before",
        Severity.WARNING,
        "check",
        "The installed firmware is older than everything written about this setting.",
        "0.1.0",
    ),
    CatalogueRow(
        "faulty",
        Severity.WARNING,
        "check",
        "A bench test at this firmware found that the setting has no effect, or another than said.",
        "0.1.0",
    ),
    CatalogueRow(
        "unknown",
        Severity.WARNING,
        "check",
        "The profile knows no use of this CV at any firmware.",
        "0.1.0",
    ),
    CatalogueRow(
        "undecided",
        Severity.WARNING,
        "check",
        "The meaning of this CV depends on another setting whose value is not saved.",
        "0.1.0",
    ),
    CatalogueRow(
        "undated",
        Severity.WARNING,
        "check",
        "Nobody noted for which firmware the values were saved, and for older firmware they mean "
        "something else.",
        "0.1.0",
        milder=Severity.NOTE,
    ),
    CatalogueRow(
        "read-only",
        Severity.NOTE,
        "check",
        "The value belongs to a CV that the user cannot set.",
        "0.1.0",
        raised=Severity.ERROR,
    ),
    CatalogueRow(
        "unset",
        Severity.NOTE,
        "check",
        "A setting that must be known has no saved value.",
        "0.1.0",
        raised=Severity.WARNING,
    ),
    CatalogueRow(
        "asleep",
        Severity.NOTE,
        "check",
        "The installed firmware ignores the value, but another firmware would act on it again.",
        "0.1.0",
    ),
    CatalogueRow(
        "changed",
        Severity.NOTE,
        "check",
        "The value differs from the factory default.",
        "0.1.0",
    ),
)
"""Every code, in the order in which the index of pages lists them."""

_BY_CODE = {entry.code: entry for entry in CATALOGUE}


def row(code: str) -> CatalogueRow:
    """The catalogue row of a finding code; raises KeyError when there is no such code.

    >>> row("older-only").severity
    <Severity.ERROR: 'error'>
    """
    return _BY_CODE[code]
