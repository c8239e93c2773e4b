"""Where the shipped definitions and documents lie: inside the package, or in a checkout."""

from __future__ import annotations

from pathlib import Path

from cvlib.engine.known.trade_words import Sought, word_list

_PACKAGE = Path(__file__).resolve().parent.parent


def definitions_folder() -> Path:
    """The folder of the shipped definitions."""
    return _shipped("definitions")


def trade_words() -> dict[str, Sought]:
    """What each word of the trade is about, by the one list of the shipped definitions."""
    text = (definitions_folder() / "trade-words.md").read_text(encoding="utf-8")
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| ")]
    return word_list(rows[2:])


def docs_folder() -> Path:
    """The folder of the shipped documents; an installed package has the codes and schemas."""
    return _shipped("docs")


def page_script() -> Path:
    """The script of the catalogue's pages."""
    return _PACKAGE / "render" / "site" / "script.js"


def code_files() -> list[Path]:
    """Every file that decides how pages look: the program, and the documents they show."""
    docs = [*(docs_folder() / "findings").glob("*.md"), *(docs_folder() / "lint").glob("*.md")]
    lists = definitions_folder().glob("*.md")
    return sorted([*_PACKAGE.rglob("*.py"), page_script(), *docs, *lists])


def is_installed() -> bool:
    """Whether the shipped definitions lie inside the package, where nobody edits them."""
    return (_PACKAGE / "_data" / "definitions").is_dir()


def _shipped(name: str) -> Path:
    """The folder in the package where it was built in; else that of the checkout around it."""
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
