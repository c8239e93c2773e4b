"""A command with forms: the profile may be named before the form or behind it."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperGroup

from cvlib.cli.prompts import StoppedError, ask, can_ask
from cvlib.errors import did_you_mean, problem


class FormGroup(TyperGroup):
    """Takes ``amend PROFILE bench`` as well as ``amend bench PROFILE``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """The words in the order of the usage line; raises where no form is named."""
        words = list(args)
        forms = list(self.commands)
        if not words:
            words = [_chosen(forms)] if can_ask() else ["--help"]
        if not words[0].startswith("-") and words[0] not in forms:
            if len(words) > 1 and words[1] in forms:
                words[:2] = [words[1], words[0]]
            else:
                asked = words[1] if "/" in words[0] and len(words) > 1 else words[0]
                raise problem(
                    f'{self.name} has no form "{asked}".',
                    advice=did_you_mean(asked, forms) or f"Forms are {', '.join(forms)}.",
                )
        return super().parse_args(ctx, words)


def form_app(about: str, examples: str, metavar: str = "FORM ...") -> typer.Typer:
    """A command with forms, none of them yet."""
    return typer.Typer(
        cls=FormGroup,
        help=about,
        epilog=examples,
        rich_markup_mode=None,
        subcommand_metavar=metavar,
    )


def _chosen(forms: list[str]) -> str:
    """The form that somebody at a terminal chooses."""

    def check(text: str) -> None:
        if text not in forms:
            raise problem(f'there is no form "{text}".', advice=did_you_mean(text, forms))

    try:
        return ask(f"Form ({', '.join(forms)})", "", check) or "--help"
    except StoppedError:
        raise KeyboardInterrupt from None
