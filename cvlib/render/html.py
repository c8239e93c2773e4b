"""HTML as a tree of lxml: text is put in as text, and can never become part of the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

from lxml import etree

from cvlib.errors import visible

Element: TypeAlias = etree._Element
Child: TypeAlias = "Element | str | Iterable[Child] | None"


def tag(name: str, /, *children: Child, **attributes: str | int | None) -> Element:
    """An element; text in it is text and nothing else, whatever it holds.

    ``class_`` stands for ``class``, ``data_x`` for ``data-x``; an attribute of nothing is left out.

    >>> written(tag("p", "1 < 2", class_="faint"))
    '<p class="faint">1 &lt; 2</p>'
    """
    given = {
        key.rstrip("_").replace("_", "-"): visible(str(value), "\n")
        for key, value in attributes.items()
        if value is not None
    }
    element = etree.Element(name, given)
    last: Element | None = None
    for child in _flat(children):
        if not isinstance(child, str):
            element.append(child)
            last = child
        elif last is None:
            element.text = (element.text or "") + child
        else:
            last.tail = (last.tail or "") + child
    return element


def _flat(children: Iterable[Child]) -> Iterable[Element | str]:
    for child in children:
        if isinstance(child, str):
            yield visible(child, "\n")
        elif isinstance(child, etree._Element):
            yield child
        elif child is not None:
            yield from _flat(child)


def framed(label: str, table: Element) -> Element:
    """A table in a frame of its own, that scrolls where a screen is narrower than its words."""
    return tag("div", table, class_="frame", role="group", aria_label=label, tabindex="0")


def grid(label: str, heads: Iterable[Child], rows: Child, *, class_: str | None = None) -> Element:
    """A table with its heads and rows; ``label`` names it to those who hear the page."""
    head = tag("tr", [tag("th", one, scope="col") for one in heads])
    table = tag("table", tag("thead", head), tag("tbody", rows), class_=class_)
    return framed(label, table)


def raw(name: str, text: str) -> Element:
    """A style or a script of our own, which a browser reads as it is written."""
    element = etree.Element(name)
    element.text = text
    return element


def written(element: Element) -> str:
    """The element as text."""
    return str(etree.tostring(element, method="html", encoding="unicode"))


def document(head: Iterable[Child], body: Iterable[Child], **attributes: str) -> str:
    """A whole page; ``attributes`` are those of its body."""
    page = tag(
        "html",
        tag(
            "head",
            tag("meta", charset="utf-8"),
            tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
            head,
        ),
        tag("body", body, **attributes),
        lang="en",
    )
    return f"<!doctype html>\n{written(page)}\n"
