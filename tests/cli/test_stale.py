"""``cvlib check --record`` and ``cvlib stale``: what a check leaves, and what becomes of it."""

import shutil
import tomllib
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import STORE, run

LOCO = """\
#:schema ../docs/schema/loco.schema.json
format = 1

[loco]
name = "No. 7 Plover"

# The decoder on the long bench.
[[decoder]]
profile = "ferrow/plover"
firmware = "3.1"

[[decoder.saved]]
date = 2026-03-14   # with the new motor
firmware = "3.1"

[decoder.saved.cv]
144 = 60  # two runs
"""


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A copy of the small store, to be changed."""
    return Path(shutil.copytree(STORE, tmp_path / "store"))


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco file."""
    path = tmp_path / "plover.toml"
    path.write_text(LOCO, encoding="utf-8")
    return path


def check(loco: Path, store: Path, *words: str) -> int:
    """The exit code of a check that is recorded."""
    return run(["check", str(loco), "--definitions", str(store), "--record", *words])


def stale(capsys: pytest.CaptureFixture[str], loco: Path, store: Path) -> dict[str, object]:
    """What has become of the loco's values."""
    capsys.readouterr()
    _, data = json_of(capsys, "stale", str(loco), "--definitions", str(store))
    (held,) = data["rechecked"]
    assert isinstance(held, dict)
    return held


def edit(store: Path, old: str, new: str) -> None:
    """Change the profile."""
    path = store / "ferrow" / "plover.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_check_leaves_its_digest_and_keeps_every_remark(loco: Path, store: Path) -> None:
    """Only one table is added; checked again on the same day, the file is the very same."""
    check(loco, store)
    text = loco.read_text(encoding="utf-8")
    assert text.startswith(LOCO)
    held = tomllib.loads(text)["decoder"][0]["checked"]
    assert (held["profile"], held["firmware"]) == ("ferrow/plover", "3.1")
    assert held["cv"]["144"]["value"] == 60
    assert "braking.distance" in held["cv"]["144"]["means"]
    check(loco, store)
    assert loco.read_text(encoding="utf-8") == text


def test_nothing_is_stale_right_after_a_check(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same definitions give the same meanings."""
    check(loco, store)
    held = stale(capsys, loco, store)
    assert held["severity"] is None
    assert held["same_answers"] is True


def test_reworded_definitions_make_nothing_stale(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another title is no other meaning."""
    check(loco, store)
    edit(store, 'title = "Stopping distance"', 'title = "Braking distance"')
    assert stale(capsys, loco, store)["severity"] is None


def test_a_change_elsewhere_makes_no_value_stale(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The profile says something else, but of none of the values that were saved."""
    check(loco, store)
    edit(store, "cv = 120", "cv = 121")
    held = stale(capsys, loco, store)
    assert held["same_answers"] is False
    assert held["severity"] is None


def test_a_value_with_another_meaning_is_told_with_both(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What it meant comes from the file, what it means from the definitions."""
    check(loco, store)
    edit(store, "cv = 144", "cv = 154")
    held = stale(capsys, loco, store)
    assert held["severity"] == "error"
    (change,) = held["changes"]  # type: ignore[misc]
    assert change["before"] == "braking.distance: 60 cm"
    assert change["after"].startswith("nothing here")
    assert run(["stale", str(loco), "--definitions", str(store), "--fail-on", "error"]) == 1
    assert "CV 144 = 60 meant braking.distance: 60 cm" in capsys.readouterr().out
    check(loco, store)
    assert stale(capsys, loco, store)["severity"] is None


def test_what_was_edited_in_the_file_is_told_apart(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A new value, a new CV and other firmware are no fault of the definitions."""
    check(loco, store)
    text = loco.read_text(encoding="utf-8")
    text = text.replace("144 = 60", "29 = 6\n144 = 70").replace(
        'firmware = "3.1"', 'firmware = "5.0"', 1
    )
    loco.write_text(text, encoding="utf-8")
    held = stale(capsys, loco, store)
    assert held["severity"] == "note"
    assert held["changes"] == []
    assert [one["cv"] for one in held["edited"]] == [29, 144]  # type: ignore[attr-defined]
    assert held["other_firmware"] == "5.0"


def test_several_decoders_are_recorded_each_at_its_place(tmp_path: Path, store: Path) -> None:
    """Windows line ends, a byte-order mark and remarks between tables stay."""
    second = '\n# The lamps.\n[[decoder]]\nrole = "lights"\n' + LOCO.split("[[decoder]]\n")[1]
    text = LOCO.replace("[[decoder]]\n", '[[decoder]]\nrole = "motor"\n') + second
    loco = tmp_path / "two.toml"
    loco.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    check(loco, store)
    check(loco, store)
    data = loco.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf#:schema")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert data.count(b"[decoder.checked]") == 2
    held = tomllib.loads(data.decode("utf-8-sig"))["decoder"]
    assert [one["role"] for one in held] == ["motor", "lights"]
    assert all("144" in one["checked"]["cv"] for one in held)
    assert b"# The lamps.\r\n[[decoder]]" in data
    assert b"# two runs" in data


def test_remarks_inside_an_older_record_survive(loco: Path, store: Path) -> None:
    """The program's own lines go, those of a person stay."""
    check(loco, store)
    text = loco.read_text(encoding="utf-8")
    loco.write_text(text.replace("[decoder.checked.cv]", "# mine\n[decoder.checked.cv]"))
    check(loco, store)
    assert loco.read_text(encoding="utf-8") == f"{text}\n# mine\n"
    check(loco, store)
    assert loco.read_text(encoding="utf-8").count("# mine") == 1


def test_paged_values_are_recorded_under_their_page(loco: Path, store: Path) -> None:
    """As saved values are."""
    text = LOCO + '\n[decoder.saved.page."16/2"]\n257 = 12\n'
    loco.write_text(text, encoding="utf-8")
    check(loco, store)
    held = tomllib.loads(loco.read_text(encoding="utf-8"))["decoder"][0]["checked"]
    assert held["page"]["16/2"]["257"]["value"] == 12


def test_without_firmware_nothing_is_recorded(
    loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file stays as it is, and one line says why."""
    text = LOCO.replace('firmware = "3.1"\n', "")
    loco.write_text(text, encoding="utf-8")
    check(loco, store)
    assert loco.read_text(encoding="utf-8") == text
    assert "nothing is recorded" in capsys.readouterr().err


def test_only_files_as_they_stand_can_be_recorded(
    loco: Path, store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Typed values, stated firmware and lists are refused, and nothing is written."""
    words = ["check", str(loco), "--definitions", str(store), "--record"]
    for more in (["27=3"], ["--firmware", "5.0"], ["--role", "motor"], ["--saved-for", "2.5"]):
        code, _ = fails(capsys, *words, *more)
        assert code == 2
    assert loco.read_text(encoding="utf-8") == LOCO
    values = tmp_path / "list.csv"
    values.write_text("144,60\n")
    code, _ = fails(capsys, "check", str(values), "--profile", "ferrow/plover", "--record")
    assert code == 2


def test_a_file_that_may_not_be_written_gives_2_and_stays(
    loco: Path, store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The check is shown all the same."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.link", refuse)
    assert check(loco, store) == 2
    told = capsys.readouterr()
    assert "No. 7 Plover" in told.out
    assert "may not write" in told.err
    assert loco.read_text(encoding="utf-8") == LOCO


BAD_RECORDS = [
    ('checked = 3', "must be a table"),
    ('[decoder.checked]\ndate = "today"\nprofile = "a/b"\nfirmware = "1"\ndigest = "x"', "no day"),
    ('[decoder.checked]\ndate = 2026-01-01\nprofile = "a/b"\nfirmware = 1\ndigest = "x"', "text"),
    ('[decoder.checked]\ndate = 2026-01-01\nprofile = "a/b"\nfirmware = "1"\ndigest = "x"\nfoo = 1',
     "unknown key"),
    ('[decoder.checked]\ndate = 2026-01-01\nprofile = "a/b"\nfirmware = "1"\ndigest = "x"\n'
     "[decoder.checked.cv]\n2000 = {}", "does not exist"),
    ('[decoder.checked]\ndate = 2026-01-01\nprofile = "a/b"\nfirmware = "1"\ndigest = "x"\n'
     '[decoder.checked.cv]\n27 = { value = 256, digest = "x", means = "y" }', "0 to 255"),
    ('[decoder.checked]\ndate = 2026-01-01\nprofile = "a/b"\nfirmware = "1"\ndigest = "x"\n'
     '[decoder.checked.page."x"]', "index page"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "words"), BAD_RECORDS, ids=[row[1] for row in BAD_RECORDS])
def test_a_faulty_record_is_one_clear_line(
    record: str, words: str, loco: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Edited by hand, it is refused with its position and what to do."""
    below = record.startswith("[")
    head = "[[decoder]]\n"
    text = f"{LOCO}\n{record}\n" if below else LOCO.replace(head, f"{head}{record}\n")
    loco.write_text(text, encoding="utf-8")
    code, lines = fails(capsys, "stale", str(loco), "--definitions", str(store))
    assert code == 2
    assert len(lines) == 1
    assert words in lines[0]
    assert "plover.toml:" in lines[0]


def test_the_whole_store_is_looked_at_without_locos(capsys: pytest.CaptureFixture[str]) -> None:
    """Releases, tests and questions of every profile; exit code 1 for warnings."""
    code, data = json_of(capsys, "stale")
    assert code == 1
    assert "ferrow/lark-8" in data["profiles"]
    assert data["uncovered"]
    assert data["contradicted"]
    days = [one["days"] for one in data["questions"]]
    assert days == sorted(days, reverse=True)
    assert data["rechecked"] == []


def test_one_profile_can_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """Only it is told of; an unknown one is refused with the nearest."""
    _, data = json_of(capsys, "stale", "--profile", "ferrow/wren-2")
    assert data["profiles"] == ["ferrow/wren-2"]
    code, lines = fails(capsys, "stale", "--profile", "ferrow/wren-3")
    assert code == 2
    assert "ferrow/wren-2" in lines[0]


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_it_prints_as_text_and_markdown(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every section has its heading."""
    assert run(["stale", "--format", form, "--fail-on", "never"]) == 0
    text = capsys.readouterr().out
    for words in ("Releases that no document", "Tests that found", "Open questions"):
        assert words in text


def test_the_demo_fleet_is_looked_at(capsys: pytest.CaptureFixture[str]) -> None:
    """Locos beyond all documents are told with a warning."""
    folder = Path(__file__).parents[2] / "definitions" / "fleet" / "saltmarsh"
    _, data = json_of(capsys, "stale", str(folder))
    beyond = [one for one in data["outside"] if one["known"] == "beyond"]
    assert beyond
    assert {one["severity"] for one in beyond} == {"warning"}
    assert data["unrecorded"] > 10
