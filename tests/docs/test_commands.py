"""The pages about commands say what the program has: every command, every option, no other."""

import re
import shlex
from enum import Enum
from functools import cache
from importlib import import_module
from typing import Any, get_type_hints

import pytest
import typer

from cvlib.cli.app import COMMANDS
from cvlib.engine.lint.rules import RULES
from house.markdown import blocks, code_words, section, text_of
from house.tree import ROOT

DOCS = ROOT / "docs"
EVERYWHERE = {"--help", "-h", "--version"}
OPTION = re.compile(r"(?<![\w-])--?[a-z][a-z-]*")
each_command = pytest.mark.parametrize("name", COMMANDS)


@cache
def runs(name: str) -> tuple[Any, ...]:
    """The functions that carry out a command: one, or one for each of its forms."""
    module = import_module(COMMANDS[name][0])
    if hasattr(module, "app"):
        return tuple(form.callback for form in module.app.registered_commands)
    return (module.run,)


@cache
def parameters(name: str) -> tuple[Any, ...]:
    """The options and arguments of a command."""
    found: list[Any] = []
    for function in runs(name):
        app = typer.Typer(add_completion=False)
        app.command()(function)
        found += typer.main.get_command(app).params
    return tuple(found)


def options(name: str) -> set[str]:
    """The options of a command as they are typed."""
    return {
        word
        for parameter in parameters(name)
        for word in [*parameter.opts, *parameter.secondary_opts]
        if word.startswith("-")
    }


def choices(name: str) -> set[str]:
    """The words that the options of a command take, where there is a choice of some."""
    kinds = [kind for function in runs(name) for kind in get_type_hints(function).values()]
    return {
        str(word)
        for kind in kinds
        if isinstance(kind, type) and issubclass(kind, Enum)
        for word in kind
    }


def page_of(name: str) -> str:
    """What the pages say of a command: its section in commands.md, or its own page."""
    own = DOCS / f"{name}.md"
    return text_of(own) if own.exists() else section(text_of(DOCS / "commands.md"), name)


def shared() -> str:
    """What the pages say of all commands at once."""
    return section(text_of(DOCS / "commands.md"), "What all commands share")


def written(text: str) -> set[str]:
    """The options that stand in code marks, but for those of whole command lines."""
    words = [words for words in code_words(text) if not words.startswith("cvlib ")]
    return {option for word in words for option in OPTION.findall(word)}


def command_of(line: str) -> str:
    """The command that a command line asks for."""
    words = line.split()
    return words[words.index("cvlib") + 1]


def command_lines() -> list[tuple[str, str]]:
    """Each command line shown on any page, with where it stands."""
    found = []
    for block in blocks("", "text", "console"):
        lines = [line.removeprefix("$ ") for line in block.text.splitlines()]
        found += [(str(block), line) for line in lines if re.match(r"(py -m )?cvlib ", line)]
    return found


@each_command
def test_a_command_is_described_in_one_place(name: str) -> None:
    """It has a section in commands.md or a page of its own, and a row in the table of commands."""
    commands = text_of(DOCS / "commands.md")
    own = (DOCS / f"{name}.md").exists()
    assert own is not bool(section(commands, name))
    assert f"[`{name}`]({f'{name}.md' if own else f'#{name}'})" in commands


def test_no_command_is_described_that_does_not_exist() -> None:
    """The table of commands has a row for each command, in the order of the help."""
    first = text_of(DOCS / "commands.md").partition("\n## ")[0]
    assert re.findall(r"^\| \[`([a-z-]+)`\]", first, re.M) == list(COMMANDS)


@each_command
def test_every_option_is_described(name: str) -> None:
    """Each option of the command stands in its description, or in what all commands share."""
    typed = {
        word for _, line in command_lines() if command_of(line) == name for word in line.split()
    }
    described = written(page_of(name)) | written(shared()) | typed
    assert options(name) - described - EVERYWHERE == set()


@each_command
def test_no_option_is_described_that_does_not_exist(name: str) -> None:
    """Each option named in the description of a command is one of its options."""
    assert written(page_of(name)) - options(name) - EVERYWHERE - {"-"} == set()


@each_command
def test_every_choice_is_described(name: str) -> None:
    """The words that an option takes stand in code in the description or in the shared part."""
    words = {
        part
        for code in code_words(page_of(name) + shared())
        for part in (*re.split(r"\W+", code), *code.split())
    }
    assert choices(name) - words == set()


@each_command
def test_the_exit_codes_are_told(name: str) -> None:
    """Each description says what the exit codes are."""
    assert re.search(r"\bexit codes?\b", page_of(name), re.I)


@pytest.mark.parametrize(("where", "line"), command_lines())
def test_a_command_line_uses_options_that_exist(where: str, line: str) -> None:
    """What a page tells people to type is understood."""
    words = shlex.split(line.partition(" > ")[0])
    name = command_of(line)
    used = {word.partition("=")[0] for word in words if OPTION.fullmatch(word.partition("=")[0])}
    if name in COMMANDS:
        assert used - options(name) - EVERYWHERE == set(), where
    else:
        assert name in {"chekc", *EVERYWHERE}, where


def test_every_json_output_has_a_schema_and_is_linked_to() -> None:
    """docs/schema holds one schema for each kind of file and each command that gives JSON."""
    kinds = {"profile", "blocks", "loco", "recipe"}
    giving = [name for name in COMMANDS if "json" in choices(name)]
    found = {path.name.removesuffix(".schema.json") for path in (DOCS / "schema").iterdir()}
    assert found == kinds | {f"output-{name}" for name in giving}
    for name in giving:
        link = f"(schema/output-{name}.schema.json)"
        assert link in text_of(DOCS / "commands.md"), link


def test_every_code_of_lint_is_described() -> None:
    """The description of lint has a row for each code that it gives, and no other."""
    row = r"^\| \[`([a-z-]+)`\]\(lint/\1\.md\) \| (error|warning|note) \| ([^|]+) \|$"
    rows = re.findall(row, page_of("lint"), re.M)
    told = [(rule.code, rule.severity.value, rule.sentence) for rule in RULES]
    assert rows == sorted(told)
