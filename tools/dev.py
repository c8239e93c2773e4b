#!/usr/bin/env python3
"""Everything a contributor types, on a bare Python 3.11 or newer.

Each command makes or reuses the virtual environment `.venv` of this checkout, installs what
pyproject.toml asks for, and then does its work. Only the standard library is used here.
CVLIB_VENV names another folder for the environment.
"""

from __future__ import annotations

import difflib
import hashlib
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST_PYTHON = (3, 11)
STAMP = "cvlib-stamp"
PIP_LOG = "cvlib-pip.log"

LINT = (
    "ruff check .",
    "ruff format --check .",
    "mypy --strict",
    "lint-imports --no-logo",
    "cvlib lint",
    "cvlib tidy --check",
)
"""What `lint` runs. All of them run, so that every fault is seen at once."""

USAGE = """\
usage: python3 tools/dev.py COMMAND

  demo            check the demo fleet, then look closer at some locos
  test [ARGS]     run the tests on two or more workers; ARGS go to pytest
  bench [ARGS]    measure how long a cold start takes; ARGS go to tools/bench/cold.py;
                  bench identify [ARGS]: how well and fast decoders are identified;
                  bench definitions [ARGS]: how long the lint of 200 profiles takes
  lint            ruff, mypy, import contracts and the lint of the definitions
  docs            bring transcripts and the map of the package up to date in the pages
  setup           only make or mend the environment

Each command makes or reuses .venv and installs what it needs (first time: a minute or two).
"""


class SetupError(Exception):
    """The environment cannot be made; the text is one line that says why and what to do."""


def say(text: str) -> None:
    """A line for the person at the terminal; results go to stdout, this goes to stderr."""
    print(f"dev.py: {text}", file=sys.stderr, flush=True)


def venv_folder() -> Path:
    """Where the environment lives: `.venv` of the checkout, or what CVLIB_VENV names."""
    named = os.environ.get("CVLIB_VENV")
    return Path(named).absolute() if named else ROOT / ".venv"


def scripts_folder(venv: Path) -> Path:
    """Where the environment keeps its programs: `Scripts` on Windows, else `bin`."""
    return venv / ("Scripts" if os.name == "nt" else "bin")


def python_of(venv: Path) -> Path:
    """The environment's own Python, whether it exists or not."""
    return scripts_folder(venv) / ("python.exe" if os.name == "nt" else "python")


def child_environment(venv: Path) -> dict[str, str]:
    """The environment variables of a program that is to run inside the virtual environment."""
    foreign = {"PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__"}
    env = {key: value for key, value in os.environ.items() if key not in foreign}
    env["VIRTUAL_ENV"] = str(venv)
    env["PATH"] = os.pathsep.join([str(scripts_folder(venv)), env.get("PATH", os.defpath)])
    env["PIP_USER"] = "0"
    env["PIP_DISABLE_PIP_VERSION_CHECK"] = "1"
    return env


def wanted_stamp() -> str:
    """What a current environment is marked with: digest of pyproject.toml, then the checkout.

    The checkout is part of it because the environment's programs hold absolute paths.
    """
    digest = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
    return f"{digest}\n{ROOT}\n"


def found_stamp(venv: Path) -> str | None:
    """The mark left by the last complete installation, or None where there was none."""
    try:
        return (venv / STAMP).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None


def is_healthy(venv: Path) -> bool:
    """Whether the environment's Python starts, has pip, and is the version running now."""
    question = "import pip, sys; print(*sys.version_info[:2])"
    try:
        answer = subprocess.run(
            [str(python_of(venv)), "-I", "-c", question],
            capture_output=True,
            text=True,
            check=False,
        )
    except OSError:
        return False
    version = " ".join(str(part) for part in sys.version_info[:2])
    return answer.returncode == 0 and answer.stdout.strip() == version


def what_to_do(venv: Path) -> str:
    """`reuse`, `install` (the environment is sound, the packages are not current) or `make`."""
    if not is_healthy(venv):
        return "make"
    wanted, found = wanted_stamp(), found_stamp(venv)
    if found is not None and found.splitlines()[1:] != wanted.splitlines()[1:]:
        return "make"
    program = shutil.which("cvlib", path=str(scripts_folder(venv)))
    return "reuse" if found == wanted and program else "install"


def make_venv(venv: Path) -> None:
    """Make the environment anew in its folder; a folder that is something else is left alone."""
    try:
        import ensurepip  # noqa: F401
        import venv as module
    except ImportError as missing:
        raise SetupError(
            f"this Python has no {missing.name} module, so it cannot make a virtual environment; "
            "install it (Debian, Ubuntu: apt install python3-venv) and run again"
        ) from None
    if venv.is_symlink() or venv.exists():
        if not venv.is_dir():
            raise SetupError(f"{venv} is in the way and is not a folder; remove it and run again")
        if any(venv.iterdir()) and not (venv / "pyvenv.cfg").exists():
            raise SetupError(f"{venv} holds something else; remove it, or set CVLIB_VENV")
    say(f"making {venv}")
    try:
        module.EnvBuilder(with_pip=True, clear=True, symlinks=os.name != "nt").create(venv)
    except (OSError, subprocess.SubprocessError) as fault:
        raise SetupError(
            f"cannot make {venv}: {one_line(fault)}; "
            "close programs that use it, check the disk and rights, and run again"
        ) from None


def install(venv: Path) -> None:
    """Install the checkout, editable, with its development packages, and leave the mark."""
    say("installing packages (a minute or two the first time)")
    mark = venv / STAMP
    command = [
        str(python_of(venv)),
        "-m",
        "pip",
        "install",
        "--no-input",
        "-e",
        ".[dev,statistics]",
    ]
    try:
        mark.unlink(missing_ok=True)
        done = subprocess.run(
            command,
            cwd=ROOT,
            env=child_environment(venv),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
            check=False,
        )
        (venv / PIP_LOG).write_text(done.stdout, encoding="utf-8")
        if done.returncode != 0:
            raise SetupError(f"{why_pip_failed(done.stdout)} (all of it: {venv / PIP_LOG})")
        mark.write_text(wanted_stamp(), encoding="utf-8")
    except OSError as fault:
        raise SetupError(f"cannot install into {venv}: {one_line(fault)}") from None


def why_pip_failed(output: str) -> str:
    """One line from pip's output: a hint at the network where it is that, else pip's own words."""
    signs = (
        "Failed to establish",
        "NewConnectionError",
        "NameResolutionError",
        "Temporary failure",
        "ProxyError",
        "SSLError",
        "timed out",
    )
    if any(sign in output for sign in signs):
        return "pip cannot reach the package index; connect to the network and run again"
    lines = [line.strip() for line in output.splitlines()]
    faults = [line[6:].strip() for line in lines if line.lower().startswith("error:")]
    for fault in faults:
        if fault.startswith("No matching distribution"):
            return f"{fault}; check the network and the package index, and run again"
    said = faults[-1] if faults else "pip gave no reason"
    return f"pip could not install the packages: {said}"


def one_line(fault: BaseException) -> str:
    """The text of an exception without line breaks; its kind where it has no text."""
    return " ".join(str(fault).split()) or type(fault).__name__


def ready_venv() -> Path:
    """The environment, made, mended or reused; raises SetupError when that cannot be done."""
    venv = venv_folder()
    todo = what_to_do(venv)
    if todo == "make":
        make_venv(venv)
    if todo != "reuse":
        install(venv)
    compile_package(venv)
    return venv


def compile_package(venv: Path) -> None:
    """Have Python's own compiled form of the package ready, also where Python may not write it.

    An installed wheel is compiled by pip; an editable checkout would be compiled at every start
    while PYTHONDONTWRITEBYTECODE is set. It is no fault where nothing can be written.
    """
    command = [str(python_of(venv)), "-m", "compileall", "-q", "-j", "2", "cvlib"]
    subprocess.run(command, cwd=ROOT, env=child_environment(venv), capture_output=True, check=False)


def run_line(venv: Path, line: str, extra: list[str] | None = None) -> int:
    """The exit code of one command line, run in the checkout with the environment's program."""
    words = shlex.split(line) + (extra or [])
    program = shutil.which(words[0], path=str(scripts_folder(venv)))
    if program is None:
        say(f"{words[0]} is not in {venv}; delete that folder and run again")
        return 2
    return subprocess.run(
        [program, *words[1:]], cwd=ROOT, env=child_environment(venv), check=False
    ).returncode


def demo(venv: Path, _extra: list[str]) -> int:
    """Run the demo and say how to go on."""
    code = run_line(venv, "python tools/pages.py demo")
    if code == 0:
        program = scripts_folder(venv) / "cvlib"
        say(f"a line with … stands for more; to see it all, type {program} in place of cvlib")
    return code


def test(venv: Path, extra: list[str]) -> int:
    """Run pytest on two to eight workers; what the person adds comes last and so wins."""
    workers = min(8, max(2, os.cpu_count() or 2))
    return run_line(venv, f"pytest -n {workers}", extra)


def bench(venv: Path, extra: list[str]) -> int:
    """Print how long cold starts take, or what the bench that is named first measures."""
    if extra[:1] in (["identify"], ["definitions"]):
        return run_line(venv, f"python -m tools.bench.{extra[0]}", extra[1:])
    return run_line(venv, "python -m tools.bench.cold", extra)


def lint(venv: Path, _extra: list[str]) -> int:
    """Run every linter; 1 when one of them objects."""
    failed = []
    for line in LINT:
        print(f"$ {line}", flush=True)
        if run_line(venv, line) != 0:
            failed.append(line)
    for line in failed:
        say(f"`{line}` found faults")
    return 1 if failed else 0


def docs(venv: Path, _extra: list[str]) -> int:
    """Rewrite what the pages show of the program; the names of changed pages are printed."""
    return run_line(venv, "python tools/pages.py docs")


def setup(venv: Path, _extra: list[str]) -> int:
    """Say that the environment is ready."""
    say(f"{venv} is ready")
    return 0


COMMANDS = {
    "demo": demo,
    "test": test,
    "bench": bench,
    "lint": lint,
    "docs": docs,
    "setup": setup,
}
TAKES_ARGUMENTS = ("test", "bench")


def choose(argv: list[str]) -> str | None:
    """The command that is asked for; None, with one line on stderr, where there is none."""
    name = argv[0]
    if name not in COMMANDS:
        near = difflib.get_close_matches(name, COMMANDS, n=1)
        hint = f"; nearest: {near[0]}" if near else ""
        say(f'no command "{name}"{hint} (commands: {", ".join(COMMANDS)})')
        return None
    if argv[1:] and name not in TAKES_ARGUMENTS:
        say(f'{name} takes no arguments, found "{argv[1]}"')
        return None
    return name


def main(argv: list[str]) -> int:
    """Run one command and give its exit code: 0 good, 1 faults found, 2 wrong use, 130 stopped."""
    if sys.version_info < OLDEST_PYTHON:
        say("Python 3.11 or newer is needed; this is {}.{}".format(*sys.version_info[:2]))
        return 2
    if not argv or argv[0] in ("-h", "--help"):
        print(USAGE, end="", file=sys.stdout if argv else sys.stderr)
        return 0 if argv else 2
    name = choose(argv)
    if name is None:
        return 2
    try:
        return COMMANDS[name](ready_venv(), argv[1:])
    except SetupError as fault:
        say(str(fault))
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
