"""The pages that belong to no decoder: home, one for each CV, one for each code."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from cvlib.render.html import Element, tag
from cvlib.render.pages import page_blocks
from cvlib.render.phrases import counted
from cvlib.render.site.search import CvUse
from cvlib.render.site.shell import shell
from cvlib.render.to_html import elements

_KINDS = {
    "motor": "Motor decoders",
    "sound": "Sound decoders",
    "function": "Function decoders",
    "accessory": "Accessory decoders",
    "standard": "Published standards",
}


class DecoderRow(NamedTuple):
    """A decoder as lists of the catalogue tell of it."""

    id: str
    name: str
    kind: str
    sentence: str


def home_page(decoders: Sequence[DecoderRow], cvs: int, *, has_locos: bool) -> str:
    """The first page: the search, and without script every decoder in a list."""
    kinds: dict[str, list[DecoderRow]] = {}
    for row in decoders:
        kinds.setdefault(row.kind, []).append(row)
    lists = [
        (tag("h2", _KINDS.get(kind, kind)), tag("ul", [_decoder(one) for one in kinds[kind]]))
        for kind in (*_KINDS, *sorted(kinds.keys() - _KINDS.keys()))
        if kind in kinds
    ]
    fleet = tag("p", tag("a", "The locos of this fleet", href="locos/index.html"), ": what to do.")
    return shell(
        "Home",
        tag("h1", "Which setting is where, in which firmware"),
        tag(
            "div",
            tag("label", "A decoder, a CV, a word or a firmware", for_="query"),
            tag(
                "input",
                id="query",
                type="search",
                autocomplete="off",
                spellcheck="false",
                aria_describedby="query-help",
            ),
            tag(
                "p", "Such as: Lark 144, brake, Bremsweg, 2.9.201", id="query-help", class_="faint"
            ),
            tag("p", id="found", role="status"),
            tag("ul", id="results", class_="results"),
            class_="search",
            id="search",
            hidden="hidden",
        ),
        fleet if has_locos else None,
        tag(
            "p",
            f"{counted(len(decoders), 'decoder')}, ",
            tag("a", counted(cvs, "CV"), href="cv/index.html"),
            ", and ",
            tag("a", "what each finding means", href="codes/index.html"),
            ".",
        ),
        lists,
        script=True,
    )


def _decoder(row: DecoderRow) -> Element:
    link = tag("a", row.name, href=f"decoder/{row.id}.html")
    return tag("li", link, tag("br"), tag("span", row.sentence, class_="faint"))


def cv_page(cv: int, uses: Iterable[tuple[str, str, CvUse]]) -> str:
    """Every setting that had a CV, each with its decoders and their firmware.

    ``uses`` are id and name of a decoder with what it uses the CV for.
    """
    titles: dict[str, list[Element]] = {}
    for id, name, use in uses:
        link = tag("a", name, href=f"../decoder/{id}.html#{use.at}")
        row = tag("li", link, f": {use.where}, {use.firmware}")
        titles.setdefault(use.title, []).append(row)
    parts = [
        (tag("h2", title), tag("ul", rows))
        for title, rows in sorted(titles.items(), key=lambda one: (-len(one[1]), one[0]))
    ]
    settings = counted(len(titles), "setting")
    return shell(
        f"CV {cv}",
        tag("h1", f"CV {cv}"),
        tag(
            "p",
            f"{settings} had this CV at some firmware of the decoders in this catalogue.",
            class_="lead",
        ),
        parts,
        up=1,
    )


def cv_list(cvs: Iterable[int]) -> str:
    """A list of the pages of CVs."""
    links = [tag("li", tag("a", f"CV {cv}", href=f"{cv}.html")) for cv in cvs]
    return shell("All CVs", tag("h1", "All CVs"), tag("ul", links, class_="releases"), up=1)


def code_page(text: str, title: str) -> str:
    """The page about one code, out of the shipped documents."""
    return shell(title, elements(page_blocks(text)), up=1)


def code_list(findings: Iterable[tuple[str, str]], lint: Iterable[tuple[str, str]]) -> str:
    """A list of the codes of a check and of lint, each with its sentence and its page."""
    parts = [
        (
            tag("h2", title),
            tag(
                "ul",
                [
                    tag("li", tag("a", code, href=f"{folder}-{code}.html"), f": {sentence}")
                    for code, sentence in rows
                ],
            ),
        )
        for title, folder, rows in (
            ("Of a check of saved values", "finding", findings),
            ("Of definitions", "lint", lint),
        )
    ]
    return shell("Codes", tag("h1", "What each code means"), parts, up=1)
