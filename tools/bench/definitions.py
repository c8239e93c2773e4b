"""How long the lint of many definitions takes, beside parsing them and checking their shape alone.

Writes generated profiles of invented makers into a folder of its own, then measures, each in a
fresh process: `tomllib` reading every file, `check-jsonschema` holding every profile against
docs/schema/profile.schema.json, and `cvlib lint`, with nothing compiled and with everything
compiled. The commands take turns; the medians count only where the machine is quiet.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

from tools.bench.cold import ROOT, BenchError, Case, measure, positive
from tools.bench.made_text import made_files

SCHEMA = ROOT / "docs" / "schema" / "profile.schema.json"
SHIPPED = ROOT / "definitions"
PARSE = """
import pathlib, sys, tomllib
for name in sys.argv[1:]:
    tomllib.loads(pathlib.Path(name).read_text(encoding="utf-8"))
"""
FOUND = (0, 1)
"""Exit codes of a lint that did its work."""


def program(name: str) -> str | None:
    """The program of that name in this Python's environment; nothing where it is missing."""
    return shutil.which(name, path=str(Path(sys.executable).parent))


def write(folder: Path, count: int, seed: int) -> list[str]:
    """Write generated definitions; their names in the folder."""
    names = []
    for name, text in made_files(count, seed):
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
        names.append(name)
    return names


def is_profile(name: str) -> bool:
    """Whether a file holds a profile, not shared blocks."""
    return not name.endswith("/blocks.toml")


def cases(folder: Path, names: list[str]) -> list[tuple[Case, int]]:
    """The measured commands, the parser first, each with how many profiles it looks at.

    Lint looks at the shipped profiles too.
    """
    cvlib, checker = program("cvlib"), program("check-jsonschema")
    if cvlib is None:
        raise BenchError("cvlib is not beside this Python; run python3 tools/dev.py bench")
    profiles = [name for name in names if is_profile(name)]
    made = len(profiles)
    shipped = sum(is_profile(path.as_posix()) for path in SHIPPED.glob("*/*.toml"))
    found = [(Case("tomllib", [sys.executable, "-c", PARSE, *names], None), made)]
    if checker is None:
        install = f'{sys.executable} -m pip install -e "{ROOT}[bench]"'
        print(f"check-jsonschema is not measured; to install it: {install}", file=sys.stderr)
    else:
        command = [checker, "--schemafile", str(SCHEMA), *profiles]
        found.append((Case("check-jsonschema", command, None), made))
    lint = [cvlib, "lint", "--definitions", str(folder)]
    empty = Case("cvlib lint, nothing compiled", lint, None, FOUND, empty_cache=True)
    return [
        *found,
        (empty, made + shipped),
        (Case("cvlib lint, all compiled", lint, None, FOUND), made + shipped),
        (Case("the same, shipped ones alone", [cvlib, "lint"], None, FOUND), shipped),
    ]


def run(measured: list[Case], runs: int, folder: Path, cache: Path) -> None:
    """Measure every case so often, in turns, after one run each that does not count."""
    cache.mkdir()
    for case in measured:
        measure(case, cache, folder)
    for _ in range(runs):
        for case in measured:
            case.seconds.append(measure(case, cache, folder))


def report(measured: list[tuple[Case, int]]) -> str:
    """The table of medians in seconds, fastest and slowest run, and ratio to the parser."""
    base = measured[0][0].median
    width = max(len(case.name) for case, _ in measured)
    head = f"{'median':>8}  {'fastest':>7}  {'slowest':>7}  {'ratio':>5}  {'profiles/s':>10}"
    lines = [f"{'':{width}}  {head}"]
    for case, profiles in measured:
        median, low, high = case.median, min(case.seconds), max(case.seconds)
        lines.append(
            f"{case.name:{width}}  {median:6.2f} s  {low:7.2f}  {high:7.2f}"
            f"  {median / base:5.1f}  {profiles / median:10.0f}"
        )
    return "\n".join(lines)


def quietness() -> str:
    """How busy the machine is, where the system tells; the bench itself keeps one core busy."""
    cores = os.cpu_count() or 1
    if not hasattr(os, "getloadavg"):
        return f"{cores} cores; figures count on a quiet machine only"
    load = os.getloadavg()[0]
    verdict = "quiet" if load < 1.3 else "not quiet, so the figures are too high"
    return f"{cores} cores, load {load:.1f} at the end: {verdict}"


def main() -> int:
    """Measure and print; 0 when every command ran, 2 when one did not, 130 when stopped."""
    parser = argparse.ArgumentParser(prog="tools/bench/definitions.py", description=__doc__)
    parser.add_argument("--profiles", type=positive, default=200, help="profiles made (200)")
    parser.add_argument("--runs", type=positive, default=5, help="runs of each command (5)")
    parser.add_argument("--seed", type=int, default=1, help="another seed, other profiles (1)")
    parser.add_argument("--keep", type=Path, help="write the profiles there and measure nothing")
    options = parser.parse_args()
    try:
        if options.keep is not None:
            write(options.keep, options.profiles, options.seed)
            return 0
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as held:
            folder = Path(held) / "store"
            names = write(folder, options.profiles, options.seed)
            size = sum((folder / name).stat().st_size for name in names)
            blocks = len(names) - options.profiles
            print(f"{options.profiles} profiles and {blocks} files of blocks, {size:,} bytes")
            measured = cases(folder, names)
            run([case for case, _ in measured], options.runs, folder, Path(held) / "cache")
    except BenchError as fault:
        print(f"definitions.py: {fault}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    print(f"Python {sys.version.split()[0]} on {sys.platform}, {quietness()}")
    print(f"{options.runs} runs of each, in turns; wall time of a fresh process")
    print(report(measured))
    return 0


if __name__ == "__main__":
    sys.exit(main())
