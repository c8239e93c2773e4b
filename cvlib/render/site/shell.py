"""The frame that every page of the catalogue has: landmarks, the way home, one look."""

from __future__ import annotations

from cvlib.render.html import Child, document, tag


def shell(title: str, *content: Child, up: int = 0, script: bool = False) -> str:
    """A whole page of the site; ``up`` is how many folders it lies below the home page."""
    root = "../" * up
    head = (
        tag("title", f"{title} · decoder settings"),
        tag("link", rel="stylesheet", href=f"{root}style.css"),
        tag("script", src=f"{root}script.js", defer="defer") if script else None,
    )
    links = (("index.html", "Home"), ("cv/index.html", "All CVs"), ("codes/index.html", "Codes"))
    body = (
        tag("a", "To the content", href="#content", class_="skip"),
        tag(
            "header",
            tag("b", "Decoder settings by firmware"),
            tag(
                "nav",
                [(tag("a", word, href=root + to), " ") for to, word in links],
                aria_label="Catalogue",
            ),
            class_="site",
        ),
        tag("main", content, id="content"),
        tag(
            "footer",
            tag(
                "p",
                "Made by cvlib. Every statement names its source; what nobody "
                "read is said to be unread.",
            ),
        ),
    )
    return document(head, body, data_root=root or "./")
