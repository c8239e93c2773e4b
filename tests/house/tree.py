"""The project's own files, as the house tests read them."""

import ast
import subprocess
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@cache
def kept_files() -> tuple[str, ...]:
    """Every file that git keeps or would keep, as paths from the top; skips outside a checkout."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    git = ("git", "-c", f"safe.directory={ROOT.as_posix()}")
    listing = subprocess.run(
        [*git, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    )
    names = listing.stdout.decode("utf-8").split("\0")
    return tuple(sorted({name for name in names if name and (ROOT / name).is_file()}))


@cache
def python_files(*folders: str) -> tuple[Path, ...]:
    """Every Python file under the folders of the project, in order."""
    return tuple(path for folder in folders for path in sorted((ROOT / folder).rglob("*.py")))


@cache
def syntax(path: Path) -> ast.Module:
    """The syntax tree of a Python file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def short(path: Path) -> str:
    """The path from the top of the project, with forward slashes."""
    return path.relative_to(ROOT).as_posix()


def module_name(path: Path) -> str:
    """The dotted name under which a file of the project is imported."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
