"""Every rule of lint, and all that they find in a profile."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.generations import generations
from cvlib.engine.lint.evidence import placeless_settings, uncovered_claims
from cvlib.engine.lint.finding import LintFinding, LintRule, Subject
from cvlib.engine.lint.places import double_claims, overlapping_places
from cvlib.engine.lint.values import contradicted_defaults, illegal_defaults
from cvlib.engine.resolve import Resolver
from cvlib.model.profile import Profile

RULES: tuple[LintRule, ...] = (
    LintRule(
        "claimed-twice", "Two settings use the same bits at the same firmware.", double_claims
    ),
    LintRule(
        "places-overlap", "A setting has two places at the same firmware.", overlapping_places
    ),
    LintRule(
        "uncovered-claim",
        "A place claims firmware for which no source speaks, and that counts for nothing.",
        uncovered_claims,
    ),
    LintRule(
        "placeless",
        "A setting has no place at any firmware for which a source speaks.",
        placeless_settings,
    ),
    LintRule(
        "illegal-default",
        "A factory default is not among the values that its place allows.",
        illegal_defaults,
    ),
    LintRule(
        "default-contradicts",
        "The default of a byte is not what the defaults of its bits come to.",
        contradicted_defaults,
    ),
)
"""One row for each rule; a further one is a function and a row."""


def lint_profile(profile: Profile) -> Iterator[LintFinding]:
    """Everything the rules find in a complete profile."""
    resolver = Resolver(profile)
    subject = Subject(resolver, generations(resolver))
    for rule in RULES:
        yield from rule.check(subject)
