"""Two processes that write to one file at the same time, over and over.

``raced.py merging FOLDER ROUNDS``: both add an answer to a file of answers, as it stands.
``raced.py refusing FOLDER ROUNDS``: both read a loco file, then both write a reading into it.
Prints rounds, writes that are gone, files that cannot be read, writes that are gone although the
process said that they were made, and writes that were refused aloud.
"""

from __future__ import annotations

import os
import sys
from datetime import date
from pathlib import Path

from cvlib.engine.bench.weigh import Read
from cvlib.errors import InputError
from cvlib.files.answers import keep_answers, read_answers
from cvlib.files.edit_readings import NewReadings, keep_readings
from cvlib.files.read.interface import read_file
from cvlib.model.cv import Slot

LOCO = 'format = 1\n[loco]\nname = "No. 9"\n[[decoder]]\nfirmware = "1"\n'


def write(kind: str, path: Path, cv: int, value: int, seen: str) -> None:
    """Put one value into the file."""
    if kind == "merging":
        keep_answers(path, [Read(Slot(cv), value)], "cvlib probe")
    else:
        found = NewReadings(0, "", "1", {Slot(cv): value}, (), date(2026, 3, 14), "")
        keep_readings(path, found, seen)


def values(kind: str, path: Path) -> dict[int, int]:
    """The values that the file holds."""
    if kind == "merging":
        found = read_answers(path)
        return {read.slot.cv: read.answer for read in found if isinstance(read, Read)}
    return {slot.cv: held.value for slot, held in read_file(path).decoders[0].values.items()}


def forked(work: tuple[str, Path, int, int, str], gate: int) -> int:
    """The process that writes once the gate opens; it ends with 0, or with 2 where refused."""
    child = os.fork()
    if child == 0:
        os.read(gate, 1)
        try:
            write(*work)
        except InputError:
            os._exit(2)
        except BaseException:  # noqa: BLE001 -- the parent sees the code
            os._exit(3)
        os._exit(0)
    return child


def main() -> None:
    """Run the rounds and count."""
    kind, folder, rounds = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    path = folder / ("bench.txt" if kind == "merging" else "loco.toml")
    path.write_text("8 = 13\n" if kind == "merging" else LOCO, encoding="utf-8")
    lost = half = silent = refused = 0
    for number in range(rounds):
        seen = "" if kind == "merging" else read_file(path).digest
        gate, opener = os.pipe()
        cvs = (1 + number % 200, 501 + number % 200)
        children = [forked((kind, path, cv, number % 256, seen), gate) for cv in cvs]
        os.write(opener, b"..")
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        os.close(gate)
        os.close(opener)
        refused += codes.count(2)
        silent += sum(code not in (0, 2) for code in codes)
        try:
            there = values(kind, path)
        except InputError:
            half += 1
            continue
        for cv, code in zip(cvs, codes, strict=True):
            lost += code == 0 and there.get(cv) != number % 256
    sys.stdout.write(f"{rounds} {lost} {half} {silent} {refused}")


if __name__ == "__main__":
    main()
