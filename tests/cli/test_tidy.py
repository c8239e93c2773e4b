"""`cvlib tidy`: one layout, or a list of the files that do not have it."""

import os
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, program, run
from cvlib.files.store import Store

Capture = pytest.CaptureFixture[str]

UNTIDY = "format=2\ndecoder.id='a/b'  # who\n"
TIDY = 'format = 2\n\n[decoder]\nid = "a/b"  # who\n'


OLD = (ROOT / "tests" / "cases" / "format-1" / "ferrow" / "lark-8.toml").read_bytes()
"""A profile of format 1."""


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


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A profile of format 1, in a folder whose name has a space."""
    path = tmp_path / "my own" / "lark-8.toml"
    path.parent.mkdir()
    path.write_bytes(OLD)
    return path


def test_a_profile_of_format_1_is_not_tidy(old: Path, capsys: Capture) -> None:
    """--check says what would change, and how absences are kept; nothing is written."""
    assert run(["tidy", str(old), "--check"]) == 1
    told = capsys.readouterr().out
    assert "format 1 would become format 2." in told
    assert f"cvlib tidy '{old}' --whole handbook-1" in told or os.name == "nt"
    assert old.read_bytes() == OLD


def test_a_profile_of_format_1_is_brought_over(old: Path, capsys: Capture) -> None:
    """Few lines say what was done and how to see it; then the file is tidy and has no sure word
    of what no document names.
    """
    assert run(["tidy", str(old)]) == 0
    told = capsys.readouterr().out
    assert "54 places: the documents cited give the firmware." in told
    assert "handbook-1: 19: braking.options, braking.brake-lights, braking.profile, ..." in told
    assert f"git diff '{old}'" in told or os.name == "nt"
    assert len(told.splitlines()) <= 20
    assert run(["tidy", str(old), "--check"]) == 0
    assert 'extent = "whole"' not in old.read_text(encoding="utf-8")


def test_a_document_that_was_read_whole_keeps_its_silence(old: Path, capsys: Capture) -> None:
    """--whole writes it down, and what it does not list is still absent."""
    assert run(["tidy", str(old), "--whole", "handbook-1", "--whole", "handbook-2"]) == 0
    told = capsys.readouterr().out
    assert "handbook-1: " not in told
    assert "sheet-lamps: 1: lights.colour" in told
    assert old.read_text(encoding="utf-8").count('extent = "whole"') == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["FILE", "--whole", "handbok-1"], 'Did you mean "handbook-1"?'),
        (["FOLDER", "--whole", "handbook-1"], "Name one profile."),
        (["TIDY", "--whole", "handbook-1"], 'Write extent = "whole" at the source in the file.'),
    ],
)
def test_a_whole_document_that_cannot_be_meant_is_refused(
    old: Path, capsys: Capture, words: list[str], said: str
) -> None:
    """One line, and the file is as it was."""
    new = old.with_name("new.toml")
    new.write_text(TIDY, encoding="utf-8")
    spots = {"FILE": str(old), "FOLDER": str(old.parent), "TIDY": str(new)}
    code, lines = fails(capsys, "tidy", *(spots.get(word, word) for word in words))
    assert (code, len(lines)) == (2, 1)
    assert said in lines[0]
    assert old.read_bytes() == OLD


def test_a_faulty_profile_of_format_1_is_left_alone(old: Path, capsys: Capture) -> None:
    """Every fault is told with its line, and nothing is written."""
    faulty = OLD.replace(b'firmware = ">=4.0, <=4.3.9"', b'firmware = "about 4"')
    old.write_bytes(faulty)
    code, lines = fails(capsys, "tidy", str(old))
    assert code == 2
    assert len(lines) > 5
    assert all(line.startswith(f"cvlib: {old}:") for line in lines[:5])
    assert old.read_bytes() == faulty


def test_json_tells_what_changed(old: Path, capsys: Capture) -> None:
    """The data follows its schema."""
    code, data = json_of(capsys, "tidy", str(old))
    assert code == 0
    (file,) = data["files"]
    change = file["format_change"]
    assert (change["ranges"], change["followed"]) == (54, 13)
    assert list(change["lost_absences"]) == ["handbook-1", "handbook-2", "sheet-lamps"]


def test_the_loader_names_the_command(old: Path, tmp_path: Path, capsys: Capture) -> None:
    """A profile of format 1 is read by no other command; the line says what to type."""
    folder = tmp_path / "my own" / "ferrow"
    folder.mkdir()
    old.rename(folder / "lark-8.toml")
    code, lines = fails(capsys, "settings", "ferrow/lark-8", "--definitions", str(folder.parent))
    assert (code, len(lines)) == (2, 1)
    assert f"Run cvlib tidy '{folder / 'lark-8.toml'}' to bring it" in lines[0] or os.name == "nt"
    assert "ferrow/lark-8" in Store(folder.parent).ids()
