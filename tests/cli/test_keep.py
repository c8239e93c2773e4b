"""``keep``: a list becomes a loco file, a later one a reading in it, and the change is told."""

from __future__ import annotations

import io
import sys
import tomllib
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import run
from cvlib.files.read.interface import read_file
from cvlib.model.cv import Slot
from cvlib.model.loco import State

Capture = pytest.CaptureFixture[str]

CARD = "CV;Wert\n1;13\n7;2\n8;13\n27;3\n109;4\n110;118\n138;1\n141;41\n142;2\n144;0\n"
LATER = ("7=4", "109=2", "110=60", "27=3", "138=1", "141=41", "142=2", "144=50")
LARK = ("--profile", "ferrow/lark-8")
TODAY = date.today()


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco file made of the card in the stock box."""
    card = tmp_path / "the card.csv"
    card.write_text(CARD, encoding="utf-8")
    path = tmp_path / "my loco.toml"
    assert run(["keep", str(path), str(card), *LARK, "--how", "typed", "--date", "2020-12-19"]) == 0
    return path


def test_a_list_becomes_a_loco_file(loco: Path, capsys: Capture) -> None:
    """With its day, and with the firmware that the version CVs among its values name."""
    capsys.readouterr()
    held = tomllib.loads(loco.read_text(encoding="utf-8"))
    (decoder,) = held["decoder"]
    (reading,) = decoder["reading"]
    assert held["format"] == 2
    assert held["loco"] == {"name": "my loco"}
    assert (decoder["profile"], decoder["firmware"]) == ("ferrow/lark-8", "2.4.118")
    assert (reading["date"], reading["how"]) == (date(2020, 12, 19), "typed")
    assert reading["firmware"] == "2.4.118"
    assert "saved-for" not in reading
    assert reading["cv"]["141"] == 41
    run(["keep", str(loco), "257@16/2=1", "261@0/255=42", "257@8/0=3", "28=2"])
    assert run(["tidy", "--check", str(loco)]) == 0


def test_a_later_list_is_told_in_settings(loco: Path, capsys: Capture) -> None:
    """What the update changed, what kept its number and means something else, and what is open.

    Lark 8: 41 in CV 141 were 82 cm of stopping distance to firmware 2.4.118, which lives in CV 144
    at 4.2.60; CVs 138 and 142 changed owners likewise.
    """
    capsys.readouterr()
    code, data = json_of(capsys, "keep", str(loco), *LATER, "--how", "read")
    assert (code, data["firmware_from"], data["may_be_older"]) == (0, "answered", True)
    assert data["reading"]["date"] == TODAY.isoformat()
    found = data["changes"]
    assert found["by_itself"] is True
    assert found["since"] == {"date": "2020-12-19", "firmware": "2.4.118"}
    assert [one["cv"] for one in found["left_over"]] == [138, 141, 142]
    distance = found["settings"][-1]
    assert (distance["setting"], distance["was"], distance["now"]) == (
        "braking.stopping-distance",
        "82 cm",
        "50 cm",
    )
    assert distance["cvs"] == [{"cv": 144, "page": "", "was": 0, "now": 50}]
    decoder = read_file(loco).decoders[0]
    assert decoder.firmware == "4.2.60"
    assert decoder.values[Slot(141)].firmware == "2.4.118"
    assert (decoder.values[Slot(144)].firmware, decoder.values[Slot(144)].since) == ("", "2.4.118")


def test_what_was_disputed_is_no_leftover_as_a_fact(tmp_path: Path, capsys: Capture) -> None:
    """At 2.9.201, between the handbooks, nobody knows what CVs 54 and 146 are (see lark-8.toml)."""
    path = tmp_path / "g.toml"
    run(["keep", str(path), "54=30", "138=1", "146=2", *LARK, "--firmware", "2.9.201"])
    capsys.readouterr()
    said = ["keep", str(path), "54=30", "138=1", "146=2", "--how", "read", "--firmware", "4.2.60"]
    _, found = json_of(capsys, *said)
    changes = found["changes"]
    assert [one["cv"] for one in changes["left_over"]] == [138]
    assert [one["cv"] for one in changes["disputed"]] == [54, 146]
    run(["check", str(path)])
    told = " ".join(capsys.readouterr().out.split())
    assert "Left over: CV 138 kept the number" in told
    assert "Nobody knows whether CVs 54, 146 do what the same number did before." in told


def test_a_check_knows_what_was_left_over(loco: Path, capsys: Capture) -> None:
    """The stopping distance of old is no time of extra drive, although nobody said so."""
    run(["keep", str(loco), *LATER, "--how", "read"])
    capsys.readouterr()
    code, data = json_of(capsys, "check", str(loco))
    assert code == 1
    (decoder,) = data["locos"][0]["decoders"]
    wrong = {one["code"]: one["settings"] for one in decoder["findings"] if 141 in _cvs(one)}
    assert "braking.stopping-distance" in wrong["reused"]
    assert decoder["changes"]["left_over"][1] == {"cv": 141, "page": ""}
    unset = [one for one in decoder["findings"] if one["code"] == "unset"]
    assert any("was" in one and one["was"] for one in unset)


def _cvs(finding: dict[str, list[dict[str, int]]]) -> list[int]:
    return [held["cv"] for held in finding["bits"]]


def test_what_is_open_is_settled_for_itself(loco: Path, capsys: Capture) -> None:
    """An option would speak of the leftovers too; a reading of the one CV does not. What the update
    changed is still told.
    """
    run(["keep", str(loco), *LATER, "--how", "read"])
    capsys.readouterr()
    assert run(["carry", str(loco), "--to", "4.2.60"]) == 3
    assert '"cvlib keep" with these values' in capsys.readouterr().err
    _, data = json_of(capsys, "check", str(loco))
    (decoder,) = data["locos"][0]["decoders"]
    (undated,) = [one for one in decoder["findings"] if one["code"] == "undated"]
    assert undated["advice"].startswith('"cvlib keep LOCO 144=50" notes it')
    run(["keep", str(loco), "144=50", "--how", "written"])
    capsys.readouterr()
    _, data = json_of(capsys, "check", str(loco))
    (decoder,) = data["locos"][0]["decoders"]
    codes = [one["code"] for one in decoder["findings"]]
    assert "undated" not in codes
    assert codes.count("reused") == 3
    assert [one["cv"] for one in decoder["changes"]["left_over"]] == [138, 141, 142]
    _, data = json_of(capsys, "carry", str(loco), "--to", "4.2.60")
    steps = {
        step["cv"]: step["value"] for step in data["sheet"]["steps"] if step["kind"] == "write"
    }
    assert steps[147] == 9
    assert not {142, 144} & steps.keys()  # the decoder has them already


def test_after_a_reset_nothing_is_left_over(loco: Path, capsys: Capture) -> None:
    """What was read then is meant for the firmware of that day, and nothing is asked."""
    capsys.readouterr()
    _, data = json_of(capsys, "keep", str(loco), *LATER, "--how", "read", "--state", "reset")
    assert data["may_be_older"] is False
    assert data["changes"]["left_over"] == []
    assert data["changes"]["by_itself"] is False
    decoder = read_file(loco).decoders[0]
    assert decoder.state is State.RESET
    assert decoder.values[Slot(141)].firmware == "4.2.60"
    assert decoder.values[Slot(1)].firmware == "2.4.118"


def test_a_state_does_not_outlive_the_next_update(loco: Path) -> None:
    """It was about the update before."""
    run(["keep", str(loco), *LATER, "--how", "read", "--state", "reset"])
    assert run(["keep", str(loco), "7=4", "27=3", "--firmware", "4.3.9", "--how", "read"]) == 0
    decoder = read_file(loco).decoders[0]
    assert (decoder.firmware, decoder.state) == ("4.3.9", State.UNKNOWN)
    assert decoder.values[Slot(141)].firmware == "4.2.60"


def test_an_older_list_goes_before_the_newer(loco: Path, capsys: Capture) -> None:
    """It changes nothing of what is so now."""
    before = read_file(loco).decoders[0]
    assert run(["keep", str(loco), "27=2", "--date", "2019-01-01", "--firmware", "2.0.12"]) == 0
    assert "later reading" in capsys.readouterr().out
    after = read_file(loco).decoders[0]
    assert [one.date for one in after.readings] == ["2019-01-01", "2020-12-19"]
    assert after.firmware == before.firmware
    assert after.values[Slot(27)].value == 3


def test_the_same_reading_twice_is_one(loco: Path, capsys: Capture) -> None:
    """The file stays as it is to the byte."""
    run(["keep", str(loco), *LATER, "--how", "read"])
    once = loco.read_bytes()
    capsys.readouterr()
    _, data = json_of(capsys, "keep", str(loco), *LATER, "--how", "read")
    assert data["held_already"] is True
    assert loco.read_bytes() == once


def test_it_can_be_taken_back(loco: Path) -> None:
    """As everything that is written."""
    before = loco.read_bytes()
    run(["keep", str(loco), *LATER])
    assert run(["undo", str(loco)]) == 0
    assert loco.read_bytes() == before


def test_a_file_of_format_1_becomes_one_of_format_2(tmp_path: Path) -> None:
    """What it said of firmware is what the values were saved for; remarks stay."""
    path = tmp_path / "old.toml"
    path.write_text(
        'format = 1 # of 2019\n[loco]\nname = "A"\n[[decoder]]\nprofile = "ferrow/lark-8"\n'
        'firmware = "2.4.118"\n# the card\n[[decoder.saved]]\n"firmware" = "2.0.12"  # sure\n'
        "note = '''\nfirmware = 9\n'''\n[decoder.saved.cv]\n141 = 41  # distance\n"
        '[[decoder.history]]\nfirmware = "1.0"\ncv.3 = 4\n',
        encoding="utf-8",
    )
    assert run(["keep", str(path), "27=3", "--how", "read"]) == 0
    text = path.read_text(encoding="utf-8")
    for kept in ("# of 2019", "# the card", "# sure", "# distance", "\nfirmware = 9\n"):
        assert kept in text
    held = tomllib.loads(text)
    first, second = held["decoder"][0]["reading"]
    assert (held["format"], first["saved-for"], second["firmware"]) == (2, "2.0.12", "2.4.118")
    assert held["decoder"][0]["history"] == [{"saved-for": "1.0", "cv": {"3": 4}}]


def test_a_leftover_that_was_read_again_is_no_later_value(loco: Path, capsys: Capture) -> None:
    """The stopping distance was set since at its new CV 144; CV 141 still holds the one of old, and
    stands behind it in the list.
    """
    run(["keep", str(loco), "7=4", "109=2", "110=60", "144=50", "--how", "written"])
    run(["keep", str(loco), "144=50", "138=1", "141=41", "142=2", "--how", "read"])
    capsys.readouterr()
    decoder = read_file(loco).decoders[0]
    assert decoder.values[Slot(144)].firmware == "4.2.60"
    assert decoder.values[Slot(141)].firmware == "2.4.118"
    _, data = json_of(capsys, "carry", str(loco), "--to", "4.3.9")
    (distance,) = [one for one in data["outcomes"] if one["setting"] == "braking.stopping-distance"]
    assert distance["outcome"] == "same"
    assert "50 cm" in str(distance)


def test_a_reading_without_a_day_is_later_than_those_before_it(loco: Path, capsys: Capture) -> None:
    """Of two values of one setting, each at its own CV, the one that was noted last is carried."""
    run(["keep", str(loco), "7=4", "109=2", "110=60", "144=50", "--saved-for", "4.2.60"])
    capsys.readouterr()
    assert read_file(loco).decoders[0].readings[-1].date == ""
    _, data = json_of(capsys, "carry", str(loco), "--to", "4.3.9")
    (distance,) = [one for one in data["outcomes"] if one["setting"] == "braking.stopping-distance"]
    assert distance["outcome"] == "same"
    assert "50 cm" in str(distance)


def test_a_list_from_the_standard_input(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a profile it is told in CVs, and the next step is to find one."""
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"1;4\n27;3\n")))
    path = tmp_path / "no-4.toml"
    assert run(["keep", str(path), "-", "--name", "No. 4"]) == 0
    told = capsys.readouterr().out
    assert "2 CVs noted, day not known, firmware not known" in told
    assert "cvlib identify" in told
    assert run(["keep", str(path), "27=2", "--how", "read"]) == 0
    assert "CV 27: 3 → 2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "nothing to keep"),
        (("27=256",), "cannot hold 256"),
        (("27=3", "--firmware", "new"), "is not a firmware version"),
        (("27=3", "--saved-for", "new"), "is not a firmware version"),
        (("27=3", "--date", "yesterday"), "is no day"),
        (("27=3", "--name", "No. 5"), "--name is for a new file"),
        (("27=3", "--role", "sound"), 'no decoder has the role "sound"'),
        (("27=3", "--profile", "ferrow/wren-2"), "the decoder is ferrow/lark-8 there"),
        (("missing.csv",), "there is no such file"),
    ],
)
def test_what_cannot_be_kept(
    loco: Path, capsys: Capture, words: tuple[str, ...], said: str
) -> None:
    """One line says why, and the file stays as it is."""
    before = loco.read_bytes()
    capsys.readouterr()
    code, lines = fails(capsys, "keep", str(loco), *words)
    assert code == 2
    assert said in lines[0]
    assert loco.read_bytes() == before


def test_a_loco_file_is_no_list(loco: Path, capsys: Capture) -> None:
    """Its days and firmware would be lost; and a new loco file is named as one."""
    capsys.readouterr()
    code, lines = fails(capsys, "keep", str(loco.with_name("other.toml")), str(loco))
    assert (code, "this is a loco file" in lines[0]) == (2, True)
    code, lines = fails(capsys, "keep", str(loco.with_name("other.csv")), "27=3")
    assert (code, "ends in .toml" in lines[0]) == (2, True)
    assert sorted(one.suffix for one in loco.parent.iterdir()) == [".csv", ".toml"]


def test_a_list_is_never_written_over(tmp_path: Path, capsys: Capture) -> None:
    """The line says how a loco file is made of it."""
    card = tmp_path / "card.csv"
    card.write_text(CARD, encoding="utf-8")
    code, lines = fails(capsys, "keep", str(card), "27=3")
    assert code == 2
    assert "cvlib keep LOCO.toml" in lines[0]
    assert card.read_text(encoding="utf-8") == CARD


LIST = "CV;Name;Wert\n7;x;2\n109;x;9\n110;x;201\n138;x;1\n140;x;5\n147;x;9\n"


def test_version_cvs_read_after_an_update_answer_no_open_question(
    tmp_path: Path, capsys: Capture
) -> None:
    """Version CVs are read anew by everybody, and so is every leftover: CV 147 = 9 beside 2.9.201
    may be from 2.4.118, before an update to 4.2.60 and after it.
    """
    path, card = tmp_path / "g.toml", tmp_path / "card.csv"
    card.write_text(LIST, encoding="utf-8")
    run(["keep", str(path), str(card), *LARK, "--how", "typed", "--date", "2025-11-20"])

    def open_cvs(*words: str) -> list[tuple[str, list[int]]]:
        capsys.readouterr()
        _, found = json_of(capsys, "check", str(path), *words)
        return [
            (one["was"][0]["firmware"], [held["cv"] for held in one["bits"]])
            for decoder in found["locos"][0]["decoders"]
            for one in decoder["findings"]
            if one["code"] == "undated"
        ]

    before = open_cvs()
    assert before == [("2.4.118", [147])]
    _, kept = json_of(capsys, "keep", str(path), "7=4", "109=2", "110=60", "--how", "read")
    assert kept["may_be_older"]
    assert open_cvs() == before
    run(["check", str(path)])
    told = " ".join(capsys.readouterr().out.split())
    assert "3 values saved for 2.9.201 (by the version CVs noted with them) or older" in told
    assert "set for firmware 2.9.201, they are CV 147" in told
    code, (line,) = fails(capsys, "carry", str(path), "--to", "4.3.9")
    assert code == 3
    assert "--saved-for 2.4.118, or --saved-for 2.9.201 if set since" in line
    for version in ("2.4.118", "2.9.201"):
        assert open_cvs("--saved-for", version) == []
        assert run(["carry", str(path), "--to", "4.3.9", "--saved-for", version]) != 3
    capsys.readouterr()
    run(["keep", str(path), "147=9", "--saved-for", "2.9.201"])
    assert open_cvs() == []
    assert run(["carry", str(path), "--to", "4.3.9"]) != 3
