"""`cvlib profiles`: what the store holds."""

import shutil
import sys
from pathlib import Path

import pytest

from cli.json_output import json_of
from cli.run_cvlib import ROOT, STORE, program, run
from cvlib.files.store import Store

Capture = pytest.CaptureFixture[str]


def test_every_file_of_the_store_is_a_profile_in_the_list(capsys: Capture) -> None:
    """One row for each file, blocks apart, by id."""
    code, data = json_of(capsys, "profiles")
    files = (ROOT / "definitions").glob("*/*.toml")
    ids = {f"{path.parent.name}/{path.stem}" for path in files if path.parent.name != "fleet"}
    assert code == 0
    assert [one["id"] for one in data["profiles"]] == sorted(
        id for id in ids if not id.endswith("/blocks")
    )
    assert all(one["fault"] is None for one in data["profiles"])


def test_a_row_tells_firmware_and_releases(capsys: Capture) -> None:
    """Documented firmware as a range, releases as written."""
    _, data = json_of(capsys, "profiles", "--definitions", str(STORE), "plover")
    (row,) = data["profiles"]
    assert row["id"] == "ferrow/plover"
    assert (row["maker"], row["name"], row["kind"], row["scheme"]) == (
        *("Ferrow", "Plover", "motor", "dotted"),
    )
    assert row["covered"] == ">=1.0, <2.0 or >=3.0, <4.0 or >=5.0, <=5.2"
    assert row["releases"] == ["1.2", "2.5", "3.1", "5.0"]
    run(["profiles", "--definitions", str(STORE), "plover"])
    assert "1.0 to 5.2, 2 gaps" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        (["lark"], ["ferrow/lark-8", "ferrow/lark-8-mk2"]),
        (["FERROW", "accessory"], ["ferrow/signalbox-4"]),
        (["4.4.2"], ["ferrow/lark-8"]),
        (["no such thing"], []),
    ],
)
def test_words_narrow_the_list(words: list[str], ids: list[str], capsys: Capture) -> None:
    """All the words must stand in what the row tells."""
    code, data = json_of(capsys, "profiles", *words)
    assert (code, [one["id"] for one in data["profiles"]]) == (0, ids)


def test_a_file_that_cannot_be_read_does_not_hide_the_others(
    tmp_path: Path, capsys: Capture
) -> None:
    """It is listed with its fault, and the exit code is 2."""
    store = tmp_path / "store"
    shutil.copytree(STORE, store)
    (store / "ferrow" / "gull.toml").write_text("format = \n", encoding="utf-8")
    code, data = json_of(capsys, "profiles", "--definitions", str(store), "ferrow/")
    faults = {one["id"]: one["fault"] for one in data["profiles"] if one["fault"]}
    assert code == 2
    assert list(faults) == ["ferrow/gull"]
    assert "gull.toml:1:" in faults["ferrow/gull"]
    assert len(data["profiles"]) > 1
    run(["profiles", "--definitions", str(store), "gull"])
    assert "cannot be read" in capsys.readouterr().out


def test_no_file_is_read_twice(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """The list reads each file once and looks at no settings."""
    from cvlib.files import store as files

    seen: list[Path] = []

    def counted(path: Path) -> bytes:
        seen.append(path)
        return path.read_bytes()

    monkeypatch.setattr(files, "read_bytes", counted)
    monkeypatch.setattr(Store, "profile", lambda *_: pytest.fail("a profile was loaded"))
    run(["profiles"])
    assert len(seen) == len(set(seen)) > 10


def test_many_profiles_tell_a_terminal_that_they_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Only a terminal, only of many, and only on the error stream."""
    (tmp_path / "ferrow").mkdir()
    text = (STORE / "ferrow" / "plover.toml").read_text(encoding="utf-8")
    for number in range(101):
        named = text.replace("ferrow/plover", f"ferrow/p{number}")
        (tmp_path / "ferrow" / f"p{number}.toml").write_text(named, encoding="utf-8")
    words = ["profiles", "--definitions", str(tmp_path), "plover"]
    run(words)
    quiet = capsys.readouterr()
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    run(words)
    told = capsys.readouterr()
    assert quiet.err == ""
    assert told.err.startswith("cvlib: reading 122 profiles")
    assert told.out == quiet.out


@pytest.mark.parametrize("width", [50, 80, 120])
def test_no_line_is_too_wide(width: int) -> None:
    """The list fits the terminal."""
    done = program("profiles", COLUMNS=str(width))
    assert max(map(len, done.stdout.splitlines())) <= width


def test_markdown_is_a_table(capsys: Capture) -> None:
    """With ids as code."""
    run(["profiles", "plover", "--definitions", str(STORE), "--format", "markdown"])
    assert "| `ferrow/plover` Ferrow Plover | motor |" in capsys.readouterr().out
