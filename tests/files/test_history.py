"""Former states of a file: kept with every write, listed, and put back."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from cvlib.errors import InputError
from cvlib.files.history import FOLDER, MOST, former_files, put_back
from cvlib.files.read.interface import loco_files
from cvlib.files.write import any_text, rewrite_file

needs_links = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A file in a folder of its own."""
    path = tmp_path / "locos" / "no-4.toml"
    path.parent.mkdir()
    path.write_bytes(b"1")
    return path


def write(path: Path, *texts: bytes, cause: str = "carry") -> None:
    """Write over a file, once for each text."""
    for text in texts:
        rewrite_file(path, lambda _, made=text: made, any_text, cause=cause)  # type: ignore[misc]


def kept(path: Path) -> list[bytes]:
    """The states that are kept."""
    return [one.path.read_bytes() for one in former_files(path)]


def test_every_write_keeps_what_was_there(file: Path) -> None:
    """Oldest first, each with the command that replaced it."""
    write(file, b"2", b"3")
    write(file, b"4", cause="check")
    assert kept(file) == [b"1", b"2", b"3"]
    assert [(one.number, one.cause) for one in former_files(file)] == [
        (1, "carry"),
        (2, "carry"),
        (3, "check"),
    ]
    assert all(one.until.endswith("Z") for one in former_files(file))


def test_the_last_twenty_are_kept(file: Path) -> None:
    """Numbers go on, so that each is of one state for ever."""
    write(file, *(str(number).encode() for number in range(2, 42)))
    assert len(kept(file)) == MOST
    assert [one.number for one in former_files(file)] == list(range(21, 41))
    assert kept(file)[-1] == b"40"


def test_back_goes_on_to_the_first_and_forth_again(file: Path) -> None:
    """Each step back is one state; the state before the first step is never lost."""
    write(file, b"2", b"1", b"2", b"5")
    found = []
    for _ in range(4):
        state, number = put_back(file)
        found.append((file.read_bytes(), state.number, number))
    assert found == [(b"2", 4, 5), (b"1", 3, 4), (b"2", 2, 3), (b"1", 1, 2)]
    with pytest.raises(InputError, match="oldest state"):
        put_back(file)
    put_back(file, 5)
    assert file.read_bytes() == b"5"
    put_back(file)
    assert file.read_bytes() == b"2"


def test_a_write_after_going_back_is_a_state_like_another(file: Path) -> None:
    """Going back from there gives what it replaced."""
    write(file, b"2", b"3")
    put_back(file)
    assert file.read_bytes() == b"2"
    write(file, b"4")
    put_back(file)
    assert file.read_bytes() == b"2"
    assert {b"1", b"2", b"3", b"4"} == set(kept(file))


def test_an_edit_by_hand_is_kept_by_the_next_step(file: Path) -> None:
    """Also where that is a step back."""
    write(file, b"2")
    file.write_bytes(b"by hand")
    put_back(file)
    assert file.read_bytes() == b"1"
    assert b"by hand" in kept(file)


def test_what_is_not_there_is_one_line(file: Path) -> None:
    """No state yet, and no state of that number."""
    with pytest.raises(InputError, match="no former state of this file"):
        put_back(file)
    write(file, b"2")
    with pytest.raises(InputError, match=r"no state 7\. Kept are 1"):
        put_back(file, 7)
    assert file.read_bytes() == b"2"


def test_a_check_of_the_folder_sees_one_file(file: Path) -> None:
    """Nor does git: the folder tells it to look at nothing."""
    write(file, b"2", b"3")
    assert loco_files(file.parent) == [file]
    assert [one for one in file.parent.rglob("*.toml") if one.is_file()] == [file]
    assert (file.parent / FOLDER / ".gitignore").read_text(encoding="utf-8") == "*\n"


@needs_links
@pytest.mark.parametrize("where", [FOLDER, f"{FOLDER}/history"])
def test_states_are_not_kept_over_a_link(file: Path, tmp_path: Path, where: str) -> None:
    """A folder that somebody planted leads nowhere; the file is left as it was."""
    outside = tmp_path / "outside"
    outside.mkdir()
    link = file.parent / where
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(outside)
    with pytest.raises(InputError, match="no folder of your own"):
        write(file, b"2")
    assert file.read_bytes() == b"1"
    assert list(outside.iterdir()) == []
