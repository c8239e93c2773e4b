"""The firmware of a profile in units that reads can tell apart, and what each unit answers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from cvlib.engine.bench.expect import (
    ABSENT,
    ANY_VALUE,
    NEVER,
    UNKNOWN,
    Expectation,
    Presence,
    mixed,
)
from cvlib.engine.bench.sheets import Chosen, sheet_of
from cvlib.engine.known.identity import MAKER_SLOT, answers_at, expected_answers
from cvlib.engine.known.line import Known, Stretch, same_placed, stretches
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, WHOLE, Field, Slot
from cvlib.model.formulas import EXTENDED_MAKER
from cvlib.model.profile import Answered, IndexPages, Profile, Release
from cvlib.model.ranges import FirmwareRange, points_in_order
from cvlib.model.versions import FirmwareVersion, Key, Scheme, spell_key

FIRST_OF_MODULES = 897
"""CVs 897-1024 belong to modules on the SUSI bus, by RCN-225 (2025-07-27)."""

EXTENDED_SLOTS = (Slot(107), Slot(108))
"""Where a manufacturer ID above 255 stands, by RCN-225 (2025-07-27)."""

OUTSIDE: Mapping[Known, float] = {Known.BEYOND: 0.01, Known.BEFORE: 0.01, Known.GAP: 0.005}
"""How likely a single CV outside the handbooks is not what the nearest handbook says."""
MIXED = 0.2
"""How likely it is, between two handbooks, that some settings are as the older says and some as
the newer; all as the older says, or all as the newer, share the rest."""

_REST: Mapping[Known, Expectation] = {
    Known.COVERED: ABSENT,
    Known.GAP: mixed((0.99, ABSENT), (0.01, UNKNOWN)),
    Known.BEFORE: mixed((0.98, ABSENT), (0.02, UNKNOWN)),
    Known.BEYOND: mixed((0.95, ABSENT), (0.05, UNKNOWN)),
}
_OTHER_FIRMWARE: Mapping[Known, float] = {
    Known.COVERED: 0.002,
    Known.GAP: 0.008,
    Known.BEYOND: 0.1,
    Known.BEFORE: 0.002,
}
"""How likely firmware that nobody listed is, beside 1 for each listed release: a profile lists
every release that is known to exist."""


_DOUBTFUL = (Standing.BETWEEN, Standing.DISPUTED, Standing.BEYOND, Standing.BEFORE)


@dataclass(frozen=True, slots=True)
class Unit:
    """Some firmware of one profile that no read tells apart, laid out in one way."""

    stretch: Stretch
    generation: int
    """The number of the generation in the profile, oldest 0."""
    home: FirmwareRange
    """The firmware of the whole generation."""
    firmware: FirmwareRange
    releases: tuple[FirmwareVersion, ...]
    """Releases that are known to exist; empty for firmware that nobody listed."""
    weight: float
    """How likely it is beside the profile's other units, before anything is read."""
    sheet: Mapping[Slot, Expectation]
    rest: Expectation
    """What a CV that is not in the sheet may answer."""
    pages: tuple[IndexPages, ...] = ()

    def expect(self, slot: Slot) -> Expectation:
        """What a CV may answer."""
        found = self.sheet.get(slot)
        if found is not None:
            return found
        return UNKNOWN if is_open(slot, self.pages) else self.rest


def units_of(resolver: Resolver) -> tuple[Unit, ...]:
    """The units of a profile, oldest first; together they are all firmware."""
    found: list[Unit] = []
    for number, alike in enumerate(_alike(stretches(resolver))):
        home = alike[0].firmware
        for stretch in alike[1:]:
            home |= stretch.firmware
        for stretch in alike:
            for span in _spans(resolver.profile, stretch):
                found.extend(_units(resolver, stretch, number, home, span))
    return tuple(found)


def _alike(found: Iterable[Stretch]) -> list[list[Stretch]]:
    """Stretches put together where every setting keeps its place from one handbook to the next."""
    groups: list[list[Stretch]] = []
    for stretch in found:
        if groups and _is_as_before(groups[-1][-1], stretch):
            groups[-1].append(stretch)
        else:
            groups.append([stretch])
    return groups


def _is_as_before(one: Stretch, other: Stretch) -> bool:
    inside = (Known.COVERED, Known.GAP)
    if one.known not in inside or other.known not in inside or one.disputed or other.disputed:
        return False
    return all(map(same_placed, one.answers, other.answers))


def knowledge(stretch: Stretch) -> Known:
    """How well a whole stretch is known: covered only where no setting is doubtful."""
    if stretch.known is Known.COVERED and any(a.standing in _DOUBTFUL for a in stretch.answers):
        return Known.GAP
    return stretch.known


def sheets_at(
    resolver: Resolver, point: Key, known: Known
) -> Iterator[tuple[float, dict[Slot, Expectation]]]:
    """What the settings' CVs may answer at one point of the version line, identity apart.

    Where settings are disputed there is a sheet for each side, and one for some of each, with how
    likely each of them is.
    """
    answers = resolver.at_point(point)
    count = max((len(answer.candidates) for answer in answers.values()), default=0) or 1
    settings = resolver.profile.settings
    sides = [sheet_of(settings, _chosen(answers, at)) for at in range(count)]
    doubt, rest = OUTSIDE.get(known, 0.0), _REST[known]
    if count == 1:
        yield 1.0, _doubted_sheet(sides, doubt, rest)
        return
    for side in sides:
        yield (1 - MIXED) / count, _doubted_sheet([side], doubt, rest)
    yield MIXED, _doubted_sheet(sides, doubt, rest)


def _doubted_sheet(
    sides: list[dict[Slot, Expectation]], doubt: float, rest: Expectation
) -> dict[Slot, Expectation]:
    slots = dict.fromkeys(slot for side in sides for slot in side)
    return {slot: _doubted(tuple(side.get(slot, rest) for side in sides), doubt) for slot in slots}


def certain_answers(profile: Profile, version: FirmwareVersion) -> dict[Slot, int]:
    """The values that identity allows at a firmware, as a set for each CV it speaks of."""
    found = maker_answers(profile.identity.manufacturer)
    ranges: dict[Slot, int] = {}
    for answer in answers_at(profile, version):
        ranges[answer.slot] = ranges.get(answer.slot, 0) | _answers(answer)
    return found | ranges


def _answers(answer: Answered) -> int:
    """The values of a CV that an answer allows, as a set."""
    if answer.mask == WHOLE:
        return (1 << answer.high + 1) - (1 << answer.low)
    field = Field(answer.slot, answer.mask)
    return sum(1 << byte for byte in range(256) if answer.low <= field.take(byte) <= answer.high)


def maker_answers(manufacturer: int | None) -> dict[Slot, int]:
    """What a manufacturer ID comes to in CVs 8, 107 and 108.

    Source: RCN-225 (2025-07-27), CVs 8 and 107-108: an ID above 255 is 238 in CV 8, with its
    high part in bits 0-3 of CV 107 and its low byte in CV 108.
    """
    if manufacturer is None:
        return {}
    if manufacturer <= 255:
        return {MAKER_SLOT: 1 << manufacturer}
    high, low = EXTENDED_SLOTS
    return {
        MAKER_SLOT: 1 << EXTENDED_MAKER,
        high: _under_mask(0x0F, manufacturer >> 8),
        low: 1 << (manufacturer & 0xFF),
    }


def _chosen(answers: Mapping[str, Answer], at: int) -> Chosen:
    """One side of everything disputed."""
    chosen = {}
    for name, answer in answers.items():
        candidates = answer.candidates
        chosen[name] = candidates[min(at, len(candidates) - 1)] if candidates else answer.place
    return chosen


@lru_cache(maxsize=1 << 13)
def _doubted(sides: tuple[Expectation, ...], doubt: float) -> Expectation:
    """Each side alike, and a share of doubt in all of them."""
    parts = [(1 - doubt, side) for side in sides]
    return mixed(*parts, *([(doubt * len(sides), UNKNOWN)] if doubt else []))


def _spans(profile: Profile, stretch: Stretch) -> Iterator[FirmwareRange]:
    """A stretch cut where an identity answer changes."""
    cuts: set[Key] = set()
    for identity in profile.identity.answers:
        if identity.firmware is not None:
            cuts.update(identity.firmware.cuts())
    inside = [cut for cut in cuts if stretch.firmware.holds(cut) and cut != stretch.point]
    points = points_in_order((stretch.point, *inside))
    ends = [*points[1:], stretch.firmware.spans[-1][1]]
    for start, end in zip(points, ends, strict=True):
        span = FirmwareRange.between(start, end, stretch.firmware)
        if not span.is_empty():
            yield span


def _units(
    resolver: Resolver, stretch: Stretch, number: int, home: FirmwareRange, span: FirmwareRange
) -> Iterator[Unit]:
    profile = resolver.profile
    known = knowledge(stretch)
    told = _told(profile, span)
    singles = span.singles()
    listed = {release.version for releases in told.values() for release in releases}
    version = FirmwareVersion(profile.scheme, span.oldest, spell_key(span.oldest, profile.scheme))
    unlisted = certain_answers(profile, version) | _unlisted_versions(profile, span)
    has_unlisted = singles is None or not listed.issuperset(singles)
    if tuple(unlisted.items()) in told:
        has_unlisted = False
    never = {Slot(cv): NEVER for cv in profile.identity.no_answer}
    for share, sheet in sheets_at(resolver, span.oldest, known):
        bare = Unit(stretch, number, home, span, (), 0.0, sheet, _REST[known], profile.pages)
        for answers, releases in told.items():
            versions = tuple(release.version for release in releases)
            yield replace(
                bare,
                firmware=_only(versions),
                releases=versions,
                weight=share * len(versions),
                sheet=_overlaid(sheet, dict(answers)) | never,
            )
        if has_unlisted:
            weight = share * _OTHER_FIRMWARE[stretch.known]
            yield replace(bare, weight=weight, sheet=_overlaid(sheet, unlisted) | never)


def _told(
    profile: Profile, span: FirmwareRange
) -> dict[tuple[tuple[Slot, int], ...], list[Release]]:
    """The releases in a span, those together that answer alike when asked who they are."""
    found: dict[tuple[tuple[Slot, int], ...], list[Release]] = {}
    for release in profile.releases:
        if release.version in span:
            answers = _release_answers(profile, release)
            found.setdefault(tuple(answers.items()), []).append(release)
    return found


def _only(versions: tuple[FirmwareVersion, ...]) -> FirmwareRange:
    found = FirmwareRange.exactly(versions[0])
    for version in versions[1:]:
        found |= FirmwareRange.exactly(version)
    return found


def _release_answers(profile: Profile, release: Release) -> dict[Slot, int]:
    """The values that identity allows for a release: its version is one of them."""
    found = certain_answers(profile, release.version)
    expected = expected_answers(profile, release.version)
    slots = {part.field.slot for part in profile.parts} | {Slot(cv) for cv, _ in release.answers}
    for slot in slots:
        held = expected.get(slot)
        if held is not None:
            found[slot] = _under_mask(held.mask, held.value)
    return found


def _unlisted_versions(profile: Profile, span: FirmwareRange) -> dict[Slot, int]:
    """What the version CVs may hold for firmware of a span that nobody listed."""
    if not profile.parts:
        return {}
    slots = {part.field.slot for part in profile.parts}
    first = profile.parts[0]
    allowed = dict.fromkeys(slots, ANY_VALUE)
    known = {release.version for release in profile.releases}
    exact = overlapping = 0
    for byte in range(256):
        named = _named(profile, byte) if len(slots) == 1 else None
        exact |= (named is not None and named in span and named not in known) << byte
        start = _starting_with(profile, first.take(byte))
        overlapping |= (not (start & span).is_empty()) << byte
    allowed[first.field.slot] = exact or overlapping or ANY_VALUE
    return allowed


def _named(profile: Profile, byte: int) -> FirmwareVersion | None:
    """The version that a single version CV names."""
    figures = [part.take(byte) for part in profile.parts]
    match profile.scheme:
        case Scheme.DOTTED:
            return profile.version(".".join(map(str, figures)))
        case Scheme.NUMBER:
            return profile.version(str(figures[0])) if len(figures) == 1 else None
        case Scheme.DATE:
            return None


@lru_cache(maxsize=1 << 12)
def _first_figure(figure: int, count: int, scheme: Scheme) -> FirmwareRange:
    match scheme:
        case Scheme.DOTTED:
            return FirmwareRange.parse(f">={figure}, <{figure + 1}", scheme)
        case Scheme.NUMBER:
            unit = 256 ** (count - 1)
            return FirmwareRange.parse(f">={figure * unit}, <{(figure + 1) * unit}", scheme)
        case Scheme.DATE:
            year = 2000 + figure
            return FirmwareRange.parse(f">={year}-01, <{year + 1}-01", scheme)


def _starting_with(profile: Profile, figure: int) -> FirmwareRange:
    return _first_figure(figure, len(profile.parts), profile.scheme)


def _overlaid(
    sheet: Mapping[Slot, Expectation], certain: Mapping[Slot, int]
) -> dict[Slot, Expectation]:
    found = dict(sheet)
    for slot, values in certain.items():
        found[slot] = _certain(values)
    return found


@lru_cache(maxsize=1 << 12)
def _certain(values: int) -> Expectation:
    return Expectation(Presence.HELD, values, values)


@lru_cache(maxsize=1 << 12)
def _under_mask(mask: int, value: int) -> int:
    return sum(1 << byte for byte in range(256) if byte & mask == value & mask)


def is_open(slot: Slot, pages: tuple[IndexPages, ...]) -> bool:
    """Whether something else than the decoder's own settings may answer for a CV.

    Pages to which a standard that is followed gives a use, CVs 257-512 while the page is not
    told, and the CVs of a module on the SUSI bus.
    """
    if slot.page is not None:
        return any(held.use == "defined" and held.holds(slot.page) for held in pages)
    return FIRST_PAGED <= slot.cv <= LAST_PAGED or slot.cv >= FIRST_OF_MODULES
