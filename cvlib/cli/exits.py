"""Exit codes, and the one place where a fault becomes a line on the error stream."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from enum import IntEnum
from typing import TYPE_CHECKING, Any

from cvlib.errors import CvlibError, Fault, UndecidedError, did_you_mean, visible

if TYPE_CHECKING:
    from cvlib.engine.bench.outcome import FleetChecked

MOST_LINES = 20
"""Faults printed one by one; the rest are counted."""

MOST_CHARACTERS = 1000
"""Characters of one such line, however long a name in it is."""


class ExitCode(IntEnum):
    """What the command tells the shell."""

    GOOD = 0
    """Nothing wrong."""
    FOUND = 1
    """Findings at or above ``--fail-on``."""
    WRONG = 2
    """Wrong use, or input that cannot be read."""
    UNDECIDED = 3
    """Several firmwares or profiles fit and the answer depends on which."""
    INTERRUPTED = 130
    """Stopped by the person."""


def guarded(work: Callable[[], int]) -> int:
    """The exit code of some work; faults become lines, never a traceback.

    With ``CVLIB_DEBUG=1`` in the environment an unexpected fault is let through.
    """
    try:
        return work()
    except CvlibError as error:
        tell(error.faults)
        return ExitCode.UNDECIDED if isinstance(error, UndecidedError) else ExitCode.WRONG
    except KeyboardInterrupt:
        return ExitCode.INTERRUPTED
    except BrokenPipeError:
        leave_quietly()
        return ExitCode.GOOD
    except Exception as error:
        if wrong_use := _wrong_use(error):
            tell([wrong_use])
            return ExitCode.WRONG
        if os.environ.get("CVLIB_DEBUG") == "1":
            raise
        tell([_unexpected(error)])
        return ExitCode.WRONG


def exit_code(result: FleetChecked, fail_on: str) -> ExitCode:
    """The exit code of a check: unreadable input first, then doubt, then findings.

    ``fail_on`` is the mildest severity that counts, or "never".
    """
    from cvlib.findings.catalogue import Severity

    if result.faults:
        return ExitCode.WRONG
    if result.is_undecided:
        return ExitCode.UNDECIDED
    is_found = fail_on != "never" and result.has(Severity(fail_on))
    return ExitCode.FOUND if is_found else ExitCode.GOOD


def tell(faults: Iterable[Fault]) -> None:
    """Print faults on the error stream, one line each."""
    held = list(faults)
    shown = held if len(held) <= MOST_LINES else held[: MOST_LINES - 1]
    for fault in shown:
        _print(f"cvlib: {_bounded(str(fault))}")
    if rest := sum(fault.stands_for for fault in held[len(shown) :]):
        _print(f"cvlib: {rest} more faults.")


def tell_notes(*, before: bool = False) -> None:
    """Print what is to be told of the cache, once all is done; what was so before is not told."""
    notes = getattr(sys.modules.get("cvlib.files.compiled"), "notes", {})
    for note in () if before else notes:
        _print(f"cvlib: note: {note}")
    notes.clear()


def tell_way_back(path: str, *, is_new: bool = False) -> None:
    """Print how a file that was written gets back to what it was."""
    if is_new:
        _print(f"cvlib: the file is new; to go back, delete {path}")
    else:
        from cvlib.files.text import typed

        _print(f"cvlib: to go back: {typed('cvlib', 'undo', path)}")


def _wrong_use(error: Exception) -> Fault | None:
    """The fault that typer found in the words typed, or nothing where it was something else."""
    asked: Any = error
    if not hasattr(error, "format_message"):
        return None
    option = getattr(asked, "option_name", None)
    command = getattr(getattr(asked, "ctx", None), "command", None)
    if option and type(error).__name__ == "NoSuchOption":
        known = [name for held in getattr(command, "params", ()) for name in held.opts]
        asked_for = getattr(command, "name", None) or "cvlib"
        return Fault(
            f'no option "{option}" of {asked_for}.',
            advice=did_you_mean(str(option), [*known, "--help"]) or _see_help(asked_for),
        )
    words = str(asked.format_message()).strip().rstrip(".")
    return Fault(f"{words}.", advice=_see_help(getattr(command, "name", None)))


def _see_help(command: str | None) -> str:
    asked = f"cvlib {command}" if command and command != "cvlib" else "cvlib"
    return f'"{asked} --help" shows what there is.'


def _unexpected(error: Exception) -> Fault:
    words = str(error) or "no reason was given"
    return Fault(
        f"internal error: {type(error).__name__}: {words}.",
        advice="Please report it; CVLIB_DEBUG=1 shows where it happened.",
    )


def _bounded(text: str) -> str:
    """The text cut where it is far too long, in its middle: what to do stands at its end."""
    half = MOST_CHARACTERS // 2
    return text if len(text) <= MOST_CHARACTERS else f"{text[:half]} … {text[-half:]}"


def _print(line: str) -> None:
    line = visible(line)
    encoding = getattr(sys.stderr, "encoding", None) or "utf-8"
    try:
        print(line.encode(encoding, "replace").decode(encoding), file=sys.stderr)
    except BrokenPipeError:
        leave_quietly()


def leave_quietly() -> None:
    """Point the output somewhere harmless, so that Python's own last flush is silent."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            os.dup2(nowhere, stream.fileno())
