"""A recipe proposed for a file: what in it looks like CV numbers with values, and how sure."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

from cvlib.errors import InputError, Position, problem
from cvlib.files.read.headings import find_columns, split_cells
from cvlib.files.read.recipe import LAST_ADDRESS, by_recipe, parse_recipe
from cvlib.files.read.tree import text_of, tree_of
from cvlib.files.read.values import Notation, parse_cv, parse_value
from cvlib.files.read.xpath_rows import TreeError, parse
from cvlib.files.text import file_name, one_line, quoted, read_bytes
from cvlib.model.cv import Slot
from cvlib.model.recipe import ByRecipe, Recipe, RecipeProposal

_MOST_ELEMENTS, _MOST_FIELDS, _MOST_LEVELS, _MOST_FACTS, _MOST_SKIPPED = 20_000, 40, 8, 20, 8
_NUMBERED = re.compile(r"([A-Za-z_.-]+?)(\d{1,4})")
_PAGE = re.compile(r"\d{1,3}/\d{1,3}", re.A)
_SAID = {
    "role": ("role", "rolle"),
    "address": ("address", "adresse", "addr", "adr"),
    "name": ("name",),
    "firmware": ("firmware", "fw"),
    "profile": ("profile",),
}
_LEAST_SHARE = 0.5
"""Fewer of the rows with a CV number and a value than this, and they are rows of something else."""
_LEAST_LIKENESS = 0.7
"""What fits nearly as well as the best, by this share of its rank, is told beside it."""
_INDEX = {"31", "32"}
_BOTH = 4
_SHORT = {"n": "number", "v": "value"}
_NAMELESS = ("item", "key")
"""Elements of JSON that are called after nothing in the file."""


@dataclass
class _Rows:
    """Elements that look alike, and what stands in each of them."""

    path: str
    tag: str = ""
    count: int = 0
    texts: dict[str, dict[int, str]] = field(default_factory=dict)
    """The texts of each path from a row, by the number of the row."""
    names: dict[str, str] = field(default_factory=dict)
    """What each path is called in the file."""
    outside: dict[str, None] = field(default_factory=dict)
    """The paths that lead out of the row."""

    def add(self, path: str, name: str, text: str | None, *, outside: bool = False) -> None:
        """Take in what the row at hand has at a path."""
        if path in self.texts or len(self.texts) < _MOST_FIELDS:
            self.texts.setdefault(path, {})[self.count] = " ".join((text or "").split())
            self.names[path] = name
            if outside:
                self.outside[path] = None

    def good(self, path: str, fits: Callable[[str], bool]) -> set[int]:
        """The rows in which what a path finds is fitting."""
        return {row for row, text in self.texts[path].items() if fits(text)}


@dataclass(frozen=True)
class _Pair:
    """Rows with the paths of number and value."""

    rows: _Rows
    number: str
    value: str
    notation: Notation
    good: set[int]
    named: int
    """2 for each of the two that is called what it is, 1 where the rows are called after CVs."""
    spread: float
    """How many of the CV numbers differ, as a share."""

    @property
    def rank(self) -> tuple[int, float]:
        """What makes one more likely than another."""
        return (self.named, len(self.good) ** 2 / self.rows.count * self.spread)

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
    pairs = sorted(
        (pair for rows in _alike(root, blank.kind, spaces) for pair in _pairs(rows)),
        key=lambda pair: pair.rank,
        reverse=True,
    )
    if not pairs:
        raise problem(
            "nothing in this file looks like CV numbers with values.",
            advice="docs/recipes.md says how to write a recipe by hand.",
            position=Position(name),
        )
    best = pairs[0]
    paths, reasons = _paths(best)
    skip = Counter(
        text
        for row, text in best.rows.texts[best.value].items()
        if row not in best.good and best.rows.texts[best.number].get(row)
    )
    recipe = replace(
        blank,
        paths=paths,
        notation=best.notation.name.lower(),
        skip=tuple(skip) if len(skip) <= _MOST_SKIPPED else (),
        namespaces={p: s for p, s in spaces.items() if f"{p}:" in " ".join(paths.values())},
    )
    outcome = by_recipe(text, name, parse_recipe(_toml(recipe), f"the proposal for {name}"))
    rivals = tuple(
        f"{one.rows.path}: number {one.number}, value {one.value}"
        for one in pairs[1:]
        if one.named == best.named and one.rank[1] >= best.rank[1] * _LEAST_LIKENESS
    )[:3]
    certainty = _certainty(best, outcome, rivals)
    lines = [f"# Proposed for {one_line(name, 80)}; how sure: {certainty}."]
    lines += [f"# - {one_line(reason, 200)}" for reason in (*reasons, *_counted(outcome, rivals))]
    text = "\n".join([*lines, _toml(recipe)])
    return RecipeProposal(text, certainty, (*reasons, *_counted(outcome, rivals)), outcome, rivals)


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


def _alike(root: Any, kind: str, spaces: dict[str, str]) -> Iterator[_Rows]:
    """Elements of the same name, and attributes of numbered names, gathered as rows."""
    found: dict[str, _Rows] = {}
    facts: dict[Any, list[tuple[str, str, str | None]]] = {}
    for one in islice(root.iter(), _MOST_ELEMENTS):
        numbered = _NUMBERED.fullmatch(_local(one.tag))
        path = _numbered_path("*", numbered[1]) if numbered else _path(one, spaces)
        if one is not root or not len(root):
            rows = found.setdefault(path, _Rows(path, _local(one.tag)))
            if numbered:
                rows.add(_after(numbered[1]), numbered[1], numbered[2])
            _add_inside(rows, one, kind, spaces)
            _add_outside(rows, one.getparent(), kind, spaces, facts)
            rows.count += 1
        for key, text in one.attrib.items():
            if numbered := _NUMBERED.fullmatch(_local(key)):
                path = _numbered_path("@*", numbered[1])
                rows = found.setdefault(path, _Rows(path))
                rows.add(_after(numbered[1]), numbered[1], numbered[2])
                rows.add(".", "", text)
                _add_outside(rows, one, kind, spaces, facts)
                rows.count += 1
    yield from found.values()


def _add_inside(rows: _Rows, one: Any, kind: str, spaces: dict[str, str]) -> None:
    """What stands in an element: its attributes, its text, its children and their attributes."""
    for key, text in one.attrib.items():
        # The key of an entry of an object is a CV number where the object is called after CVs.
        around = one.getparent()
        name = _local(around.tag) if kind == "json" and around is not None else _local(key)
        rows.add(f"@{_qualified(key, spaces)}", name, text)
    if not len(one):
        tag = _local(one.tag)
        rows.add(".", "" if _is_number(tag) else tag, one.text)
    twice = Counter(child.tag for child in one)
    for at, child in enumerate(one, 1):
        head = child.get("head") or (child.get("key") if child.tag == "key" else None)
        path = _qualified(child.tag, spaces)
        if head and "'" not in head:
            path += f"[@{'head' if kind == 'table' else 'key'}='{head}']"
        elif twice[child.tag] > 1:
            path = f"*[{at}]"
        if not len(child):
            rows.add(path, head or _local(child.tag), child.text)
        for key, text in child.attrib.items() if kind == "xml" else ():
            rows.add(f"{path}/@{_qualified(key, spaces)}", _local(key), text)


def _add_outside(
    rows: _Rows,
    around: Any,
    kind: str,
    spaces: dict[str, str],
    facts: dict[Any, list[tuple[str, str, str | None]]],
) -> None:
    """What is said around a row; ``facts`` keeps what each element says."""
    up = ".."
    for _ in range(_MOST_LEVELS):
        if around is None:
            return
        if around not in facts:
            facts[around] = list(islice(_facts(around, kind, spaces), _MOST_FACTS))
        step = up if around.tag in _NAMELESS else f"ancestor::{_qualified(around.tag, spaces)}[1]"
        for path, name, text in facts[around]:
            rows.add(f"{step}/{path}", name, text, outside=True)
        around, up = around.getparent(), f"{up}/.."


def _facts(one: Any, kind: str, spaces: dict[str, str]) -> Iterator[tuple[str, str, str | None]]:
    """What an element says of all in it: its attributes, and children that are texts."""
    for key, text in one.attrib.items() if kind == "xml" or one.tag == "key" else ():
        yield f"@{_qualified(key, spaces)}", _local(key), text
    children = list(islice(one, _MOST_FIELDS))
    twice = Counter(child.tag for child in children)
    for child in children if kind != "table" else ():
        if not len(child) and twice[child.tag] == 1 and _local(child.tag) not in _NAMELESS:
            yield _qualified(child.tag, spaces), _local(child.tag), child.text


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _qualified(tag: str, spaces: dict[str, str]) -> str:
    """The name with a prefix for its namespace; a new one is noted."""
    space, _, local = tag.rpartition("}")
    if not space:
        return local
    known = next((prefix for prefix, uri in spaces.items() if uri == space[1:]), "")
    prefix = known or ("xml" if space.endswith("XML/1998/namespace") else f"n{len(spaces) + 1}")
    if prefix != "xml":
        spaces[prefix] = space[1:]
    return f"{prefix}:{local}"


def _path(one: Any, spaces: dict[str, str]) -> str:
    """The path to all elements like one: by its name, and for entries of lists those around."""
    steps = [_qualified(one.tag, spaces)]
    while one.tag in _NAMELESS and (one := one.getparent()) is not None:
        steps.insert(0, _qualified(one.tag, spaces))
    return f"//{'/'.join(steps)}"


def _after(prefix: str) -> str:
    return f"substring-after(local-name(), '{prefix}')"


def _numbered_path(nodes: str, prefix: str) -> str:
    return f"//{nodes}[number({_after(prefix)}) > 0]"


def _can(read: Callable[[str], object], text: str) -> bool:
    try:
        read(text)
    except InputError:
        return False
    return True


def _is_value(notation: Notation, text: str) -> bool:
    return _can(lambda text: parse_value(text, Slot(1), notation), text)


def _pairs(rows: _Rows) -> Iterator[_Pair]:
    """Each number with each value in rows that look alike, where most rows fit."""
    least, texts = max(1, rows.count * _LEAST_SHARE), rows.texts
    inside = [path for path in texts if path not in rows.outside]
    values: dict[str, tuple[Notation, bool, set[int]]] = {}
    for path in inside:
        notation, said = _notation(rows, path)
        values[path] = (notation, said, rows.good(path, partial(_is_value, notation)))
    for number in inside:
        numbered = rows.good(number, partial(_can, parse_cv))
        if len(numbered) < least:
            continue
        named = _is_number(rows.names[number])
        told = [tuple(texts[p].get(r, "") for p in (number, *rows.outside)) for r in numbered]
        if {key[0] for key in told} >= _INDEX:  # they choose pages; what lies on one may come again
            told = [key for key in told if not re.fullmatch(r"3[12]|\d{3}", key[0])]
        spread = len(set(told)) / len(told) if told else 1.0
        for value, (notation, said, fitting) in values.items():
            good = numbered & fitting
            if value != number and len(good) >= least:
                count = 2 * named + 2 * said + _is_number(rows.tag)
                yield _Pair(rows, number, value, notation, good, count, spread)


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


def _paths(pair: _Pair) -> tuple[dict[str, str], tuple[str, ...]]:
    """The paths of the recipe, each with the reason for it."""
    rows, count = pair.rows, len(pair.good)
    paths = {"rows": rows.path, "number": pair.number, "value": pair.value}
    texts = rows.texts[pair.number]
    if any(not texts.get(row, "").isdecimal() for row in range(rows.count)) and all(
        texts[row].isdecimal() for row in pair.good
    ):
        paths["rows"] += f"[number({pair.number}) > 0]"
    differ = "all different" if pair.spread == 1 else "some of them more than once"
    reasons = [
        f"{count} of {rows.count} rows have a CV number at {pair.number}, {differ}, "
        f"and 0 to 255 at {pair.value}, {pair.notation.name.lower()}",
    ]
    if pair.may_be_hexadecimal:
        reasons.append('values such as "06" may be hexadecimal: then write notation')
    if pair.named < _BOTH:
        reasons.append("the names alone do not say which is which: compare some rows by eye")
    for path, name in rows.names.items():
        said = [text for text in rows.texts[path].values() if text]
        if path in (pair.number, pair.value) or not said:
            continue
        key = next((key for key, words in _SAID.items() if name.casefold() in words), "")
        if key == "name" and path not in rows.outside:
            continue
        if key == "address" and not all(_is_address(text) for text in said):
            continue
        if all(map(_PAGE.fullmatch, said)):
            key = "page"
        if not key and (side := _side(name)) and all(t.isdecimal() and int(t) < 256 for t in said):
            key = side
        if key and key not in paths:
            paths[key] = path
            reasons.append(f"{key}: {path}, such as {quoted(said[0])}")
    _tell_apart(pair, paths, reasons)
    if "page" in paths or not {"high", "low"} <= paths.keys():
        paths = {key: path for key, path in paths.items() if key not in ("high", "low")}
    return paths, tuple(reasons)


def _tell_apart(pair: _Pair, paths: dict[str, str], reasons: list[str]) -> None:
    """Add what stands around the rows as the role, where only that tells CV numbers apart."""
    texts = pair.rows.texts

    def differing(*more: str) -> int:
        told = [path for key, path in paths.items() if key not in ("rows", "value")]
        return len({tuple(texts[p].get(row, "") for p in (*told, *more)) for row in pair.good})

    if "role" in paths or differing() == len(pair.good):
        return
    best = max(pair.rows.outside, key=differing, default="")
    if best and differing(best) > differing():
        paths["role"] = best
        reasons.append(f"role: {best} tells rows of the same CV number apart")


def _is_address(text: str) -> bool:
    return text.isdecimal() and len(text) < 6 and 0 < int(text) <= LAST_ADDRESS


def _side(name: str) -> str:
    """Whether a name says that a value is that of CV 31 or of CV 32 for a row."""
    for side, columns in (("high", f"{name}\tcv32"), ("low", f"cv31\t{name}")):
        found = find_columns(f"cv\tvalue\t{columns}")
        if found is not None and found.index is not None:
            return side
    return ""


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


def _counted(outcome: ByRecipe, rivals: tuple[str, ...]) -> Iterator[str]:
    """What trying the proposal showed, in words."""
    rows = outcome.rows
    read = sum(row.byte is not None for row in rows)
    skipped = sum(bool(row.skipped) for row in rows)
    yield f"tried: {read} rows read, {skipped} left out, {len(outcome.faults)} faults"
    if any(row.slot and row.slot.cv in (31, 32) for row in rows):
        yield "rows of CV 31 and CV 32 set the page of the rows that follow: see index-rows"
    if len(outcome.locos) > 1:
        yield f"it holds {len(outcome.locos)} decoders: choose one with --role"
    yield from (f"other rows fit as well: {rival}" for rival in rivals)


def _certainty(pair: _Pair, outcome: ByRecipe, rivals: tuple[str, ...]) -> str:
    if outcome.faults or rivals or not pair.named or pair.may_be_hexadecimal:
        return "guess"
    is_whole = len(outcome.rows) == pair.rows.count
    return "sure" if pair.named >= _BOTH and is_whole else "likely"
