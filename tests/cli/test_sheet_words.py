"""Write sheets of the demo fleet, in words, as rows, and for several decoders in one loco."""

from __future__ import annotations

import csv
import io
import tomllib
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, run

Capture = pytest.CaptureFixture[str]
FLEET = ROOT / "definitions" / "fleet" / "saltmarsh"


def loco(name: str) -> str:
    """The path of a loco of the fleet, by the beginning of its file name."""
    return str(next(FLEET.glob(f"{name}*.toml")))


def words_of(capsys: Capture, *words: str) -> str:
    """What a command prints, in one line."""
    run(list(words))
    return " ".join(capsys.readouterr().out.split())


def test_a_group_is_settled_as_far_as_it_has_the_choice(capsys: Capture) -> None:
    """Two tests that disagree leave no newer side; that setting waits, the rest of braking goes."""
    words = ("carry", loco("01"), "--to", "3.4.96", "--choose", "braking=newer")
    _, data = json_of(capsys, *words)
    kinds = {one["setting"]: one["outcome"] for one in data["outcomes"]}
    assert kinds["braking.hold-time"] == "disputed"
    assert kinds["braking.stopping-distance"] == "converted"


def test_rows_hold_cautions_reads_and_deeds(capsys: Capture) -> None:
    """A row without a CV is a caution or a deed; what is written back was read in a row before."""
    run(["carry", loco("06"), "--to", "4.2.60", "--format", "csv"])
    head, *rows = csv.reader(io.StringIO(capsys.readouterr().out))
    assert head == ["step", "address", "cv", "page", "was", "write", "in words"]
    assert rows[0][:6] == [""] * 6
    assert rows[0][6].startswith("Caution: ")
    steps = [row for row in rows if row[2]]
    proof = [(row[2], row[5]) for row in steps if "must be" in row[6]]
    assert proof[:2] == [("7", "read"), ("8", "read")]
    pages = [row for row in steps if row[2] == "31" and row[5] == "read"]
    assert pages[0][6] == "note what it holds; it is needed later"
    assert any(row[2] == "31" and row[5] == f"step {pages[0][0]}" for row in steps)
    assert rows[-1][2] == ""


def test_a_loco_that_needs_nothing_gets_an_empty_sheet(capsys: Capture) -> None:
    """The lock of one of two decoders is not opened for nothing."""
    words = ("carry", loco("10"), "--role", "motor", "--to", "60", "--sheet", "--main")
    assert "There is nothing to write." in words_of(capsys, *words)


def test_a_match_knows_the_other_decoder_of_the_loco(capsys: Capture) -> None:
    """A motor decoder that shares its address is chosen by its lock before it is written."""
    words = ("compare", loco("09"), "--match", loco("01"), "--role", "motor")
    _, data = json_of(capsys, *words)
    sheet = data["match"]["sheet"]
    assert sheet["shared_address"] is True
    assert (sheet["steps"][0]["cv"], sheet["steps"][0]["reason"]) == (15, "unlock")


def test_one_lock_number_for_both_decoders_is_no_choice(tmp_path: Path, capsys: Capture) -> None:
    """Where both decoders hold one number in CV 16 the other one is unplugged."""
    text = Path(loco("10")).read_text(encoding="utf-8")
    assert text.count("\n16 = 2") == 1
    path = tmp_path / "loco.toml"
    path.write_text(text.replace("\n16 = 2", "\n16 = 1"), encoding="utf-8")
    words = ("carry", str(path), "--role", "motor", "--to", "60", "--all")
    _, data = json_of(capsys, *words)
    assert data["sheet"]["steps"][0]["reason"] == "unplug-other"


def test_a_role_that_no_loco_has_is_refused(capsys: Capture) -> None:
    """A misspelt role is not passed over in silence."""
    code, lines = fails(capsys, "compare", loco("01"), loco("10"), "--role", "motr")
    assert code == 2
    assert lines == [
        'cvlib: no decoder of these locos has the role "motr". Their roles are "motor", "sound".'
    ]


def test_a_cv_without_effect_is_neither_compared_nor_matched_in_silence(capsys: Capture) -> None:
    """Marsh Harrier holds 60 cm in a CV without effect on the bench: its distance is unknown."""
    compared = words_of(capsys, "compare", loco("01"), loco("04"), "--format", "markdown")
    told = compared[compared.index("Not compared, because") :]
    assert "Stopping distance" in told
    _, data = json_of(capsys, "compare", loco("01"), "--match", loco("04"))
    assert "braking.stopping-distance" not in {one["setting"] for one in data["match"]["proposals"]}


OTHER_TYPES = (
    ("08", "open/rp2350-motor", "v0.6.0", [3, 8, 1008]),
    ("08", "ilex-works/heron", "60", [3, 8, 1008]),
    ("01", "ferrow/lark-8-mk2", "1.2.7", [3, 1]),
)


@pytest.mark.parametrize(("name", "type", "firmware", "addresses"), OTHER_TYPES)
def test_a_new_decoder_is_written_at_its_factory_address(
    name: str, type: str, firmware: str, addresses: list[int], capsys: Capture
) -> None:
    """Each line on the main names the address in force: 3 first, then what CV 1 and 29 make it."""
    words = ("carry", loco(name), "--to-profile", type, "--to", firmware, "--main")
    _, data = json_of(capsys, *words)
    steps = data["sheet"]["steps"]
    writes = [step for step in steps if step["kind"] == "write"]
    at = [step["address"] for step in writes]
    assert None not in at
    ends = [step["moves_to"] for step in writes if step["moves_to"]]
    assert list(dict.fromkeys([*at, *ends])) == addresses


def test_a_match_keeps_the_bits_of_cv_29_that_nobody_saved(tmp_path: Path, capsys: Capture) -> None:
    """The speed table is switched on by bit 4; the bit of a long address stays as it is."""
    head = 'format = 1\n[loco]\nname = "{}"\naddress = 4\n[[decoder]]\nprofile = "ferrow/lark-8"\n'
    head += 'firmware = "4.3.9"\n[[decoder.saved]]\n[decoder.saved.cv]\n'
    table = "\n".join(f"{cv} = {cv * 2}" for cv in range(67, 95))
    paths = [tmp_path / "a.toml", tmp_path / "b.toml"]
    paths[0].write_text(head.format("A") + "2 = 9\n5 = 200\n6 = 90\n", encoding="utf-8")
    curve = f"2 = 9\n5 = 200\n6 = 90\n29 = 22\n{table}\n"
    paths[1].write_text(head.format("B") + curve, encoding="utf-8")
    words = ("compare", str(paths[0]), "--match", str(paths[1]))
    for more, mask in (((), [1, 4]), (("--main",), [4])):
        _, data = json_of(capsys, *words, *more)
        steps = [step for step in data["match"]["sheet"]["steps"] if step["cv"] == 29]
        writes = [step for step in steps if step["kind"] == "write"]
        assert writes[-1]["sets_bits"] == mask
        assert writes[-1]["value"] & 0x10
        assert (steps[0]["kind"] == "read") is (more == ())


def test_a_name_is_shown_as_it_reads(capsys: Capture) -> None:
    """The letters of a text stand on the sheet, not their numbers."""
    words = ("carry", loco("10"), "--role", "motor", "--to", "55", "--all", "--sheet")
    assert 'Name of the loco "SPOONBILL", part 1 of 16' in words_of(capsys, *words)


def test_new_settings_say_whether_the_sheet_sets_them(capsys: Capture) -> None:
    """What gets a factory value and what has none to get are told apart, by what is written."""
    said = words_of(capsys, "carry", loco("01"), "--to", "4.2.60", "--format", "markdown")
    got = said.index("so they get the factory value: Lowest voltage of the power keeper")
    none = said.index("set them by hand: Bidirectional communication: channel 1 address broadcast")
    assert got < none
    assert "the sheet leaves the factory value 0" in said, "CV 9 holds it and is not written"
    assert "To decide: Overload limit 9 = 0.9 A" in said
    assert "the factory value 1.2 A" not in said


CARRIES = tomllib.loads((ROOT / "tests/cases/carry-fleet.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CARRIES["case"], ids=[one["file"] for one in CARRIES["case"]])
def test_a_carry_checked_by_hand(case: dict[str, Any], capsys: Capture) -> None:
    """Whole locos of the fleet: what changes, what is lost, and every CV that is written."""
    _, data = json_of(capsys, "carry", str(FLEET / case["file"]), "--to", case["to"])
    for kind in ("dropped", "clamped", "converted"):
        found = [one["setting"] for one in data["outcomes"] if one["outcome"] == kind]
        assert sorted(found) == sorted(case[kind]), kind
    steps = [one for one in data["sheet"]["steps"] if one["kind"] == "write"]
    values = [one for one in steps if not one["reason"].startswith(("page", "unlock", "lock"))]
    written = {
        f"{one['cv']}@{one['page']}" if one["page"] else str(one["cv"]): one["value"]
        for one in values
    }
    assert written == case["writes"]


def test_the_raw_value_is_told_where_the_figure_only_begins_alike(capsys: Capture) -> None:
    """6 steps of 10 mA are "6 = 60 mA"; bare "60 mA" would read as 60 in the CV."""
    said = words_of(capsys, "carry", loco("11"), "--to", "55", "--format", "markdown")
    assert "CV 177: 12 = 60 mA" in said
    assert "CV 177: 6 = 60 mA" in said
