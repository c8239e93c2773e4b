#!/usr/bin/env python3
"""Damaged texts through every reader: ``tools/fuzz.py [EXECUTIONS] [SEED] [READER…]``.

Prints for each reader how many texts it was handed, how many it read, and whatever it raised that
is no error of ours. Exit code 1 where there was any. Run it in the environment of the tests.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / name) for name in ("", "tests")]

from hypothesis import HealthCheck, Phase, given, seed, settings  # noqa: E402

from cvlib.errors import CvlibError  # noqa: E402
from readers import READERS, texts  # noqa: E402

SLOW = 1.0
"""Seconds from which a single text counts as a finding."""


def run(
    reader: str, executions: int, start: int, folder: Path
) -> tuple[Counter[str], dict[str, bytes]]:
    """How many texts ended how, and one text for each finding."""
    ends: Counter[str] = Counter()
    found: dict[str, bytes] = {}

    @seed(start)
    @settings(
        max_examples=executions,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(texts(reader))
    def one(text: bytes) -> None:
        begun = time.process_time()
        try:
            READERS[reader](text, folder)
            ends["read"] += 1
        except CvlibError:
            ends["refused"] += 1
        except Exception as error:  # noqa: BLE001 - whatever it is, it is the finding
            ends["findings"] += 1
            found.setdefault(f"{type(error).__name__}: {error}"[:200], text)
        if time.process_time() - begun > SLOW:
            ends["slow"] += 1
            found.setdefault("slow", text)

    one()
    return ends, found


def main(words: list[str]) -> int:
    """The exit code of a run."""
    executions = int(words[0]) if words else 1000
    start = int(words[1]) if len(words) > 1 else 1
    is_good = True
    with tempfile.TemporaryDirectory() as folder:
        for reader in words[2:] or READERS:
            ends, found = run(reader, executions, start, Path(folder))
            total = ends["read"] + ends["refused"] + ends["findings"]
            print(f"{reader}: {total} texts, {dict(ends)}", flush=True)
            for what, text in found.items():
                is_good = False
                print(f"  {what}\n    {text!r}", flush=True)
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
