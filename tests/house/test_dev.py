"""tools/dev.py makes, mends or reuses its environment, and says what is wrong in one line."""

from pathlib import Path

import pytest

from tools import dev


@pytest.mark.parametrize(
    ("healthy", "stamp", "program", "todo"),
    [
        (True, "current", True, "reuse"),
        (True, "current", False, "install"),
        (True, "older pyproject", True, "install"),
        (True, None, True, "install"),
        (True, "other checkout", True, "make"),
        (True, "", True, "make"),
        (False, "current", True, "make"),
        (False, None, False, "make"),
    ],
)
def test_an_environment_is_made_mended_or_reused(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    healthy: bool,
    stamp: str | None,
    program: bool,
    todo: str,
) -> None:
    """A broken or moved environment is made anew, a stale one gets its packages again."""
    digest, checkout = dev.wanted_stamp().splitlines()
    texts = {
        "current": f"{digest}\n{checkout}\n",
        "older pyproject": f"0\n{checkout}\n",
        "other checkout": f"{digest}\n/elsewhere\n",
    }
    if stamp is not None:
        (tmp_path / dev.STAMP).write_text(texts.get(stamp, stamp), encoding="utf-8")
    monkeypatch.setattr(dev, "is_healthy", lambda _venv: healthy)
    monkeypatch.setattr(dev.shutil, "which", lambda *_, **__: "cvlib" if program else None)
    assert dev.what_to_do(tmp_path) == todo


def test_a_folder_without_python_is_not_healthy(tmp_path: Path) -> None:
    """An environment whose Python is gone is broken, not an error."""
    assert not dev.is_healthy(tmp_path)


def test_a_folder_that_holds_something_else_is_left_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the environment should go but other files lie: exit code 2, one line, files kept."""
    kept = tmp_path / "letters.txt"
    kept.write_text("dear", encoding="utf-8")
    monkeypatch.setenv("CVLIB_VENV", str(tmp_path))
    assert dev.main(["setup"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert kept.read_text(encoding="utf-8") == "dear"


@pytest.mark.parametrize(
    ("output", "part"),
    [
        ("WARNING: Retrying after NewConnectionError('x')\nERROR: y", "connect to the network"),
        ("ERROR: no version\nERROR: No matching distribution found for typer", "for typer; check"),
        ("error: x\n   ERROR: No matching distribution found for y\nerror: x", "for y; check"),
        ("error: externally-managed-environment\n", "externally-managed-environment"),
        ("", "gave no reason"),
    ],
)
def test_a_failed_installation_is_told_in_one_line(output: str, part: str) -> None:
    """The cause stands in the line; where it is the network, so does what to do."""
    line = dev.why_pip_failed(output)
    assert part in line
    assert "\n" not in line


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        (["dmeo"], "nearest: demo"),
        (["x"], "commands: demo, test"),
        (["demo", "--fast"], 'found "--fast"'),
    ],
)
def test_a_mistyped_command_gets_the_nearest_right_one(
    typed: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong use is exit code 2 and one line, before anything is installed."""
    assert dev.main(typed) == 2
    said = capsys.readouterr().err
    assert part in said
    assert said.count("\n") == 1
