"""`cvlib timeline`: generations and settings through all firmware."""

from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import STORE, program, run

PLOVER = ("timeline", "ferrow/plover", "--definitions", str(STORE))
DISTANCE = ("--setting", "braking.distance")

Capture = pytest.CaptureFixture[str]


def stretches(data: Any, setting: str) -> list[tuple[str, str, list[Any]]]:
    """The firmware, the standing and the CVs of each stretch of a setting."""
    (life,) = (one for one in data["settings"] if one["id"] == setting)
    return [
        (
            one["firmware"],
            one["standing"],
            [None if at is None else life["places"][at]["cvs"][0] for at in one["places"]],
        )
        for one in life["stretches"]
    ]


def test_a_whole_profile_is_its_stretches(capsys: Capture) -> None:
    """Oldest first, gaps and ends as stretches of their own, changes counted over the gaps."""
    code, data = json_of(capsys, *PLOVER)
    assert code == 0
    told = [
        (one["firmware"], one["known"], one["settings"], one["disputed"], one["changes"])
        for one in data["generations"]
    ]
    none = dict.fromkeys(("added", "removed", "moved", "recoded"), 0)
    assert told == [
        ("<1.0", "before", 12, 0, None),
        (">=1.0, <2.0", "covered", 12, 0, None),
        (">=2.0, <3.0", "gap", 14, 6, None),
        (
            *(">=3.0, <4.0", "covered", 12, 0),
            {"added": 2, "removed": 2, "moved": 1, "recoded": 1},
        ),
        (">=4.0, <5.0", "gap", 13, 1, None),
        (">=5.0, <=5.2", "covered", 13, 0, none | {"added": 1}),
        (">5.2", "beyond", 13, 0, None),
    ]


def test_releases_and_tests_lie_in_their_stretch(capsys: Capture) -> None:
    """A bench test is told in the stretch that its firmware lies in, and begins none."""
    _, data = json_of(capsys, *PLOVER)
    found = {one["firmware"]: one for one in data["generations"]}
    assert [r["version"] for r in found[">=1.0, <2.0"]["releases"]] == ["1.2"]
    assert [r["version"] for r in found[">=2.0, <3.0"]["releases"]] == ["2.5"]
    assert found[">=2.0, <3.0"]["tests"] == ["bench-1"]
    assert found[">=3.0, <4.0"]["tests"] == []


def test_a_setting_tells_its_own_stretches(capsys: Capture) -> None:
    """Place, candidates and standing, cut only where this setting has a reason."""
    _, data = json_of(capsys, *PLOVER, *DISTANCE)
    assert data["generations"] == []
    assert stretches(data, "braking.distance") == [
        ("<1.0", "before", [141]),
        (">=1.0, <2.0", "documented", [141]),
        (">=2.0, <3.0", "disputed", [141, 144]),
        (">=3.0, <4.0", "documented", [144]),
        (">=4.0, <5.0", "between", [144]),
        (">=5.0, <=5.2", "documented", [144]),
        (">5.2", "beyond", [144]),
    ]


def test_a_setting_that_goes_and_comes_back(capsys: Capture) -> None:
    """Absence is told like a place, with the sides that know the setting."""
    _, data = json_of(capsys, *PLOVER, "--setting", "sound.steam")
    assert stretches(data, "sound.steam")[1:6] == [
        (">=1.0, <2.0", "documented", [158]),
        (">=2.0, <3.0", "disputed", [158, None]),
        (">=3.0, <4.0", "documented", [None]),
        (">=4.0, <5.0", "disputed", [None, 158]),
        (">=5.0, <=5.2", "documented", [158]),
    ]


def test_a_bench_test_is_a_stretch_of_one_version(capsys: Capture) -> None:
    """It has its own standing and its source; the gap on both sides keeps its own."""
    _, data = json_of(capsys, *PLOVER, "--setting", "sound.chime")
    (life,) = data["settings"]
    tested = [one for one in life["stretches"] if one["standing"] == "faulty"]
    assert [(one["firmware"], one["sources"]) for one in tested] == [("==2.5", ["bench-1"])]
    others = {s for one in life["stretches"] for s in one["sources"] if one not in tested}
    assert others == {"handbook-1", "handbook-2", "handbook-3"}


def test_a_sheet_covers_only_what_it_is_about(capsys: Capture) -> None:
    """A setting that a supplement sheet does not speak of has a gap where the sheet lies."""
    _, data = json_of(capsys, "timeline", "ferrow/lark-8", "--setting", "braking.stopping-distance")
    known = {one["firmware"]: one["known"] for one in data["settings"][0]["stretches"]}
    assert known[">2.9.201, <4.0"] == "gap"
    _, data = json_of(capsys, "timeline", "ferrow/lark-8", "--setting", "lights.blink-period")
    known = {one["firmware"]: one["known"] for one in data["settings"][0]["stretches"]}
    assert known[">=3.0, <=3.4.96"] == "covered"


def test_settings_that_never_change_are_left_out_unless_asked_for(capsys: Capture) -> None:
    """They are counted; --all brings them, and so does naming them."""
    _, data = json_of(capsys, *PLOVER)
    changing = {one["id"] for one in data["settings"]}
    assert changing == {
        *("braking.distance", "motor.boost", "braking.whistle", "lights.glow"),
        *("braking.wait", "sound.steam"),
    }
    assert data["unchanged"] == 8
    _, data = json_of(capsys, *PLOVER, "--all")
    assert (len(data["settings"]), data["unchanged"]) == (14, 0)
    _, data = json_of(capsys, *PLOVER, "--setting", "speed.top")
    assert [(one["id"], one["changes"]) for one in data["settings"]] == [("speed.top", False)]


def test_a_group_is_its_settings_that_change(capsys: Capture) -> None:
    """With --all all of them."""
    _, data = json_of(capsys, *PLOVER, "--group", "lights")
    assert [one["id"] for one in data["settings"]] == ["lights.glow"]
    _, data = json_of(capsys, *PLOVER, "--group", "lights", "--all")
    assert len(data["settings"]) == 4


def test_the_text_calls_a_gap_a_gap(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole profile and one setting say "gap: no document"."""
    monkeypatch.setenv("COLUMNS", "120")
    for words in (PLOVER, (*PLOVER, *DISTANCE)):
        assert run(list(words)) == 0
        text = " ".join(capsys.readouterr().out.split())
        assert "gap: no document" in text
    assert "Plover handbook, issue 2, page 31" in text
    assert "disputed" in text


def test_what_does_not_change_is_said(capsys: Capture) -> None:
    """A standard has one edition, and nothing to tell."""
    run(["timeline", "standard/rcn-225"])
    assert "No setting changes its place" in capsys.readouterr().out


def test_settings_that_recur_share_a_row(capsys: Capture) -> None:
    """Eight outputs that came with one firmware take one row of the overview."""
    run(["timeline", "ferrow/lark-8"])
    text = " ".join(capsys.readouterr().out.split())
    assert "function[13].outputs" in text
    assert "and 7 more, up to function[20].outputs" in text
    assert "function[14].outputs" not in text


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([*PLOVER, "--setting", "braking.distanc"], 'Did you mean "braking.distance"?'),
        ([*PLOVER, "--group", "light"], 'Did you mean "lights"?'),
        (["timeline", "ferrow/plovr", "--definitions", str(STORE)], "ferrow/plover"),
    ],
)
def test_what_does_not_exist_is_one_line(words: list[str], told: str, capsys: Capture) -> None:
    """With the nearest name that does."""
    code, lines = fails(capsys, *words)
    assert (code, len(lines)) == (2, 1)
    assert told in lines[0]


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("words", [[], ["--group", "address"]])
def test_no_line_is_too_wide(width: int, words: list[str]) -> None:
    """Forty-one stretches are rows, not columns."""
    done = program("timeline", "open/universal-accessory", *words, COLUMNS=str(width))
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= width


def test_markdown_is_a_table(capsys: Capture) -> None:
    """One row for each stretch."""
    run([*PLOVER, "--format", "markdown"])
    text = capsys.readouterr().out
    assert "| 2.0 to before 3.0 | 2.5 | gap: no document," in text
