"""Random edits to good profiles, and what a review makes of each.

``python tests/review/mutations.py 1000`` prints how many edits of each kind changed an answer, how
many of those the reader refused, and how many the review showed.
"""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.generations import cuts
from cvlib.engine.resolve import Resolver
from cvlib.engine.review import review
from cvlib.files.data import definitions_folder
from cvlib.files.revisions import Changed, State, changed_profiles
from cvlib.model.profile import Profile
from cvlib.model.versions import Key
from cvlib.render.views.settings_data import answer_data

WORDS = ("note", "sources")
"""Keys of an answer in the output that are words or evidence and no part of what is resolved."""

Edit = Callable[[random.Random, str], str]


class Outcome(StrEnum):
    """What became of an edit."""

    REFUSED = "refused"
    """The profile could not be read any more; the reader says why."""
    NO_ANSWER = "no answer changed"
    SHOWN = "shown"
    """Every setting that changed is in the review, at just the firmware where it changed."""
    ESCAPED = "escaped"


@dataclass(frozen=True)
class Tried:
    """One edit: its kind, the file, and its outcome."""

    kind: str
    file: str
    outcome: Outcome
    settings: tuple[str, ...] = ()
    """The settings that changed and that the review does not show."""


def shipped() -> dict[str, bytes]:
    """The files of the shipped store."""
    return dict(State("", folder=definitions_folder()).own_content())


# Edits of the text of a file. Each gives the text back as it was where it finds nothing to do.


def _one_of(chance: random.Random, text: str, pattern: str) -> re.Match[str] | None:
    found = list(re.finditer(pattern, text, re.M))
    return chance.choice(found) if found else None


def _replaced(text: str, found: re.Match[str], value: str, group: int = 0) -> str:
    return text[: found.start(group)] + value + text[found.end(group) :]


def _number_after(key: str) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"^\s*{key} = .*?(\d+)")
        if not found:
            return text
        step = chance.choice([-2, -1, 1, 1, 2, 10])
        return _replaced(text, found, str(max(0, int(found[1]) + step)), 1)

    return edit


def _any_number(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"(?<![\w.\"-])\d+(?![\w.\"-])")
    return _replaced(text, found, str(int(found[0]) + chance.choice([1, 2, 7]))) if found else text


def _firmware_edge(chance: random.Random, text: str) -> str:
    """A range widened, narrowed, opened or closed at one end."""
    found = _one_of(chance, text, r"^\s*firmware = .*?((?:>=|<=|==|>|<)[\w.-]+)")
    if not found:
        return text
    sign, version = re.match(r"([<>=]+)(.*)", found[1]).groups()  # type: ignore[union-attr]
    if chance.random() < 0.5:
        other = {">=": ">", ">": ">=", "<=": "<", "<": "<=", "==": ">="}[sign]
        return _replaced(text, found, other + version, 1)
    numbers = re.split(r"(\D)", version)
    last = max(at for at, part in enumerate(numbers) if part.isdigit())
    numbers[last] = str(int(numbers[last]) + chance.choice([-1, 1, 3]))
    return _replaced(text, found, sign + "".join(numbers), 1)


def _line_dropped(key: str) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"^\s*{key} = .*\n")
        return _replaced(text, found, "") if found else text

    return edit


def _bits(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"^\s*bits = \"(.*)\"")
    other = chance.choice(["0", "1", "2-3", "0-3", "4-7", "7", "0-6"])
    return _replaced(text, found, other, 1) if found else text


def _word_of(key: str, choices: Iterable[str]) -> Edit:
    held = list(choices)

    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"^\s*{key} = \"(.*)\"")
        return _replaced(text, found, chance.choice(held), 1) if found else text

    return edit


def _name_of_a_value(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"^\s*(?:choices|flags|values) = .*\d\"? = \"([^\"]+)\"")
    return _replaced(text, found, found[1] + "s", 1) if found else text


def _misspelt_id(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"^\s*id = \"([^\"]*\w)\"")
    return _replaced(text, found, found[1][:-1] + chance.choice("aeiou"), 1) if found else text


def _switched(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"\b(?:true|false)\b")
    return _replaced(text, found, "false" if found[0] == "true" else "true") if found else text


_PLACE = r"^[ \t]*\[\[(?:block\.)?setting\.place\]\]\n(?:[ \t]*[^\s\[].*\n|[ \t]*\n)*"
_SETTING = rf"^[ \t]*\[\[(?:block\.)?setting\]\]\n(?:[ \t]*[^\s\[].*\n|[ \t]*\n)*(?:{_PLACE[1:]})*"
_SOURCE = r"^\[\[source\]\]\n(?:[^\s\[].*\n|\n)*"
_RELEASE = r"^\[\[firmware\.release\]\]\n(?:[^\s\[].*\n|\n)*"


def _dropped(pattern: str) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, pattern)
        return _replaced(text, found, "") if found else text

    return edit


def _doubled(chance: random.Random, text: str) -> str:
    """A place written twice, the second time on another CV."""
    found = _one_of(chance, text, _PLACE)
    if not found:
        return text
    again = re.sub(r"cv = (\d+)", lambda cv: f"cv = {int(cv[1]) + 1}", found[0])
    return _replaced(text, found, found[0] + again)


def _swapped(chance: random.Random, text: str) -> str:
    """The CVs of two settings swapped."""
    found = list(re.finditer(r"^\s*cv = (\d+)$", text, re.M))
    if len(found) < 2:
        return text
    one, other = sorted(chance.sample(found, 2), key=lambda held: held.start())
    text = _replaced(text, other, one[1], 1)
    return _replaced(text, one, other[1], 1)


def _follows_dropped(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"^  (?:\"[\w-]+/|\{ from = ).*,\n")
    return _replaced(text, found, "") if found else text


EDITS: Mapping[str, Edit] = {
    "CV number": _number_after("cv"),
    "CVs": _number_after("cvs"),
    "two CVs swapped": _swapped,
    "default": _number_after("default"),
    "value range": _number_after("range"),
    "scale": _number_after("scale"),
    "offset": _number_after("offset"),
    "index page": _number_after("page"),
    "bits": _bits,
    "any number": _any_number,
    "firmware edge": _firmware_edge,
    "firmware line dropped": _line_dropped("firmware"),
    "condition dropped": _line_dropped("when"),
    "default dropped": _line_dropped("default"),
    "sources of a place dropped": _line_dropped("sources"),
    "supplement's subject dropped": _line_dropped("about"),
    "unit": _word_of("unit", ["s", "ms", "cm", "V", "%"]),
    "kind": _word_of("kind", ["number", "switch", "flags", "curve", "bench", "maker"]),
    "name of a value": _name_of_a_value,
    "id misspelt": _misspelt_id,
    "mark or switch": _switched,
    "release's version": _word_of("version", ["1.9", "4.0.6", "35", "2020-01-01"]),
    "place dropped": _dropped(_PLACE),
    "place doubled": _doubled,
    "setting dropped": _dropped(_SETTING),
    "source dropped": _dropped(_SOURCE),
    "release dropped": _dropped(_RELEASE),
    "followed block dropped": _follows_dropped,
}


def tried(count: int, seed: int = 1) -> Iterator[Tried]:
    """That many edits that really change a file, kinds and files taken in turn."""
    files = shipped()
    before = State("before", files)
    names = sorted(files)
    chance = random.Random(seed)
    number = 0
    while number < count:
        kind, name = chance.choice(list(EDITS)), chance.choice(names)
        text = files[name].decode("utf-8")
        edited = EDITS[kind](chance, text)
        if edited == text:
            continue
        number += 1
        after = State("after", {**files, name: edited.encode("utf-8")})
        outcome, settings = outcome_of(changed_profiles(before, after))
        yield Tried(kind, name, outcome, settings)


def outcome_of(changed: Changed) -> tuple[Outcome, tuple[str, ...]]:
    """What a review makes of the profiles that an edit may have changed."""
    if changed.broken_after:
        return Outcome.REFUSED, ()
    found = review(changed.before, changed.after, changed.renamed)
    by_profile = {one.id: one for one in found.profiles}
    any_changed = False
    missed: list[str] = []
    for id, after in changed.after.items():
        for setting, point in answers_changed(changed.before[id], after):
            any_changed = True
            changes = by_profile[id].changes if id in by_profile else ()
            told = (c for c in changes if c.setting == setting and c.firmware.holds(point))
            if not any(told):
                missed.append(f"{id} {setting} at {point}")
    if missed:
        return Outcome.ESCAPED, tuple(missed)
    return (Outcome.SHOWN if any_changed else Outcome.NO_ANSWER), ()


def answers_changed(before: Profile, after: Profile) -> Iterator[tuple[str, Key]]:
    """The settings and the points at which `cvlib settings` prints something else than before.

    The points are every release and every cut of both states. A setting that is written just as
    before, with the same sources, is not asked: its answers cannot differ.
    """
    old, new = Resolver(before), Resolver(after)
    points = {release.version.key for side in (before, after) for release in side.releases}
    for side in (old, new):
        points.update(cuts(side, side.profile.settings.values()))
    same = before.sources == after.sources
    for name in before.settings.keys() | after.settings.keys():
        mine, theirs = before.settings.get(name), after.settings.get(name)
        if same and mine == theirs:
            continue
        for point in sorted(points):
            told, now = _printed(old, name, point), _printed(new, name, point)
            if told != now and not (_is_nowhere(told) and _is_nowhere(now) and None in (told, now)):
                yield name, point


def _printed(resolver: Resolver, name: str, point: Key) -> object:
    """What is printed of a setting, words and sources apart; nothing where it is not known."""
    setting = resolver.profile.settings.get(name)
    if setting is None:
        return None
    answer = resolver.answer(setting, point)
    told = _without_words(answer_data(resolver.profile, answer))
    beside = answer.beside and _without_words(answer_data(resolver.profile, answer.beside))
    return told, beside


def _is_nowhere(printed: object) -> bool:
    """Whether a setting does not exist, or the profile does not know it at all."""
    told = printed[0] if isinstance(printed, tuple) else None
    return not isinstance(told, dict) or not (told["kind"] or told["candidates"])


def _without_words(told: object) -> object:
    if isinstance(told, dict):
        return {k: _without_words(v) for k, v in told.items() if k not in (*WORDS, "side")}
    return [_without_words(one) for one in told] if isinstance(told, list) else told


def main() -> None:
    """Write a table of outcomes by kind of edit."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    table: dict[str, Counter[str]] = {}
    for one in tried(count):
        table.setdefault(one.kind, Counter())[one.outcome.value] += 1
        if one.outcome is Outcome.ESCAPED:
            sys.stdout.write(f"{one}\n")
    for kind, counts in sorted(table.items()):
        sys.stdout.write(f"{kind:32} {dict(counts)}\n")
    sys.stdout.write(f"{dict(sum(table.values(), Counter()))}\n")


if __name__ == "__main__":
    main()
