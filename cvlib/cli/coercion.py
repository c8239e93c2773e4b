"""Typed words turned into values without the heavy library that typer loads for it.

Newer releases of typer hand every option to pydantic, which costs a cold start as much again as
typer itself. The kinds of option that cvlib has need no such help. Any other kind is left to typer.
"""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Any

import typer

from cvlib.errors import did_you_mean, problem

HELP = ("--help", "-h")
"""The options that show the help of a command."""

_HELD = "_runtime_param"
"""Where a parameter of typer keeps what turns words into its value, once it is needed."""


def lighten(command: Any) -> None:
    """Give each parameter of a command a light coercion, where its kind has one."""
    for param in command.get_params(typer.Context(command, help_option_names=list(HELP))):
        kind = getattr(getattr(param, "type_descriptor", None), "annotation", None)
        if hasattr(param, _HELD) and _is_simple(kind):
            setattr(param, _HELD, Coercion(kind))


def _is_simple(kind: object) -> bool:
    return kind in (str, bool, list[str]) or (
        isinstance(kind, type) and issubclass(kind, (Enum, Path))
    )


class Coercion:
    """Stands where typer would put its own; gives a text, a switch, a path, a list or a choice."""

    def __init__(self, kind: Any) -> None:
        self.kind = kind

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:  # noqa: ARG002 -- as typer calls it
        """The value that a typed word stands for; raises where it is no choice."""
        if self.kind == list[str]:
            return [str(word) for word in value or ()]
        if value is None or self.kind in (str, bool) or isinstance(value, self.kind):
            return value
        if not issubclass(self.kind, Enum):
            return self.kind(value)
        try:
            return self.kind(value)
        except ValueError:
            known = [str(choice.value) for choice in self.kind]
            advice = did_you_mean(value, known) or f"Give one of {', '.join(known)}."
            raise problem(f'{param.opts[0]} cannot be "{value}".', advice=advice) from None
