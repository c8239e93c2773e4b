"""Rows of a tree by XPath, in a process of its own: a stranger's path may run without an end.

Started as a script, with a request as JSON on the standard input; imports nothing of the package.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import Any

MOST_ROWS, MOST_NESTED, MOST_CELL = 20_000, 100, 200
"""Rows that a recipe may find, elements inside one another, and characters of a cell."""
MOST_MEMORY = 160 * 1024 * 1024
"""Bytes of the process, where the system keeps such a limit; the largest tree needs half."""


class TreeError(Exception):
    """What is wrong, the line, and the key of the recipe whose path it is."""


def parse(text: str) -> Any:
    """The root of a tree, without entities, document types from elsewhere or the network.

    Raises TreeError.
    """
    from lxml import etree

    parser = etree.XMLParser(
        encoding="utf-8",
        resolve_entities=False,
        load_dtd=False,
        no_network=True,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )  # collect_ids=False would load what a document type names, whatever load_dtd says
    try:
        root = etree.fromstring(text.encode("utf-8"), parser)
    except etree.XMLSyntaxError as error:
        line, _ = error.position
        what = str(error.msg).partition(", line ")[0]
        deep = "Excessive depth" in what
        raise TreeError("nested too deeply" if deep else f"no XML ({what})", line, "") from None
    if root.xpath(f"boolean({'/*' * (MOST_NESTED + 1)})"):
        raise TreeError("nested too deeply", root.sourceline, "")
    entity = next(root.iter(etree.Entity), None)
    if entity is not None:
        raise TreeError(f"no plain XML: it uses the entity {entity.text}", 1, "")
    return root


def rows(root: Any, paths: Mapping[str, str], namespaces: Mapping[str, str]) -> list[Any]:
    """Each row: its line, and by key the text of its cell, or how many things its path finds."""
    from lxml import etree

    compiled: dict[str, Any] = {}
    for key, path in paths.items():
        try:
            compiled[key] = etree.XPath(path, namespaces=namespaces, regexp=False)
        except (etree.XPathError, ValueError) as error:
            raise TreeError(f"no XPath ({error})", 0, key) from None
    found = _evaluated(compiled, "rows", root)
    if not isinstance(found, list):
        raise TreeError("a path to a value, not to rows", 0, "rows")
    if len(found) > MOST_ROWS:
        raise TreeError(f"a path to more than {MOST_ROWS} rows", 0, "rows")
    elements = [_element(one) for one in found]
    cells = [key for key in paths if key != "rows"]
    return [
        [one.sourceline, {key: _cell(_evaluated(compiled, key, one)) for key in cells}]
        for one in elements
    ]


def _evaluated(compiled: Mapping[str, Any], key: str, node: Any) -> Any:
    from lxml import etree

    try:
        return compiled[key](node)
    except etree.XPathError as error:
        raise TreeError(f"no XPath that can be used here ({error})", 0, key) from None


def _element(found: Any) -> Any:
    """A row as an element; in the place of an attribute one beside it with its name and text."""
    from lxml import etree

    if isinstance(found, etree._Element):
        return found
    parent = found.getparent() if getattr(found, "is_attribute", False) else None
    if parent is None:
        raise TreeError("a path to text, not to elements or attributes", 0, "rows")
    made = etree.SubElement(parent, found.attrname)
    made.text, made.sourceline = str(found), parent.sourceline
    return made


def _cell(found: Any) -> str | int:
    if isinstance(found, list):
        if len(found) > 1:
            return len(found)
        found = found[0] if found else ""
    if isinstance(found, float):
        found = int(found) if found == found // 1 and abs(found) < 1e9 else found
    elif hasattr(found, "itertext"):
        found = "".join(found.itertext())
    return " ".join(str(found)[: 2 * MOST_CELL].split())


def _answer(request: Mapping[str, Any]) -> dict[str, Any]:
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    except (ImportError, OSError, ValueError):  # Windows has no such limit; others may refuse it
        pass
    sys.path[:] = request["path"]
    try:
        return {"rows": rows(parse(request["xml"]), request["paths"], request["namespaces"])}
    except TreeError as error:
        return {"fault": error.args}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_answer(json.load(sys.stdin.buffer))))
