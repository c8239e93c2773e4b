"""Settings of a repeat that depend on a neighbour: at the ends of the repeat it has none."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from dataclasses import replace

from cvlib.model.conditions import Rule
from cvlib.model.profile import Place, Setting

_INDEX = re.compile(r"\[(-?\d+)\]", re.ASCII)


def without_index(name: str) -> str:
    """A name with ``[n]`` in place of each index."""
    return _INDEX.sub("[n]", name)


def index_of(name: str) -> int | None:
    """The index in the name of one of a repeat; nothing where there is none."""
    found = _INDEX.search(name)
    return int(found[1]) if found else None


def inside_repeats(settings: Mapping[str, Setting]) -> dict[str, Setting]:
    """The settings without the places that ask for an index their repeat does not have.

    A setting with no place left is gone, and so is what asks for that one.
    """
    repeats = {without_index(name) for name in settings}
    kept = dict(settings)
    while True:
        inner = {
            name: found
            for name, setting in kept.items()
            if (found := _inside(setting, kept, repeats)) is not None
        }
        if len(inner) == len(kept):
            return inner
        kept = inner


def rule_is_inside(rule: Rule, settings: Mapping[str, Setting]) -> bool:
    """Whether a rule asks for no index that a repeat does not have."""
    repeats = {without_index(name) for name in settings}
    return not any(_is_outside(name, settings, repeats) for name in rule.settings())


def _inside(
    setting: Setting, settings: Mapping[str, Setting], repeats: Container[str]
) -> Setting | None:
    places = tuple(
        place
        for place in setting.places
        if not any(_is_outside(when.setting, settings, repeats) for when in place.when)
    )
    places = tuple(_with_cases_inside(place, settings, repeats) for place in places)
    if not places:
        return None
    return setting if places == setting.places else replace(setting, places=places)


def _with_cases_inside(
    place: Place, settings: Mapping[str, Setting], repeats: Container[str]
) -> Place:
    """A place without the defaults that ask for an index their repeat does not have."""
    cases = tuple(
        case
        for case in place.cases
        if not any(_is_outside(when.setting, settings, repeats) for when in case.when)
    )
    return place if len(cases) == len(place.cases) else replace(place, cases=cases)


def _is_outside(name: str, settings: Mapping[str, Setting], repeats: Container[str]) -> bool:
    """Whether only other indexes of a setting exist."""
    return name not in settings and without_index(name) in repeats
