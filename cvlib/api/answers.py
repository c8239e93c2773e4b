"""What a firmware has, what changed through all firmware, and what a store holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from cvlib.api.opening import resolver_of

if TYPE_CHECKING:
    from cvlib.engine.explain.explained import Explanation
    from cvlib.engine.known.listing import Compared, Listing, Wanted
    from cvlib.engine.known.timeline import Timeline
    from cvlib.engine.known.trade_words import Sought
    from cvlib.files.store import Store
    from cvlib.model.summary import Summary


def wanted(
    words: Iterable[str] = (),
    groups: Iterable[str] = (),
    cvs: Iterable[str] = (),
    find: Iterable[str] = (),
) -> Wanted:
    """Which settings are asked for: by words, groups, and CVs as ``27``, ``67-94``, ``257@16/2``.

    ``find`` are words of the trade, English or German.

    Raises :class:`~cvlib.errors.InputError` for a CV that does not exist.
    """
    from cvlib.engine.known.listing import Wanted

    return Wanted.of(words, groups, cvs, found_by(find))


def found_by(words: Iterable[str]) -> tuple[Sought, ...]:
    """What to look for by words of the trade, English or German."""
    from cvlib.engine.known.trade_words import sought_for
    from cvlib.files.data import trade_words

    typed = tuple(words)
    return sought_for(typed, trade_words()) if typed else ()


def settings_at(
    store: Store, profile: str, firmware: str = "", asked: Wanted | None = None
) -> Listing:
    """The settings of a profile at a firmware; without one, where it knows one generation only.

    Raises :class:`~cvlib.errors.UndecidedError` where it knows several.
    """
    from cvlib.engine.known.listing import Wanted, listing

    return listing(resolver_of(store, profile), firmware, asked or Wanted())


def settings_against(
    store: Store, profile: str, firmware: str, other: str, asked: Wanted | None = None
) -> Compared:
    """What a firmware has that another has not: of the same profile, or ``profile[@firmware]``."""
    from cvlib.engine.known.listing import compared

    name, _, version = other.partition("@") if "/" in other else (profile, "", other)
    before = settings_at(store, name, version, asked)
    return compared(before, settings_at(store, profile, firmware, asked))


def timeline_of(
    store: Store,
    profile: str,
    settings: Iterable[str] = (),
    groups: Iterable[str] = (),
    *,
    every: bool = False,
) -> Timeline:
    """A profile through all firmware, or some settings; ``every``: also those that never change."""
    from cvlib.engine.known.timeline import timeline

    return timeline(resolver_of(store, profile), settings, groups, every=every)


def explain(
    store: Store,
    things: Iterable[str],
    profile: str = "",
    firmware: str = "",
    options: Mapping[str, str | int] | None = None,
) -> Explanation:
    """Things a person asks about, in words.

    A thing is a value as ``29=38``, a CV, an index page as ``16/2``, the code of a finding, the
    id of a setting, or words from its title. They are explained at one firmware of a profile; at
    every stretch of firmware where none is given; by both standards where no profile is.
    """
    from cvlib.files.explaining import explain as explain_things

    return explain_things(store, list(things), profile, firmware, options or {})


def profiles(store: Store, words: Iterable[str] = ()) -> Iterator[Summary]:
    """What the store holds, by id; only profiles with all the words in what the list tells."""
    asked = [word.casefold() for word in words]
    for id in store.ids():
        found = store.summary(id)
        text = " ".join((id, found.maker, found.name, found.kind, *found.releases)).casefold()
        if all(word in text for word in asked):
            yield found
