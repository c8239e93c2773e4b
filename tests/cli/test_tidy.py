"""`cvlib tidy`: one layout, or a list of the files that do not have it."""

import os
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, program, run

Capture = pytest.CaptureFixture[str]

UNTIDY = "format=1\ndecoder.id='a/b'  # who\n"
TIDY = 'format = 2\n\n[decoder]\nid = "a/b"  # who\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one file that is tidy and one that is not."""
    (tmp_path / "one.toml").write_text(UNTIDY, encoding="utf-8")
    (tmp_path / "two.toml").write_text(TIDY, encoding="utf-8")
    return tmp_path


def test_check_lists_what_is_not_tidy_and_changes_nothing(folder: Path, capsys: Capture) -> None:
    """Exit code 1; a second run after tidying gives 0."""
    assert run(["tidy", str(folder), "--check"]) == 1
    told = capsys.readouterr().out.splitlines()
    assert told == [str(folder / "one.toml"), "", "1 file not tidy, 2 files looked at."]
    assert (folder / "one.toml").read_text(encoding="utf-8") == UNTIDY
    assert run(["tidy", str(folder)]) == 0
    assert (folder / "one.toml").read_text(encoding="utf-8") == TIDY
    assert run(["tidy", str(folder), "--check"]) == 0
    assert capsys.readouterr().out.endswith("Every file is tidy, 2 files looked at.\n")


def test_json_tells_each_file(folder: Path, capsys: Capture) -> None:
    """The data follows its schema."""
    code, data = json_of(capsys, "tidy", str(folder), "--check")
    assert code == 1
    assert [one["was_tidy"] for one in data["files"]] == [False, True]
    assert (data["check"], data["faults"]) == (True, [])


def test_a_folder_of_definitions_is_tidied_without_a_path(folder: Path, capsys: Capture) -> None:
    """--definitions, or the variable, says which; the shipped ones are left alone."""
    assert run(["tidy", "--definitions", str(folder), "--check"]) == 1
    assert capsys.readouterr().out.startswith(str(folder))
    told = program("tidy", "--check", CVLIB_DEFINITIONS=str(folder))
    assert told.stdout.startswith(str(folder))


def test_a_broken_file_is_told_and_the_others_are_tidied(folder: Path, capsys: Capture) -> None:
    """Exit code 2, one line with file, line and column."""
    (folder / "bad.toml").write_text("[decoder", encoding="utf-8")
    assert run(["tidy", str(folder)]) == 2
    assert capsys.readouterr().err.startswith(f"cvlib: {folder / 'bad.toml'}:1:9: ")
    assert (folder / "one.toml").read_text(encoding="utf-8") == TIDY


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anything")
def test_a_file_that_may_not_be_written_stays(folder: Path, capsys: Capture) -> None:
    """One line says so, and nothing is left beside it."""
    folder.chmod(0o555)
    try:
        assert run(["tidy", str(folder)]) == 2
    finally:
        folder.chmod(0o755)
    assert "may not write" in capsys.readouterr().err
    assert len(list(folder.iterdir())) == 2


def test_a_path_that_is_not_there_is_told(capsys: Capture) -> None:
    """Nothing is tidied then."""
    code, lines = fails(capsys, "tidy", "nowhere")
    assert (code, len(lines)) == (2, 1)
    assert "nowhere" in lines[0]


def test_the_definitions_of_the_project_are_tidy() -> None:
    """What the continuous checks run says so too."""
    told = program("tidy", "--check")
    assert (told.returncode, told.stderr) == (0, ""), told.stdout
    assert (ROOT / "definitions").is_dir()


def test_nothing_is_tidied_inside_an_installed_program(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a path or a folder of one's own there is nothing to do, and one line says so."""
    monkeypatch.setattr("cvlib.files.tidy.is_installed", lambda: True)
    monkeypatch.delenv("CVLIB_DEFINITIONS", raising=False)
    code, lines = fails(capsys, "tidy")
    assert code == 2
    assert "--definitions" in lines[0]
