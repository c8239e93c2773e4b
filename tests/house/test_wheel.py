"""A wheel carries everything an installed cvlib needs."""

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from house.tree import ROOT

pytestmark = pytest.mark.slow

CARRIED = {
    "definitions": "cvlib/_data/definitions",
    "docs/findings": "cvlib/_data/docs/findings",
    "docs/lint": "cvlib/_data/docs/lint",
    "docs/schema": "cvlib/_data/docs/schema",
}
"""Folders of the checkout and where the wheel has them."""


@dataclass(frozen=True)
class Installed:
    """A wheel in an environment of its own, and an empty folder to run it from."""

    python: Path
    package: Path
    empty: Path

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run `python -m cvlib` in the empty folder, with an empty cache and no other store."""
        foreign = {"PYTHONPATH", "PYTHONHOME", "CVLIB_DEFINITIONS"}
        env = {key: value for key, value in os.environ.items() if key not in foreign}
        env |= {"PYTHONUTF8": "1", "NO_COLOR": "1"}
        for name in ("HOME", "USERPROFILE", "LOCALAPPDATA", "XDG_CACHE_HOME"):
            env[name] = str(self.empty.parent)
        return subprocess.run(
            [str(self.python), "-m", "cvlib", *arguments],
            cwd=self.empty,
            env=env,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )


def must_run(*command: str | Path, cwd: Path = ROOT) -> None:
    """Run a command of the set-up; its output is the message where it fails."""
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    assert done.returncode == 0, done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from a copy of the checkout's files."""
    folder = tmp_path_factory.mktemp("wheel")
    must_run(
        *(sys.executable, "-m", "build", "--wheel", "--no-isolation"),
        *("--outdir", folder, ROOT),
        cwd=folder,
    )
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """The wheel in a fresh environment that borrows only third-party packages.

    The path file lists one folder; path files inside that folder are not followed, so that the
    checkout itself is out of reach.
    """
    folder = tmp_path_factory.mktemp("installed")
    must_run(sys.executable, "-m", "venv", "--without-pip", folder / "venv")
    windows = os.name == "nt"
    python = folder / "venv" / ("Scripts/python.exe" if windows else "bin/python")
    version = f"python{sys.version_info[0]}.{sys.version_info[1]}"
    lib = Path("Lib") if windows else Path("lib", version)
    packages = folder / "venv" / lib / "site-packages"
    borrowed = sysconfig.get_path("purelib") + "\n"
    (packages / "borrowed.pth").write_text(borrowed, encoding="utf-8")
    must_run(
        *(sys.executable, "-m", "pip", "--python", python, "install"),
        *("--quiet", "--no-deps", "--no-index", "--disable-pip-version-check", wheel),
        cwd=folder,
    )
    (folder / "empty").mkdir()
    return Installed(python, packages / "cvlib", folder / "empty")


@pytest.mark.parametrize("folder", CARRIED)
def test_the_wheel_has_each_data_file_unchanged(wheel: Path, folder: str) -> None:
    """Each file of a carried folder is in the wheel, byte for byte."""
    with zipfile.ZipFile(wheel) as archive:
        inside = {
            name.removeprefix(CARRIED[folder] + "/"): archive.read(name)
            for name in archive.namelist()
            if name.startswith(CARRIED[folder] + "/")
        }
    outside = {
        path.relative_to(ROOT / folder).as_posix(): path.read_bytes()
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
    }
    assert outside
    assert inside == outside


def test_the_wheel_is_typed_and_holds_no_tests(wheel: Path) -> None:
    """The wheel has the mark of a typed package, and only the package and its metadata."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert "cvlib/py.typed" in names
    assert {name.partition("/")[0].partition("-")[0] for name in names} == {"cvlib", "dcc_cvlib"}


def test_an_installed_wheel_reads_its_own_definitions(installed: Installed) -> None:
    """From an empty folder `profiles` lists the shipped store, and nothing once that is gone."""
    listed = installed.run("profiles", "--format", "json")
    assert listed.returncode == 0, listed.stderr
    assert json.loads(listed.stdout)
    assert "ferrow/lark-8" in listed.stdout
    shutil.move(installed.package / "_data" / "definitions", installed.empty.parent / "away")
    try:
        assert "ferrow/lark-8" not in installed.run("profiles", "--format", "json").stdout
    finally:
        shutil.move(installed.empty.parent / "away", installed.package / "_data" / "definitions")


def test_an_installed_wheel_checks_values_and_explains(installed: Installed) -> None:
    """From an empty folder `check` and `explain` answer with the shipped profiles and pages."""
    checked = installed.run(
        *("check", "--profile", "ferrow/lark-8", "--firmware", "2.9.201", "27=3", "141=40")
    )
    assert checked.returncode in (0, 1), checked.stderr
    for asked in ("29=38", "older-only", "claimed-twice"):
        explained = installed.run("explain", asked)
        assert explained.returncode == 0, explained.stderr
        assert explained.stdout.strip()
