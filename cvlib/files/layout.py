"""The one layout of profile, blocks and loco files: the order of keys and what has a heading."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from cvlib.files.toml_tree import Node

WIDTH = 100
"""The columns that a list may take on one line."""

ROW = 120
"""The columns that one of several places, and what is common to them, may take on one line."""

_PLACE = (
    *(
        "absent",
        "firmware",
        "cv",
        "cvs",
        "built-in",
        "also-at",
        "page",
        "bits",
        "step",
        "page-step",
    ),
    *("index", "kind", "form", "use", "choices", "flags", "range", "sign", "scale", "offset"),
    *("unit", "refers-to", "values", "measure", "default", "defaults", "read-only", "volatile"),
    *("internal", "reserved", "uniform", "unused", "requirement", "when", "sources", "note"),
)
_TESTS = (
    *("setting", "is", "not", "has", "lacks", "min", "max", "legal", "shape", "same-as"),
    *("factory",),
)

PROFILE_ORDER: Mapping[str, tuple[str, ...]] = {
    "": (
        *("format", "decoder", "identity", "firmware", "source", "page", "risk", "topic"),
        *("lists", "block"),
        *("setting", "rule", "advisory", "question", "accepted"),
    ),
    "decoder": ("id", "maker", "name", "kind", "follows", "without", "risk", "sources", "note"),
    "follows": ("from", "firmware", "only", "without", "sources"),
    "identity": ("manufacturer", "answers", "no-answer"),
    "answers": ("cv", "page", "bits", "value", "values", "range", "firmware"),
    "firmware": ("scheme", "parts", "release"),
    "parts": ("cv", "page", "bits", "digit"),
    "release": ("version", "date", "label", "labels", "answers", "note"),
    "source": (
        *("id", "kind", "title", "date", "firmware", "extent", "about", "reissues", "replaces"),
        *("without", "where", "note"),
    ),
    "page": ("pages", "use", "title"),
    "block": ("id", "title", "risk", "topic", "sources", "setting", "rule"),
    "setting": (
        *("id", "title", "help", "risk", "topic", "maps", "repeat", "sources", "common", "place"),
    ),
    "maps": (
        *("key", "output", "does", "first", "count", "none", "direction", "forward-bit"),
        *("reverse-bit", "blocks", "method"),
    ),
    "repeat": ("count", "step", "first"),
    "common": _PLACE,
    "place": _PLACE,
    "default": ("when", "value"),
    "when": _TESTS,
    "sources": ("source", "verdict", "page", "note"),
    "rule": (
        *("id", "severity", "trap", "text", "repair", "source", "firmware", "repeat", "if"),
        *("requires", "conflicts", "order", "ignore", "sum"),
    ),
    **dict.fromkeys(("if", "requires", "conflicts"), _TESTS),
    "sum": ("of", "max"),
    "advisory": ("id", "firmware", "text", "do", "about", "sources"),
    "question": ("id", "date", "about", "text", "settle", "firmware"),
    "accepted": ("code", "about", "reason"),
}
"""The keys of each table of a profile or blocks file, by the table's name, in their order."""

LOCO_ORDER: Mapping[str, tuple[str, ...]] = {
    "": ("format", "loco", "decoder", "trial"),
    "loco": ("name", "address", "note"),
    "decoder": (
        *("profile", "role", "firmware", "state", "options", "saved", "reading", "history"),
        "checked",
    ),
    "saved": ("date", "how", "firmware", "note", "cv", "page"),
    **dict.fromkeys(
        ("reading", "history"),
        ("date", "how", "firmware", "saved-for", "state", "note", "cv", "page"),
    ),
    "checked": ("date", "profile", "firmware", "digest", "cv", "page"),
    "trial": (
        *("date", "setting", "question", "role", "firmware", "to", "margin", "unit", "step"),
        *("looks", "seed", "conditions", "order", "values", "note", "runs"),
    ),
    "conditions": ("name", "value", "wish"),
    "runs": ("condition", "stop", "missed", "date", "note"),
}
"""The same for a loco file."""

ANY = "*"
"""Stands for any one key."""

_SETTING = (("setting",), ("setting", "place"), ("rule",))
PROFILE_HEADED = frozenset(
    (
        *(("decoder",), ("identity",), ("firmware",), ("firmware", "release"), ("source",)),
        *(
            ("page",),
            ("risk",),
            ("topic",),
            ("lists",),
            ("lists", ANY),
            ("advisory",),
            ("question",),
        ),
        *(("accepted",), ("block",)),
        *_SETTING,
        *(("block", *names) for names in _SETTING),
    )
)
LOCO_HEADED = frozenset(
    (
        *(("loco",), ("decoder",), ("trial",), ("trial", "values")),
        *(
            ("decoder", held, *names)
            for held in ("saved", "reading", "history", "checked")
            for names in ((), ("cv",), ("page",), ("page", ANY))
        ),
    )
)

_NUMBER = re.compile(r"(?:^\s*-)?\d+")


@dataclass(frozen=True, slots=True)
class Layout:
    """How one kind of file is laid out."""

    orders: Mapping[str, tuple[str, ...]]
    headed: frozenset[tuple[str, ...]]
    """The tables, and lists of tables, that stand under headings of their own."""
    numbered: frozenset[str]
    """Tables whose keys are numbers, or spans of numbers."""
    named: frozenset[str] = frozenset()
    """Tables whose keys are names of the writer's own."""
    indented: frozenset[str] = frozenset()
    """Tables that are set in from the margin."""
    dotted: frozenset[str] = frozenset()
    """Tables that have a line for each key, as in ``common.kind``, where one line is too short."""

    def is_headed(self, names: tuple[str, ...]) -> bool:
        """Whether the table of that name, or each table of that list, has a heading."""
        return names in self.headed or (*names[:-1], ANY) in self.headed

    def room(self, names: tuple[str, ...], node: Node, parent: dict[str, Node]) -> int:
        """The columns for a table on one line instead of under a heading; 0 where that cannot be.

        Places may stand so where the setting says what is common to them; so may a single place
        that names no source.
        """
        if names[-1] != "place" or self is LOCO:
            return 0
        if len(node.items) > 1:
            return ROW if "common" in parent else 0
        return WIDTH if "common" in parent or "sources" not in node.items[0].table else 0

    def indent(self, names: tuple[str, ...]) -> str:
        """The spaces before a table's heading and keys."""
        return "  " if self.indented.intersection(names) else ""

    def sorted(self, names: tuple[str, ...], table: dict[str, Node]) -> list[tuple[str, Node]]:
        """The entries of a table in their order; keys that are not known come last.

        Numbers rise, unless comments between the lines part them into paragraphs.
        """
        name = names[-1] if names else ""
        entries = list(table.items())
        if name in self.named:
            return sorted(
                entries, key=lambda entry: (_DIGITS.sub("", entry[0]), _numbers(entry[0]))
            )
        if name in self.numbered or self.numbered.intersection(names[-2:-1]):
            if any(any(node.above) for node in table.values()):
                return entries
            return sorted(entries, key=lambda entry: _numbers(entry[0]))
        order = self.orders.get(name, ())
        return sorted(entries, key=lambda e: order.index(e[0]) if e[0] in order else len(order))


_DIGITS = re.compile(r"\d+")


def _numbers(key: str) -> list[int]:
    """The numbers in a key: one, the two ends of a span, or the two parts of a page."""
    return [int(number[:18]) for number in _NUMBER.findall(key)]


PROFILE = Layout(
    PROFILE_ORDER,
    PROFILE_HEADED,
    numbered=frozenset(("choices", "flags", "values", "lists")),
    named=frozenset(("lists", "risk", "topic")),
    indented=frozenset(("place",)),
    dotted=frozenset(("common",)),
)
LOCO = Layout(
    LOCO_ORDER,
    LOCO_HEADED,
    numbered=frozenset(("cv", "page")),
    named=frozenset(("options", "values")),
)


def layout_of(root: Node) -> Layout | None:
    """The layout of a file by the tables that it has; nothing where it is none of ours."""
    table = root.table
    if "loco" in table:
        return LOCO
    decoder = table.get("decoder")
    if decoder is not None:
        return LOCO if isinstance(decoder.value, list) else PROFILE
    return PROFILE if "block" in table else None
