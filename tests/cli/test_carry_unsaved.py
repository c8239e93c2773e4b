"""A list of values kept before an update, of which some were never saved, carried after it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import json_of
from cli.run_cvlib import run

Capture = pytest.CaptureFixture[str]

# The CVs of an invented loco. Where they lie in 2.4.118 and in 4.2.60 is from the two handbooks of
# the profile: definitions/ferrow/lark-8.toml, handbook-1:22 to 28 and handbook-2:18 to 35.
BETWEEN = (
    "1=7 5=200 7=2 8=13 9=1 28=3 29=6 54=1 55=10 64=12 109=9 110=201 113=1 115=5 138=1 139=4 "
    "140=5 141=40 142=2 144=60 146=1 147=9 148=118"
)
OLDER = "1=7 5=200 7=2 8=13 109=9 110=201 139=3 141=40 142=2 144=50 146=1 147=9 148=118"
OLDER_CHOICES = [f"{name}=older" for name in ("braking", "motor", "keeper", "bidirectional")]


def kept(path: Path, values: str, *words: str) -> Path:
    """A loco file of values kept before the update, and of the version read after it."""
    first = ["keep", str(path), *values.split(), "--profile", "ferrow/lark-8", "--how", "typed"]
    assert run([*first, "--date", "2025-11-20", *words]) == 0
    assert run(["keep", str(path), "7=4", "109=2", "110=60", "--how", "read"]) == 0
    return path


@pytest.fixture
def between(tmp_path: Path, capsys: Capture) -> Path:
    """Values of 2.9.201, of which no handbook speaks."""
    held = kept(tmp_path / "g.toml", BETWEEN, "--saved-for", "2.9.201")
    capsys.readouterr()
    return held


@pytest.fixture
def older(tmp_path: Path, capsys: Capture) -> Path:
    """Values of 2.4.118; the way of braking, CV 138, was never saved."""
    held = kept(tmp_path / "p.toml", OLDER, "--saved-for", "2.4.118")
    capsys.readouterr()
    return held


def steps(capsys: Capture, loco: Path, *words: str) -> list[dict[str, Any]]:
    """The steps of the sheet."""
    _, data = json_of(capsys, "carry", str(loco), "--to", "4.2.60", *words)
    found: list[dict[str, Any]] = data["sheet"]["steps"]
    return found


def writes(found: list[dict[str, Any]]) -> dict[int, int]:
    """What is written, by CV."""
    return {one["cv"]: one["value"] for one in found if one["kind"] == "write"}


@pytest.mark.parametrize("choices", [[], OLDER_CHOICES])
def test_a_value_of_two_cvs_is_written_whole(
    between: Path, capsys: Capture, choices: list[str]
) -> None:
    """9000 mV is 35 * 256 + 40; with one half the decoder would hold another voltage."""
    said = [word for choice in choices for word in ("--choose", choice)]
    written = writes(steps(capsys, between, *said))
    assert (written.get(138), written.get(139)) == (35, 40)


def test_what_was_never_saved_is_read_before_all_writes(older: Path, capsys: Capture) -> None:
    """CV 138 was the way of braking: nothing takes its place, and the reads come first."""
    found = steps(capsys, older)
    reads = [one["step"] for one in found if one["reason"] == "changed"]
    cvs = [one["cv"] for one in found if one["reason"] == "changed"]
    first = min(one["step"] for one in found if one["kind"] == "write" and one["cv"] != 15)
    assert max(reads) < first
    assert set(cvs) >= {114, 120, 121, 122, 123, 134, 138, 140, 145}
    assert cvs == sorted(set(cvs))
    told = next(one["why"] for one in found if one["cv"] == 138 and one["kind"] == "read")
    assert "never saved; it was Way of braking in 2.4.118" in told
    assert not writes(found).keys() & {138, 139, 140, 142}
    note = next(one for one in found if one["cv"] == 142)
    assert (note["kind"], note["reason"]) == ("note", "decide")
    assert "CV 138 was never saved" in note["why"]
    stop = next(one for one in found if one["reason"] == "keep-read")
    assert "--saved-for 2.4.118" in stop["why"]


def test_what_was_read_and_kept_is_carried(older: Path, capsys: Capture) -> None:
    """The way of braking goes over by its name, and what had its CV gets its factory value."""
    words = "114=20 120=0 121=15 122=15 123=10 134=255 138=1 140=5 143=5 145=3 --how read"
    assert run(["keep", str(older), *words.split(), "--saved-for", "2.4.118"]) == 0
    capsys.readouterr()
    written = writes(found := steps(capsys, older))
    assert [written.get(cv) for cv in (138, 139, 142, 146)] == [35, 40, None, 10]
    still = {one["cv"] for one in found if one["reason"] == "changed"}
    assert not still & {114, 120, 121, 122, 123, 134, 138, 140, 143, 145}


def test_the_version_read_later_says_nothing_of_the_values(older: Path, capsys: Capture) -> None:
    """The same reads as where --saved-for is given with the command."""
    noted = [one["cv"] for one in steps(capsys, older) if one["reason"] == "changed"]
    said = steps(capsys, older, "--saved-for", "2.4.118")
    assert noted == [one["cv"] for one in said if one["reason"] == "changed"] != []


def test_a_trap_of_the_new_values_is_told(tmp_path: Path, capsys: Capture) -> None:
    """A stopping distance beside "as momentum" is not in use."""
    loco = kept(tmp_path / "t.toml", f"{OLDER} 138=0", "--saved-for", "2.4.118")
    capsys.readouterr()
    _, data = json_of(capsys, "carry", str(loco), "--to", "4.2.60")
    assert "distance-not-in-use" in {one["id"] for one in data["findings"]}


def test_a_choice_leaves_no_cv_out(between: Path, capsys: Capture) -> None:
    """What a chosen setting leaves behind is told, as without the choice, and not as unused."""
    said = [word for choice in OLDER_CHOICES for word in ("--choose", choice)]
    found = steps(capsys, between, *said)
    assert {one["cv"] for one in found} >= {28, 113, 141}
    assert (writes(found)[113], writes(found)[141]) == (60, 20)
    run(["carry", str(between), "--to", "4.2.60", *said])
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    unused = text.partition("because no setting was using them: ")[2].partition(". ")[0]
    assert unused == "CV 142 = 2"


def test_bits_are_counted(tmp_path: Path, capsys: Capture) -> None:
    """One bit is no bits."""
    loco = kept(tmp_path / "b.toml", f"{OLDER} 29=70", "--saved-for", "2.4.118")
    capsys.readouterr()
    run(["carry", str(loco), "--to", "4.2.60"])
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert not re.search(r"\bbits \d of CV", text)
    assert re.search(r"\bbit 6 of CV 29 \(64\)", text)


@pytest.mark.parametrize(
    ("to", "near"),
    [("4.2.6", "4.2.60"), ("4.3.90", "4.3.9"), ("9.9", "5.0.1"), ("4.2.60", "")],
)
def test_a_goal_that_is_no_listed_release(older: Path, capsys: Capture, to: str, near: str) -> None:
    """One line names the nearest release that is listed."""
    run(["carry", str(older), "--to", to])
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    line = f"No release {to} of Ferrow Lark 8 is listed; the nearest one is {near}."
    assert (line in text) is bool(near)
    assert ("is listed;" in text) is bool(near)


def test_the_page_says_what_factory_values_replace(between: Path, capsys: Capture) -> None:
    """Most of those CVs held values of other settings."""
    run(["carry", str(between), "--to", "4.2.60", "--format", "html"])
    page = capsys.readouterr().out
    assert "nothing of yours" not in page
    assert "What is there now belonged to other settings or to none." in page
