"""The sample profiles of tests/cases/profiles, and their data as programs see it."""

import copy
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from cvlib.files.faults import toml_data
from cvlib.files.store import Store
from house.tree import ROOT

CASES = ROOT / "tests" / "cases" / "profiles"
GOOD = CASES / "good"
BAD = sorted((CASES / "bad").glob("*.toml"))
DEFINITIONS = ROOT / "definitions"


def good_store() -> Store:
    """The store of good samples alone."""
    return Store(GOOD)


def data_of(path: Path) -> dict[str, Any]:
    """The TOML document of a file, its figures exact."""
    return toml_data(path.read_text(encoding="utf-8"), path.name)


def as_json(node: Any) -> Any:
    """The document as a JSON Schema sees it: dates as text, figures as plain numbers."""
    if isinstance(node, dict):
        return {key: as_json(value) for key, value in node.items()}
    if isinstance(node, list):
        return [as_json(value) for value in node]
    if isinstance(node, date):
        return node.isoformat()
    return float(node) if isinstance(node, Decimal) else node


def tables(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The path of every table of a document, the document itself first."""
    if isinstance(node, dict):
        yield path
        for key, value in node.items():
            yield from tables(value, (*path, key))
    elif isinstance(node, list):
        for at, value in enumerate(node):
            yield from tables(value, (*path, at))


JUNK = st.recursive(
    st.booleans()
    | st.integers()
    | st.sampled_from([2**63, -(2**63) - 1, 2**200])
    | st.text(max_size=8)
    | st.decimals()
    | st.dates()
    | st.sampled_from(["number", "area", ">=1.0", "0-3", "16/2", "a.b", "a[n].b", "book:1"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["kind", "cv", "id", "\n"]), inner, max_size=3)
    ),
    max_leaves=6,
)
"""Values of every sort that TOML has, some of which fit somewhere."""


@st.composite
def disturbed(draw: st.DrawFn, document: dict[str, Any]) -> dict[str, Any]:
    """The document with one to three values replaced or added."""
    document = copy.deepcopy(document)
    for _ in range(draw(st.integers(1, 3))):
        table: Any = document
        for part in draw(st.sampled_from(list(tables(document)))):
            table = table[part]
        table[draw(st.sampled_from([*table, "new"]))] = draw(JUNK)
    return document
