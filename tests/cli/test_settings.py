"""`cvlib settings`: which settings belong to a firmware, row by row."""

import json
from typing import Any

import jsonschema
import pytest

from cli.json_output import fails, json_of, schema
from cli.run_cvlib import STORE, program, run

PLOVER = ("settings", "ferrow/plover", "--definitions", str(STORE))
LARK = ("settings", "ferrow/lark-8")

Capture = pytest.CaptureFixture[str]


def rows(data: Any) -> dict[str, Any]:
    """The rows of an output by setting."""
    return {row["id"]: row for row in (*data["settings"], *data["absent"])}


def test_a_label_names_its_firmware(capsys: Capture) -> None:
    """A release's label is as good as its version."""
    by_label = json_of(capsys, "settings", "open/tiny402-function", "--firmware", "V0.1_4b7a54c")
    by_version = json_of(capsys, "settings", "open/tiny402-function", "--firmware", "2025-09-02")
    assert by_label == by_version


def test_a_row_is_complete(capsys: Capture) -> None:
    """Place, coding, default, sources and the reason for the answer stand in the row."""
    _, data = json_of(capsys, *PLOVER, "--firmware", "1.2")
    row = rows(data)["braking.distance"]
    assert (row["title"], row["group"], row["standing"]) == (
        "Stopping distance",
        "braking",
        "documented",
    )
    assert (row["cvs"], row["page"], row["bits"]) == ([141], "", "")
    assert (row["kind"], row["range"], row["scale"], row["unit"]) == ("number", [0, 255], 2, "cm")
    assert (row["default"], row["default_text"]) == (0, "0 cm")
    assert [(one["source"], one["page"]) for one in row["sources"]] == [("handbook-1", "23")]
    assert row["why"]["rule"] == 2
    assert row["why"]["firmware"] == ">=1.0, <2.0"


def test_raw_values_stand_as_in_the_profile(capsys: Capture) -> None:
    """Bits as text, defaults of bits as the field's own value, several CVs as a list."""
    _, data = json_of(capsys, "settings", "standard/nmra-s-9.2.2")
    found = rows(data)
    assert found["consist.address"]["bits"] == "0-6"
    assert found["configuration.reversed"]["bits"] == "0"
    assert found["function-map.f4"]["default"] == 4
    assert found["analogue.functions-1-8"]["flags"]["0"] == "F1"
    assert found["momentum.acceleration-adjustment"]["range"] == [-127, 127]
    assert found["speed.table"]["cvs"] == list(range(67, 95))
    assert found["area.26"]["kind"] == "area"
    assert found["area.26"]["use"] == "reserved"
    _, data = json_of(capsys, "settings", "standard/rcn-225")
    found = rows(data)
    assert found["address.extended"]["default"] == [195, 232]
    assert found["identity.extended-manufacturer"]["when"] == [
        {"setting": "identity.manufacturer", "is": [238]}
    ]


def test_a_standard_needs_no_firmware(capsys: Capture) -> None:
    """With one generation only there is nothing to choose, and the output says so."""
    code, data = json_of(capsys, "settings", "standard/rcn-225")
    assert (code, data["firmware"], data["stated"]) == (0, "2025-07-27", False)
    assert run(["settings", "standard/rcn-225"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "all firmware of this profile has the same settings" in told


def test_several_generations_are_not_guessed_between(capsys: Capture) -> None:
    """Without firmware the answer is the list of stretches that fit, and exit code 3."""
    code, lines = fails(capsys, *PLOVER)
    assert code == 3
    assert "--firmware" in lines[0]
    assert "CV 7, CV 109" in lines[0]
    assert [line.partition(": ")[2].partition(": ")[2] for line in lines[1:]][:3] == [
        "<1.0, before all documents.",
        ">=1.0, <2.0, documented (1.2).",
        ">=2.0, <2.5, gap: no document.",
    ]


def test_many_stretches_stay_readable(capsys: Capture) -> None:
    """Forty stretches come on one line and none is left out."""
    code, lines = fails(capsys, "settings", "open/universal-accessory")
    assert (code, len(lines)) == (3, 2)
    assert "==7.1.2, documented (7.1.2)" in lines[1]


def test_disputed_rows_have_every_candidate(capsys: Capture) -> None:
    """Both places stand in the row, and absent is one of them where it may be."""
    _, data = json_of(capsys, *PLOVER, "--firmware", "2.4")
    found = rows(data)
    distance, whistle = found["braking.distance"], found["braking.whistle"]
    assert (distance["standing"], distance["cvs"], distance["kind"]) == ("disputed", [], None)
    assert [one["cvs"] for one in distance["candidates"]] == [[141], [144]]
    assert [one and one["cvs"] for one in whistle["candidates"]] == [[150], None]


def test_a_bench_test_leaves_the_handbook_visible(capsys: Capture) -> None:
    """What the handbooks say stands beside what the bench saw."""
    _, data = json_of(capsys, *PLOVER, "--firmware", "2.5")
    row = rows(data)["sound.chime"]
    assert (row["standing"], row["cvs"]) == ("faulty", [159])
    assert (row["beside"]["standing"], row["beside"]["cvs"]) == ("between", [159])


def test_absent_settings_are_listed_when_asked(capsys: Capture) -> None:
    """Each says which firmware has it; without --absent they are only counted."""
    _, without = json_of(capsys, *PLOVER, "--firmware", "3.1")
    assert without["absent"] == []
    _, data = json_of(capsys, *PLOVER, "--firmware", "3.1", "--absent")
    sides = {row["id"]: row["side"] for row in data["absent"]}
    assert sides == {"braking.whistle": "older", "sound.steam": "both"}
    _, data = json_of(capsys, *PLOVER, "--firmware", "1.2", "--absent")
    assert {row["side"] for row in data["absent"]} == {"newer"}
    run([*PLOVER, "--firmware", "3.1"])
    assert "2 more that this firmware does not have" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("asked", "ids"),
    [
        (["distance"], ["braking.distance"]),
        (["BRAKING", "wait"], ["braking.wait"]),
        (["--group", "speed"], ["speed.top", "speed.crawl"]),
        (["--group", "speed", "--group", "sound"], ["speed.top", "speed.crawl", "sound.chime"]),
        (["--cv", "141"], ["motor.boost"]),
        (["--cv", "150-152"], ["lights.glow", "lights.mode"]),
        (["--cv", "141", "--cv", "159"], ["motor.boost", "sound.chime"]),
        (["nothing-like-it"], []),
    ],
)
def test_the_list_is_narrowed(asked: list[str], ids: list[str], capsys: Capture) -> None:
    """By words in id, title or help, by group and by CV; all that are given must fit."""
    code, data = json_of(capsys, *PLOVER, "--firmware", "3.1", *asked)
    assert code == 0
    assert [row["id"] for row in data["settings"]] == ids


def test_a_cv_on_a_page_is_not_the_cv_on_another(capsys: Capture) -> None:
    """Without a page every page counts; with one only that page."""
    base = (*LARK, "--firmware", "4.3.9")
    _, data = json_of(capsys, *base, "--cv", "257")
    assert [row["page"] for row in data["settings"]] == ["", "16/2"]
    _, data = json_of(capsys, *base, "--cv", "257@16/2")
    assert [row["id"] for row in data["settings"]] == ["smoke.level-stand"]
    _, data = json_of(capsys, *base, "--cv", "257@16/3")
    assert data["settings"] == []


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["settings", "ferrow/lark8"], 2, 'Did you mean "ferrow/lark-8"?'),
        ([*LARK, "--firmware", "x"], 2, '"x" is not a firmware version'),
        ([*LARK, "--firmware", "4.0.5", "--group", "breaking"], 2, 'Did you mean "braking"?'),
        ([*LARK, "--firmware", "4.0.5", "--cv", "1025"], 2, "CV 1025 does not exist."),
        ([*LARK, "--firmware", "4.0.5", "--cv", "9-3"], 2, "lower number first"),
        ([*LARK, "--firmware", "4.0.5", "--against", "ferrow/nix"], 2, "no profile"),
        (["settings"], 2, "PROFILE"),
    ],
)
def test_what_cannot_be_used_is_one_line(
    words: list[str], code: int, told: str, capsys: Capture
) -> None:
    """A mistyped name gets the nearest right one."""
    given, lines = fails(capsys, *words)
    assert (given, len(lines)) == (code, 1)
    assert told in lines[0]


def test_two_firmwares_side_by_side(capsys: Capture) -> None:
    """Added, removed, moved and recoded are told apart, with both answers."""
    code, data = json_of(capsys, *PLOVER, "--firmware", "3.1", "--against", "1.2")
    changes = {one["id"]: one["change"] for one in data["differences"]}
    assert code == 0
    assert (data["before"]["firmware"], data["after"]["firmware"]) == ("1.2", "3.1")
    assert changes == {
        "braking.distance": "moved",
        "motor.boost": "added",
        "braking.whistle": "removed",
        "lights.glow": "added",
        "braking.wait": "recoded",
        "sound.steam": "removed",
    }
    moved = next(one for one in data["differences"] if one["change"] == "moved")
    assert (moved["before"]["cvs"], moved["after"]["cvs"]) == ([141], [144])
    assert [one["cv"] for one in data["cvs"]] == [141, 144, 150, 151, 155, 158]


def test_two_profiles_side_by_side(capsys: Capture) -> None:
    """Another profile is named with or without its firmware."""
    words = ("settings", "standard/rcn-225", "--against", "standard/nmra-s-9.2.2")
    _, plain = json_of(capsys, *words)
    _, dated = json_of(capsys, *words[:-1], "standard/nmra-s-9.2.2@2012-07")
    assert plain["differences"] == dated["differences"]
    defaults = {one["id"] for one in plain["differences"] if one["change"] == "default"}
    assert "address.extended" in defaults


def test_nothing_differs_between_a_firmware_and_itself(capsys: Capture) -> None:
    """And the text says so."""
    _, data = json_of(capsys, *PLOVER, "--firmware", "3.1", "--against", "3.1")
    assert (data["differences"], data["cvs"]) == ([], [])
    run([*PLOVER, "--firmware", "3.1", "--against", "3.1"])
    assert "No setting differs." in capsys.readouterr().out


def test_the_text_shows_candidates_conditions_and_marks(capsys: Capture) -> None:
    """A disputed place has a row for each candidate; a condition stands with the values."""
    assert run([*PLOVER, "--firmware", "2.4"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "CV 144 or 1 to 200 cm" in text
    assert "only while lights.mode is blinking" in text
    assert "read-only" in text
    assert "disputed" in text


def test_why_traces_each_answer(capsys: Capture) -> None:
    """Rule, range, source and page stand below the group."""
    run([*PLOVER, "--firmware", "3.1", "distance", "--why"])
    text = " ".join(capsys.readouterr().out.split())
    assert "why braking.distance: documented: firmware from 3.0 and before 4.0" in text or (
        "why braking.distance: documented: firmware 3.0 to before 4.0" in text
    )
    assert "Plover handbook, issue 2, page 31" in text


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_too_wide(width: int) -> None:
    """The text fits the terminal, whatever its width, for the longest list there is."""
    done = program(
        *("settings", "open/universal-accessory", "--firmware", "7.1.0", "--why"),
        COLUMNS=str(width),
    )
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= width


def test_markdown_is_tables(capsys: Capture) -> None:
    """Every group is a heading and a table."""
    run([*PLOVER, "--firmware", "3.1", "--format", "markdown"])
    text = capsys.readouterr().out
    assert text.startswith("# Ferrow Plover: settings at 3.1")
    assert "| CV 144 | Stopping distance `braking.distance` |" in text


@pytest.mark.parametrize("wrong", [{"settings": [{}]}, {"extra": 1}])
def test_the_schema_is_strict(wrong: dict[str, Any], capsys: Capture) -> None:
    """What the schema does not name is refused."""
    _, data = json_of(capsys, *PLOVER, "--firmware", "3.1")
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(json.loads(json.dumps(data)) | wrong, schema("settings"))
