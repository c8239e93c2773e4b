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
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, Page, Slot
from cvlib.model.profile import IndexPages, Profile, Setting

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
    resets: bool = False
    """Whether writing it is the command that sets every CV to its factory value."""


@dataclass(frozen=True, slots=True)
class CvExplained:
    """A CV and what lives on it."""

    slot: Slot
    wire: int
    """The number that direct mode sends for it."""
    tenants: tuple[Shared[Tenant], ...]
    uses: tuple[Shared[str], ...] = ()
    """What its index page is for."""
    pages: tuple[Shared[IndexPages], ...] = ()
    """The pages it may lie on and that are not reserved, where the page is not given."""


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
    values = _on_page_given(scopes, values)
    layouts = [layout_of(scope.resolver, scope.version, values, options) for scope in scopes]
    told = []
    for slot in sorted(values, key=lambda slot: slot.order):
        found = shared(scopes, (meanings(layout, slot) for layout in layouts), Meaning.gist)
        in_order = sorted(found, key=lambda one: one.said.mask & -one.said.mask)
        places = [one.said.place for one in found if values[slot] == formulas.RESET]
        resets = any(place and place.fields[0].slot == Slot(8) for place in places)
        told.append(ValueExplained(slot, values[slot], tuple(in_order), resets))
    return tuple(told), shared(scopes, (sums(layout) for layout in layouts), _as_it_is)


def explain_cv(scopes: tuple[Scope, ...], slot: Slot) -> CvExplained:
    """What lives on a CV."""
    said = (tenants(scope.resolver, scope.version, slot) for scope in scopes)
    found = shared(scopes, said, Tenant.gist)
    wire = formulas.wire_address(slot.cv)
    uses = _uses(scopes, slot.page) if slot.page else ()
    pages: tuple[Shared[IndexPages], ...] = ()
    if _lacks_page(slot) and all(isinstance(one.said.place.coding, Area) for one in found):
        listed = (scope.resolver.profile.pages for scope in scopes)
        open_to = ([one for one in held if one.use != "reserved"] for held in listed)
        pages = shared(scopes, open_to, _as_it_is)
    return CvExplained(slot, wire, _in_order(found), uses, pages)


def explain_page(scopes: tuple[Scope, ...], page: Page) -> PageExplained:
    """What an index page is for, and the settings on it."""
    found = shared(scopes, (_on_page(scope, page) for scope in scopes), Tenant.gist)
    return PageExplained(page, _uses(scopes, page), _in_order(found))


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


def _uses(scopes: tuple[Scope, ...], page: Page) -> tuple[Shared[str], ...]:
    titles = (page_title(scope.resolver.profile, page) for scope in scopes)
    return shared(scopes, ([title] if title else [] for title in titles), str.casefold)


def _lacks_page(slot: Slot) -> bool:
    return slot.page is None and FIRST_PAGED <= slot.cv <= LAST_PAGED


def _on_page_given(scopes: tuple[Scope, ...], values: Mapping[Slot, int]) -> dict[Slot, int]:
    """The values with CVs 257-512 on the page that CVs 31 and 32 choose, where both are given.

    A CV that is a setting of its own without a page stays without.
    """
    high, low = values.get(Slot(31)), values.get(Slot(32))
    if high is None or low is None:
        return dict(values)
    alone = {
        field.slot
        for scope in scopes
        for setting in scope.resolver.profile.settings.values()
        for place in setting.places
        for field in place.fields
        if not isinstance(place.coding, Area)
    }
    paged = {slot: Slot(slot.cv, Page(high, low)) for slot in values if _lacks_page(slot)}
    moved = {slot: to for slot, to in paged.items() if slot not in alone and to not in values}
    return {moved.get(slot, slot): value for slot, value in values.items()}


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


def _as_it_is(held: Sum | IndexPages) -> Hashable:
    return held
