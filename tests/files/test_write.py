"""A file is replaced as a whole, or stays as it was."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from cvlib.errors import InputError
from cvlib.files.write import replace_file

needs_links = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


def test_other_bytes_in_the_same_place(tmp_path: Path) -> None:
    """The new bytes stand in the file, its permissions stay, and nothing else is left behind."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    path.chmod(0o600)
    replace_file(path, b"new", b"old")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


@needs_links
def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """Written through a link, the file behind it changes."""
    path, link = tmp_path / "loco.toml", tmp_path / "link.toml"
    path.write_bytes(b"old")
    link.symlink_to(path)
    replace_file(link, b"new", b"old")
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """What somebody else wrote after the file was read is not lost."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"theirs")
    with pytest.raises(InputError, match="changed by something else"):
        replace_file(path, b"new", b"old")
    assert path.read_bytes() == b"theirs"


@pytest.mark.parametrize("step", ["fsync", "fdopen"])
def test_a_full_disk_changes_nothing(
    step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever step the system refuses: the old bytes stay, and no second file does."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, refuse)
    with pytest.raises(InputError, match="No space left on device"):
        replace_file(path, b"new", b"old")
    monkeypatch.undo()
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing rights are told as such."""
    import tempfile

    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", refuse)
    with pytest.raises(InputError, match="may not write this file or its folder"):
        replace_file(path, b"new", b"old")
