"""What several standards or stretches of firmware say, told once where they say the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from cvlib.engine.known.line import Known, stretches, version_within
from cvlib.engine.known.resolve import Resolver
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Scope:
    """What an explanation holds for: a standard, one firmware, or a stretch of it."""

    name: str
    """The standard's or the decoder's name."""
    short: str
    """The name where there is little room, such as "RCN-225"."""
    resolver: Resolver
    version: FirmwareVersion
    """The firmware, or one inside the stretch."""
    firmware: FirmwareRange | None = None
    """The stretch; nothing where the scope is one firmware or edition."""
    known: Known = Known.COVERED


@dataclass(frozen=True, slots=True)
class Shared(Generic[T]):
    """One thing said, and by whom where not all say it."""

    said: T
    by: tuple[str, ...]
    """Names of standards, or ranges of firmware; empty where every scope says so."""


def edition_scope(resolver: Resolver) -> Scope:
    """The newest edition of a standard."""
    profile = resolver.profile
    version = profile.releases[-1].version
    short = profile.name.partition(",")[0]
    return Scope(f"{profile.maker} {short} ({version})", short, resolver, version)


def firmware_scope(resolver: Resolver, version: FirmwareVersion) -> Scope:
    """One firmware of a decoder."""
    profile = resolver.profile
    return Scope(f"{profile.maker} {profile.name}", profile.name, resolver, version)


def stretch_scopes(resolver: Resolver) -> tuple[Scope, ...]:
    """Every stretch of firmware that a profile tells apart, oldest first."""
    profile = resolver.profile
    name = f"{profile.maker} {profile.name}"
    return tuple(
        Scope(name, profile.name, resolver, version_within(profile, one), one.firmware, one.known)
        for one in stretches(resolver)
    )


def shared(
    scopes: tuple[Scope, ...],
    told: Iterable[Iterable[T]],
    gist: Callable[[T], Hashable],
) -> tuple[Shared[T], ...]:
    """What the scopes say, in the order first said; equal by gist is told once.

    ``told`` has what each scope says, in the order of the scopes. Of equal sayings the one of the
    best documented scope is kept.
    """
    found: dict[Hashable, dict[int, T]] = {}
    for at, all_said in enumerate(told):
        for said in all_said:
            found.setdefault(gist(said), {}).setdefault(at, said)
    return tuple(
        Shared(_best(scopes, held), _by([scopes[at] for at in held], len(scopes)))
        for held in found.values()
    )


def _best(scopes: tuple[Scope, ...], held: dict[int, T]) -> T:
    covered = (said for at, said in held.items() if scopes[at].known is Known.COVERED)
    return next(covered, next(iter(held.values())))


def _by(scopes: list[Scope], count: int) -> tuple[str, ...]:
    if len(scopes) == count:
        return ()
    union = FirmwareRange.nothing(scopes[0].version.scheme)
    for scope in scopes:
        if scope.firmware is None:
            return tuple(dict.fromkeys(scope.short for scope in scopes))
        union |= scope.firmware
    return union.texts()
