"""How sure format 1 was: its rules as they stood when files of format 2 took their place.

Frozen: a later change of the rules does not belong here.
"""

from collections.abc import Iterable

from cvlib.model.answer import Standing
from cvlib.model.profile import Place, Profile, Setting, SourceKind, Verdict
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Key

Told = tuple[Standing, tuple[Place | None, ...]]
"""A standing, and what is possible: one place, or nothing where the setting is absent."""


def told(profile: Profile, setting: Setting, point: Key) -> Told:
    """What format 1 said of a setting at a point; the profile is loaded from a file of format 1,
    of which nothing but the number was changed.
    """
    written = _written(profile, setting, point)
    tested = [
        (place, citation.verdict)
        for place in setting.places
        for citation in place.citations
        if citation.verdict is not None and _is_bench_at(profile, citation.source, point)
    ]
    if not tested:
        return written
    acts = _distinct(place for place, verdict in tested if verdict is Verdict.WORKS)
    fails = _distinct(place for place, verdict in tested if verdict is Verdict.NO_EFFECT)
    is_contradicted = any(same_as(one, other) for one in acts for other in fails)
    if len(acts) > 1 or is_contradicted:
        return Standing.DISPUTED, (*acts, None) if is_contradicted else acts
    if acts:
        return Standing.BENCH, acts
    expected = [place for place in written[1] if place is not None]
    meant = (place for place in fails if any(same_as(place, one) for one in expected))
    return Standing.FAULTY, (next(meant, fails[0]),)


def coverage(profile: Profile, setting: Setting) -> FirmwareRange:
    """The firmware of all documents that were about a setting."""
    found = FirmwareRange.nothing(profile.scheme)
    for source in profile.sources.values():
        if source.kind is not SourceKind.BENCH and source.speaks_for(setting.id):
            found |= source.firmware
    return found


def held(profile: Profile, place: Place) -> FirmwareRange:
    """The firmware for which a place stood in the file."""
    everything = FirmwareRange.everything(profile.scheme)
    return everything if place.narrowing is None else place.narrowing


def same_as(one: Place, other: Place) -> bool:
    """Whether two places were the same: CVs, page, bits, kind and coding."""
    return one.fields == other.fields and one.coding == other.coding


def _written(profile: Profile, setting: Setting, point: Key) -> Told:
    covered = coverage(profile, setting)
    if covered.is_empty():
        return Standing.DISPUTED, (*_distinct(setting.places), None)
    if covered.holds(point):
        return Standing.DOCUMENTED, (_starting_at(profile, setting, point),)
    is_newer, is_older = covered.lies_before(point), covered.lies_after(point)
    around = covered.around(point)
    below = _ending_at(profile, setting, around.oldest) if is_newer else None
    above = _starting_at(profile, setting, around.end) if is_older else None
    if not is_older:
        return Standing.BEYOND, (below,)
    if not is_newer:
        return Standing.BEFORE, (above,)
    is_same = below is above or (below and above and same_as(below, above))
    return (Standing.BETWEEN, (above,)) if is_same else (Standing.DISPUTED, (below, above))


def _is_bench_at(profile: Profile, source: str, point: Key) -> bool:
    found = profile.sources.get(source)
    return found is not None and found.kind is SourceKind.BENCH and found.firmware.holds(point)


def _ending_at(profile: Profile, setting: Setting, cut: Key) -> Place | None:
    places = setting.places
    return next((place for place in places if held(profile, place).holds_below(cut)), None)


def _starting_at(profile: Profile, setting: Setting, cut: Key) -> Place | None:
    return next((place for place in setting.places if held(profile, place).holds(cut)), None)


def _distinct(places: Iterable[Place]) -> tuple[Place, ...]:
    found: list[Place] = []
    for place in places:
        if not any(same_as(place, known) for known in found):
            found.append(place)
    return tuple(found)
