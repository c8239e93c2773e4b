"""`cvlib new`: a profile from answers and a table, read back before it is written."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, program, run
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.answer import Standing
from cvlib.model.profile import Extent, risk_text

Capture = pytest.CaptureFixture[str]

TABLES = ROOT / "tests" / "cases" / "new"
ANSWERS = (
    *("--maker", "Ferrow", "--name", "Linnet", "--kind", "motor"),
    *("--firmware", "1.0 to 1.4", "--title", "Linnet handbook, issue 1"),
)
ID = "ferrow/linnet"


def made(capsys: Capture, own: Path, *words: str, table: Path | str = "") -> Any:
    """The JSON output of making a profile."""
    named = [str(table)] if table else []
    code, data = json_of(capsys, "new", ID, *named, *ANSWERS, *words, "--definitions", str(own))
    assert code == 0
    return data


def refused(capsys: Capture, own: Path, text: str, *words: str) -> list[str]:
    """The error lines for a table; no file is made."""
    table = own / "table.csv"
    table.write_text(text, encoding="utf-8")
    code, lines = fails(capsys, "new", ID, str(table), *ANSWERS, *words, "--definitions", str(own))
    assert code == 2
    assert [path.name for path in own.rglob("*")] == ["table.csv"]
    return lines


def places(own: Path) -> dict[str, dict[str, Any]]:
    """The first place of each setting of the new profile, by id."""
    data = tomllib.loads((own / f"{ID}.toml").read_text(encoding="utf-8"))
    return {one["id"]: one["place"][0] for one in data["setting"]}


def test_twenty_settings_from_a_table(tmp_path: Path, capsys: Capture) -> None:
    """Kinds, ranges, units, names, pages are those of the table; the result is tidy and lints."""
    data = made(capsys, tmp_path, table=TABLES / "linnet.csv")
    assert data["written"] is True
    assert len(data["settings"]) == 20
    found = places(tmp_path)
    assert found["speed.minimum"]["default"] == 6
    assert found["address.extended"]["form"] == "extended"
    assert found["momentum.acceleration"]["measure"] == "momentum"
    assert found["motor.control-interval"] == {
        "cv": 50,
        "kind": "number",
        "range": [1, 50],
        "unit": "ms",
        "scale": found["motor.control-interval"]["scale"],
        "default": 10,
        "sources": ["handbook-1:12"],
    }
    assert found["motor.control-interval"]["scale"] == 0.5
    assert found["motor.type"]["choices"] == {"0": "iron core", "1": "bell shape", "2-3": "can"}
    assert found["motor.brake-at-stand"]["kind"] == "switch"
    assert found["lights.lamps-on-outputs"]["flags"]["2"] == "cab"
    assert found["braking.distance"]["values"] == {"0": "off"}
    assert found["configuration.value"]["kind"] == "fields"
    assert found["speed.table"]["cvs"] == "67-94"
    assert run(["tidy", "--definitions", str(tmp_path), "--check"]) == 0
    linted = program("lint", "--definitions", str(tmp_path)).stdout
    told = {line.split()[2] for line in linted.splitlines() if "linnet" in line}
    assert told <= {"not-identified", "uncovered-bits", "unmarked-risk", "page-missing"}


def test_only_what_the_table_lists_is_documented(tmp_path: Path, capsys: Capture) -> None:
    """What the standard has beyond it is assumed; bits of a byte that it lists count as listed."""
    made(capsys, tmp_path, table=TABLES / "linnet.csv")
    profile = open_store(tmp_path).profile(ID)
    answers = Resolver(profile).at(profile.version("1.2"))
    assert profile.sources["handbook-1"].extent is Extent.CITED
    for id, answer in answers.items():
        place = answer.place
        if answer.standing is not Standing.DOCUMENTED or not profile.settings[id].origin:
            continue
        assert place is not None
        by_handbook = any(one.source == "handbook-1" for one in place.citations)
        assert by_handbook or place.marks.requirement == "mandatory"
        assert not by_handbook or [field.slot.cv for field in place.fields] == [29]
    assert answers["configuration.reversed"].standing is Standing.DOCUMENTED
    assert answers["consist.reversed"].standing is Standing.ASSUMED


def test_a_handbook_is_whole_only_where_that_is_said(tmp_path: Path, capsys: Capture) -> None:
    """With --complete; rows without a page call on it once for all, and nothing is beyond them."""
    table = tmp_path / "table.csv"
    table.write_text("cv,title,min,max\n60,Glow,0,9\n61,Fade,0,9\n", encoding="utf-8")
    made(capsys, tmp_path, "--complete", table=table)
    data = tomllib.loads((tmp_path / f"{ID}.toml").read_text(encoding="utf-8"))
    assert data["source"][0]["extent"] == "whole"
    assert data["decoder"]["sources"] == ["handbook-1"]
    assert all("sources" not in one["place"][0] for one in data["setting"])
    profile = open_store(tmp_path).profile(ID)
    answers = Resolver(profile).at(profile.version("1.2"))
    assert answers["other.glow"].standing is Standing.DOCUMENTED
    assert "speed.table" not in answers
    assert answers["identity.manufacturer"].standing is Standing.ASSUMED


def test_a_german_table_in_any_order(tmp_path: Path, capsys: Capture) -> None:
    """Headings are told by their words; what is not understood is told and left out."""
    data = made(capsys, tmp_path, "--follows", "rcn", "--complete", table=TABLES / "linnet-de.csv")
    assert data["unused"] == ["Farbe"]
    found = places(tmp_path)
    assert found["speed.minimum"]["note"] == "Erhöhen, bis die Lok gerade anfährt"
    assert found["other.bremsweg"]["unit"] == "cm"
    assert found["other.motorart"]["choices"] == {"0": "Eisenanker", "1": "Glockenanker"}
    assert found["bremse.im-stand"]["default"] is False
    profile = open_store(tmp_path).profile(ID)
    assert "speed.table" not in profile.settings
    assert "configuration.reversed" in profile.settings
    assert "identity.manufacturer" in profile.settings


def test_without_a_table_there_is_the_standard_alone(tmp_path: Path, capsys: Capture) -> None:
    """Releases come from the range and from --release, in order; parts as they are given."""
    words = (
        "--release",
        "1.2",
        "--release",
        "1.10",
        "--parts",
        "7, 260@16/31",
        "--date",
        "1.2.2026",
    )
    made(capsys, tmp_path, *words, "--manufacturer", "13")
    data = tomllib.loads((tmp_path / f"{ID}.toml").read_text(encoding="utf-8"))
    versions = [one["version"] for one in data["firmware"]["release"]]
    assert versions == ["1.0", "1.2", "1.4", "1.10"]
    assert data["firmware"]["parts"] == [{"cv": 7}, {"cv": 260, "page": "16/31"}]
    assert data["identity"] == {"manufacturer": 13}
    assert data["source"][0]["date"].isoformat() == "2026-02-01"
    assert "setting" not in data


RISKS = 'cv,title,risk\n2,Start voltage,\n60,Glow,"heat, coil"\n61,Lamp,none\n62,Volume,\n'


@pytest.mark.parametrize(
    ("words", "volume", "note"),
    [((), "not known", "Nobody noted what other.volume may harm"), (("--risk", "current"),
     "current", "")],
)  # fmt: skip
def test_a_table_may_say_what_settings_may_harm(
    words: tuple[str, ...], volume: str, note: str, tmp_path: Path, capsys: Capture
) -> None:
    """A row of a standard's CV has the standard's mark; what nobody says is told as unmarked."""
    table = tmp_path / "table.csv"
    table.write_text(RISKS, encoding="utf-8")
    given = ["new", ID, str(table), *ANSWERS, *words, "--definitions", str(tmp_path)]
    assert run(given) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert (note in shown) if note else ("Nobody noted" not in shown)
    held = open_store(tmp_path).profile(ID).settings
    told = {one.title: risk_text(one.risk) for one in held.values() if not one.origin}
    assert told == {
        "Start voltage": "motor",
        "Glow": "coil, heat",
        "Lamp": "none",
        "Volume": volume,
    }


def test_a_word_that_is_no_harm_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """At its row, with the nearest word."""
    table = tmp_path / "table.csv"
    table.write_text("cv,title,risk\n60,Glow,haet\n", encoding="utf-8")
    assert run(["new", ID, str(table), *ANSWERS, "--definitions", str(tmp_path)]) == 2
    assert 'table.csv:2: CV 60: risk "haet" is no harm that is known' in capsys.readouterr().err


def test_rows_with_one_id_are_places_of_one_setting(tmp_path: Path, capsys: Capture) -> None:
    """A column of firmware parts them; a group stands in a row of its own."""
    table = tmp_path / "table.csv"
    table.write_text(
        "id;cv;title;min;max;firmware\nBraking\n;60;Wait;0;9;\nlamp.glow;61;Glow;0;9;1.0 to 1.2\n"
        "lamp.glow;62;Glow;0;9;1.3 to 1.4\n",
        encoding="utf-8",
    )
    made(capsys, tmp_path, "--follows", "none", table=table)
    profile = open_store(tmp_path).profile(ID)
    assert profile.settings.keys() == {"braking.wait", "lamp.glow"}
    assert [p.firmware.text() for p in profile.settings["lamp.glow"].places] == [
        *(">=1.0, <=1.2", ">=1.3, <=1.4")
    ]


def test_a_setting_that_the_standard_has_otherwise_is_left_out(
    tmp_path: Path, capsys: Capture
) -> None:
    """CV 10 of the decoder is something else than CV 10 of the standard."""
    table = tmp_path / "table.csv"
    table.write_text("cv,bits,title,choices\n10,0-1,Hum,0=off 1=on\n", encoding="utf-8")
    code = run(["new", ID, str(table), *ANSWERS, "--definitions", str(tmp_path)])
    assert code == 0
    profile = open_store(tmp_path).profile(ID)
    assert "motor.feedback-cutout" not in profile.settings


def test_a_file_that_is_there_is_never_overwritten(tmp_path: Path, capsys: Capture) -> None:
    """Neither a profile of the store nor a file that is no profile."""
    made(capsys, tmp_path)
    before = (tmp_path / f"{ID}.toml").read_bytes()
    code, lines = fails(capsys, "new", ID, *ANSWERS, "--definitions", str(tmp_path))
    assert code == 2
    assert "not overwritten" in lines[0]
    assert (tmp_path / f"{ID}.toml").read_bytes() == before
    code, lines = fails(capsys, "new", "ferrow/lark-8", *ANSWERS, "--definitions", str(tmp_path))
    assert "cvlib amend" in lines[0]


def test_a_dry_run_shows_the_settings_and_makes_nothing(tmp_path: Path, capsys: Capture) -> None:
    """Not even the folder."""
    own = tmp_path / "own"
    words = ["new", ID, str(TABLES / "linnet.csv"), *ANSWERS, "--definitions", str(own)]
    assert run([*words, "--dry-run"]) == 0
    told = capsys.readouterr().out
    assert "not written" in told
    assert "motor.load-control" in told
    assert not own.exists()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ":1: there are no headings"),
        ("a,b\n1,2\n", ":1: there are no headings"),
        ("cv,title\n", "no CVs"),
        ("cv,title\n27,\n", ":2: CV 27 has no title"),
        ("cv,title\nx,A\n", ":2: CV x"),
        ("cv,title\n2000,A\n", ':2: setting "other.a", place 1, cv'),
        ("cv,title,min,max\n60,A,0,9\n61,B,9,1\n", ":3: "),
        ("cv,title,max,default\n60,A,9,10\n", ":2: illegal-default"),
        ("cv,title\n60,A\n60,B\n", ":2: claimed-twice"),
        ("cv,title,kind\n60,A,thing\n", "there is no kind of value"),
        ("id,cv,title\na.b,60,A\na.b,61,B\n", ':3: "a.b" is in the table twice'),
        ("cv,title,choices\n60,A,off/on\n", '"0=off, 1=on'),
        ("cv,title,bits\n60,A,9\n", ":2: "),
        ("cv,page,title\n60,16/2,A\n", ":2: "),
    ],
)
def test_a_table_with_faults_makes_nothing(
    tmp_path: Path, capsys: Capture, text: str, told: str
) -> None:
    """The fault is told at its line of the table."""
    lines = refused(capsys, tmp_path, text, "--follows", "none")
    assert told in lines[0], lines


def test_all_rows_with_faults_are_told_at_once(tmp_path: Path, capsys: Capture) -> None:
    """One line each, in their order."""
    lines = refused(capsys, tmp_path, "cv,title,scale\nx,A,1\n60,,1\n61,C,z\n62,D,1\n")
    assert [line.partition("table.csv:")[2][0] for line in lines] == ["2", "3", "4"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "PROFILE, --maker, --name, --kind, --title, --firmware"),
        (("linnet", *ANSWERS), "maker and decoder"),
        ((ID, *ANSWERS, "--kind", "lorry"), "motor, function, sound, accessory"),
        ((ID, *ANSWERS, "--firmware", "new"), "numbers joined by dots"),
        ((ID, *ANSWERS, "--follows", "din"), "nmra"),
        ((ID, *ANSWERS, "--scheme", "roman"), "dotted"),
        ((ID, "none.csv", *ANSWERS), "no such file"),
    ],
)
def test_wrong_answers_are_told_in_one_line(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    """Exit code 2, with what would have been right."""
    done = program("new", *words, "--definitions", str(tmp_path))
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert told in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_profile_does_not_go_into_an_installed_program(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a folder of one's own there is nothing to write to, and one line says so."""
    monkeypatch.setattr("cvlib.files.new_profile.is_installed", lambda: True)
    monkeypatch.delenv("CVLIB_DEFINITIONS", raising=False)
    code, lines = fails(capsys, "new", ID, *ANSWERS)
    assert code == 2
    assert "--definitions DIR" in lines[0]


@pytest.mark.parametrize("id", ["ferrow/blocks", "fleet/linnet"])
def test_a_profile_cannot_hide_what_is_no_profile(tmp_path: Path, capsys: Capture, id: str) -> None:
    """A file of shared blocks, and the folder of locos, are nobody's id."""
    code, (line,) = fails(capsys, "new", id, *ANSWERS, "--definitions", str(tmp_path))
    assert code == 2
    assert "cannot be the id of a profile" in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "id", "expected"),
    [
        ("cv,title,range\n5,Top speed,0-255\n", "speed.maximum", {"range": [0, 255]}),
        ("cv,title\n5,Top speed\n", "speed.maximum", {"values": {"0-1": "not used"}}),
        (
            "cv,title,range\n42,output 8 (motor driver) function number,0-31\n",
            "output.8-motor-driver-function-number",
            {"range": [0, 31]},
        ),
        ("cv,title,range\n42,Outputs of F8,0-255\n", "function-map.f8", {}),
    ],
)
def test_a_row_takes_no_more_of_the_standard_than_it_leaves_open(
    text: str, id: str, expected: dict[str, Any], tmp_path: Path, capsys: Capture
) -> None:
    """No names of values beside a range of its own (NMRA S-9.2.2, CV 5), no id by a number."""
    (tmp_path / "table.csv").write_text(text, encoding="utf-8")
    made(capsys, tmp_path, table=tmp_path / "table.csv")
    held = places(tmp_path)[id]
    assert {key: held[key] for key in expected} == expected
    assert ("values" in held) == ("values" in expected)
