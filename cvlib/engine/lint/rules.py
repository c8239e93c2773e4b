"""Every rule of lint, and all that they find."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import date
from typing import Any

from cvlib.engine.known.line import stretches
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.lint import (
    blanks,
    evidence,
    gaps,
    identity,
    meaning,
    places,
    questions,
    ranges,
    reach,
    risks,
    sources,
    values,
    versions,
    wording,
)
from cvlib.engine.lint.finding import LintFinding, LintRule, Subject, Whole
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Profile

INVALID = LintRule(
    "invalid",
    Severity.ERROR,
    "The file cannot be read, or a line of it is not written as it should be.",
)
UNNEEDED = LintRule(
    "accepted-unneeded",
    Severity.WARNING,
    "An [[accepted]] table accepts a finding that is not there.",
    unfinished=True,
)
RULES: tuple[LintRule, ...] = (
    INVALID,
    *places.RULES,
    *gaps.RULES,
    *values.RULES,
    *blanks.RULES,
    *evidence.RULES,
    *sources.RULES,
    *versions.RULES,
    *ranges.RULES,
    *wording.RULES,
    *meaning.RULES,
    *identity.RULES,
    *reach.RULES,
    *risks.RULES,
    *questions.RULES,
    UNNEEDED,
)
"""One row for each rule; a further one is a function and a row of its family."""
UNFINISHED = frozenset(rule.code for rule in RULES if rule.unfinished)
"""The codes that a correction or a new profile is not refused for."""
SOUND_ALONE = frozenset(
    (
        *("bound-spellings", "bounds-order", "claimed-twice", "curve-gap", "cvs-apart"),
        *("damaged-text", "empty-range", "document-before-release", "future-date"),
        *("help-repeats-title", "illegal-default", "index-page-missing", "needless-bound"),
        *("open-ended-source", "order-matters", "page-missing", "places-overlap"),
        *("release-dates", "releases-order", "stray-source", "test-before-release"),
        *("title-twice", "unlisted-version", "undated-question", "undated-test"),
        *("unreachable-value", "verdict-missing", "version-spelling"),
    )
)
"""The codes that are right also where a part of a file could not be read: what they find stands
in what was read, and nothing that is missing would excuse it."""


def lint_profile(
    profile: Profile,
    data: Mapping[str, Any] | None = None,
    today: date = date.max,
    codes: Collection[str] | None = None,
) -> Iterator[tuple[LintRule, LintFinding]]:
    """Everything the rules find in a complete profile; ``data`` is what its file says.

    ``codes`` are those of the rules that are asked; all of them without it.
    """
    resolver = Resolver(profile)
    subject = Subject(resolver, stretches(resolver), data or {}, today)
    for rule in RULES:
        if rule.check is not None and (codes is None or rule.code in codes):
            yield from ((rule, finding) for finding in rule.check(subject))


def lint_whole(whole: Whole) -> Iterator[tuple[LintRule, str, LintFinding]]:
    """What only shows between the files of a store, each with the name of its file."""
    for rule in RULES:
        if rule.across is not None:
            yield from ((rule, name, finding) for name, finding in rule.across(whole))
