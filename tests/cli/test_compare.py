"""`cvlib compare`, from the words typed to the exit code."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from cli.json_output import fails, json_of, schema
from cli.run_cvlib import program, run

Capture = pytest.CaptureFixture[str]

LOCO = """format = 1
[loco]
name = "{name}"
[[decoder]]
profile = "{profile}"
firmware = "{firmware}"
[[decoder.saved]]
firmware = "{firmware}"
[decoder.saved.cv]
{values}
"""
TABLE = "\n".join(f"{67 + at} = {9 * (at + 1)}" for at in range(28))


def loco_file(
    folder: Path, name: str, values: str, firmware: str = "4.3.9", profile: str = "ferrow/lark-8"
) -> str:
    """A loco file in a folder."""
    path = folder / f"{name}.toml"
    text = LOCO.format(name=name, values=values, firmware=firmware, profile=profile)
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.fixture
def pair(tmp_path: Path) -> tuple[str, str]:
    """Two locos of one decoder type with different firmware."""
    first = loco_file(
        tmp_path, "Marsh Harrier", "2 = 9\n3 = 20\n5 = 200\n6 = 90\n29 = 6\n141 = 40", "2.4.118"
    )
    second = loco_file(tmp_path, "Curlew", f"3 = 30\n23 = 133\n29 = 22\n144 = 75\n{TABLE}")
    return first, second


def setting(data: Any, name: str) -> Any:
    """The row of one setting."""
    (row,) = (row for row in data["settings"] if row["setting"] == name)
    return row


def test_settings_in_engineering_units(pair: tuple[str, str], capsys: Capture) -> None:
    """80 cm at CV 141 against 75 cm at CV 144: 5 cm apart, and 75 cm cannot be set in the first."""
    code, data = json_of(capsys, "compare", *pair)
    assert code == 0
    row = setting(data, "braking.stopping-distance")
    assert row["differs"] is True
    assert row["apart"] == [0, -5]
    assert [value["raw"] for value in row["values"]] == [40, 75]
    assert [value["cannot"] for value in row["values"]] == [[], [0]]


def test_curves_and_times(pair: tuple[str, str], capsys: Capture) -> None:
    """A three-point curve against a table; seconds by the standards' sum."""
    _, data = json_of(capsys, "compare", *pair)
    assert [curve["form"] for curve in data["curves"]] == ["three-point curve", "speed table"]
    assert data["deviations"][0]["forward"] == {"step": 1, "drive": 0.0}
    assert data["deviations"][1]["forward"] == {"step": 28, "drive": 52.0}
    assert [held["speeding_up"] for held in data["times"]] == [17.92, 22.4]


def test_several_locos(tmp_path: Path, pair: tuple[str, str], capsys: Capture) -> None:
    """A third loco stands beside the two, each under a name of its own."""
    third = loco_file(tmp_path, "Curlew-b", "3 = 5", "4.0.5")
    text = Path(third).read_text(encoding="utf-8").replace("Curlew-b", "Curlew")
    Path(third).write_text(text, encoding="utf-8")
    _, data = json_of(capsys, "compare", *pair, third)
    assert [held["name"] for held in data["locos"]] == ["Marsh Harrier", "Curlew", "Curlew (3)"]
    assert setting(data, "momentum.acceleration")["apart"] == [0, 10, -15]


def test_text_has_a_plot_and_the_deviation(pair: tuple[str, str]) -> None:
    """The terminal form draws both curves and says where they lie furthest apart."""
    done = program("compare", *pair, COLUMNS="100")
    assert done.returncode == 0
    assert "at most 52 of 255 (20.4 %) faster, at step 28" in done.stdout
    assert "100 % |" in done.stdout
    assert "\x1b" not in done.stdout


def test_a_match_and_its_sheet(pair: tuple[str, str], capsys: Capture) -> None:
    """The first loco gets the curve of the second as a table; where it stops is set by hand."""
    _, data = json_of(capsys, "compare", pair[0], "--match", pair[1])
    match = data["match"]
    assert match["after"] == {"step": 1, "drive": 0.0}
    values = {step["cv"]: step["value"] for step in match["sheet"]["steps"]}
    assert 141 not in values
    told = {held["setting"]: held["reason"] for held in match["unmatched"]}
    assert told["braking.stopping-distance"] == "harm"
    assert values[29] == 22
    assert (values[67], values[94]) == (9, 252)
    assert run(["compare", pair[0], "--match", pair[1], "--format", "csv"]) == 0
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    written = [int(row[0]) for row in rows[1:] if row[0]]
    assert written == sorted(written)


def test_a_match_across_decoder_types(tmp_path: Path, capsys: Capture) -> None:
    """What the other decoder cannot have is told with the reason."""
    first = loco_file(tmp_path, "A", "2 = 1\n29 = 6", "1.2.7", "ferrow/lark-8-mk2")
    second = loco_file(tmp_path, "B", "3 = 30\n138 = 1\n148 = 123", "2.4.118")
    _, data = json_of(capsys, "compare", first, "--match", second)
    assert {held["reason"] for held in data["match"]["unmatched"]} >= {"absent"}


def test_a_match_of_nothing_is_as_alike_as_it_can_be_only_where_nothing_is_left(
    tmp_path: Path, capsys: Capture
) -> None:
    """What differs and cannot be proposed is counted, as the table below it has it."""
    alike = loco_file(tmp_path, "Tern", "138 = 1\n141 = 40", "2.4.118")
    other = loco_file(tmp_path, "Teal", "138 = 1\n144 = 60", "2.9.201")
    same = loco_file(tmp_path, "Plover", "138 = 1\n141 = 40", "2.4.118")
    run(["compare", alike, "--match", same])
    assert "Nothing to change: it runs as alike as it can." in capsys.readouterr().out
    run(["compare", other, "--match", alike])
    told = capsys.readouterr().out
    assert "Nothing to change" not in told
    assert "No value proposed; 1 setting cannot be matched from here." in told


def test_the_page_of_a_match(pair: tuple[str, str], capsys: Capture) -> None:
    """The form html holds the values proposed and the sheet with its boxes."""
    assert run(["compare", pair[0], "--match", pair[1], "--format", "html"]) == 0
    page = capsys.readouterr().out
    assert page.startswith("<!doctype html>")
    assert 'class="box"' in page


@pytest.mark.parametrize(
    ("more", "code", "said"),
    [
        (("--format", "csv"), 2, "holds a write sheet"),
        (("--format", "html"), 2, "--match"),
    ],
)
def test_a_sheet_needs_a_match(
    more: tuple[str, ...], code: int, said: str, pair: tuple[str, str], capsys: Capture
) -> None:
    """The forms of a sheet are refused without one."""
    found, lines = fails(capsys, "compare", *pair, *more)
    assert found == code
    assert said in lines[0]


def test_one_loco_is_not_enough(pair: tuple[str, str], capsys: Capture) -> None:
    """There is nothing to compare a single loco with."""
    code, lines = fails(capsys, "compare", pair[0])
    assert code == 2
    assert "two locos or more" in lines[0]


def test_firmware_that_is_not_known(tmp_path: Path, pair: tuple[str, str], capsys: Capture) -> None:
    """A loco whose firmware nobody noted is not compared by guess: exit code 3."""
    path = Path(loco_file(tmp_path, "C", "3 = 1"))
    path.write_text(
        path.read_text(encoding="utf-8").replace('firmware = "4.3.9"\n', ""), encoding="utf-8"
    )
    code, lines = fails(capsys, "compare", pair[0], str(path))
    assert code == 3
    assert "firmware" in lines[0]


def test_the_schema_is_strict(pair: tuple[str, str], capsys: Capture) -> None:
    """What the schema does not name is refused."""
    _, data = json_of(capsys, "compare", *pair)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "more": 1}, schema("compare"))


def test_lists_are_compared_once_it_is_said_what_they_are(tmp_path: Path, capsys: Capture) -> None:
    """Two lists with the version read anew: exit code 3, until a word says that none is older."""
    files = []
    for name, distance in (("one", 50), ("other", 60)):
        path = tmp_path / f"{name}.txt"
        path.write_text(f"7=4\n109=2\n110=60\n141=41\n144={distance}\n", encoding="utf-8")
        files.append(str(path))
    words = ["compare", *files, "--profile", "ferrow/lark-8"]
    assert run(words) == 3
    assert "--saved-for 2.4.118" in capsys.readouterr().err
    code, data = json_of(capsys, *words, "--state", "never-updated")
    assert code == 0
    assert setting(data, "braking.stopping-distance")["apart"] == [0, 10]
