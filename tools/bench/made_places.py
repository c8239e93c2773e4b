"""The settings of an invented decoder type as its file writes them, with their places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from tools.bench.made_definitions import Cited, Document, Group, Member, Plan, Spot

Table = dict[str, str | list[str]]
"""The keys of one table, each with its value as the file writes it; a list has several."""

WIDEST_ROW, WIDEST_LIST = 110, 100


def setting_lines(plan: Plan, group: Group, member: Member) -> Iterator[str]:
    """A setting with its places; for a CV of switches the byte, then each switch."""
    steps = [spot.step for spot in member.spots if spot]
    first = _Places(plan, group, steps[0])
    for spot, spoken in first.spots(member.spots):
        first.add(member, spot, spoken, coding(member, spot.variant))
    titles = titles_of(member.id, member.words, group.count, steps[0])
    yield from _with_places(titles, first.tables, rows=plan.maker.rows)
    for bit, (name, title) in enumerate(member.words.get("switches", ())):
        one = _Places(plan, group, 0)
        for spot, spoken in one.spots(_spots_of_switch(member, bit)):
            keys: Table = {"bits": f'"{bit}"', "kind": '"switch"', "default": _true(not bit % 2)}
            one.add(member, spot, spoken, keys)
        if one.tables:
            titles = titles_of(f"{group.name}.{name}", {"title": title})
            yield from _with_places(titles, one.tables, rows=False)


def _spots_of_switch(member: Member, bit: int) -> list[Spot | None]:
    """Where one of the switches of a CV lives; the last two came with the second form."""
    late = bit >= len(member.words["switches"]) - 2
    return [
        None if spot is None or (late and not spot.variant) else spot._replace(variant=0)
        for spot in member.spots
    ]


class _Places:
    """The places of one setting, as they are added."""

    def __init__(self, plan: Plan, group: Group, step: int) -> None:
        self.tables: list[Table] = []
        self._plan = plan
        self._page = group.page
        self._step = step
        self._documents = plan.documents_for(group.name)

    def spots(self, spots: list[Spot | None]) -> Iterator[tuple[Spot, list[Document]]]:
        """Each spot of the setting with the documents that speak for it."""
        found: dict[Spot, list[Document]] = {}
        for document in self._documents:
            spot = spots[document.generation]
            if spot is not None:
                found.setdefault(spot, []).append(document)
        yield from found.items()

    def add(self, member: Member, spot: Spot, spoken: list[Document], keys: Table) -> None:
        """Put one place at the end."""
        place: Table = {}
        if len(spoken) < len(self._documents):
            place["firmware"] = span_of(spoken)
        place |= where(member, spot, self._page, repeats=self._step) | keys
        place["sources"] = citations(self._plan, spoken, member.tests.get(spot, []))
        self.tables.append(place)


def span_of(spoken: list[Document]) -> str | list[str]:
    """The firmware for which some documents speak."""
    texts = [quoted(document.firmware) for document in spoken]
    return texts[0] if len(texts) == 1 else texts


def citations(plan: Plan, spoken: list[Document], tests: Iterable[Cited]) -> list[str]:
    """The pages of documents and the tests that speak for a place."""
    page = 4 + len(plan.id) % 7
    cited = [f'"{one.id}:{page + at * 3}"' for at, one in enumerate(spoken)]
    cited += [f'{{ source = "{one.bench}", verdict = "{one.verdict}" }}' for one in tests]
    return cited


def titles_of(id: str, words: dict[str, Any], count: int = 0, step: int = 0) -> Table:
    """The keys of a setting that stand before its places."""
    keys: Table = {"id": quoted(id), "title": quoted(words["title"])}
    if "help" in words:
        keys["help"] = quoted(words["help"])
    if count:
        keys["repeat"] = f"{{ count = {count}, step = {step} }}"
    return keys


def where(member: Member, spot: Spot, page: str, *, repeats: int) -> Table:
    """The keys of a place that say where it is; the step where it is not the setting's own."""
    keys: Table = {"cv": str(spot.cv)}
    if member.width > 1:
        keys = {"cvs": f'"{spot.cv}-{spot.cv + member.width - 1}"'}
    if page:
        keys["page"] = quoted(page)
    if repeats and spot.step != repeats:
        keys["step"] = str(spot.step)
    return keys


def coding(member: Member, variant: int) -> Table:
    """Kind, coding and default of a place; the first form of a list lacks its last entries."""
    words = member.words
    if "ranges" in words:
        return _number(words, words["ranges"][variant])
    if "choices" in words:
        names = words["choices"][: len(words["choices"]) - 1 + variant]
        return {"kind": '"choice"', "choices": _named(names), "default": "0"}
    if "flags" in words:
        names = words["flags"][: len(words["flags"]) - 1 + variant]
        return {"kind": '"flags"', "flags": _named(names), "default": f"[{quoted(names[0])}]"}
    if "switches" in words:
        there = range(len(words["switches"]) - 2 + 2 * variant)
        return {"kind": '"fields"', "default": str(sum(1 << bit for bit in there if not bit % 2))}
    if "curve" in words:
        curve = [255 * point // words["curve"] for point in range(1, words["curve"] + 1)]
        return {"kind": '"curve"', "range": "[0, 255]", "default": str(curve)}
    return {"kind": '"text"'}


def _number(words: dict[str, Any], row: list[float]) -> Table:
    low, high, scale = row
    keys: Table = {"kind": '"number"', "range": f"[{low}, {high}]"}
    if scale != 1:
        keys["scale"] = str(scale)
    keys["unit"] = quoted(words["unit"])
    if words.get("counted"):
        return keys | {"read-only": "true", "volatile": "true"}
    return keys | {"default": str(low + (high - low) // 3)}


def _with_places(titles: Table, places: list[Table], *, rows: bool) -> Iterator[str]:
    """A setting and its places, each under a heading or as a row below what is common to them."""
    first = places[0]
    common = [
        key
        for key in first
        if key not in ("firmware", "default")
        and all(place.get(key) == first[key] for place in places)
    ]
    shared = inline({key: first[key] for key in common})
    rest = [
        inline({key: value for key, value in place.items() if key not in common})
        for place in places
    ]
    fits = all(len(row) <= WIDEST_ROW for row in (shared, *rest))
    if rows and fits and len(places) > 1 and "kind" in common:
        yield from table("[[setting]]", titles)[:-1]
        yield f"common = {shared}"
        yield from ("place = [", *(f"  {row}," for row in rest), "]", "")
        return
    yield from table("[[setting]]", titles)
    for place in places:
        yield from indented(table("[[setting.place]]", place))


def table(heading: str, keys: Table) -> list[str]:
    """A table below its heading, and an empty line."""
    lines = [heading]
    for key, value in keys.items():
        line = f"{key} = {_text(value)}"
        if isinstance(value, list) and len(line) + 2 > WIDEST_LIST:
            lines += [f"{key} = [", *(f"  {item}," for item in value), "]"]
        else:
            lines.append(line)
    return [*lines, ""]


def indented(lines: Iterable[str]) -> Iterator[str]:
    """Lines of a place, set in from the margin."""
    yield from (f"  {line}".rstrip() for line in lines)


def inline(keys: Table) -> str:
    """A table on one line."""
    return f"{{ {', '.join(f'{key} = {_text(value)}' for key, value in keys.items())} }}"


def quoted(text: str) -> str:
    """A text as a file writes it."""
    return f'"{text}"'


def _text(value: str | list[str]) -> str:
    return f"[{', '.join(value)}]" if isinstance(value, list) else value


def _named(names: list[str]) -> str:
    return inline({str(at): quoted(name) for at, name in enumerate(names)})


def _true(holds: bool) -> str:
    return "true" if holds else "false"
