"""Commands made from a list of what may be said: each key an option, and a question at a prompt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from inspect import Parameter, Signature
from pathlib import Path
from typing import Annotated, Any, TypeAlias

import typer

from cvlib.cli.options import Format

Given: TypeAlias = dict[str, str | tuple[str, ...] | bool]
"""What was said for each key."""


class Need(Enum):
    """Whether a key is asked for where it was not given."""

    ALWAYS = "always"
    """Nothing goes without it."""
    OFFERED = "offered"
    """It is asked for at a prompt, and may be left out."""
    SILENT = "silent"
    """It is taken where it is given."""


@dataclass(frozen=True, slots=True)
class Key:
    """One thing to be said."""

    name: str
    help: str
    """What it means: the help of the option, and the question at a prompt."""
    need: Need = Need.SILENT
    metavar: str = "TEXT"
    many: bool = False
    """Whether the option may be repeated."""
    switch: bool = False
    """Whether the option takes no value."""
    usual: str = ""
    """What counts where nothing is said; ``today`` is the day of today."""
    in_subject: bool = False
    """Whether it may also be said with the subject, after an equals sign."""
    of_subject: bool = False
    """Whether it means something only where there is a subject."""
    also: str = ""
    """Another name that the option answers to."""

    @property
    def python_name(self) -> str:
        """The name of the argument that stands for it."""
        return f"{self.name.replace('-', '_')}_"


RISK = Key(
    "risk",
    "What a wrong value may harm: motor, current, motion, stopping, heat, coil, lock, address, or "
    "none where you looked",
    Need.OFFERED,
    "LIST",
)
"""Asked for wherever settings are made; without an answer they stay unmarked."""


@dataclass(frozen=True, slots=True)
class Form:
    """A command: what it is about, and everything that may be said."""

    name: str
    line: str
    """Its line in the help."""
    about: str
    """Its help."""
    subject: Key
    keys: tuple[Key, ...]
    examples: str
    of: str = ""
    """The command that it belongs to."""
    more: str = ""
    """The question for further keys, each typed as KEY=VALUE."""
    confirms: bool = False
    """Whether a person at a terminal sees the result and is asked, even where all was said."""

    def key(self, name: str) -> Key | None:
        """The key of a name."""
        return next((key for key in self.keys if key.name == name), None)


@dataclass(slots=True)
class Said:
    """Everything that was said so far, in a command line and at prompts."""

    form: Form
    profile: str
    subjects: list[str]
    given: Given = field(default_factory=dict)

    def command(self, options: Mapping[str, Any]) -> str:
        """The command line that says the same, with the paths among its options."""
        from cvlib.files.text import typed

        words = ["cvlib", *filter(None, [self.form.of]), self.form.name]
        words += [self.profile] if self.profile else []
        words += self.subjects
        for name, held in self.given.items():
            for one in held if isinstance(held, tuple) else (held,):
                words += [f"--{name}"] if one is True else [f"--{name}", str(one)]
        for name, value in options.items():
            if isinstance(value, Path):
                words += [f"--{name.replace('_', '-')}", str(value)]
        return typed(*words)


Work: TypeAlias = Callable[[Said, Mapping[str, Any]], int]
"""Carries a command out, with the options that every form has."""


def command_of(form: Form, work: Work, shared: Mapping[str, Any]) -> Callable[..., int]:
    """A function that typer makes a command of.

    ``shared`` are further options by name, each with its type and its usual value.
    """

    def run(**arguments: Any) -> int:
        said = Said(form, arguments.pop("profile"), arguments.pop("subjects") or [])
        for key in form.keys:
            held = arguments.pop(key.python_name)
            if held:
                said.given[key.name] = tuple(held) if isinstance(held, list) else held
        return work(said, arguments)

    parameters = [
        _parameter("profile", Annotated[str, typer.Argument(metavar="PROFILE")], ""),
        _parameter(
            "subjects",
            Annotated[
                list[str] | None,
                typer.Argument(metavar=form.subject.metavar, show_default=False),
            ],
            None,
        ),
        *(_parameter(key.python_name, *_option(key)) for key in form.keys),
        *(_parameter(name, *held) for name, held in shared.items()),
    ]
    made: Any = run
    made.__signature__ = Signature(parameters)
    made.__annotations__ = {one.name: one.annotation for one in parameters}
    made.__doc__ = form.about
    return run


def _parameter(name: str, annotation: Any, usual: Any) -> Parameter:
    return Parameter(name, Parameter.KEYWORD_ONLY, default=usual, annotation=annotation)


def _option(key: Key) -> tuple[Any, Any]:
    names = [f"--{name}" for name in (key.name, key.also) if name]
    usual = f" Usually {key.usual}." if key.usual else ""
    words = f"{key.help.rstrip('.')}.{usual}"
    if key.switch:
        return Annotated[bool, typer.Option(*names, help=words)], False
    if key.many:
        option = typer.Option(*names, metavar=key.metavar, help=f"{words} May be repeated.")
        return Annotated[list[str] | None, option], None
    option = typer.Option(*names, metavar=key.metavar, help=words, show_default=False)
    return Annotated[str, option], ""


SHARED: Mapping[str, Any] = {
    "dry_run": (
        Annotated[bool, typer.Option("--dry-run", help="Show everything and write nothing.")],
        False,
    ),
    "form": (
        Annotated[Format, typer.Option("--format", help="The form of the output.")],
        Format.TEXT,
    ),
    "definitions": (
        Annotated[
            Path | None,
            typer.Option(
                "--definitions",
                metavar="DIR",
                help="The folder of your own definitions.",
                show_default=False,
            ),
        ],
        None,
    ),
}
"""Options that all forms have."""
