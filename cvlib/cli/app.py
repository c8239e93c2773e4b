"""The command line as a whole: which commands there are, and the one that was asked for."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from typing import Annotated, Any

import typer

from cvlib import __version__
from cvlib.cli.coercion import HELP, lighten
from cvlib.cli.exits import guarded, tell_notes
from cvlib.errors import did_you_mean, problem

COMMANDS: dict[str, tuple[str, str]] = {
    "check": (
        "cvlib.cli.check",
        "Saved values held against what the installed firmware understands.",
    ),
    "settings": (
        "cvlib.cli.settings",
        "The settings that belong to a firmware, and where they live.",
    ),
    "timeline": (
        "cvlib.cli.timeline",
        "How the places of settings changed from firmware to firmware.",
    ),
    "explain": ("cvlib.cli.explain", "A CV value, a setting or a finding code in words."),
    "identify": ("cvlib.cli.identify", "Which decoder and firmware this is, by what it answers."),
    "probe": ("cvlib.cli.probe", "The few reads that settle an undocumented firmware."),
    "carry": ("cvlib.cli.carry", "Saved values for another firmware, with a write sheet."),
    "compare": ("cvlib.cli.compare", "Locos side by side, for running together."),
    "trial": ("cvlib.cli.trial", "Measured stops: planned, entered, and what they say."),
    "recipe": ("cvlib.cli.recipe", "How to read lists in another layout: XML, JSON, odd tables."),
    "profiles": ("cvlib.cli.profiles", "The decoder profiles there are."),
    "review": ("cvlib.cli.review", "What changed in the definitions between two revisions."),
    "stale": ("cvlib.cli.stale", "What in definitions and locos wants looking at."),
    "amend": ("cvlib.cli.amend", "A profile corrected without editing its file by hand."),
    "new": ("cvlib.cli.new", "A profile from a few answers, or from a table of CVs."),
    "tidy": ("cvlib.cli.tidy", "Definitions and loco files in their one layout."),
    "lint": ("cvlib.cli.lint", "Decoder profiles checked for faults."),
    "log": ("cvlib.cli.log", "The former states of a loco file, and what changed between them."),
    "undo": ("cvlib.cli.undo", "A file put back to the state that it had before."),
    "keep": ("cvlib.cli.keep", "A list kept in a loco file, as a reading of its day."),
    "export": ("cvlib.cli.export", "The saved values of a loco as a plain list."),
}
"""Each command: the module it lives in, and its line in the help.

Such a module has a function ``run`` with the options, which gives the exit code, and a text
``EXAMPLES`` for the end of its help. A module with forms has ``app`` instead, with a command each.
"""

ABOUT = """Which settings belong to this DCC decoder's firmware, and which saved CV values do not.

Reading and writing decoders is not done here: cvlib looks at values that are already saved.
"""

CLOSING = """\b
Exit codes:
  0    nothing wrong
  1    findings at or above --fail-on
  2    wrong use, or input that cannot be read
  3    cannot decide: several firmwares fit
  130  interrupted

"cvlib COMMAND --help" shows the options of a command.
"""


def run(arguments: list[str]) -> int:
    """The exit code of a command line."""
    tell_notes(before=True)
    code = guarded(lambda: _run(arguments))
    tell_notes()
    return code


def _run(arguments: list[str]) -> int:
    command = next((word for word in arguments if not word.startswith("-")), None)
    if command is not None and command not in COMMANDS:
        raise problem(
            f'no command "{command}".',
            advice=did_you_mean(command, COMMANDS) or f"Commands are {', '.join(COMMANDS)}.",
        )
    program: Any = typer.main.get_command(_app(command))
    for held in _every(program):
        lighten(held)
    done = program.main(arguments or ["--help"], prog_name="cvlib", standalone_mode=False)
    return done if isinstance(done, int) else 0


def _every(command: Any) -> Iterator[Any]:
    """A command and all commands below it."""
    yield command
    for held in getattr(command, "commands", {}).values():
        yield from _every(held)


def _app(command: str | None) -> typer.Typer:
    """The program with one command loaded; the others are there by name only."""
    app = typer.Typer(
        name="cvlib",
        help=ABOUT,
        epilog=CLOSING,
        rich_markup_mode=None,
        add_completion=False,
        context_settings={"help_option_names": list(HELP)},
    )
    app.callback()(_options)
    for name, (place, line) in COMMANDS.items():
        if name == command:
            module = import_module(place)
            if hasattr(module, "app"):
                app.add_typer(module.app, name=name, short_help=line)
                continue
            app.command(name, short_help=line, epilog=module.EXAMPLES)(module.run)
        else:
            app.command(name, short_help=line)(_not_loaded)
    return app


def _options(
    version: Annotated[bool, typer.Option("--version", help="Show the version of cvlib.")] = False,
) -> None:
    """The options that stand before a command."""
    if version:
        typer.echo(f"cvlib {__version__}")
        raise typer.Exit


def _not_loaded() -> None:
    """In the place of a command that was not asked for."""
