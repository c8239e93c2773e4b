"""A person at a terminal: cvlib under a pseudo-terminal, answered line by line."""

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

from cli.run_cvlib import ROOT

PATIENCE = 60.0
"""Seconds after which an expected text is not coming any more."""

_START = """
import fcntl, os, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.argv[1], sys.argv[1:])
"""
"""Makes the pseudo-terminal the controlling one, so that Ctrl-C reaches the command."""

_COLOUR = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Terminal:
    """One session of a command; the screen shows what is typed, as terminals do."""

    def __init__(self, *words: str, cwd: Path = ROOT, **variables: str) -> None:
        foreign = ("CVLIB_DEFINITIONS", "FORCE_COLOR", "CVLIB_DEBUG")
        env = {key: value for key, value in os.environ.items() if key not in foreign}
        env |= {"PYTHONUTF8": "1", "COLUMNS": "100", "PYTHONPATH": str(ROOT), "NO_COLOR": "1"}
        self._master, slave = pty.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-c", _START, sys.executable, "-m", "cvlib", *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=cwd,
            env=env | variables,
            start_new_session=True,
        )
        os.close(slave)
        self.screen = ""
        self._seen = 0

    def expect(self, text: str) -> None:
        """Wait until a text appears behind what was expected before."""
        end = time.monotonic() + PATIENCE
        while (at := self.screen.find(text, self._seen)) < 0:
            if time.monotonic() > end or not self._read(end - time.monotonic()):
                raise AssertionError(f"{text!r} does not come; the screen shows:\n{self.screen}")
        self._seen = at + len(text)

    def answer(self, question: str, line: str) -> None:
        """Wait for a question and type an answer."""
        self.expect(question)
        os.write(self._master, f"{line}\n".encode())

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        os.write(self._master, b"\x03")

    def end_input(self) -> None:
        """Press Ctrl-D."""
        os.write(self._master, b"\x04")

    def close(self) -> int:
        """Wait for the end of the command; gives its exit code."""
        end = time.monotonic() + PATIENCE
        while self._read(max(0.0, end - time.monotonic())):
            pass
        try:
            return self._process.wait(timeout=PATIENCE)
        finally:
            os.close(self._master)

    def _read(self, patience: float) -> bool:
        ready, _, _ = select.select([self._master], [], [], patience)
        if not ready:
            self._process.send_signal(signal.SIGTERM)
            return False
        try:
            data = os.read(self._master, 65536)
        except OSError:  # Linux: the other end is closed
            return False
        self.screen += _COLOUR.sub("", data.decode("utf-8", "replace")).replace("\r\n", "\n")
        return bool(data)
