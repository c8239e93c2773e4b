"""Whatever lies in a folder of definitions: lint says it in one line and goes on."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.json_output import json_of

Capture = pytest.CaptureFixture[str]

GOOD = """format = 2
[decoder]
id = "gulls/good"
maker = "Gulls"
name = "Good"
kind = "motor"
[identity]
manufacturer = 99
[firmware]
scheme = "number"
parts = [{ cv = 7 }]
[[firmware.release]]
version = "1"
[[source]]
id = "sheet"
kind = "document"
title = "Sheet"
date = 2020-01-01
firmware = "==1"
[[setting]]
id = "speed.top"
title = "Top speed"
place = [{ cv = 5, kind = "number", default = 900, sources = ["sheet:1"] }]
"""
"""A profile with one fault, which must be told whatever lies beside it."""


ODD: dict[str, tuple[Callable[[Path], object], str]] = {
    "an empty file": (lambda path: path.write_bytes(b""), '"decoder" is missing'),
    "no text": (lambda path: path.write_bytes(bytes(range(256)) * 9), "not a text file"),
    "half a character": (lambda path: path.write_bytes(b"\xff\xfe[\0d\0"), "in UTF-16"),
    "prose": (lambda path: path.write_text("Dear reader"), "no equals sign"),
    "much too large": (lambda path: path.write_bytes(b"#" * (5 << 20)), "larger than"),
    "deep lists": (lambda path: path.write_text("a = " + "[\n" * 9_000), "too deeply"),
    "deep tables": (lambda path: path.write_text("a = " + "{a=" * 3000), "too deeply"),
    "long headings": (lambda path: path.write_text(f"[{'.'.join('a' * 5000)}]"), "too deeply"),
    "newer format": (lambda path: path.write_text("format = 99\n"), "newer format"),
    "wrong shapes": (
        lambda path: path.write_text("decoder = 3\nfirmware = []\n"),
        "must be a table",
    ),
    "a folder": (lambda path: path.mkdir(), "this is a folder"),
    "a link to itself": (lambda path: path.symlink_to(path.name), "cannot be read"),
    "a link to nothing": (lambda path: path.symlink_to("nowhere.toml"), "there is no such file"),
}


def test_odd_files_are_told_and_hide_no_other(tmp_path: Path, capsys: Capture) -> None:
    """Each is named with what is wrong, and the fault of the file beside them is found."""
    maker = tmp_path / "gulls"
    maker.mkdir()
    (maker / "good.toml").write_text(GOOD, encoding="utf-8")
    for number, (make, _) in enumerate(ODD.values()):
        try:
            make(maker / f"odd-{number}.toml")
        except OSError:  # no links can be made here
            assert os.name == "nt"
    code, data = json_of(capsys, "lint", "--definitions", str(tmp_path))
    assert code == 1
    told: dict[str, list[str]] = {}
    for one in data["messages"]:
        told.setdefault(Path(one["file"]).name, []).append(one["problem"])
    for number, (name, (_, words)) in enumerate(ODD.items()):
        if os.path.lexists(maker / f"odd-{number}.toml"):
            assert any(words in one for one in told[f"odd-{number}.toml"]), name
    assert told["good.toml"]


@pytest.mark.parametrize(
    "data",
    [GOOD.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + GOOD.encode()],
    ids=["Windows line ends", "a byte-order mark"],
)
def test_how_an_editor_saves_a_file_is_no_fault(
    data: bytes, tmp_path: Path, capsys: Capture
) -> None:
    """The same is found, at the same line and column."""
    spots = []
    for content in (GOOD.encode(), data):
        path = tmp_path / "gulls" / "good.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        _, told = json_of(capsys, "lint", "--definitions", str(tmp_path), str(path))
        spots.append([(one["code"], one["line"], one["column"]) for one in told["messages"]])
    assert spots[0] == spots[1] != []


def test_a_closed_folder_is_told(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Profiles in it are not passed over in silence; whether it is in the store or named."""
    (tmp_path / "gulls").mkdir()
    (tmp_path / "gulls" / "good.toml").write_text(GOOD, encoding="utf-8")
    closed = tmp_path / "terns"
    closed.mkdir()
    # The owner of the machine may look into every folder.
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != closed)
    for named in ([], [str(tmp_path)]):
        code, data = json_of(capsys, "lint", "--definitions", str(tmp_path), *named)
        told = {Path(one["file"]).name: one["problem"] for one in data["messages"]}
        assert code == 1
        assert told["terns"] == "you may not look into this folder."
        assert "good.toml" in told


def test_an_empty_folder_is_not_the_whole_store(tmp_path: Path, capsys: Capture) -> None:
    """Where a folder is named that holds nothing, nothing else is looked at in its place."""
    code, data = json_of(capsys, "lint", str(tmp_path))
    assert (code, data["profiles"], data["files"]) == (0, 0, 0)
