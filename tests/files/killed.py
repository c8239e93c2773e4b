"""Commands killed at every step of their writing, each in a process and a folder of its own.

Run as a program: ``killed.py FOLDER STRIDE COMMAND…`` copies FOLDER to FOLDER.1, FOLDER.2 and so
on, runs the command there and kills it before its first, second, … step, until one runs to its
end; with a stride of 3 only every third step is tried. It prints the number of the last
copy, that of the run that was not killed.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

STEPS = ("os.rename", "os.link", "os.remove", "os.mkdir", "os.chmod", "os.utime", "os.truncate")
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC


class Killer:
    """Counts what a process does to files of a folder, and ends it before one of these steps."""

    def __init__(self, folder: Path, at: int) -> None:
        self.folder = str(folder)
        self.left = at

    def hook(self, event: str, arguments: tuple[Any, ...]) -> None:
        """Look at one event of the interpreter."""
        if event == "open":
            path, _, flags = arguments
            if isinstance(flags, int) and flags & WRITES and self._is_inside(path):
                self.step()
        elif event in STEPS and self._is_inside(arguments[0]):
            self.step()

    def _is_inside(self, path: object) -> bool:
        return isinstance(path, (str, os.PathLike)) and os.fspath(path).startswith(self.folder)

    def step(self) -> None:
        """Count one step; at the last one the process is gone."""
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)


def run_killed(folder: Path, words: list[str], at: int) -> bool:
    """Whether a command was killed at a step of its writing."""
    child = os.fork()
    if child == 0:
        from cvlib.cli.app import run

        os.chdir(folder)
        killer = Killer(folder, at)
        sync = os.fsync

        def synced(handle: int) -> None:
            killer.step()
            sync(handle)
            killer.step()

        os.fsync = synced
        sys.addaudithook(killer.hook)
        devnull = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(devnull, stream)
        os._exit(run(words))
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def main() -> None:
    """Kill a command at one step after the other."""
    from cvlib.cli.app import run

    template, stride, words = Path(sys.argv[1]).resolve(), int(sys.argv[2]), sys.argv[3:]
    warm = template.with_name(f"{template.name}.0")
    shutil.copytree(template, warm)
    os.chdir(warm)
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        run(words)  # so that what is imported for it is there for all that follow
    at = 1
    while True:
        folder = template.with_name(f"{template.name}.{at}")
        shutil.copytree(template, folder)
        if not run_killed(folder, words, at):
            break
        at += stride
    sys.stdout.write(str(at))


if __name__ == "__main__":
    main()
