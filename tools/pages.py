"""What pages and the demo show of the program: transcripts, lists and the map of the package.

`demo` runs the commands of the demo and shows the telling parts of what they print.
`docs` rewrites, in README.md, DEVELOPERS.md and docs/, whatever stands under a `$ cvlib …` line or
between two marks, so that no page says anything that the program does not.
"""

from __future__ import annotations

import ast
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEFT_OUT = ("…", "...")
"""A line of its own that stands for any number of lines left out of a transcript."""
GOOD = (0, 1, 3)
"""Exit codes that the demo may end with: findings, and firmware not known, are what it shows."""
NEAR_ENOUGH = 0.5
"""How alike a paragraph must be to the one that stood in a page, to take its place."""
MARKED = re.compile(
    r"(?P<opens><!-- (?P<name>[a-z ]+): python3 tools/dev\.py docs writes this -->\n)"
    r".*?(?P<closes><!-- end of (?P=name) -->\n)",
    re.DOTALL,
)
"""A part of a page that is written anew, between its marks."""
ROOMS = ("model", "findings", "engine", "files", "render", "api", "cli")
ALONE = ("errors", "__main__")
"""Modules that stand in no room."""
COLOURS = re.compile(r"\x1b\[[0-9;]*m")
FENCE = re.compile(r"^( *```[^\n]*\n)(.*?)(^ *```[ ]*$)", re.MULTILINE | re.DOTALL)


class PagesError(Exception):
    """A page cannot be brought up to date; the text is one line that says where and why."""


@dataclass(frozen=True)
class Scene:
    """One command of the demo, as a person would type it."""

    command: str
    keep: tuple[str, ...] = ()
    """A paragraph of the output is shown when it holds one of these; without any, all are."""

    def cut(self, lines: list[str]) -> list[str]:
        """The output with a line of dots for each stretch that is not shown."""
        if not self.keep:
            return lines
        kept: list[list[str]] = []
        for paragraph in paragraphs(lines):
            plain = COLOURS.sub("", "\n".join(paragraph))
            if any(words in plain for words in self.keep):
                kept.append(paragraph)
            elif not kept or kept[-1] != [LEFT_OUT[0]]:
                kept.append([LEFT_OUT[0]])
        return joined(kept)


DEMO = (
    Scene("cvlib check definitions/fleet/saltmarsh", ("Check", "loco   ", "decoders undecided")),
    Scene("cvlib check definitions/fleet/saltmarsh/05-avocet.toml"),
    Scene("cvlib check definitions/fleet/saltmarsh/04-marsh-harrier.toml"),
    Scene("cvlib timeline ferrow/lark-8 --setting braking.stopping-distance"),
    Scene("cvlib explain 29=38"),
)
"""What `demo` runs: a fleet, a loco after an update, one between two handbooks, and why."""


def paragraphs(lines: list[str]) -> list[list[str]]:
    """The lines in stretches without empty lines between them."""
    found: list[list[str]] = [[]]
    for line in lines:
        if line.strip():
            found[-1].append(line)
        elif found[-1]:
            found.append([])
    return [paragraph for paragraph in found if paragraph]


def joined(parts: list[list[str]]) -> list[str]:
    """Paragraphs as lines again, one empty line between two of them."""
    lines = [line for part in parts for line in [*part, ""]]
    return lines[:-1]


def printed(command: str, **further: str) -> tuple[list[str], int]:
    """What a command prints when run at the top of the checkout, and its exit code.

    `further` are environment variables; without them there are 80 columns and no colours.
    """
    foreign = ("COLUMNS", "FORCE_COLOR", "NO_COLOR", "CVLIB_DEFINITIONS", "CVLIB_DEBUG")
    env = {key: value for key, value in os.environ.items() if key not in foreign}
    done = subprocess.run(
        [sys.executable, "-m", "cvlib", *shlex.split(command)[1:]],
        cwd=ROOT,
        env=env | {"PYTHONUTF8": "1"} | (further or {"NO_COLOR": "1"}),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return [line.rstrip() for line in done.stdout.rstrip().splitlines()], done.returncode


def transcripts(text: str) -> Iterator[tuple[str, list[str]]]:
    """Each `$ cvlib …` line of a page's fenced blocks with the output lines shown under it."""
    for fence in FENCE.finditer(text):
        for command, shown in steps(fence[2]):
            if command.startswith("cvlib ") and any(shown):
                yield command, shown


def steps(block: str) -> list[tuple[str, list[str]]]:
    """The commands of a fenced block and the lines under each; lines before any have none."""
    found: list[tuple[str, list[str]]] = [("", [])]
    for line in block.splitlines():
        if line.startswith("$ "):
            found.append((line[2:].strip(), []))
        else:
            found[-1][1].append(line.rstrip())
    return found


def is_shown(shown: list[str], whole: list[str]) -> bool:
    """Whether the lines shown are the whole output, but for what the dots say is left out."""
    text = "\n".join(shown).strip("\n").splitlines()
    pieces = [r".*\n" if line.strip() in LEFT_OUT else re.escape(line) + r"\n" for line in text]
    pattern = "".join(f"(?:{piece})*?" if piece == r".*\n" else piece for piece in pieces)
    return re.fullmatch(pattern, "".join(f"{line}\n" for line in whole)) is not None


def recut(shown: list[str], whole: list[str]) -> list[str]:
    """The whole output, cut where the old transcript was: paragraph by paragraph.

    Dots at the end of a paragraph keep as many of its lines as before. Raises PagesError where a
    paragraph of the old transcript has nothing like it in the output.
    """
    if is_shown(shown, whole):
        return shown
    new, left, out, open_end = paragraphs(whole), 0, list[list[str]](), True
    for old in paragraphs(shown):
        if old[0].strip() in LEFT_OUT:
            out.append(old)
            open_end = False
            continue
        found = like(old, new, left)
        kept = new[found][: len(old) - 1] + old[-1:] if old[-1].strip() in LEFT_OUT else new[found]
        out += new[left:found] if open_end else []
        out.append(kept)
        left, open_end = found + 1, True
    return joined(out + (new[left:] if open_end else []))


def like(old: list[str], new: list[list[str]], first: int) -> int:
    """Which of the new paragraphs, from the first on, takes the place of an old one."""
    if old in new[first:]:
        return new.index(old, first)
    begin = "\n".join(old[:3])
    likeness = {
        number: SequenceMatcher(None, begin, "\n".join(new[number][:3])).ratio()
        for number in range(first, len(new))
    }
    best = max(likeness, key=lambda number: likeness[number], default=-1)
    if best < 0 or likeness[best] < NEAR_ENOUGH:
        raise PagesError(f'nothing like "{old[0]}" is printed any more; cut it anew by hand')
    return best


def refreshed(text: str, run: Callable[[str], list[str]]) -> str:
    """A page with each transcript and the map of the package brought up to date."""
    scenes = {scene.command: scene for scene in DEMO}

    def block(fence: re.Match[str]) -> str:
        lines: list[str] = []
        for command, shown in steps(fence[2]):
            lines += [f"$ {command}"] if command else []
            if not command.startswith("cvlib ") or not any(shown):
                lines += shown
                continue
            whole = run(command)
            made = scenes[command].cut(whole) if command in scenes else recut(shown, whole)
            lines += [*made, *([""] if not shown[-1] else [])]
        return fence[1] + "".join(f"{line}\n" for line in lines) + fence[3]

    def part(marked: re.Match[str]) -> str:
        if marked["name"] not in WRITTEN:
            raise PagesError(f'nothing is called "{marked["name"]}"')
        return f"{marked['opens']}\n{WRITTEN[marked['name']]()}\n\n{marked['closes']}"

    return MARKED.sub(part, FENCE.sub(block, text))


def command_table() -> str:
    """Every command with its line of the help, leading to its page or to its section."""
    from cvlib.cli.app import COMMANDS

    lines = ["| command | what it gives |", "| --- | --- |"]
    for name, (_, words) in COMMANDS.items():
        own = f"{name}.md"
        link = own if (ROOT / "docs" / own).exists() else f"#{name}"
        lines.append(f"| [`{name}`]({link}) | {words} |")
    return "\n".join(lines)


def output_table() -> str:
    """The schema of the JSON output of every command that has one."""
    from cvlib.cli.app import COMMANDS

    lines = ["| output of | schema |", "| --- | --- |"]
    for name in COMMANDS:
        file = f"output-{name}.schema.json"
        if (ROOT / "docs" / "schema" / file).exists():
            lines.append(f"| `{name}` | [{file}](schema/{file}) |")
    return "\n".join(lines)


def lint_table() -> str:
    """The code and the sentence of every fault that lint finds."""
    from cvlib.engine.lint.rules import RULES

    lines = ["| code | severity | what was found |", "| --- | --- | --- |"]
    for rule in sorted(RULES, key=lambda rule: rule.code):
        page = f"[`{rule.code}`](lint/{rule.code}.md)"
        lines.append(f"| {page} | {rule.severity} | {rule.sentence} |")
    return "\n".join(lines)


def package_map() -> str:
    """Every module of cvlib, room by room, each with the first sentence of its docstring."""
    package = ROOT / "cvlib"
    parts = []
    for room in ROOMS:
        files = sorted((package / room).rglob("*.py"))
        rows = [row(path, package / room) for path in files if path.name != "__init__.py"]
        folders = [path.parent for path in files if path.name == "__init__.py"][1:]
        rows += [row(path / "__init__.py", package / room) for path in folders]
        parts.append(table(f"### `cvlib/{room}/`", says(package / room / "__init__.py"), rows))
    rows = [row(package / f"{name}.py", package) for name in ALONE]
    parts.append(table("### In no room", says(package / "__init__.py"), rows))
    return "\n\n".join(parts)


def table(heading: str, opening: str, rows: list[tuple[str, str]]) -> str:
    """A section of the map: what the room is, then its modules by name."""
    lines = [f"| `{name}` | {words} |" for name, words in sorted(rows)]
    return "\n".join([heading, "", opening, "", "| module | |", "| --- | --- |", *lines])


def row(path: Path, room: Path) -> tuple[str, str]:
    """Name and words of a module in the map; a folder stands with a stroke behind its name."""
    name = path.relative_to(room).as_posix()
    return name.removesuffix("__init__.py"), says(path).replace("|", "\\|")


def says(path: Path) -> str:
    """The first paragraph of a module's docstring on one line; empty where there is none."""
    words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    return " ".join(words.split("\n\n")[0].replace("``", "`").split())


WRITTEN: Mapping[str, Callable[[], str]] = {
    "commands": command_table,
    "outputs": output_table,
    "codes of lint": lint_table,
    "map of the package": package_map,
}
"""What stands between the marks of each name."""


def pages() -> list[Path]:
    """The pages that show something of the program."""
    return [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def refresh() -> int:
    """Rewrite what is out of date; 1 where a page must be mended by hand."""
    failed = False
    for page in pages():
        text = page.read_text(encoding="utf-8")
        try:
            new = refreshed(text, lambda command: printed(command)[0])
        except PagesError as fault:
            print(f"pages.py: {page.relative_to(ROOT)}: {fault}", file=sys.stderr)
            failed = True
            continue
        if new != text:
            page.write_text(new, encoding="utf-8", newline="\n")
            print(page.relative_to(ROOT).as_posix())
    return 1 if failed else 0


def demo() -> int:
    """Show each scene; the exit code of the first command that could not do its work."""
    plain = os.name == "nt" or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    has_colour = sys.stdout.isatty() and not plain
    columns = str(shutil.get_terminal_size().columns)
    further = {"COLUMNS": columns, "FORCE_COLOR" if has_colour else "NO_COLOR": "1"}
    for number, scene in enumerate(DEMO):
        lines, code = printed(scene.command, **further)
        is_good = code in GOOD
        shown = scene.cut(lines) if is_good else lines
        print("\n".join([*([""] if number else []), f"$ {scene.command}", *shown]), flush=True)
        if not is_good:
            print(f"pages.py: `{scene.command}` ended with exit code {code}", file=sys.stderr)
            return code if code > 0 else 1
    return 0


def main(argv: list[str]) -> int:
    """Run `demo` or `docs`."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        return {"demo": demo, "docs": refresh}[argv[0]]()
    except (KeyError, IndexError):
        print("usage: python tools/pages.py demo|docs", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
