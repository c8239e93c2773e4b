"""Options that several commands share."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

if TYPE_CHECKING:
    from cvlib.model.loco import State


class Format(StrEnum):
    """The form of the output."""

    TEXT = "text"
    """For reading in a terminal."""
    JSON = "json"
    """For programs; docs/schema/ describes it."""
    MARKDOWN = "markdown"
    """For pages and messages."""


class PageFormat(StrEnum):
    """The form of an output that is also made to be printed."""

    TEXT = "text"
    """For reading in a terminal."""
    JSON = "json"
    """For programs; docs/schema/ describes it."""
    MARKDOWN = "markdown"
    """For pages and messages."""
    HTML = "html"
    """One page to print, without script."""


class ReportFormat(StrEnum):
    """The form of an output that other programs show beside the lines of files."""

    TEXT = "text"
    """For reading in a terminal."""
    JSON = "json"
    """For programs; docs/schema/ describes it."""
    MARKDOWN = "markdown"
    """For pages and messages."""
    SARIF = "sarif"
    """For programs that collect findings, by SARIF 2.1.0."""
    GITHUB = "github"
    """For a workflow of GitHub: annotations at the lines of a change."""


class FailOn(StrEnum):
    """The mildest finding that gives exit code 1."""

    NOTE = "note"
    WARNING = "warning"
    ERROR = "error"
    NEVER = "never"


class StateWord(StrEnum):
    """What has become of a decoder's values since its firmware was last changed."""

    RESET = "reset"
    NOT_RESET = "not-reset"
    NEVER_UPDATED = "never-updated"


FormatOption: TypeAlias = Annotated[
    Format, typer.Option("--format", help="The form of the output.", show_default=True)
]
ReportFormatOption: TypeAlias = Annotated[
    ReportFormat, typer.Option("--format", help="The form of the output.", show_default=True)
]
DefinitionsOption: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--definitions",
        metavar="DIR",
        help="A folder with further decoder profiles; one of the same id replaces a shipped one.",
        show_default=False,
    ),
]
ProfileOption: TypeAlias = Annotated[
    str,
    typer.Option(
        "--profile",
        metavar="ID",
        help='The decoder profile, such as "ferrow/lark-8".',
        show_default=False,
    ),
]
FirmwareOption: TypeAlias = Annotated[
    str,
    typer.Option(
        "--firmware",
        metavar="VERSION",
        help="The firmware installed in the decoder.",
        show_default=False,
    ),
]
SavedForOption: TypeAlias = Annotated[
    str,
    typer.Option(
        "--saved-for", metavar="VERSION", help="The firmware that the values were saved for."
    ),
]
RoleOption: TypeAlias = Annotated[
    str, typer.Option("--role", metavar="ROLE", help="Which decoder, where a loco has several.")
]
StateOption: TypeAlias = Annotated[
    StateWord | None,
    typer.Option(
        "--state",
        help="What became of the values when the firmware was last changed: reset to the factory "
        "values, not reset, or never updated. Not given: what the loco file says.",
        show_default=False,
    ),
]
RecipeOption: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--recipe",
        metavar="FILE",
        help="How to read lists in another layout, XML and JSON; loco files are read as ever.",
        show_default=False,
    ),
]
FindOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--find",
        metavar="WORD",
        help="Only settings that a word of the trade is about, English or German: headlight, "
        "Bremsweg; may be repeated.",
        show_default=False,
    ),
]
FailOnOption: TypeAlias = Annotated[
    FailOn, typer.Option("--fail-on", help="The mildest finding that gives exit code 1.")
]
AllOption: TypeAlias = Annotated[
    bool, typer.Option("--all", help="Show everything; fold nothing together.")
]
WhyOption: TypeAlias = Annotated[
    bool, typer.Option("--why", help="Add why each answer is what it is, with source and page.")
]


def state_of(word: StateWord | None) -> State:
    """The state that was said, or that nobody said one."""
    from cvlib.model.loco import State

    return State(word.value) if word is not None else State.UNKNOWN


def examples(*lines: str) -> str:
    """The end of a help text: examples, each on a line of its own."""
    return "\b\nExamples:\n" + "\n".join(f"  {line}" for line in lines)
