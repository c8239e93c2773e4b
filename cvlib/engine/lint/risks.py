"""Settings of which nobody noted what a wrong value may harm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.carry.carry import is_settable
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Setting

UNMARKED = "unmarked-risk"


def unmarked(settings: Iterable[Setting]) -> tuple[str, ...]:
    """The ids of the settings that can be set and have no mark, those of a repeat once."""
    found = (one.id for one in settings if one.risk is None and any(map(is_settable, one.places)))
    return tuple(dict.fromkeys(map(without_index, found)))


def without_risk(subject: Subject) -> Iterator[LintFinding]:
    """What a profile, and each block that it follows, leaves unmarked: one finding for each."""
    by_origin: dict[str, list[Setting]] = {}
    for setting in subject.written:
        by_origin.setdefault(setting.origin, []).append(setting)
    for origin, settings in by_origin.items():
        ids = unmarked(settings)
        if ids:
            first = next(one.id for one in settings if without_index(one.id) == ids[0])
            where = f"the block {origin}" if origin else "this file"
            number = "One setting" if len(ids) == 1 else f"{len(ids)} settings"
            yield LintFinding(
                Spot("setting", first),
                f"{number} of {where} that can be set, {ids[0]} first, without a word on what a "
                "wrong value may harm.",
                'Add risk = ["motor"] or what fits, for a whole group in [risk], or risk = [] '
                "where you looked and found none. Until then none of them is tried or matched.",
            )


RULES = (
    LintRule(
        UNMARKED,
        Severity.NOTE,
        "Nobody noted what settings may harm.",
        without_risk,
        unfinished=True,
    ),
)
