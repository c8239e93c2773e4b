"""Random edits to good profiles, what lint finds in each, and what a review shows of it.

In the folder ``tests``, ``python -m review.mutations 1000`` prints for each kind of edit how often
the reader refused it, how often it changed an answer, and whether lint or the review told that;
then every edit that neither told. A second number is the seed.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from cvlib.engine.change.review import review
from cvlib.engine.known.resolve import Resolver
from cvlib.files.data import definitions_folder
from cvlib.files.lint.drafted import added, followers
from cvlib.files.lint.linting import lint
from cvlib.files.revisions import Changed, State, changed_profiles
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.model.profile import Profile
from cvlib.model.versions import Key
from cvlib.render.views.settings_data import answer_data
from review.edits import EDITS

TODAY = date(2026, 12, 1)
WORDS = ("note", "sources")
"""Keys of an answer in the output that are words or evidence and no part of what is resolved."""


@dataclass(frozen=True)
class Reviewed:
    """What a review makes of an edit."""

    refused: bool = False
    """The profile could not be read any more; the reader says why."""
    changed: bool = False
    """Some answer is another one, at some firmware."""
    told: bool = False
    """The review says something of the profiles, be it in other parts than the answers."""
    missed: tuple[str, ...] = ()
    """Settings that changed and that the review does not show at just that firmware."""

    @property
    def shown(self) -> bool:
        """Whether every answer that changed is shown."""
        return self.changed and not self.missed


@dataclass(frozen=True)
class Tried:
    """One edit: its kind, the file before and after, and what the review makes of it."""

    kind: str
    file: str
    text: str
    edited: str
    review: Reviewed

    def __str__(self) -> str:
        """Kind, file and the lines that changed."""
        old, new = self.text.split("\n"), self.edited.split("\n")
        gone, come = Counter(old) - Counter(new), Counter(new) - Counter(old)
        lines = (*(f"-{line.strip()}" for line in gone), *(f"+{line.strip()}" for line in come))
        return f"{self.kind} in {self.file}: {' | '.join(lines)[:300] or 'lines moved'}"


class Trial:
    """The shipped store, with edits made one at a time."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = dict(State("", folder=definitions_folder()).own_content())
        self.before = State("store", self.files)
        self._linted: tuple[Remark, ...] | None = None

    def edits(
        self, count: int, seed: int = 1, kinds: Collection[str] = tuple(EDITS)
    ) -> Iterator[Tried]:
        """That many edits that really change a file, kinds and files taken by chance."""
        names, held = sorted(self.files), [kind for kind in EDITS if kind in kinds]
        chance = random.Random(seed)
        number = 0
        while number < count:
            kind, name = chance.choice(held), chance.choice(names)
            text = self.files[name].decode("utf-8")
            edited = EDITS[kind](chance, text)
            if edited != text:
                number += 1
                after = State("store", {**self.files, name: edited.encode("utf-8")})
                found = reviewed(changed_profiles(self.before, after))
                yield Tried(kind, name, text, edited, found)

    def found(self, one: Tried) -> list[Remark]:
        """What lint finds after an edit and did not find before."""
        if self._linted is None:
            self._linted = lint(self.before, today=TODAY).remarks
        path = self.before.located(one.file)
        after = self.before.drafted(one.file, path, one.edited.encode("utf-8"))
        chosen = {one.file, *followers(after, one.file)}
        files = {after.shown(name) for name in chosen}
        old = [remark for remark in self._linted if remark.position.file in files]
        return added(old, lint(after, today=TODAY, chosen=chosen).remarks)


def reviewed(changed: Changed) -> Reviewed:
    """What a review makes of the profiles that an edit may have changed."""
    if changed.broken_after:
        return Reviewed(refused=True)
    found = review(changed.before, changed.after, changed.renamed)
    by_profile = {one.id: one for one in found.profiles}
    is_changed = False
    missed: list[str] = []
    for id, after in changed.after.items():
        for setting, point in answers_changed(changed.before[id], after):
            is_changed = True
            changes = by_profile[id].changes if id in by_profile else ()
            told = (c for c in changes if c.setting == setting and c.firmware.holds(point))
            if not any(told):
                missed.append(f"{id} {setting} at {point}")
    return Reviewed(False, is_changed, bool(found.profiles), tuple(missed))


def answers_changed(before: Profile, after: Profile) -> Iterator[tuple[str, Key]]:
    """The settings and the points at which `cvlib settings` prints something else than before.

    The points are every release and every cut of both states. A setting that is written just as
    before, with the same sources, is not asked: its answers cannot differ.
    """
    old, new = Resolver(before), Resolver(after)
    points = {release.version.key for side in (before, after) for release in side.releases}
    for side in (old, new):
        points.update(side.cuts.points)
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


COLUMNS = (
    ("edits", ""),
    ("refused", "the reader refuses the file"),
    ("changed", "an answer is another one; of those:"),
    ("both", "lint finds something, and the review shows every answer"),
    ("review", "the review shows every answer, and lint finds nothing"),
    ("lint", "lint finds something, and the review does not show every answer"),
    ("neither", "lint finds nothing, and the review does not show every answer"),
    ("same", "no answer is another one; of those:"),
    ("found", "lint finds something"),
    ("named", "lint finds nothing, and the review names a part that changed"),
    ("silent", "neither says anything"),
)


def columns_of(one: Tried, found: Collection[Remark]) -> Iterator[str]:
    """The columns in which an edit counts."""
    yield "edits"
    if one.review.refused:
        yield "refused"
    elif one.review.changed:
        yield "changed"
        if one.review.shown:
            yield "both" if found else "review"
        else:
            yield "lint" if found else "neither"
    else:
        yield "same"
        yield "found" if found else "named" if one.review.told else "silent"


def main() -> None:
    """Write a table of outcomes by kind of edit, then the codes, then what neither told."""
    count, seed = (int(text) for text in (*sys.argv[1:3], *("300", "1")[len(sys.argv) - 1 :]))
    trial = Trial()
    table: dict[str, Counter[str]] = {}
    codes: dict[str, Counter[str]] = {}
    untold: list[Tried] = []
    for one in trial.edits(count, seed):
        found = trial.found(one)
        columns = Counter(columns_of(one, found))
        table.setdefault(one.kind, Counter()).update(columns)
        if not one.review.refused:
            told = {f"{_letter(remark)} {remark.code}" for remark in found}
            codes.setdefault(one.kind, Counter()).update(told)
        if columns["neither"] or columns["silent"]:
            untold.append(one)
    _write(table, codes)
    sys.stdout.write("\nneither lint nor the review says anything of:\n")
    sys.stdout.writelines(f"{one}\n" for one in untold)


def _letter(remark: Remark) -> str:
    return {Severity.ERROR: "E", Severity.WARNING: "W"}.get(remark.severity, "N")


def _write(table: Mapping[str, Counter[str]], codes: Mapping[str, Counter[str]]) -> None:
    names = [name for name, _ in COLUMNS]
    sys.stdout.writelines(f"{name:8} {text}\n" for name, text in COLUMNS if text)
    sys.stdout.write(f"\n{'kind of edit':30}{''.join(f'{name:>9}' for name in names)}\n")
    total: Counter[str] = sum(table.values(), Counter())
    for kind, counts in (*sorted(table.items()), ("all", total)):
        sys.stdout.write(f"{kind:30}{''.join(f'{counts[name]:9}' for name in names)}\n")
    sys.stdout.write("\ncodes of lint, by kind of edit (error, warning, note):\n")
    for kind, told in sorted(codes.items()):
        row = ", ".join(f"{code} {times}" for code, times in told.most_common())
        sys.stdout.write(f"{kind:30}{row or '-'}\n")


if __name__ == "__main__":
    main()
