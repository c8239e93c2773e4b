"""Things a person asks about, explained for one standard or firmware or for several at once."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from cvlib.engine.explain.asking import CODES
from cvlib.engine.explain.explain import Meaning, Tenant, layout_of, meanings, tenants
from cvlib.engine.explain.scopes import Scope, Shared, shared
from cvlib.engine.explain.sums import Sum, page_title, sums
from cvlib.engine.known.listing import Wanted
from cvlib.errors import did_you_mean, problem
from cvlib.findings.catalogue import Severity
from cvlib.model import formulas
from cvlib.model.answer import Answer
from cvlib.model.coding import Area
from cvlib.model.cv import Page, Slot
from cvlib.model.profile import Profile, Setting

FEW = 3
"""Up to so many settings that fit some words are explained in full."""

MOST_SHOWN = 80
"""Characters of words that fit nothing which are looked at to find the nearest, and shown."""


@dataclass(frozen=True, slots=True)
class ValueExplained:
    """A CV value and the meaning of each of its bits."""

    slot: Slot
    value: int
    meanings: tuple[Shared[Meaning], ...]


@dataclass(frozen=True, slots=True)
class CvExplained:
    """A CV and what lives on it."""

    slot: Slot
    wire: int
    """The number that direct mode sends for it."""
    tenants: tuple[Shared[Tenant], ...]


@dataclass(frozen=True, slots=True)
class PageExplained:
    """An index page, what it is for and what lives there."""

    page: Page
    uses: tuple[Shared[str], ...]
    tenants: tuple[Shared[Tenant], ...]


@dataclass(frozen=True, slots=True)
class SettingTold:
    """A setting as one profile has it, and the answer at one firmware."""

    profile: Profile
    setting: Setting
    answer: Answer

    def gist(self) -> Hashable:
        """What makes two answers the same."""
        answer = self.answer
        places = (answer.place, *answer.candidates)
        where = tuple(one and (one.fields, one.coding, one.when) for one in places)
        return answer.setting, answer.standing, answer.side, where


@dataclass(frozen=True, slots=True)
class SettingExplained:
    """A setting: where it lives and how it is coded."""

    id: str
    told: tuple[Shared[SettingTold], ...]


@dataclass(frozen=True, slots=True)
class SettingsFound:
    """Several settings that fit some words, too many to explain each."""

    words: str
    settings: tuple[Setting, ...]


@dataclass(frozen=True, slots=True)
class CodeExplained:
    """The code of a finding and its page."""

    code: str
    severity: Severity | None
    """None: the severity is the one that the broken rule gives."""
    family: str
    """The work that yields the code: "check" or "lint"."""
    sentence: str
    page: str
    """The page as Markdown."""


Thing: TypeAlias = (
    ValueExplained | CvExplained | PageExplained | SettingExplained | SettingsFound | CodeExplained
)


@dataclass(frozen=True, slots=True)
class Explanation:
    """Everything that was asked, in the order asked, and what values come to together."""

    scopes: tuple[Scope, ...]
    things: tuple[Thing, ...]
    sums: tuple[Shared[Sum], ...]


def explain_values(
    scopes: tuple[Scope, ...],
    values: Mapping[Slot, int],
    options: Mapping[str, str | int],
) -> tuple[tuple[ValueExplained, ...], tuple[Shared[Sum], ...]]:
    """CV values in words, a bit at a time, and what they come to together."""
    layouts = [layout_of(scope.resolver, scope.version, values, options) for scope in scopes]
    told = []
    for slot in sorted(values, key=lambda slot: slot.order):
        found = shared(scopes, (meanings(layout, slot) for layout in layouts), Meaning.gist)
        in_order = sorted(found, key=lambda one: one.said.mask & -one.said.mask)
        told.append(ValueExplained(slot, values[slot], tuple(in_order)))
    return tuple(told), shared(scopes, (sums(layout) for layout in layouts), _as_it_is)


def explain_cv(scopes: tuple[Scope, ...], slot: Slot) -> CvExplained:
    """What lives on a CV."""
    said = (tenants(scope.resolver, scope.version, slot) for scope in scopes)
    found = shared(scopes, said, Tenant.gist)
    return CvExplained(slot, formulas.wire_address(slot.cv), _in_order(found))


def explain_page(scopes: tuple[Scope, ...], page: Page) -> PageExplained:
    """What an index page is for, and the settings on it."""
    titles = (page_title(scope.resolver.profile, page) for scope in scopes)
    uses = shared(scopes, ([title] if title else [] for title in titles), str.casefold)
    found = shared(scopes, (_on_page(scope, page) for scope in scopes), Tenant.gist)
    return PageExplained(page, uses, _in_order(found))


def explain_words(scopes: tuple[Scope, ...], words: str) -> Iterator[Thing]:
    """The settings that an id or some words name; raises with the nearest where none does."""
    known = _settings(scopes)
    ids = [words] if words in known else list(_by_words(known.values(), words.split()))
    if not ids:
        titles = [setting.title for setting in known.values()]
        raise problem(
            f'Nothing fits "{words[:MOST_SHOWN]}".',
            advice=did_you_mean(words[:MOST_SHOWN], [*known, *titles, *CODES])
            or "Give a value such as 29=38, a CV, an index page such as 16/2, a setting or the "
            f"code of a finding{_which_decoder(scopes)}.",
        )
    if len(ids) > FEW:
        yield SettingsFound(words, tuple(known[id] for id in ids))
        return
    for id in ids:
        said = (_told(scope, id) for scope in scopes)
        yield SettingExplained(id, shared(scopes, said, SettingTold.gist))


def _which_decoder(scopes: Iterable[Scope]) -> str:
    """That settings beyond the standards need a decoder, where only standards were asked."""
    only_standards = all(scope.resolver.profile.kind == "standard" for scope in scopes)
    return "; settings of a decoder need its --profile" if only_standards else ""


def _told(scope: Scope, id: str) -> Iterator[SettingTold]:
    setting = scope.resolver.profile.settings.get(id)
    if setting is not None:
        answer = scope.resolver.answer(setting, scope.version.key)
        yield SettingTold(scope.resolver.profile, setting, answer)


def _settings(scopes: Iterable[Scope]) -> dict[str, Setting]:
    found: dict[str, Setting] = {}
    for profile in {id(scope.resolver): scope.resolver.profile for scope in scopes}.values():
        found |= {name: held for name, held in profile.settings.items() if name not in found}
    return found


def _by_words(settings: Iterable[Setting], words: list[str]) -> Iterator[str]:
    """Settings with all the words; those with all of them in the title alone go first."""
    asked = Wanted(tuple(words))
    named = [
        setting
        for setting in settings
        if asked.wants(setting, setting.places)
        and not all(isinstance(place.coding, Area) for place in setting.places)
    ]
    titled = [s for s in named if all(word.casefold() in s.title.casefold() for word in words)]
    return (setting.id for setting in titled or named)


def _on_page(scope: Scope, page: Page) -> Iterator[Tenant]:
    profile = scope.resolver.profile
    slots = {
        field.slot
        for setting in profile.settings.values()
        for place in setting.places
        for field in place.fields
        if field.slot.page == page
    }
    for slot in sorted(slots, key=lambda slot: slot.order):
        yield from tenants(scope.resolver, scope.version, slot)


def _in_order(found: Iterable[Shared[Tenant]]) -> tuple[Shared[Tenant], ...]:
    """By CV and bit; areas of several CVs last."""

    def order(one: Shared[Tenant]) -> tuple[bool, tuple[int, Page], int]:
        place = one.said.place
        first = place.fields[0]
        is_wide = isinstance(place.coding, Area) and len(place.fields) > 1
        return is_wide, first.slot.order, first.mask & -first.mask

    return tuple(sorted(found, key=order))


def _as_it_is(held: Sum) -> Hashable:
    return held
