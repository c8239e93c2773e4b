#!/usr/bin/env python3
"""Texts that coverage leads further into a reader: ``fuzz_guided.py READER EXECUTIONS [SEED]``.

Starts from the corpus of tests/cases/fuzz and keeps each text that reaches new code. Prints how
many texts were read and refused, and whatever was raised that is no error of ours, with the text;
exit code 1 where there was any. Needs `atheris`, which is no dependency of anything else here:
``pip install atheris`` in the environment of the tests. It has wheels for Linux on x86-64 alone;
elsewhere it is built with Clang, and not at all on Windows, where tools/fuzz.py does.
"""

from __future__ import annotations

import importlib
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

SLOW = 1.0
"""Seconds of the processor from which a single text counts as a finding."""
LONGEST = 3000
"""Bytes of a text; longer ones only repeat themselves."""
HANGS = 60
"""Seconds after which a text that has not ended is a finding, and the run ends."""


def _loaded(atheris: Any) -> Any:
    """The readers, each module of cvlib with counters in it."""
    with atheris.instrument_imports(include=["cvlib"]):
        readers = importlib.import_module("readers")
        for path in sorted((ROOT / "cvlib" / "files").rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            importlib.import_module(name.removesuffix(".__init__"))
    return readers


def _dictionary(folder: Path, pieces: tuple[str, ...]) -> Path:
    """A file of the pieces that may be put into a text."""
    path = folder / "pieces.dict"
    lines = ("".join(f"\\x{byte:02x}" for byte in piece.encode()) for piece in pieces)
    path.write_text("".join(f'"{line}"\n' for line in lines if len(line) <= 4 * 60), "ascii")
    return path


class Run:
    """The executions of one run, and one text for each finding."""

    def __init__(self, reader: Any, folder: Path, executions: int, refusal: type[Exception]):
        self.ends: Counter[str] = Counter()
        self.found: dict[str, bytes] = {}
        self._reader, self._folder = reader, folder
        self._left, self._refusal = executions, refusal

    def take(self, text: bytes) -> None:
        """Hand one text to the reader; after the last one the process ends."""
        begun = time.process_time()
        try:
            self._reader(text, self._folder)
            self.ends["read"] += 1
        except self._refusal:
            self.ends["refused"] += 1
        except Exception as error:  # noqa: BLE001 - whatever it is, it is the finding
            self.ends["findings"] += 1
            self.found.setdefault(f"{type(error).__name__}: {error}"[:200], text)
        if time.process_time() - begun > SLOW:
            self.ends["slow"] += 1
            self.found.setdefault("slow", text)
        self._left -= 1
        if self._left <= 0:
            self.end()

    def end(self) -> None:
        """Print what came of it, and end: the engine below gives control back to nobody."""
        print(f"guided: {sum(self.ends.values()) - self.ends['slow']} texts, {dict(self.ends)}")
        for what, text in self.found.items():
            print(f"  {what}\n    {text!r}")
        sys.stdout.flush()
        shutil.rmtree(self._folder, ignore_errors=True)
        os._exit(1 if self.found else 0)


def main(words: list[str]) -> int:
    """The exit code of a run that could not begin; one that began ends the process by itself."""
    try:
        atheris = importlib.import_module("atheris")
    except ImportError:
        print('fuzz_guided.py: there is no atheris here; "pip install atheris" on Linux.')
        return 2
    readers = _loaded(atheris)
    from cvlib.errors import CvlibError

    if len(words) < 2 or words[0] not in readers.READERS:
        print(f"fuzz_guided.py READER EXECUTIONS [SEED]; readers: {', '.join(readers.READERS)}")
        return 2
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        seeds = folder / "corpus"
        seeds.mkdir()
        for number, text in enumerate(readers.corpus(words[0])):
            (seeds / str(number)).write_bytes(text)
        run = Run(readers.READERS[words[0]], folder, int(words[1]), CvlibError)
        options = [f"-max_len={LONGEST}", f"-timeout={HANGS}", "-verbosity=0", "-rss_limit_mb=0"]
        options += [f"-seed={int(words[2]) if len(words) > 2 else 1}", f"-artifact_prefix={name}/"]
        options += [f"-dict={_dictionary(folder, readers.PIECES)}", str(seeds)]
        atheris.Setup([sys.argv[0], *options], run.take)
        atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
