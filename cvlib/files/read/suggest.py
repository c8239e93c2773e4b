"""A recipe proposed for a file: what in it looks like CV numbers with values, and how sure."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

from cvlib.errors import InputError, Position, problem
from cvlib.files.read.headings import find_columns, split_cells
from cvlib.files.read.recipe import by_recipe, is_address, parse_recipe
from cvlib.files.read.tree import text_of, tree_of
from cvlib.files.read.values import Notation, parse_cv, parse_value
from cvlib.files.read.xpath_rows import TreeError, parse
from cvlib.files.text import file_name, one_line, quoted, read_bytes
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, Slot
from cvlib.model.recipe import ByRecipe, Recipe, RecipeProposal

_MOST_ELEMENTS, _MOST_KINDS, _MOST_ATTRIBUTES, _MOST_FIELDS = 20_000, 2_000, 2_000, 40
_MOST_SKIPPED, _MOST_TOLD = 8, 3
_NUMBERED = re.compile(r"([A-Za-z_. -]+?)\d{1,4}(?:@\d{1,3}/\d{1,3})?")
_PAGE = re.compile(r"\d{1,3}/\d{1,3}", re.A)
_SAID = {
    **dict.fromkeys(("role", "rolle"), "role"),
    **dict.fromkeys(("address", "adresse", "addr", "adr"), "address"),
    **dict.fromkeys(("firmware", "fw"), "firmware"),
    **{name: name for name in ("name", "profile", "high", "low")},
}
_SHORT = {"n": "number", "v": "value"}
_NAMELESS = ("item", "key")
"""Elements of JSON that are called after nothing in the file."""
_INDEX = {"31", "32"}
_LEAST_SHARE = 0.5
"""Fewer of the rows with a CV number and a value than this, and they are rows of something else."""
_LEAST_LIKENESS = 0.7
"""What fits nearly as well as the best, by this share of its rank, is told beside it."""
_BOTH = 4
"""The points of rows whose number and value are both called what they are."""

_Field = tuple[str, str, str | None]
"""A path from an element, what it is called there, and the text that it finds."""


@dataclass
class _Rows:
    """Elements that look alike, and what stands in each of them."""

    path: str
    tag: str = ""
    count: int = 0
    texts: dict[str, dict[int, str]] = field(default_factory=dict)
    """The texts of each path from a row, by the number of the row."""
    names: dict[str, str] = field(default_factory=dict)
    outside: dict[str, None] = field(default_factory=dict)
    """The paths that lead out of the row."""

    def add(self, inside: Iterable[_Field], outside: Iterable[_Field]) -> None:
        """Take in a further row."""
        for is_outside, fields in ((False, inside), (True, outside)):
            for path, name, text in fields:
                if path in self.texts or len(self.texts) < _MOST_FIELDS:
                    self.texts.setdefault(path, {})[self.count] = " ".join((text or "").split())
                    self.names[path] = name
                    if is_outside:
                        self.outside[path] = None
        self.count += 1

    def good(self, path: str, read: Callable[[str], object]) -> dict[int, object]:
        """What the texts that a path finds are read as, row by row, where they can be."""
        found: dict[int, object] = {}
        for row, text in self.texts[path].items():
            with suppress(InputError):
                found[row] = read(text)
        return found


@dataclass(frozen=True)
class _Pair:
    """Rows with the paths of number and value."""

    rows: _Rows
    number: str
    value: str
    notation: Notation
    points: int
    """2 for each of the two that is called what it is, 1 where the rows are called after CVs."""
    spread: float
    """How many of the CV numbers differ, as a share."""
    numbers: dict[int, object]
    values: dict[int, object]
    count: int
    """How many rows have both."""

    @property
    def read(self) -> dict[int, tuple[object, object]]:
        """CV and value, row by row."""
        both = self.numbers.keys() & self.values.keys()
        return {row: (self.numbers[row], self.values[row]) for row in both}

    @property
    def rank(self) -> tuple[int, float]:
        """What makes one more likely than another."""
        return (self.points, self.count**2 / self.rows.count * self.spread)

    @property
    def may_be_hexadecimal(self) -> bool:
        """Whether values written with two digits and no letter may be either."""
        texts = self.rows.texts[self.value].values()
        is_decimal = self.notation is Notation.DECIMAL
        return is_decimal and any(re.fullmatch(r"0\d", text) for text in texts)


def suggest(path: Path) -> RecipeProposal:
    """The recipe that fits a file best; raises InputError where nothing in it looks like CVs."""
    data, name = read_bytes(path), file_name(path)
    blank = _blank(data, name)
    text = text_of(data, name, blank.kind)
    try:
        root = parse(tree_of(text, name, blank))
    except TreeError as error:
        what, line, _ = error.args
        said = problem(f"this is {one_line(what, 200)}.", position=Position(name, line or None))
        raise said from None
    spaces: dict[str, str] = {}
    pairs = [pair for rows in _alike(root, blank.kind, spaces) for pair in _pairs(rows)]
    if not pairs:
        raise problem(
            "nothing in this file looks like CV numbers with values.",
            advice="docs/recipes.md says how to write a recipe by hand.",
            position=Position(name),
        )
    best, *others = sorted(pairs, key=lambda pair: pair.rank, reverse=True)
    recipe, reasons = _recipe(best, blank, {prefix: uri for uri, prefix in spaces.items()})
    outcome = by_recipe(text, name, parse_recipe(_toml(recipe), f"the proposal for {name}"))
    rivals = [
        f"{one.rows.path}: number {one.number}, value {one.value}"
        for one in others
        if one.points == best.points
        and one.rank[1] >= best.rank[1] * _LEAST_LIKENESS
        and one.read != best.read
    ]
    unread = dict.fromkeys(one.rows.path for one in others if _is_further(one, best))
    certainty = _certainty(best, outcome, bool(rivals), bool(unread))
    reasons += _counted(outcome)
    reasons += [f"these rows fit as well: {rival}" for rival in rivals[:_MOST_TOLD]]
    reasons += [f"not read, though they look like CVs: {one}" for one in [*unread][:_MOST_TOLD]]
    lines = [f"# Proposed for {one_line(name, 80)}; how sure: {certainty}."]
    lines += [f"# - {one_line(reason, 200)}" for reason in reasons]
    return RecipeProposal("\n".join([*lines, _toml(recipe)]), certainty, tuple(reasons), outcome)


def _is_further(pair: _Pair, best: _Pair) -> bool:
    """Whether rows beside the best ones look like CVs with values too."""
    is_alike = (pair.number, pair.value) == (best.number, best.value)
    is_around = _is_below(pair.number) or _is_below(pair.value)
    return pair.rows is not best.rows and not is_around and (is_alike or pair.points > 0)


def _is_below(path: str) -> bool:
    """Whether a path leads to what a child of the row says."""
    return "/" in re.sub(r"'[^']*'", "", path)


def _blank(data: bytes, name: str) -> Recipe:
    """A recipe of the kind that the file shows, without any path yet."""
    start = data[:400].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if start[:1] in (b"<", b"{") or re.match(rb"\[\s*[\[{\d\"]", start):
        return Recipe("xml" if start[:1] == b"<" else "json", {})
    lines = text_of(data, name, "table").splitlines()[:1000]
    found = [(*_width(lines, mark), mark) for mark in ("\t", ";", "|", ",", "  ", " ")]
    _, width, delimiter = max(found, key=lambda one: one[0])
    headings = 0
    for at, line in enumerate(lines, 1):
        cells = split_cells(line, delimiter) if line.strip() else []
        if len(cells) == width and any(re.match(r"\d", cell) for cell in cells):
            break
        headings = at if len(cells) == width else headings
    else:
        headings = 0
    return Recipe("table", {}, delimiter=delimiter, headings=headings)


def _width(lines: list[str], mark: str) -> tuple[int, int]:
    """How many lines a mark parts into the same number of cells, and into how many."""
    widths = Counter(len(split_cells(line, mark)) for line in lines if line.strip())
    return max(((count, width) for width, count in widths.items() if width > 1), default=(0, 0))


def _alike(root: Any, kind: str, spaces: dict[str, str]) -> Iterable[_Rows]:
    """Elements of the same name, and attributes of numbered names, gathered as rows."""
    found: dict[str, _Rows] = {}
    around: dict[Any, list[_Field]] = {None: []}  # what is said by each element and those around
    for one in islice(root.iter(), _MOST_ELEMENTS):
        inner = list(islice(_fields(one, kind, spaces), _MOST_FIELDS))
        step = ".." if one.tag in _NAMELESS else f"ancestor::{_qualified(one.tag, spaces)}[1]"
        outer = around.get(one.getparent(), [])
        mine = [(f"{step}/{path}", name, text) for path, name, text in inner if path != "."]
        further = [(f"../{p}" if p.startswith("..") else p, name, text) for p, name, text in outer]
        if kind != "table" and len(one):
            around[one] = [*mine, *further][: _MOST_FIELDS // 2]
        if one is not root or not len(root):
            called = one.get("key", "") if kind == "json" else _local(one.tag)
            path, number = _path(one, called, kind, spaces)
            if path in found or len(found) < _MOST_KINDS:
                rows = found.setdefault(path, _Rows(path, _local(one.tag)))
                rows.add([*number, *inner, *_fields_below(one, kind, spaces)], outer)
        # Each look-up of an attribute passes all before it, so that many are not looked at.
        for key in islice(one.keys(), _MOST_ATTRIBUTES) if kind == "xml" else ():
            if numbered := _numbered(_local(key), "@*", "local-name()"):
                rows = found.setdefault(numbered[0], _Rows(numbered[0]))
                rows.add([numbered[1], (".", "", one.get(key))], [*mine, *further])
    return found.values()


def _fields(one: Any, kind: str, spaces: dict[str, str]) -> Iterator[_Field]:
    """What an element says itself: its attributes, its text, and children that are but texts."""
    if not len(one):
        tag = _local(one.tag)
        yield ".", "" if _is_number(tag) else tag, one.text
    for key in islice(one.keys(), _MOST_FIELDS) if kind == "xml" or one.tag == "key" else ():
        # The key of an entry of JSON is a CV number where what it stands in is called after CVs.
        name = _local(one.getparent().tag) if kind == "json" else _local(key)
        yield f"@{_qualified(key, spaces)}", name, one.get(key)
    for path, name, child in _children(one, kind, spaces):
        if not len(child):
            yield path, name, child.text


def _fields_below(one: Any, kind: str, spaces: dict[str, str]) -> Iterator[_Field]:
    """What the children of an element say."""
    for path, _, child in _children(one, kind, spaces):
        for below, name, text in _fields(child, kind, spaces):
            if below != ".":
                yield f"{path}/{below}", name, text


def _children(one: Any, kind: str, spaces: dict[str, str]) -> Iterator[tuple[str, str, Any]]:
    """The first children of an element, each with its path and what it is called."""
    children = list(islice(one, _MOST_FIELDS))
    twice = Counter(child.tag for child in children)
    for at, child in enumerate(children, 1):
        key = "head" if kind == "table" else "key"
        name = child.get(key) if child.tag in ("key", "cell") else None
        path = _qualified(child.tag, spaces)
        if name and "'" not in name:
            path += f"[@{key}='{name}']"
        elif twice[child.tag] > 1:
            path = f"*[{at}]"
        yield path, name or _local(child.tag), child


def _numbered(called: str, nodes: str, name: str) -> tuple[str, _Field] | None:
    """The path to all that is called by a word and a number, and the number as a field."""
    found = _NUMBERED.fullmatch(called)
    if found is None:
        return None
    number = f"substring-after({name}, '{found[1]}')"
    path = f"//{nodes}[number(translate({number}, '@/', '')) > 0]"
    return path, (number, found[1], called.removeprefix(found[1]))


def _path(one: Any, called: str, kind: str, spaces: dict[str, str]) -> tuple[str, list[_Field]]:
    """The path to all elements like one: by its name, and for entries of JSON those around."""
    if numbered := _numbered(called, "*", "@key" if kind == "json" else "local-name()"):
        return numbered[0], [numbered[1]]
    steps: list[str] = [_qualified(one.tag, spaces)]
    while one.tag in _NAMELESS and (one := one.getparent()) is not None:
        steps.insert(0, _qualified(one.tag, spaces))
    return f"//{'/'.join(steps)}", []


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _qualified(tag: str, spaces: dict[str, str]) -> str:
    """The name with a prefix for its namespace; a new one is noted."""
    space, _, local = tag.rpartition("}")
    if not space:
        return local
    if space.endswith("XML/1998/namespace"):
        return f"xml:{local}"
    return f"{spaces.setdefault(space[1:], f'n{len(spaces) + 1}')}:{local}"


def _pairs(rows: _Rows) -> Iterator[_Pair]:
    """Each number with each value in rows that look alike, where most rows fit."""
    least, texts = max(1, rows.count * _LEAST_SHARE), rows.texts
    inside = [path for path in texts if path not in rows.outside]
    values = {path: _notation(rows, path) for path in inside}
    read = {path: rows.good(path, partial(_value, values[path][0])) for path in inside}
    for number in inside:
        numbers = rows.good(number, parse_cv)
        is_index = {texts[number][row] for row in numbers} <= _INDEX
        is_around = _is_below(number) and number.startswith(("*", *_NAMELESS))
        is_around = is_around or (number != "." and _can_be_cv(rows.names[number]))
        if len(numbers) < least or values[number][1] or is_index or is_around:
            continue
        told = [tuple(texts[p].get(r, "") for p in (number, *rows.outside)) for r in numbers]
        if {key[0] for key in told} >= _INDEX:  # they choose pages; what lies on one may come again
            told = [key for key in told if not re.fullmatch(r"3[12]|\d{3}", key[0])]
        spread = len(set(told)) / len(told) if told else 1.0
        for value, (notation, is_named) in values.items():
            both = len(numbers.keys() & read[value].keys())
            if value != number and both >= least:
                points = 2 * _is_number(rows.names[number]) + 2 * is_named
                points += _is_number(rows.tag) and not _is_below(number)
                good = numbers, read[value]
                yield _Pair(rows, number, value, notation, points, spread, *good, both)


def _value(notation: Notation, text: str) -> int:
    return parse_value(text, Slot(1), notation)


def _is_number(name: str) -> bool:
    """Whether a name says that something is a CV number."""
    return find_columns(f"{_SHORT.get(name, name)}\tvalue") is not None


def _notation(rows: _Rows, path: str) -> tuple[Notation, bool]:
    """How values are written, and whether their name says that they are values."""
    name = rows.names[path]
    columns = find_columns(f"cv\t{_SHORT.get(name, name)}") if name else None
    said = columns.values[0][1] if columns else Notation.DECIMAL
    texts = [text for text in rows.texts[path].values() if text]
    if said is Notation.DECIMAL and texts:
        if all(re.fullmatch(r"[01]{8}", text) for text in texts):
            said = Notation.BINARY
        elif sum(bool(re.fullmatch(r"[0-9A-Fa-f]{2}", text)) for text in texts) * 2 > len(texts):
            has_letter = any(re.fullmatch(r"(?=.*[A-Fa-f])[0-9A-Fa-f]{2}", text) for text in texts)
            said = Notation.HEXADECIMAL if has_letter else said
    return said, columns is not None


def _recipe(pair: _Pair, blank: Recipe, spaces: dict[str, str]) -> tuple[Recipe, list[str]]:
    """The recipe for rows, with the reasons for it."""
    rows, count, read = pair.rows, pair.count, pair.read
    paths = {"rows": rows.path, "number": pair.number, "value": pair.value}
    numbers, values = rows.texts[pair.number], rows.texts[pair.value]
    if any(not numbers.get(row, "").isdecimal() for row in range(rows.count)) and all(
        numbers[row].isdecimal() for row in read
    ):
        paths["rows"] += f"[number({pair.number}) > 0]"
    differ = "all different" if pair.spread == 1 else "some of them more than once"
    reasons = [
        f"{count} of {rows.count} rows have a CV number at {pair.number}, {differ}, "
        f"and 0 to 255 at {pair.value}, {pair.notation.name.lower()}"
    ]
    if pair.may_be_hexadecimal:
        reasons.append('values such as "06" may be hexadecimal: then write notation')
    if pair.points < _BOTH:
        reasons.append("the names alone do not say which is which: compare some rows by eye")
    for path, name in rows.names.items():
        said = [text for text in rows.texts[path].values() if text]
        key = _key(path, name, said, rows) if said and path not in paths.values() else ""
        if key and key not in paths:
            paths[key] = path
            reasons.append(f"{key}: {path}, such as {quoted(said[0])}")
    if "page" in paths or not {"high", "low"} <= paths.keys():
        paths = {key: path for key, path in paths.items() if key not in ("high", "low")}
    if "role" not in paths and (role := _telling(pair, paths)):
        paths["role"] = role
        reasons.append(f"role: {role} tells rows of the same CV number apart")
    odd = {values[row] for row in values if row not in read and _can_be_cv(numbers.get(row))}
    skip = tuple(sorted(text for text in odd if not re.search(r"\d", text)))
    used = " ".join(paths.values())
    named = {prefix: uri for prefix, uri in spaces.items() if f"{prefix}:" in used}
    notation, skip = pair.notation.name.lower(), skip if len(skip) <= _MOST_SKIPPED else ()
    return replace(blank, paths=paths, notation=notation, skip=skip, namespaces=named), reasons


def _key(path: str, name: str, said: list[str], rows: _Rows) -> str:
    """The key of a recipe that a path is for, by its name or what it finds; empty for none."""
    if all(map(_PAGE.fullmatch, said)):
        return "page"
    key = _SAID.get(name.casefold(), "")
    if key == "name" and path not in rows.outside:
        return ""
    if key == "address" and not all(is_address(text) for text in said):
        return ""
    is_byte = all(text.isdecimal() and len(text) < 4 and int(text) < 256 for text in said)
    with suppress(InputError):  # of a second CV number
        for side, columns in (("high", f"{name}\tcv32"), ("low", f"cv31\t{name}")):
            found = find_columns(f"cv\tvalue\t{columns}") if is_byte and not key else None
            if found is not None and found.index is not None:
                return side
    return key


def _can_be_cv(text: str | None) -> bool:
    with suppress(InputError):
        parse_cv(text or "")
        return True
    return False


def _telling(pair: _Pair, paths: dict[str, str]) -> str:
    """A path that tells rows of the same CV number apart, where those of the recipe do not."""
    texts, known, read = pair.rows.texts, set(paths.values()), pair.read
    told = [path for key, path in paths.items() if key not in ("rows", "value")]

    def differing(*more: str) -> int:
        return len({tuple(texts[p].get(row, "") for p in (*told, *more)) for row in read})

    if differing() == len(read):
        return ""
    further = [path for path in texts if path not in known]
    found = [path for path in further if differing(path) == len(read)]
    return min(found, key=lambda path: len(set(texts[path].values())), default="")


def _toml(recipe: Recipe) -> str:
    """The recipe as a file."""
    lines = ["format = 1", f'kind = "{recipe.kind}"']
    lines += [f"{key} = {_quoted(path)}" for key, path in recipe.paths.items()]
    if recipe.notation != "decimal":
        lines.append(f'notation = "{recipe.notation}"')
    if recipe.skip:
        lines.append(f"skip = [{', '.join(map(_quoted, recipe.skip))}]")
    if recipe.namespaces:
        spaces = (f"{prefix} = {_quoted(uri)}" for prefix, uri in recipe.namespaces.items())
        lines += ["", "[namespaces]", *spaces]
    if recipe.kind == "table":
        lines += ["", "[table]", f"delimiter = {_quoted(recipe.delimiter)}"]
        lines += [f"headings = {recipe.headings}"] if recipe.headings else []
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """The text in quotes, with what cannot be shown escaped."""
    shown = json.dumps(text, ensure_ascii=False)
    return "".join(char if char.isprintable() else f"\\U{ord(char):08x}" for char in shown)


def _counted(outcome: ByRecipe) -> Iterator[str]:
    """What trying the proposal showed, in words."""
    rows = outcome.rows
    read = sum(row.byte is not None for row in rows)
    skipped = sum(bool(row.skipped) for row in rows)
    yield f"tried: {read} rows read, {skipped} left out, {len(outcome.faults)} faults"
    if _are_pageless(outcome):
        yield "CVs 257 to 512 are read without a page: look where the list says it"
    if any(row.slot and row.slot.cv in (31, 32) for row in rows):
        yield "rows of CV 31 and CV 32 set the page of the rows that follow: see index-rows"
    if len(outcome.locos) > 1:
        yield f"it holds {len(outcome.locos)} decoders: choose one with --role"


def _are_pageless(outcome: ByRecipe) -> bool:
    """Whether CVs that lie on a page are read as if they lay on none."""
    slots = [row.slot for row in outcome.rows if row.slot]
    return any(slot.page is None and FIRST_PAGED <= slot.cv <= LAST_PAGED for slot in slots)


def _certainty(pair: _Pair, outcome: ByRecipe, has_rivals: bool, has_more: bool) -> str:
    if outcome.faults or has_rivals or not pair.points or pair.may_be_hexadecimal:
        return "guess"
    is_whole = len(outcome.rows) == pair.rows.count and not has_more
    is_whole = is_whole and not _are_pageless(outcome)
    return "sure" if pair.points >= _BOTH and is_whole else "likely"
