"""The rooms import one way, and no module is dead."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from house.tree import ROOT, module_name, python_files, syntax

LAYERS = ["cli", "api", "files | render", "engine", "findings", "model", "errors"]
ENGINE = ["explain", "lint | change", "trial", "bench | compare", "carry", "account", "known"]
PURE = ["cvlib.errors", "cvlib.model", "cvlib.findings", "cvlib.engine"]
OUT_OF_REACH = {
    *("pydantic", "rich", "typer", "lxml", "jsonschema", "tomlkit"),
    *("subprocess", "pathlib", "os", "io"),
}
LINT_IMPORTS = "from importlinter.cli import lint_imports_command as run; run()"
STARTS = {"cvlib", "cvlib.__main__", "cvlib.files.shapes.schema"}
"""Modules that Python itself or the installed command imports, or that are started by name."""


def imported_names(path: Path) -> Iterator[str]:
    """Every dotted name that a file may import, also inside functions and by name at run time."""
    name = module_name(path)
    package = name if path.stem == "__init__" else name.rpartition(".")[0]
    for node in ast.walk(syntax(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1]
            base = ".".join([*(above if node.level else []), *filter(None, [node.module])])
            yield base
            yield from (f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def test_the_import_contracts_hold() -> None:
    """import-linter, with the contracts of pyproject.toml, keeps all and breaks none."""
    done = subprocess.run(
        [sys.executable, "-c", LINT_IMPORTS, "--no-cache", "--no-logo"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "3 kept, 0 broken" in done.stdout


def test_the_contracts_are_the_whole_ones() -> None:
    """The contracts allow no exceptions: all rooms, all outside modules, nothing ignored."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        linter = tomllib.load(file)["tool"]["importlinter"]
    layers, engine, forbidden = linter["contracts"]
    assert linter["include_external_packages"] is True
    assert layers["layers"] == LAYERS
    assert layers["containers"] == ["cvlib"]
    assert layers["exhaustive"] is True
    assert layers["exhaustive_ignores"] == ["__main__"]
    assert engine["layers"] == ENGINE
    assert engine["containers"] == ["cvlib.engine"]
    assert engine["exhaustive"] is True
    assert forbidden["source_modules"] == PURE
    assert set(forbidden["forbidden_modules"]) == OUT_OF_REACH
    assert "ignore_imports" not in layers | engine | forbidden


def test_every_module_is_imported_by_another() -> None:
    """No module of cvlib is there without another module of cvlib or tools that imports it."""
    modules = {module_name(path) for path in python_files("cvlib")}
    imported: set[str] = set()
    for path in python_files("cvlib", "tools"):
        imported |= set(imported_names(path)) - {module_name(path)}
    packages = {name.rpartition(".")[0] for name in modules}
    assert sorted(modules - imported - packages - STARTS) == []
