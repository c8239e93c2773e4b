"""Changes of a review in words, and changes that are alike put together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from cvlib.engine.change.review import Kind, SettingChange
from cvlib.engine.change.review_items import Item, Wording
from cvlib.engine.known.digest import content
from cvlib.engine.known.neighbours import without_index
from cvlib.model.answer import Answer
from cvlib.model.profile import Place
from cvlib.model.ranges import points_in_order
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.places import default_text, marks_text, values_text, when_text
from cvlib.render.view import Line, Piece, Role, plain
from cvlib.render.views.settings import named, short_where

KIND_WORDS = {
    Kind.ADDED: "added",
    Kind.REMOVED: "removed",
    Kind.MOVED: "moved",
    Kind.RECODED: "coded differently",
    Kind.DEFAULT: "default",
    Kind.CONDITION: "condition",
    Kind.MARKS: "marks",
    Kind.CANDIDATES: "disputed",
    Kind.BESIDE: "without the bench test",
    Kind.IMPROVED: "better known",
    Kind.LOST: "less well known",
    Kind.STANDING: "known otherwise",
}
"""What each kind of change is called before it is told."""

GRAVITY = tuple(Kind)
"""The kinds of change, the gravest first."""

STANDING_ALONE = frozenset((Kind.IMPROVED, Kind.LOST, Kind.STANDING))
ALIKE = 3
"""Changes of one sort from how many on they share a row."""

_MOST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Row:
    """Changes that are told together: of one setting, or of several that changed alike."""

    changes: tuple[SettingChange, ...]

    @property
    def first(self) -> SettingChange:
        """The change by which all are told."""
        return self.changes[0]

    @property
    def is_standing_alone(self) -> bool:
        """Whether the places are what they were and only the standing differs."""
        return is_standing_alone(self.first)

    def name(self) -> Line:
        """Title and id, and how many more there are."""
        first, more = self.first, len(self.changes) - 1
        if more and self.is_standing_alone:
            return plain(f"{counted(len(self.changes), 'setting')}, such as {first.title}")
        line = named(first.title, first.setting)
        if not more:
            return line
        last = self.changes[-1].setting
        return (*line, Piece("\n"), Piece(f"and {more} more, up to {last}", Role.FAINT))


def is_standing_alone(change: SettingChange) -> bool:
    """Whether only the standing differs and no place or candidate does."""
    sides = (change.before, change.after)
    disputed = any(held is not None and held.candidates for held in sides)
    return STANDING_ALONE.issuperset(change.kinds) and not disputed


def rows_of(changes: Iterable[SettingChange]) -> list[Row]:
    """The changes in the order of their gravity, those that are alike in one row."""
    groups: dict[object, list[SettingChange]] = {}
    for change in changes:
        groups.setdefault(_alike(change), []).append(change)
    rows = [
        row
        for held in groups.values()
        for row in ([Row(tuple(held))] if len(held) >= ALIKE else [Row((one,)) for one in held])
    ]
    gravity: dict[str, int] = {}
    for row in rows:
        name, grave = row.first.setting, GRAVITY.index(row.first.kinds[0])
        gravity[name] = min(grave, gravity.get(name, grave))
    names = list(gravity)
    return in_firmware_order(
        rows, lambda row: (gravity[row.first.setting], names.index(row.first.setting))
    )


def in_firmware_order(rows: list[Row], key: Callable[[Row], tuple[int, ...]]) -> list[Row]:
    """Rows sorted by a key; those alike in it by the firmware for which they hold."""
    points = points_in_order(row.first.firmware.oldest for row in rows)
    return sorted(rows, key=lambda row: (*key(row), points.index(row.first.firmware.oldest)))


def _alike(change: SettingChange) -> object:
    """What changes share that can be told together."""
    if is_standing_alone(change):
        standings = [held.standing if held else None for held in (change.before, change.after)]
        return change.firmware, *standings, change.is_area
    sides = (change.before, change.after)
    story = repr([held and _without_cvs(held) for held in sides])
    return without_index(change.setting), change.firmware, change.kinds, story


def _without_cvs(answer: Answer) -> object:
    """An answer's content without the CVs, which differ between settings that recur."""
    told = content(answer)
    held = told["place"]
    places = held if isinstance(held, dict) else {}
    return {**told, "place": {key: value for key, value in places.items() if key != "at"}}


def firmware_text(change: SettingChange) -> str:
    """For which firmware a change holds, with the known releases among it."""
    words = firmware_words(change.firmware.text())
    single = [words] == list(change.releases)
    return words if single or not change.releases else f"{words} ({listed(change.releases, 3)})"


def change_lines(change: SettingChange) -> list[str]:
    """A change as sentences without end: one for each way in which the answer differs."""
    return [f"{KIND_WORDS[kind]}: {_told(kind, change)}" for kind in change.kinds]


def _told(kind: Kind, change: SettingChange) -> str:
    old, new = change.before, change.after
    if kind is Kind.ADDED:
        return _fully(new)
    if kind is Kind.REMOVED:
        return f"was {answer_text(old)}"
    if kind is Kind.BESIDE:
        return arrow(answer_text(old and old.documented()), answer_text(new and new.documented()))
    if kind is Kind.CANDIDATES:
        return arrow(answer_text(old), answer_text(new))
    if kind in STANDING_ALONE:
        return _standing(old, new)
    before, after = (held.place if held else None for held in (old, new))
    return arrow(_part(kind, before), _part(kind, after))


def _part(kind: Kind, place: Place | None) -> str:
    if place is None:
        return "none"
    match kind:
        case Kind.MOVED:
            return short_where(place)
        case Kind.RECODED:
            return f"{place.coding.kind} {values_text(place.coding)}"
        case Kind.DEFAULT:
            return default_text(place) or "none"
        case Kind.CONDITION:
            return when_text(place.when) or "always"
        case _:
            also = f"also CV {place.also_at}" if place.also_at is not None else ""
            said = (marks_text(place), place.marks.requirement, also)
            uniform = "uniform" if place.marks.uniform else ""
            return ", ".join(filter(None, (*said, uniform))) or "none"


def arrow(before: str, after: str) -> str:
    """From one to the other; told apart where both would read the same."""
    return f"{before} → {after}" if before != after else f"{before} → otherwise"


def answer_text(answer: Answer | None) -> str:
    """Where a setting lives by an answer, in a few words."""
    if answer is None or answer.is_absent:
        return "absent"
    places = [short_where(place) if place else "absent" for place in answer.possible()]
    return listed(places, last="or")


def _fully(answer: Answer | None) -> str:
    if answer is None or answer.place is None:
        return f"{answer_text(answer)}, {answer.standing if answer else ''}"
    said = (answer_text(answer), values_text(answer.place.coding), answer.standing.value)
    return ", ".join(said)


def _standing(old: Answer | None, new: Answer | None) -> str:
    """From standing to standing, with the places where they are not agreed on."""
    told = []
    for held in (old, new):
        if held is None:
            told.append("absent")
        elif held.candidates:
            told.append(f"{held.standing}: {answer_text(held)}")
        else:
            told.append(f"{held.standing}{', absent' if held.is_absent else ''}")
    return arrow(*told)


def item_row(item: Item) -> tuple[Line, ...]:
    """A part of a profile, and what happened to it."""
    said = {"sources": "sources of", "risk": "harm by"}.get(item.part, item.part)
    if item.part == "sources" and not item.id:
        said = "sources named for many settings"
    name = (Piece(f"{said} "), Piece(item.id, Role.CODE)) if item.id else (Piece(said),)
    details = [f"{one.key} {arrow(_short(one.before), _short(one.after))}" for one in item.details]
    change = item.change.value
    if item.part == "setting":
        change = f"{change}, and no answer with it"
    return name, plain(f"{change}{f': {listed(details)}' if details else ''}")


def wording_row(one: Wording) -> tuple[Line, ...]:
    """Words of a profile, before and after."""
    name = (Piece(f"{one.part} "), *((Piece(one.id, Role.CODE), Piece(" ")) if one.id else ()))
    return (*name, Piece(one.key)), plain(_short(one.before)), plain(_short(one.after))


def _short(text: str) -> str:
    """A text in quotes, cut where it is long; nothing is told as none."""
    if not text:
        return "none"
    cut = text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 1] + "…"
    return f'"{cut}"'


def parts_counted(items: Sequence[Item]) -> str:
    """How many parts of each kind changed."""
    counts: dict[str, int] = {}
    for item in items:
        counts[item.part] = counts.get(item.part, 0) + 1
    return listed(
        [
            counted(number, _SINGULARS.get(part, part), _PLURALS.get(part, ""))
            for part, number in counts.items()
        ]
    )


_SINGULARS = {
    "sources": "setting with other sources",
    "risk": "setting with another mark of harm",
}
_PLURALS = {
    "advisory": "advisories",
    "identity": "identities",
    "sources": "settings with other sources",
    "risk": "settings with another mark of harm",
}
