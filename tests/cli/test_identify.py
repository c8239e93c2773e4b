"""`cvlib identify`: from answers to candidates, in words and as data."""

from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import program, run
from house.tree import ROOT

Capture = pytest.CaptureFixture[str]
LARK = ("8=13", "7=2", "109=9", "110=201", "261@0/255=42")
FLEET = ROOT / "definitions" / "fleet" / "saltmarsh"


@pytest.mark.parametrize(
    ("words", "code", "verdict"),
    [
        (LARK, 0, "one"),
        (("8=13", "7=43"), 3, "several"),
        (("8=13", "7=2", "109=9", "110=201", "261@0/255=43"), 3, "none"),
        (("8=14", "7=6"), 3, "none"),
        (("7=none", "8=none"), 3, "silent"),
    ],
)
def test_one_answer_is_0_and_everything_else_3(
    capsys: Capture, words: tuple[str, ...], code: int, verdict: str
) -> None:
    """Never a silent first match; the JSON follows its schema in every case."""
    found, data = json_of(capsys, "identify", *words)
    assert (found, data["verdict"]) == (code, verdict)


def test_the_candidates_come_with_what_speaks_for_and_against_them(capsys: Capture) -> None:
    """The best one with a reason for each CV read."""
    _, data = json_of(capsys, "identify", *LARK)
    best = data["candidates"][0]
    assert (best["profile"], best["releases"], best["fit"]) == (
        "ferrow/lark-8",
        ["2.9.201"],
        "fits",
    )
    assert {one["ground"] for one in best["evidence"]} == {"identity"}
    assert len(best["evidence"]) == len(LARK)
    assert all(one["bits"] > 0 and one["text"] for one in best["evidence"])


def test_the_next_read_is_named(capsys: Capture) -> None:
    """While several fit there is always something to read next."""
    _, data = json_of(capsys, "identify", "8=13", "7=2")
    assert data["next_reads"]
    assert data["next_reads"][0]["bits"] > 0
    assert run(["identify", "8=13", "7=2"]) == 3
    assert "Read next" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "hints"),
    [
        (["--no-load"], ["connect-load", "only-tests"]),
        (["--main", "--no-bidirectional"], ["to-programming-track", "only-tests"]),
        (["--main", "--bidirectional"], []),
        (["--shared"], ["unplug-other", "use-lock"]),
    ],
)
def test_the_bench_changes_the_plan(capsys: Capture, options: list[str], hints: list[str]) -> None:
    """What cannot be read is not asked for, and what to do about it stands there."""
    _, data = json_of(capsys, "identify", "8=13", "7=43", *options)
    assert [hint["code"] for hint in data["hints"]] == hints
    assert bool(data["next_reads"]) is ("only-tests" not in hints)


def test_silence_is_taken_for_a_decoder_that_cannot_answer(capsys: Capture) -> None:
    """Several CVs without answer: the hint says what to connect."""
    _, data = json_of(capsys, "identify", "7=none", "8=none", "1=none")
    assert data["hints"][0]["code"] == "nothing-answers"
    assert data["cannot_answer"] > 0.1


@pytest.mark.parametrize(
    ("name", "role", "releases"),
    [
        ("01-samphire", "", ["2.4.118"]),
        ("08-curlew", "", ["4.3.9"]),
        ("09-lapwing", "lights", ["1.5", "1.5a"]),
        ("14-tern", "", ["1.3.15"]),
        ("31-workmens-van", "", ["37"]),
    ],
)
def test_a_list_says_what_it_was_saved_for(
    capsys: Capture, name: str, role: str, releases: list[str]
) -> None:
    """The locos of the fleet whose firmware is known and covered."""
    words = ["--role", role] if role else []
    code, data = json_of(capsys, "identify", str(FLEET / f"{name}.toml"), *words)
    assert code == 0
    assert data["saved_values"] is True
    assert data["candidates"][0]["releases"] == releases


def test_settings_from_before_an_update_are_told_apart_from_the_version(capsys: Capture) -> None:
    """Avocet: the settings are those of 2.4.118, and the version CVs name 4.2.60."""
    _, data = json_of(capsys, "identify", str(FLEET / "05-avocet.toml"))
    assert data["version_named"] == "4.2.60"
    assert "2.4.118" in data["candidates"][0]["releases"]
    run(["identify", str(FLEET / "05-avocet.toml")])
    assert "saved before an update" in " ".join(capsys.readouterr().out.split())


def test_a_list_of_a_stranger_says_what_it_was_saved_for(capsys: Capture, tmp_path: Path) -> None:
    """Without a profile noted all are looked at; a line may say that there was no answer."""
    path = tmp_path / "list.csv"
    path.write_text(
        "CV,Value\n7,12\n8,13\n64,21\n28,no answer\n2,4\n3,12\n49,70\n", encoding="utf-8"
    )
    code, data = json_of(capsys, "identify", str(path))
    assert code == 0
    assert data["candidates"][0]["profile"] == "ferrow/wren-2"
    assert {"cv": 28, "page": "", "answer": None} in data["reads"]


SLUICE = """
format = 2

[decoder]
id = "ilex-works/sluice"
maker = "Ilex Works"
name = "Sluice"
kind = "accessory"

[identity]
manufacturer = 13
answers = [{ cv = 250, value = 77 }]

[firmware]
scheme = "dotted"
parts = [{ cv = 7 }]

[[firmware.release]]
version = "4"

[[firmware.release]]
version = "4a"
answers = [{ cv = 7, value = 4 }]

[[firmware.release]]
version = "6"

[[source]]
id = "sheet-4"
kind = "document"
title = "Sluice sheet 4"
date = 2019-01-01
firmware = "==4"

[[source]]
id = "sheet-4a"
kind = "document"
title = "Sluice sheet 4a"
date = 2021-01-01
firmware = "==4a"

[[setting]]
id = "pulse.time"
title = "Time of the coil pulse"
place = [
  { firmware = "==4", cv = 33, kind = "number", scale = 10, unit = "ms", default = 10, \
range = [1, 100], sources = ["sheet-4:1"] },
  { firmware = "==4a", cv = 43, kind = "number", scale = 10, unit = "ms", default = 10, \
range = [1, 100], sources = ["sheet-4a:1"] },
]
"""


@pytest.fixture
def sluice(tmp_path: Path) -> tuple[str, str]:
    """A folder with a decoder whose releases 4 and 4a both answer 4, as an option."""
    path = tmp_path / "ilex-works" / "sluice.toml"
    path.parent.mkdir()
    path.write_text(SLUICE, encoding="utf-8")
    return "--definitions", str(tmp_path)


def told(capsys: Capture, *words: str) -> tuple[int, str]:
    """The exit code and the text, its lines joined."""
    code = run(["identify", *words])
    return code, " ".join(capsys.readouterr().out.split())


def test_releases_that_answer_alike_are_no_sign_of_an_update(
    capsys: Capture, tmp_path: Path, sluice: tuple[str, str]
) -> None:
    """4 in CV 7 is 4a as well, so nothing was saved before an update."""
    path = tmp_path / "list.csv"
    path.write_text("CV,Value\n8,13\n7,4\n250,77\n43,10\n33,no answer\n", encoding="utf-8")
    code, data = json_of(capsys, "identify", str(path), *sluice)
    assert (code, data["candidates"][0]["releases"]) == (0, ["4a"])
    assert data["version_named"] == "4a"
    _, text = told(capsys, str(path), *sluice)
    assert "before an update" not in text


def test_where_no_read_tells_more_that_is_said(capsys: Capture, sluice: tuple[str, str]) -> None:
    """Both places answered with their factory value: no further read parts 4 from 4a."""
    words = ("8=13", "7=4", "250=77", "33=none", "43=none")
    code, text = told(capsys, *words, *sluice)
    assert code == 3
    assert ("Read next" in text) != ("No further read tells them apart" in text)


def test_probe_is_named_where_the_firmware_is_not_covered(capsys: Capture) -> None:
    """Wren 2 at 1.3 lies between two cards."""
    code, text = told(capsys, "--profile", "ferrow/wren-2", "7=13")
    assert code == 0
    assert "cvlib probe --profile ferrow/wren-2 --firmware 1.3" in text


def test_the_version_of_a_firmware_that_nobody_listed_is_spelt(
    capsys: Capture, sluice: tuple[str, str]
) -> None:
    """9 in CV 7 is firmware 9, though no list has it."""
    _, text = told(capsys, "8=13", "7=9", "250=77", "--profile", "ilex-works/sluice", *sluice)
    assert "firmware 9, which no list has" in text


def test_near_equals_are_all_named(capsys: Capture) -> None:
    """97 in CV 8 must have been misread for either of two decoders of version 12."""
    code, text = told(capsys, "8=97", "7=12", "29=6")
    assert code == 3
    assert "could it be ilex-works/glim-6, firmware 1.2 or ferrow/wren-2, firmware 1.2" in text
    assert "A decoder that no profile describes" in text


def test_a_file_of_answers_and_words_go_together(capsys: Capture, tmp_path: Path) -> None:
    """What is in the file counts like what is typed."""
    path = tmp_path / "bench.txt"
    path.write_text("track = programming\n8 = 13\n7 = 2\n109 = 9\n110 = 201\n", encoding="utf-8")
    code, data = json_of(capsys, "identify", "261@0/255=42", "--answers", str(path))
    assert code == 0
    assert len(data["reads"]) == 5


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ((), "there are no answers"),
        (("8=300",), "CV values run from 0 to 255"),
        (("hello.csv",), "there is no such file"),
        (("8=13", "--profile", "ferrow/lrak-8"), 'Did you mean "ferrow/lark-8"?'),
        (("",), "an answer is empty"),
        (("8=13", "--role", "motor"), "--role chooses among the decoders of a loco file"),
        ((str(FLEET / "09-lapwing.toml"),), "this loco has 2 decoders"),
        ((str(FLEET / "09-lapwing.toml"), "--role", "horn"), 'no decoder has the role "horn"'),
    ],
)
def test_wrong_use_is_one_line_and_2(capsys: Capture, words: tuple[str, ...], part: str) -> None:
    """The line says what is wrong and what would be right."""
    code, lines = fails(capsys, "identify", *words, "--no-ask")
    assert code == 2
    assert part in " ".join(lines)


def test_everything_can_be_asked_for(capsys: Capture) -> None:
    """`--all` lists what is else only counted."""
    run(["identify", "8=13", "7=43"])
    short = capsys.readouterr().out
    run(["identify", "8=13", "7=43", "--all"])
    assert len(capsys.readouterr().out) > len(short)


def test_markdown_and_a_pipe_say_the_same() -> None:
    """Results on the standard output, nothing on the error output."""
    done = program("identify", *LARK, "--format", "markdown")
    assert done.returncode == 0
    assert done.stderr == ""
    assert "ferrow/lark-8" in done.stdout
