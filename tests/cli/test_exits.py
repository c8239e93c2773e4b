"""Wrong use, broken pipes and odd consoles: one line, the right exit code, never a traceback."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cli.run_cvlib import ROOT, STORE, plover, program, run
from cvlib.__main__ import main
from cvlib.cli import app
from cvlib.cli.exits import MOST_LINES, ExitCode, guarded
from cvlib.errors import Fault, InputError, UndecidedError

LIGHT = "import sys; from cvlib.__main__ import main; main(); print(*sorted(sys.modules))"

WRONG = [
    (["chekc"], 'no command "chekc". Did you mean "check"?'),
    (["zzz"], "Commands are check, card, settings"),
    (["--verison"], 'no option "--verison" of cvlib. Did you mean "--version"?'),
    (["check", "--profil", "x"], 'no option "--profil" of check. Did you mean "--profile"?'),
    (["check", "--zzz"], '"cvlib check --help" shows'),
    (["check", "--firmware"], "requires an argument"),
    (["check", "--format", "jsn"], '--format cannot be "jsn". Did you mean "json"?'),
    (["check", "--fail-on", "zzz"], "Give one of note, warning, error, never."),
    (["check"], "nothing to check."),
    (["check", "27=3"], "no decoder profile is named."),
    (["check", "no-such-file.toml"], "there is no such file."),
    (["check", "--profile", "ferrow/lark", "27=3"], 'Did you mean "ferrow/lark-8'),
    (["check", "--definitions", "no-such-folder", "27=3"], "no such folder"),
    (["check", "--definitions", "a" * 5000, "27=3"], "no such folder"),
    (plover("--firmware", "x", "27=3"), 'is not a firmware version of the scheme "dotted".'),
    (plover("--saved-for", "x", "27=3"), 'is not a firmware version of the scheme "dotted".'),
    (plover("27=256"), "CV 27 cannot hold 256."),
    (plover("27=-1"), "CV 27 cannot hold -1."),
    (plover("0=1"), "CV 0 does not exist."),
    (plover("1025=1"), "CV 1025 does not exist."),
    (plover("27=1.5"), "whole numbers"),
    (plover("27=x"), "is not a value"),
    (plover("27=1", "27=2"), "27"),
    (plover("300@1/2/3=1"), "is not a CV"),
    (plover("27@1/2=1"), "cannot lie on an index page"),
]


@pytest.mark.parametrize(("words", "part"), WRONG)
def test_wrong_use_is_one_line_and_exit_code_2(
    words: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing on the output, one line on the error stream that says what to do."""
    assert run(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("cvlib: ")
    assert err.count("\n") == 1
    assert part in err


def test_a_name_from_a_file_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Control characters of words typed do not reach the error stream."""
    run(["check", "a\x1b[31m\nb"])
    err = capsys.readouterr().err
    assert "\x1b" not in err
    assert err.count("\n") == 1


def stop(fault: BaseException) -> int:
    """Work that does not end well."""
    raise fault


@pytest.mark.parametrize(
    ("fault", "code", "part"),
    [
        (InputError(Fault("a"), Fault("b")), 2, "cvlib: a\ncvlib: b\n"),
        (UndecidedError(Fault("two fit.")), 3, "cvlib: two fit.\n"),
        (KeyboardInterrupt(), 130, ""),
        (ValueError("x"), 2, "cvlib: internal error: ValueError: x. Please report it;"),
        (RecursionError(), 2, "cvlib: internal error: RecursionError"),
    ],
)
def test_faults_become_lines(
    fault: BaseException, code: int, part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each kind of fault has its exit code; the unexpected one asks to be reported."""
    assert guarded(lambda: stop(fault)) == code
    assert capsys.readouterr().err.startswith(part)


def test_many_faults_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """At most twenty lines; the last one counts what is left out."""
    guarded(lambda: stop(InputError(*(Fault(f"fault {n}") for n in range(30)))))
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == MOST_LINES
    assert lines[-1] == "cvlib: 11 more faults."
    guarded(
        lambda: stop(InputError(*(Fault(f"fault {n}") for n in range(20)), Fault("", None, "", 30)))
    )
    assert capsys.readouterr().err.splitlines()[-1] == "cvlib: 31 more faults."


def test_the_count_of_a_long_list_is_that_of_its_faults(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A reader tells twenty of its faults and counts the others; the last line counts them all."""
    path = tmp_path / "list.csv"
    for count in (21, 50):
        path.write_text("".join(f"{cv} = 300\n" for cv in range(1, count + 1)), encoding="utf-8")
        run(["check", str(path)])
        assert capsys.readouterr().err.splitlines()[-1] == f"cvlib: {count - 19} more faults."


def test_an_unexpected_fault_can_be_looked_into(monkeypatch: pytest.MonkeyPatch) -> None:
    """With CVLIB_DEBUG=1 it is let through."""
    monkeypatch.setenv("CVLIB_DEBUG", "1")
    with pytest.raises(ValueError, match="x"):
        guarded(lambda: stop(ValueError("x")))


def test_help_names_every_command_and_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    """No command at all shows the help, as --help does."""
    for words in ([], ["--help"], ["-h"]):
        assert run(words) == 0
        shown = capsys.readouterr().out
        assert [name for name in app.COMMANDS if f"\n  {name} " not in shown] == []
        assert [str(code.value) for code in ExitCode if f"\n    {code.value} " not in shown] == []


def test_the_help_of_check_has_its_options_and_examples(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Every option and the examples stand in it."""
    assert run(["check", "--help"]) == 0
    shown = capsys.readouterr().out
    options = ("profile", "firmware", "saved-for", "role", "all", "changed", "why", "fail-on")
    assert [name for name in (*options, "format") if f"--{name} " not in shown] == []
    assert "  cvlib check my-loco.toml\n" in shown
    assert "\n    LOCO      a loco file" in shown
    assert "\\b" not in shown


@pytest.mark.parametrize(
    ("words", "unwanted"),
    [
        (["--version"], {"typer", "rich", "pydantic", "dataclasses"}),
        (["--help"], {"rich", "pydantic", "cvlib.engine", "cvlib.model"}),
        (["check", "--help"], {"rich", "pydantic", "cvlib.engine", "cvlib.model"}),
        (plover("--firmware", "3.1", "153=3", "--format", "json"), {"rich"}),
    ],
)
def test_a_command_loads_only_what_it_needs(words: list[str], unwanted: set[str]) -> None:
    """The version loads next to nothing, help no engine, JSON no terminal library."""
    done = subprocess.run(
        [sys.executable, "-c", LIGHT, *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        check=True,
    )
    assert unwanted & set(done.stdout.splitlines()[-1].split()) == set()


def test_a_check_of_a_known_profile_does_not_load_pydantic(tmp_path: Path) -> None:
    """Once a profile has been compiled, neither it nor typer's coercion needs the heavy library."""
    environment = {**os.environ, "CVLIB_CACHE": str(tmp_path)}
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", LIGHT, *plover("--firmware", "3.1", "153=3")],
            capture_output=True,
            text=True,
            encoding="utf-8",
            cwd=ROOT,
            env=environment,
            check=True,
        )
    assert "pydantic" not in done.stdout.splitlines()[-1].split()


def test_a_pipe_gets_no_colour_unless_forced() -> None:
    """Plain into a pipe; FORCE_COLOR wins over the pipe, NO_COLOR over both."""
    words = plover("--firmware", "3.1", "153=200")
    assert "\x1b" not in program(*words).stdout
    assert "\x1b[1;31merror" in program(*words, FORCE_COLOR="1").stdout
    assert "\x1b" not in program(*words, FORCE_COLOR="1", NO_COLOR="1").stdout


@pytest.mark.parametrize("columns", ["20", "60", "80", "120"])
def test_lines_fit_the_columns(columns: str) -> None:
    """COLUMNS sets the width; no line goes over it."""
    words = plover("--firmware", "3.1", "--saved-for", "1.2", "141=40")
    done = program(*words, COLUMNS=columns)
    assert max(map(len, done.stdout.splitlines())) <= int(columns)


def test_an_old_console_gets_what_it_can_show() -> None:
    """Where the encoding has no arrow, two signs stand for it; JSON stays UTF-8."""
    words = plover("--firmware", "3.1", "153=200")
    done = program(*words, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 1
    assert "-> Allowed are 1-100." in done.stdout


@pytest.mark.skipif(os.name == "nt", reason="there is no such pipe on Windows")
@pytest.mark.parametrize("words", [["--help"], plover("--firmware", "3.1", "153=200", "--all")])
def test_a_reader_that_went_away_is_no_fault(words: list[str]) -> None:
    """Nothing on the error stream when the other end of the pipe is closed."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as pipe:
        done = subprocess.run(
            [sys.executable, "-m", "cvlib", *words],
            stdout=pipe,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            check=False,
        )
    assert done.stderr == b""


def test_the_store_for_tests_is_there() -> None:
    """The small profile lies where the tests look for it."""
    assert (STORE / "ferrow" / "plover.toml").is_file()


def test_an_interrupt_while_loading_ends_quietly(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stopped before the commands are loaded: exit code 130 and not a word."""

    class Stopping:
        """A finder of modules during which someone presses Ctrl-C."""

        def find_spec(self, name: str, *_: object) -> None:
            """Nothing; raises for the commands."""
            if name == "cvlib.cli.app":
                raise KeyboardInterrupt

    monkeypatch.delitem(sys.modules, "cvlib.cli.app")
    monkeypatch.delattr("cvlib.cli.app")
    monkeypatch.setattr(sys, "meta_path", [Stopping(), *sys.meta_path])
    monkeypatch.setattr(sys, "argv", ["cvlib", "check"])
    assert main() == ExitCode.INTERRUPTED
    assert capsys.readouterr() == ("", "")
