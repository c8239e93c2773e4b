"""The one firmware that a text names; a month whose days do not all have one answer is none."""

from __future__ import annotations

from itertools import pairwise

from cvlib.engine.known.line import same_said
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, UndecidedError
from cvlib.model.profile import Profile
from cvlib.model.ranges import FirmwareRange, points_in_order
from cvlib.model.versions import FirmwareVersion, Key


def one_firmware(resolver: Resolver, text: str) -> FirmwareVersion:
    """The firmware that a text names, where it has one answer for every setting.

    Raises :class:`~cvlib.errors.UndecidedError` for a month whose days have different answers.
    """
    profile = resolver.profile
    version = profile.version(text)
    found = parts_of(resolver, version)
    if len(found) > 1:
        raise UndecidedError(
            Fault(
                f"{profile.id}: {version} is a whole month, and its days do not have the same "
                f"answers: {'; '.join(part.text() for part in found)}.",
                advice=f"Give the day, such as {found[0].begins_with()}.",
            )
        )
    return version


def parts_of(resolver: Resolver, version: FirmwareVersion) -> list[FirmwareRange]:
    """The firmware of a version cut where an answer changes: of anything but a month one part."""
    whole = FirmwareRange.exactly(version)
    if version.end is None:
        return [whole]
    inner = set(resolver.cuts.points)
    inner.update(cut for limit in _limits(resolver.profile) for cut in limit.cuts())
    points = points_in_order({version.key, *(cut for cut in inner if whole.holds(cut))})
    starts = [version.key, *(new for old, new in pairwise(points) if _differ(resolver, old, new))]
    ends = [*starts[1:], version.after]
    return [FirmwareRange.between(*span, whole) for span in zip(starts, ends, strict=True)]


def _limits(profile: Profile) -> list[FirmwareRange]:
    """The firmware for which anything but a setting is said."""
    found = [rule.firmware for rule in profile.rules]
    found += [advisory.firmware for advisory in profile.advisories]
    found += [answer.firmware for answer in profile.identity.answers]
    return [one for one in found if one is not None]


def _differ(resolver: Resolver, one: Key, other: Key) -> bool:
    limits = _limits(resolver.profile)
    if any(limit.holds(one) is not limit.holds(other) for limit in limits):
        return True
    old, new = resolver.at_point(one), resolver.at_point(other)
    return not all(same_said(old[id], new[id]) for id in old)
