"""How long a cold start of cvlib takes, beside the imports that any such program pays for.

Prints the median wall time of each command and its ratio to
`python -c "import typer, rich.console, rich.table"` in the same environment. The commands take
turns, so that a busy moment of the machine falls on all of them alike.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
LOCO = ROOT / "definitions" / "fleet" / "saltmarsh" / "04-marsh-harrier.toml"
YARDSTICK = "import typer, rich.console, rich.table"


class BenchError(Exception):
    """A measured command cannot be run; the text is one line that says which and why."""


@dataclass
class Case:
    """One measured command."""

    name: str
    command: list[str]
    limit: float | None
    """Greatest allowed ratio to the yardstick, or None where nothing is demanded."""
    good: tuple[int, ...] = (0,)
    """Exit codes that mean the command did its work; 1 where findings are expected."""
    empty_cache: bool = False
    """Whether each run gets a cache folder that nothing was ever written to."""
    seconds: list[float] = field(default_factory=list)

    @property
    def median(self) -> float:
        """Median wall time in seconds."""
        return statistics.median(self.seconds)


def cases(loco: Path) -> list[Case]:
    """The measured commands, the yardstick first."""
    program = shutil.which("cvlib", path=str(Path(sys.executable).parent))
    if program is None:
        raise BenchError(
            "cvlib is not installed beside this Python; run python3 tools/dev.py bench"
        )
    check = [program, "check", str(loco)]
    return [
        Case("yardstick: typer, rich.console, rich.table", [sys.executable, "-c", YARDSTICK], None),
        Case("cvlib --version", [program, "--version"], 1.0),
        Case("cvlib --help", [program, "--help"], 1.0),
        Case("cvlib check LOCO", check, 2.0, (0, 1)),
        Case("cvlib check LOCO, empty cache", check, None, (0, 1), empty_cache=True),
    ]


def environment(cache: Path) -> dict[str, str]:
    """The variables of a measured run: its caches lie in `cache`, never in the person's own.

    Python may keep the compiled form of modules, as it does for people; the first run, which does
    not count, writes it.
    """
    left_out = ("FORCE_COLOR", "PYTHONDONTWRITEBYTECODE", "CVLIB_CACHE", "CVLIB_DEFINITIONS")
    env = {key: value for key, value in os.environ.items() if key not in left_out}
    env["NO_COLOR"] = "1"
    for name in ("HOME", "USERPROFILE", "LOCALAPPDATA", "XDG_CACHE_HOME"):
        env[name] = str(cache)
    return env


def measure(case: Case, shared_cache: Path, cwd: Path) -> float:
    """Wall time of one run in seconds; raises BenchError when the command fails."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as fresh:
        env = environment(Path(fresh) if case.empty_cache else shared_cache)
        start = time.perf_counter()
        done = subprocess.run(
            case.command,
            cwd=cwd,
            env=env,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
        )
        taken = time.perf_counter() - start
    if done.returncode not in case.good:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        why = said[-1] if said else "nothing on stderr"
        raise BenchError(f"{case.name}: exit code {done.returncode}: {why}")
    return taken


def run(measured: list[Case], runs: int) -> None:
    """Measure every case `runs` times in turns, after one run each that does not count."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        cache, cwd = Path(folder) / "cache", Path(folder) / "empty"
        cache.mkdir()
        cwd.mkdir()
        for case in measured:
            measure(case, cache, cwd)
        for _ in range(runs):
            for case in measured:
                case.seconds.append(measure(case, cache, cwd))


def report(measured: list[Case]) -> str:
    """The table of medians in milliseconds, fastest and slowest run, ratio and limit."""
    base = measured[0].median
    width = max(len(case.name) for case in measured)
    lines = [f"{'':{width}}  {'median':>9}  {'fastest':>8}  {'slowest':>8}  {'ratio':>5}  limit"]
    for case in measured:
        ratio = case.median / base
        verdict = ""
        if case.limit is not None:
            verdict = f"{case.limit:.1f} {'kept' if ratio <= case.limit else 'EXCEEDED'}"
        low, high = min(case.seconds), max(case.seconds)
        lines.append(
            f"{case.name:{width}}  {case.median * 1000:6.1f} ms  {low * 1000:8.1f}"
            f"  {high * 1000:8.1f}  {ratio:5.2f}  {verdict}".rstrip()
        )
    return "\n".join(lines)


def positive(text: str) -> int:
    """A count of runs; raises ValueError below 1."""
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number


def main() -> int:
    """Measure and print; 0 when every command ran, whatever the ratios, and 2 when one did not."""
    parser = argparse.ArgumentParser(prog="tools/bench/cold.py", description=__doc__)
    parser.add_argument("--runs", type=positive, default=31, help="runs of each command (31)")
    parser.add_argument("--loco", type=Path, default=LOCO, help="the loco file that is checked")
    options = parser.parse_args()
    try:
        measured = cases(options.loco.resolve())
        run(measured, options.runs)
    except BenchError as fault:
        print(f"cold.py: {fault}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    print(f"Python {sys.version.split()[0]} on {sys.platform}, {os.cpu_count()} cores")
    print(f"{options.runs} runs of each, in turns; wall time in milliseconds")
    print(report(measured))
    return 0


if __name__ == "__main__":
    sys.exit(main())
