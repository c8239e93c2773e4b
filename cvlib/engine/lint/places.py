"""Places that get in each other's way: the same bits, or the same setting, twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from cvlib.engine.known.conditions import exclude, places_in
from cvlib.engine.known.documents import documents_cited
from cvlib.engine.lint.evidence import is_uncited
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place, join
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Fields
from cvlib.model.cv import WHOLE, Slot, bit_words
from cvlib.model.facet import same_placing
from cvlib.model.profile import Place
from cvlib.model.ranges import FirmwareRange

SURE = (Standing.DOCUMENTED, Standing.BENCH)
WRITTEN = (*SURE, Standing.ASSUMED)
"""What somebody wrote down for just this firmware, whoever stands behind it."""


@dataclass(frozen=True, slots=True)
class _Claim:
    setting: str
    number: int
    place: Place
    mask: int


def double_claims(subject: Subject) -> Iterator[LintFinding]:
    """Bits that two settings use at one firmware, unless their conditions exclude each other."""
    seen: dict[tuple[str, str, Slot], tuple[_Claim, _Claim]] = {}
    shared: dict[tuple[str, str, Slot], FirmwareRange] = {}
    for firmware, answers in subject.answers():
        for slot, claims in _claims(subject, answers).items():
            # First what the profile writes itself: there the fault is told.
            first = sorted(claims, key=lambda claim: subject.profile.settings[claim.setting].origin)
            for one, other in combinations(first, 2):
                if one.mask & other.mask and not exclude(
                    places_in(answers), one.place, other.place
                ):
                    key = (one.setting, other.setting, slot)
                    seen[key] = (one, other)
                    join(shared, key, firmware)
    for key, (one, other) in seen.items():
        both = one.mask & other.mask
        bits = "" if both == WHOLE else f"{bit_words(both)} of "
        yield LintFinding(
            Spot("setting", one.setting, one.number),
            f'"{one.setting}" and "{other.setting}" both use {bits}{key[2]} at '
            f"{shared[key].text()}.",
            "Correct one of them, or give both a condition so that only one exists at a time.",
            Spot("setting", other.setting, other.number),
        )


def overlapping_places(subject: Subject) -> Iterator[LintFinding]:
    """Settings that one document, or nobody, puts at two different places at one firmware.

    Two documents may disagree, and places whose conditions exclude each other are never two.
    """
    places = {setting.id: setting.places for setting in subject.settings}
    for setting in subject.settings:
        for one, other in combinations(setting.places, 2):
            common = one.firmware & other.firmware
            if common.is_empty() or exclude(lambda name: places.get(name, ()), one, other):
                continue
            for firmware, who in _naming_both(subject, one, other):
                both = common & firmware
                if not both.is_empty():
                    yield LintFinding(
                        at_place(setting, other),
                        f'"{setting.id}" has two places at {both.text()}, {who}: nothing tells '
                        "which is right.",
                        "Let the range of one end where the other begins, or give both a condition "
                        "so that only one exists at a time.",
                        at_place(setting, one),
                    )
                    break


def _naming_both(subject: Subject, one: Place, other: Place) -> Iterator[tuple[FirmwareRange, str]]:
    """The documents that both places call on, with their firmware; nobody where neither does."""
    if is_uncited(subject, one) and is_uncited(subject, other):
        yield FirmwareRange.everything(one.firmware.scheme), "and calls on nothing for either"
    named = {cited.source for cited in other.citations}
    sources = subject.profile.sources
    for cited in documents_cited(one.citations, sources):
        if cited.source in named:
            yield sources[cited.source].firmware, f'both by "{cited.source}"'


def _claims(subject: Subject, answers: Mapping[str, Answer]) -> dict[Slot, list[_Claim]]:
    """What settings have of each CV as written; bytes of fields and areas give way to others."""
    found: dict[Slot, list[_Claim]] = {}
    for name, answer in answers.items():
        place = answer.place
        if place is None or answer.standing not in WRITTEN or isinstance(place.coding, Fields):
            continue
        places = subject.resolver.profile.settings[name].places
        number = next((at for at, held in enumerate(places) if same_placing(held, place)), 0)
        for field in place.fields:
            found.setdefault(field.slot, []).append(_Claim(name, number, place, field.mask))
        if place.also_at is not None:
            mask = place.fields[0].mask
            found.setdefault(Slot(place.also_at), []).append(_Claim(name, number, place, mask))
    return found


RULES = (
    LintRule(
        "claimed-twice",
        Severity.ERROR,
        "Two settings use the same bits at the same firmware.",
        double_claims,
    ),
    LintRule(
        "places-overlap",
        Severity.ERROR,
        "One document, or nobody, puts a setting at two places at the same firmware.",
        overlapping_places,
    ),
)
