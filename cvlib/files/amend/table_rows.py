"""Rows of a further table held against a profile: which of its settings each of them is."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from cvlib.engine.known.neighbours import index_of, without_index
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, InputError
from cvlib.files.likeness import closeness
from cvlib.files.made_settings import WHOLE_CV, slug
from cvlib.files.read.recurring import Recurrence
from cvlib.files.read.setting_table import SettingRow
from cvlib.files.written import written_place
from cvlib.model.answer import Standing
from cvlib.model.conditions import Test
from cvlib.model.profile import Place, Profile, Setting, Source

_CLOSE, _CLOSER, _DOUBTFUL = 0.5, 0.8, 0.6
"""How alike two names have to be on the same CV, with the same default and with another, and
anywhere, to be told."""


@dataclass(slots=True)
class Before:
    """What a profile says of its settings where the document before a table ends."""

    profile: Profile
    resolver: Resolver
    document: Source | None
    places: dict[str, tuple[Place, ...]] = field(default_factory=dict)
    """The places of each setting that a document lists there."""
    repeats: dict[str, dict[str, int]] = field(default_factory=dict)
    """How settings recur that are written once, by their ids with ``[n]``."""

    @classmethod
    def of(
        cls,
        resolver: Resolver,
        document: Source | None,
        written: Iterable[Mapping[str, Any]],
        is_older: bool,
    ) -> Before:
        """The same; ``is_older``: the document is older than the table."""
        made = cls(resolver.profile, resolver, document)
        made.repeats = {one["id"]: dict(one["repeat"]) for one in written if "repeat" in one}
        if document is None:
            return made
        cuts = resolver.cuts
        ends = document.firmware.spans[-1][1] if is_older else document.firmware.oldest
        segment = len(cuts) - 1
        if ends is not None:
            segment = cuts.segment_below(ends) if is_older else cuts.segment(ends)
        for id, setting in resolver.profile.settings.items():
            answer = resolver.in_segment(setting, segment).documented()
            if answer.standing in (Standing.DOCUMENTED, Standing.DISPUTED) and answer.places():
                made.places[id] = answer.places()
        return made

    def usual(self) -> dict[str, dict[str, Any]]:
        """The place of each setting as it is written, of a repeat that of its first index."""
        found: dict[str, dict[str, Any]] = {}
        for id, places in self.places.items():
            made = written_place(places[0], ())
            made["help"] = self.profile.settings[id].help
            first = found.setdefault(without_index(id), dict(made))
            if "[" in id:
                first.setdefault("defaults", []).append(made.get("default"))
            found[id] = made
        for one in found.values():
            defaults = one.pop("defaults", [])
            if defaults and None not in defaults and defaults != defaults[:1] * len(defaults):
                one.pop("default", None)
                one["defaults"] = defaults
        return found

    def repeat_of(self, run: Recurrence) -> str | None:
        """The id of the setting that recurs under the title of a run."""
        for id in self.repeats:
            first = next((one for one in self.profile.settings if without_index(one) == id), "")
            if first and _pattern(self.profile.settings[first]) == slug(run.title):
                return id
        return None


def matched(
    rows: Sequence[SettingRow], before: Before, told: Callable[[str], None]
) -> list[SettingRow]:
    """The rows, each with the id of the setting that it is; those of new settings as they were.

    A row is the setting of its name, or one on its CV whose name is close to its own; ``told`` is
    given words on the latter.
    """
    by_title: dict[str, list[Setting]] = {}
    by_where: dict[Any, list[Setting]] = {}
    for id, setting in before.profile.settings.items():
        if setting.origin and id not in before.places:
            continue
        title = setting.title.removesuffix(WHOLE_CV)
        by_title.setdefault(slug(title), []).append(setting)
        for place in before.places.get(id, ()):
            by_where.setdefault(_where(place), []).append(setting)
    taken = {row.id for row in rows if row.id}
    has_cases = any(row.condition or "when" in row.keys for row in rows)

    def named(row: SettingRow) -> list[Setting]:
        held = by_title.get(slug(row.title), [])
        here = by_where.get(row.where, [])
        return sorted(held, key=lambda one: (bool(one.origin), one not in here))

    def near(row: SettingRow) -> list[Setting]:
        held = by_where.get(row.where, [])
        return [one for one in held if closeness(row.title, one.title) >= needed(row, one)]

    def needed(row: SettingRow, one: Setting) -> float:
        place = before.places[one.id][0]
        told = "" if place.default is None else ", ".join(map(str, place.default))
        return _CLOSE if row.default == told else _CLOSER

    found = list(rows)
    for fitting in (named, near):
        for at, row in enumerate(found):
            for one in () if row.id else fitting(row):
                if one.id not in taken and (not has_cases or _same_case(row, one, before)):
                    found[at] = replace(row, id=one.id)
                    taken.add(one.id)
                    if fitting is near:
                        told(f"CV {row.where} ({row.title}) is taken as {one.id} ({one.title}).")
                    break
    return found


def doubtful(row: SettingRow, gone: Sequence[Setting], before: Before) -> Setting | None:
    """A setting that the table does not list and that a new one may be: by its place or name."""
    for one in gone:
        here = any(_where(place) == row.where for place in before.places[one.id])
        asked = _asked(one, before)
        if here and (row.condition is None or not asked or asked & {*row.condition[1]}):
            return one
    close = [(closeness(row.title, one.title), one) for one in gone]
    best = max(close, key=lambda held: held[0], default=None)
    return best[1] if best is not None and best[0] >= _DOUBTFUL else None


def fitted_repeats(rows: Sequence[SettingRow], before: Before) -> Iterator[SettingRow]:
    """The rows, those of a setting that recurs with the indexes for which they hold.

    The CV of a place is that of the first index (docs/profile-settings.md). Raises InputError where
    there is none.
    """
    for row in rows:
        id = without_index(row.id)
        repeat = before.repeats.get(id)
        if repeat is None:
            yield row
            continue
        run = row.repeat or {"first": index_of(row.id) or 0, "count": 1, "step": 0}
        first, last = run["first"], run["first"] + run["count"] - 1
        held = repeat.get("first", 1), repeat.get("first", 1) + repeat["count"] - 1
        keys = dict(row.keys)
        if run["step"] != repeat.get("step") or run["count"] == 1:
            keys["step"] = run["step"]
        keys["cv"] -= run["step"] * (first - held[0])
        if keys["cv"] < 1 or first < held[0]:
            what = f'"{id}" begins with {held[0]}, and no CV is left for that one.'
            raise InputError(
                Fault(what, row.position, "Give these rows an id of their own, with --id.")
            )
        if (first, last) != held:
            keys["index"] = f"{first}-{last}" if last > first else str(first)
        count = max(last, held[1]) - held[0] + 1
        yield replace(row, id=id, keys=keys, repeat={**repeat, "count": count})


def _pattern(setting: Setting) -> str:
    """The title of one of a repeat, with ``{n}`` in place of its index."""
    index = index_of(setting.id)
    if index is None:
        return ""
    return slug(re.sub(rf"(?<!\d){index}(?!\d)", "{n}", setting.title, count=1))


def _where(place: Place) -> str:
    """A place as rows give theirs."""
    cvs = "+".join(str(one.slot.cv) for one in place.fields)
    first = place.fields[0] if place.fields else None
    page = f"@{first.slot.page}" if first and first.slot.page else ""
    bits = f".{first.bits}" if first and first.bits is not None else ""
    return f"{cvs}{page}{bits}"


def _same_case(row: SettingRow, setting: Setting, before: Before) -> bool:
    """Whether a row and a setting exist under the same condition, or either under none."""
    asked = _asked(setting, before)
    if "when" in row.keys:
        return True
    if row.condition is None or not asked:
        return row.condition is None and not asked
    return bool(asked & {*row.condition[1]})


def _asked(setting: Setting, before: Before) -> set[int]:
    """The raw values of what decides on a setting for which it exists."""
    return {
        raw
        for place in before.places.get(setting.id, setting.places)
        for when in place.when
        if when.test is Test.IS
        for value in when.values
        for decider in before.profile.setting(when.setting).places[-1:]
        for raw in (decider.coding.join(decider.coding.raw(value)),)
    }
