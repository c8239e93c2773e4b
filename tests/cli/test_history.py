"""``log``, ``undo`` and ``export``: back to what a loco file was, and out to a plain list."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, run
from cvlib.files.read.interface import read_file

FLEET = ROOT / "definitions" / "fleet" / "saltmarsh"
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco of the demo fleet, carried once."""
    path = tmp_path / "my loco.toml"
    shutil.copyfile(FLEET / "04-marsh-harrier.toml", path)
    return path


def test_a_carry_is_listed_and_taken_back(loco: Path, capsys: Capture) -> None:
    """The list says what it changed; back, the file is byte for byte what it was."""
    before = loco.read_bytes()
    run(["carry", str(loco), "--to", "4.3.9", "--write"])
    after = loco.read_bytes()
    assert after != before
    capsys.readouterr()
    code, log = json_of(capsys, "log", str(loco))
    assert code == 0
    (state,) = log["states"]
    assert (state["state"], state["command"]) == (1, "carry")
    assert {"decoder": 1, "what": "firmware", "now": "4.3.9"}.items() <= state["changes"][0].items()
    code, done = json_of(capsys, "undo", str(loco))
    assert (code, done["state"], done["kept_as"]) == (0, 1, 2)
    assert loco.read_bytes() == before
    assert run(["undo", str(loco), "--to", "2"]) == 0
    told = capsys.readouterr()
    assert "kept as state 1" in told.out
    assert f"cvlib undo '{loco}' --to 1" in told.err
    assert loco.read_bytes() == after


def test_each_step_back_is_taken_back_by_what_it_says(tmp_path: Path, capsys: Capture) -> None:
    """The number that an undo names is of the state that was there, however far back it went."""
    path = tmp_path / "g.toml"
    for value in (50, 11, 22):
        run(["keep", str(path), f"3={value}", "--firmware", "2.9.201"])

    def held() -> int:
        return next(iter(read_file(path).decoders[0].values.values())).value

    for _ in range(2):
        before = held()
        capsys.readouterr()
        _, done = json_of(capsys, "undo", str(path))
        after = held()
        _, back = json_of(capsys, "undo", str(path), "--to", str(done["kept_as"]))
        assert (held(), back["state"]) == (before, done["kept_as"])
        run(["undo", str(path), "--to", str(back["kept_as"])])
        assert held() == after
    assert held() == 50
    run(["undo", str(path), "--to", "3"])
    capsys.readouterr()
    run(["log", str(path)])
    assert "nothing: the file holds this state" in " ".join(capsys.readouterr().out.split())


def test_a_long_change_is_counted_and_told_in_full_where_asked(loco: Path, capsys: Capture) -> None:
    """Up to four CVs stand there one by one."""
    run(["carry", str(loco), "--to", "4.3.9", "--write"])
    capsys.readouterr()
    run(["log", str(loco)])
    short = capsys.readouterr().out
    run(["log", str(loco), "--all"])
    full = capsys.readouterr().out
    assert "cvlib carry" in short
    assert "CVs" in short
    assert len(full) > len(short)


def test_without_a_write_there_is_nothing_to_list(loco: Path, capsys: Capture) -> None:
    """Both say so, undo with exit code 2."""
    assert run(["log", str(loco)]) == 0
    assert "No former state is kept" in capsys.readouterr().out
    code, (line,) = fails(capsys, "undo", str(loco))
    assert code == 2
    assert "no former state of this file is kept" in line


@pytest.mark.parametrize("path", sorted(FLEET.glob("*.toml")), ids=lambda path: path.stem)
def test_an_exported_list_holds_the_same_values(
    path: Path, tmp_path: Path, capsys: Capture
) -> None:
    """Read again by cvlib it gives every CV of the loco, pages and all."""
    for decoder in read_file(path).decoders:
        role = ["--role", decoder.role] if decoder.role else []
        made = tmp_path / f"{decoder.role or 'list'}.csv"
        code = run(["export", str(path), *role, "--output", str(made)])
        if not decoder.values:
            assert code == 2
            continue
        assert code == 0
        assert capsys.readouterr().out == ""
        (held,) = read_file(made).decoders
        wanted = {slot: one.value for slot, one in decoder.values.items()}
        assert {slot: one.value for slot, one in held.values.items()} == wanted
        assert run(["export", str(path), *role]) == 0
        assert capsys.readouterr().out == made.read_text(encoding="utf-8")


def test_an_export_as_data_has_all_decoders(capsys: Capture) -> None:
    """With firmware, date and origin of every value."""
    for path in sorted(FLEET.glob("*.toml")):
        _, data = json_of(capsys, "export", str(path))
        loco = read_file(path)
        assert [len(one["values"]) for one in data["decoders"]] == [
            len(one.values) for one in loco.decoders
        ]
        assert data["loco"] == loco.name


def test_an_export_never_overwrites(loco: Path, capsys: Capture) -> None:
    """Nor does it guess which decoder is meant."""
    there = loco.with_name("list.csv")
    there.write_text("mine", encoding="utf-8")
    code, (line,) = fails(capsys, "export", str(loco), "--output", str(there))
    assert code == 2
    assert "file of that name already" in line
    assert there.read_text(encoding="utf-8") == "mine"
    two = next(p for p in sorted(FLEET.glob("*.toml")) if len(read_file(p).decoders) > 1)
    code, (line,) = fails(capsys, "export", str(two))
    assert "Choose one with --role" in line
