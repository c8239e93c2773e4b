"""Names that a profile uses for settings: each must stand for one of the whole profile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from cvlib.engine.known.compose import unmatched
from cvlib.engine.known.neighbours import without_index
from cvlib.errors import InputError, did_you_mean
from cvlib.files.faults import Faults, Path, within
from cvlib.files.meaning.follows import groups_and
from cvlib.files.meaning.places import Span, default_whens, indexed
from cvlib.files.meaning.settings import recurrence
from cvlib.files.shapes.evidence import WrittenSource
from cvlib.files.shapes.places import AbsentPlace, Deciding
from cvlib.files.shapes.profile import ProfileFile
from cvlib.files.shapes.settings import ConditionShape, RuleShape, SettingShape
from cvlib.model.coding import Flags, Written
from cvlib.model.profile import Profile, Setting


class Names:
    """Looks up every setting that a profile file names."""

    def __init__(self, faults: Faults, whole: Profile) -> None:
        self.faults = faults
        self.whole = whole
        self.ids = list(whole.settings)
        self.unread = _written_ids(faults.data)
        """Ids that the file gives, also where the setting itself is faulty."""

    def check(self, file: ProfileFile) -> None:
        """Note every name that no setting has, and every value that a setting cannot have."""
        for at, setting in enumerate(file.setting):
            self._setting(setting, ("setting", at))
        for at, rule in enumerate(file.rule):
            self._rule(rule, ("rule", at))
        for key, named in (("risk", file.risk), ("topic", file.topic)):
            for name in unmatched(named, self.unread):
                what = f'"{name}" is no setting of this file, nor the first part of the id of one.'
                self.faults.add(
                    (key, name), what, did_you_mean(name, groups_and(sorted(self.unread)))
                )
        lists: tuple[tuple[str, Sequence[Any]], ...] = (
            ("source", file.source),
            ("advisory", file.advisory),
            ("question", file.question),
        )
        for key, shapes in lists:
            for at, shape in enumerate(shapes):
                self._about(shape.about or (), (key, at, "about"))
                if isinstance(shape, WrittenSource):
                    self._about(shape.without or (), (key, at, "without"))

    def _setting(self, shape: SettingShape, path: Path) -> None:
        span = recurrence(shape.repeat)
        for number, place in enumerate(shape.place):
            if isinstance(place, AbsentPlace):
                continue
            for count, when in enumerate(place.when or ()):
                at = (*path, "place", number, "when", count)
                self._deciding(when, at, span)
            for inner, when in default_whens(place):
                self._deciding(when, (*path, "place", number, *inner), span)

    def _deciding(self, shape: Deciding, path: Path, span: Span) -> None:
        values = {"is": shape.is_ or (), "not": shape.not_ or ()}
        if isinstance(shape, ConditionShape):
            values["factory"] = shape.factory or ()
        flags = {"has": shape.has or (), "lacks": shape.lacks or ()}
        for setting in self._meant((*path, "setting"), shape.setting, span):
            fit = [self._fit((*path, key), given, setting) for key, given in values.items()]
            fit += [self._have((*path, key), given, setting) for key, given in flags.items()]
            if not all(fit):
                return

    def _rule(self, rule: RuleShape, path: Path) -> None:
        span = recurrence(rule.repeat)
        lists = {"if": rule.if_, "requires": rule.requires, "conflicts": rule.conflicts}
        for key, conditions in lists.items():
            for at, condition in enumerate(conditions or ()):
                self._condition(condition, (*path, key, at), span)
        for at, name in enumerate(rule.order or ()):
            self._meant((*path, "order", at), name, span)
        for at, name in enumerate(rule.sum.of if rule.sum else ()):
            self._meant((*path, "sum", "of", at), name, span)

    def _condition(self, shape: ConditionShape, path: Path, span: Span) -> None:
        self._deciding(shape, path, span)
        if shape.same_as is not None:
            self._meant((*path, "same-as"), shape.same_as, span)

    def _meant(self, path: Path, name: str, span: Span) -> list[Setting]:
        """The settings that a name stands for at the indexes of a repeat, those there are.

        A neighbour may be missing at the ends of the repeat, but not at every index.
        """
        if "[n" in name and not span.count:
            self.faults.add(path, "[n] stands for an index, but nothing repeats here.")
            return []
        names = [indexed(name, index) for index in span.indexes()]
        found = [setting for one in names if (setting := self.whole.settings.get(one)) is not None]
        missing = [
            one for one in names if one not in self.whole.settings and one not in self.unread
        ]
        is_neighbour = "[n+" in name or "[n-" in name
        if missing and not (is_neighbour and found):
            repeats = dict.fromkeys(without_index(id) for id in self.ids if "[" in id)
            if "[n" in name and without_index(missing[0]) not in repeats:
                self.faults.unknown(path, "setting", name, repeats)
            else:
                self.faults.unknown(path, "setting", missing[0], self.ids)
        return found

    def _have(self, path: Path, flags: Sequence[str], setting: Setting) -> bool:
        """Whether some place of the setting has each of the flags."""
        if flags and not any(isinstance(place.coding, Flags) for place in setting.places):
            self.faults.add(path, f'"{setting.id}" has no flags.', 'Use "is" for its values.')
            return False
        return self._fit(path, [[flag] for flag in flags], setting)

    def _fit(self, path: Path, values: Iterable[Written | list[str]], setting: Setting) -> bool:
        """Whether some place of the setting can have each of the values."""
        for value in values:
            refusal: InputError | None = None
            for place in setting.places:
                try:
                    place.coding.raw(value)
                    refusal = None
                    break
                except InputError as error:
                    refusal = error
            if refusal is not None:
                fault = refusal.faults[0]
                said = f'"{setting.id}" cannot have it: {within(fault.problem)}'
                self.faults.add(path, said, fault.advice)
                return False
        return True

    def _about(self, names: Iterable[str], path: Path) -> None:
        known = [*self.ids, *self.unread]
        for name in unmatched(names, known):
            self.faults.add(
                path, f'"{name}" is no setting or group.', did_you_mean(name, groups_and(known))
            )


def _written_ids(data: dict[str, Any]) -> set[str]:
    found: set[str] = set()
    settings = data.get("setting")
    for setting in settings if isinstance(settings, list) else ():
        if isinstance(setting, dict) and isinstance(setting.get("id"), str):
            found |= _spread_ids(setting["id"], setting.get("repeat"))
    return found


def _spread_ids(id: str, repeat: Any) -> set[str]:
    if "[n]" not in id:
        return {id}
    indexes = range(256)
    if isinstance(repeat, dict):
        first, count = repeat.get("first", 1), repeat.get("count")
        if isinstance(first, int) and isinstance(count, int) and 0 < count <= len(indexes):
            indexes = range(first, first + count)
    return {id, *(id.replace("[n]", f"[{index}]") for index in indexes)}
