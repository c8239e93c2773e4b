"""A file is replaced as a whole, or stays as it was."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from cvlib.errors import InputError
from cvlib.files.disk import HALF, LOCK, locked
from cvlib.files.write import any_text, create_file, replace_file, rewrite_file, says

needs_links = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


def test_other_bytes_in_the_same_place(tmp_path: Path) -> None:
    """The new bytes stand in the file, its permissions stay, and nothing else is left behind."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    path.chmod(0o600)
    replace_file(path, b"new", b"old", any_text)
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


@needs_links
def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """Written through a link, the file behind it changes."""
    path, link = tmp_path / "loco.toml", tmp_path / "link.toml"
    path.write_bytes(b"old")
    link.symlink_to(path)
    replace_file(link, b"new", b"old", any_text)
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """What somebody else wrote after the file was read is not lost."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"theirs")
    with pytest.raises(InputError, match="changed by something else"):
        replace_file(path, b"new", b"old", any_text)
    assert path.read_bytes() == b"theirs"


@pytest.mark.parametrize("step", ["fsync", "fdopen", "utime"])
def test_a_full_disk_changes_nothing(
    step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever step the system refuses: the old bytes stay, and no second file does."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, refuse)
    with pytest.raises(InputError, match="No space left on device"):
        replace_file(path, b"new", b"old", any_text)
    monkeypatch.undo()
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing rights are told as such."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InputError, match="may not write this file or its folder"):
        replace_file(path, b"new", b"old", any_text)


def test_a_file_marked_read_only_is_refused(tmp_path: Path) -> None:
    """Also for those to whom the system would allow it."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    path.chmod(0o444)
    with pytest.raises(InputError, match="marked read-only"):
        replace_file(path, b"new", b"old", any_text)
    assert path.read_bytes() == b"old"
    path.chmod(0o644)


@needs_links
def test_a_file_of_somebody_else_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line names the owner."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    owner = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: owner + 1)
    with pytest.raises(InputError, match=rf"belongs to somebody else \(user {owner}\)"):
        replace_file(path, b"new", b"old", any_text)
    assert path.read_bytes() == b"old"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="needs two groups")
def test_the_group_stays(tmp_path: Path) -> None:
    """As far as the system lets us give a file to a group."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    os.chown(path, -1, 54321)
    path.chmod(0o660)
    replace_file(path, b"new", b"old", any_text)
    assert (path.stat().st_gid, stat.S_IMODE(path.stat().st_mode)) == (54321, 0o660)


@needs_links
def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    """Neither is what it leads to written, nor does anything new come to lie there."""
    outside = tmp_path / "outside"
    outside.mkdir()
    target = outside / "theirs.toml"
    target.write_bytes(b"old")
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "link.toml").symlink_to(target)
    (folder / "maker").symlink_to(outside)
    with pytest.raises(InputError, match="leads out of this folder"):
        replace_file(folder / "link.toml", b"new", b"old", any_text)
    with pytest.raises(InputError, match="leads out of this folder"):
        create_file(folder / "maker" / "new.toml", b"new", any_text, within=folder)
    assert target.read_bytes() == b"old"
    assert [one.name for one in outside.iterdir()] == ["theirs.toml"]


def test_what_says_something_else_is_not_written(tmp_path: Path) -> None:
    """A text that was made wrongly never comes into the file; 1, 1.0 and true are three."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"a = 1\n")
    for wrong in (b"a = 2\n", b"a = 1.0\n", b"a = true\n", b"a = [\n", b"a = 1\nb = 1\n"):
        with pytest.raises(InputError, match="does not say what was meant"):
            replace_file(path, wrong, b"a = 1\n", says({"a": 1}), cause="tidy")
    assert path.read_bytes() == b"a = 1\n"
    replace_file(path, b"# other words\na   =   1\n", b"a = 1\n", says({"a": 1}))
    assert list(tmp_path.iterdir()) == [path]


def test_a_new_file_is_never_put_over_another(tmp_path: Path) -> None:
    """What is there stays, and what was entered lies beside it, named in the line."""
    path = tmp_path / "new.toml"
    create_file(path, b"first", any_text)
    for number in ("", "-2"):
        name = f"new.toml.not-written{number}"
        with pytest.raises(InputError, match=rf"entered is in .*{name}\.$"):
            create_file(path, b"second", any_text, entered=b"typed")
        assert (tmp_path / name).read_bytes() == b"typed"
    assert path.read_bytes() == b"first"


def test_where_the_disk_knows_no_second_names_a_new_file_is_whole_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on memory cards: the file is moved to its name instead."""

    def refuse(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    create_file(tmp_path / "new.toml", b"first", any_text)
    with pytest.raises(InputError, match="of that name already"):
        create_file(tmp_path / "new.toml", b"second", any_text)
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"new.toml": b"first"}


def test_another_writer_is_waited_for_but_not_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its temporary file is not touched; afterwards the lock leaves no trace."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    theirs = tmp_path / f".loco.toml.1{HALF}"
    monkeypatch.setattr("cvlib.files.disk.PATIENCE", 0.05)
    with locked(tmp_path):
        theirs.write_bytes(b"half")
        with pytest.raises(InputError, match="another program is writing"):
            replace_file(path, b"new", b"old", any_text)
        assert theirs.read_bytes() == b"half"
    replace_file(path, b"new", b"old", any_text)
    assert list(tmp_path.iterdir()) == [path]


@needs_links
@pytest.mark.parametrize("kind", ["link", "pipe", "folder"])
def test_a_lock_that_somebody_planted_is_not_followed(tmp_path: Path, kind: str) -> None:
    """A link, a pipe or a folder in its place is refused at once, in one line."""
    path, lock = tmp_path / "loco.toml", tmp_path / LOCK
    path.write_bytes(b"old")
    if kind == "link":
        lock.symlink_to(path)
    elif kind == "pipe":
        os.mkfifo(lock)
    else:
        lock.mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        replace_file(path, b"new", b"old", any_text)
    assert path.read_bytes() == b"old"


def test_nothing_new_is_nothing_written(tmp_path: Path) -> None:
    """The time of the file stays, and no state is kept."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"old")
    before = path.stat().st_mtime_ns
    rewrite_file(path, lambda was: was, any_text, cause="check")
    assert path.stat().st_mtime_ns == before
    assert list(tmp_path.iterdir()) == [path]
