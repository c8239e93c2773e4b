"""`cvlib match`, from the words typed to the exit code."""

import csv
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, program, run
from cvlib.files.read.timings import read_timings

Capture = pytest.CaptureFixture[str]
FLEET = ROOT / "definitions" / "fleet"
SAMPHIRE = str(FLEET / "saltmarsh" / "01-samphire.toml")
TERN = str(FLEET / "saltmarsh" / "14-tern.toml")
PAIR = (SAMPHIRE, TERN)
TIMINGS = str(FLEET / "timings" / "samphire-and-tern.csv")
VALUES = ("match", "values", *PAIR, "--timings", TIMINGS)


def test_the_demo_pair_is_matched(capsys: Capture) -> None:
    """Two tables that never fall, six times to check each, and less than 10 % apart."""
    code, data = json_of(capsys, *VALUES)
    assert code == 0
    match = data["match"]
    assert 0 < match["apart"]["share"] < 0.1
    assert [loco["name"] for loco in match["locos"]] == ["No. 1 Samphire", "No. 14 Tern"]
    for loco in match["locos"]:
        assert loco["table"] == sorted(loco["table"])
        assert len(loco["checks"]) == 6
        assert all(one["low"] < one["speed"] < one["high"] for one in loco["checks"])
        told = {(one["step"], one["direction"]): one for one in loco["forecast"]}
        assert told[1, "forward"]["speed"] is None
        assert told[28, "reverse"]["off"] == pytest.approx(0, abs=0.02)


def test_the_sheet_touches_the_speed_curve_alone(capsys: Capture) -> None:
    """CV 29 is read, 16 is added, and its other bits stay; then trims and the table."""
    _, data = json_of(capsys, *VALUES)
    for loco in data["match"]["locos"]:
        writes = [one for one in loco["sheet"]["steps"] if one["kind"] == "write"]
        values = {one["cv"]: one for one in writes if one["cv"] != 15}
        assert set(values) <= {29, 66, 95, *range(67, 95)}
        assert values[29]["sets_bits"] == [4]
        assert values[29]["from_step"] is not None
        assert "add 16 if bit 4 is clear" in values[29]["why"]
        assert [values[cv]["value"] for cv in range(67, 95)] == loco["table"]
        cautions = {one["code"] for one in loco["sheet"]["cautions"]}
        assert {"handbook", "moves", "motor"} <= cautions


@pytest.mark.parametrize(
    ("words", "value", "bits"),
    [(("--no-answer",), 16, [4]), (("--no-answer", "--no-bits"), 22, list(range(8)))],
)
def test_the_chooser_where_nothing_can_be_read(
    words: tuple[str, ...], value: int, bits: list[int], capsys: Capture
) -> None:
    """Bit 4 alone, or the saved 6 of CV 29 with 16 added."""
    _, data = json_of(capsys, *VALUES, *words)
    steps = data["match"]["locos"][0]["sheet"]["steps"]
    (byte,) = (one for one in steps if one["kind"] == "write" and one["cv"] == 29)
    assert (byte["value"], byte["sets_bits"]) == (value, bits)


def test_the_text_says_how_alike_and_ends_with_times_to_check() -> None:
    """The first line answers the question; the last rows have room for what is found."""
    told = program(*VALUES, "--scale", "87", COLUMNS="100").stdout
    lines = told.splitlines()
    assert "they will run within" in lines[1]
    assert "km/h at step 28" in told
    assert "A drive level is no speed" in told
    assert told.count("Three steps to time") == 2
    assert "____" in lines[-1]
    assert "extrapolated" in told
    assert max(map(len, program(*VALUES, COLUMNS="80").stdout.splitlines())) <= 80


def test_the_sheets_as_rows_and_as_a_page(capsys: Capture) -> None:
    """Each loco under its name, with the three steps to time."""
    assert run([*VALUES, "--format", "csv"]) == 0
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert [row[0] for row in rows if len(row) == 1] == ["No. 1 Samphire", "No. 14 Tern"]
    assert sum("found:" in row[-1] for row in rows) == 12
    assert run([*VALUES, "--format", "html"]) == 0
    page = capsys.readouterr().out
    assert page.count("Three steps to time") == 2
    assert "<script" not in page


def test_a_top_speed_and_one_that_is_impossible(capsys: Capture) -> None:
    """20 cm/s at step 28 is what both can do; 100 cm/s is not."""
    _, data = json_of(capsys, *VALUES, "--top", "20 cm/s")
    assert data["match"]["wish"][27] == pytest.approx(0.2)
    code, lines = fails(capsys, *VALUES, "--top", "100 cm/s")
    assert code == 2
    assert lines == [
        "cvlib: No. 1 Samphire ran 28.7 cm/s at most, and 100.0 cm/s are wished for. Wish for "
        "less; or raise its top (CV 5 or the table), and time it anew."
    ]


def test_a_plan_becomes_a_list_that_is_filled_in(tmp_path: Path, capsys: Capture) -> None:
    """The demo timings are the plan with seed 14, filled in."""
    words = ["match", "plan", *PAIR, "--length", "180 cm", "--seed", "14"]
    assert run([*words, "--format", "csv"]) == 0
    path = tmp_path / "plan.csv"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    planned, timed = read_timings(path)[0], read_timings(Path(TIMINGS))[0]
    assert not planned.timings
    assert [(r.loco, r.step, r.is_forward, r.length) for r in planned.rows] == [
        (r.loco, r.step, r.is_forward, r.length) for r in timed.rows
    ]
    code, data = json_of(capsys, *words)
    assert code == 0
    assert len(data["plan"]["runs"]) == 36


def test_the_plan_says_what_to_do() -> None:
    """Cautions first, momentum with what it held, warm-up, and the reference step."""
    told = " ".join(program("match", "plan", *PAIR, "--length", "6 ft").stdout.split())
    assert told.index("Caution: Without momentum") < told.index("1. The values")
    assert "write CV 3 = 0 and CV 4 = 0 for the timings, and CV 3 = 14 and CV 4 = 10" in told
    assert "warm for ten minutes" in told
    assert "more than 3 %" in told


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("plan", *PAIR), "match plan needs --length"),
        (("plan", *PAIR, "--length", "180"), "a unit is missing"),
        (("plan", *PAIR, "--length", "1 m", "--steps", "a,b"), "is no list of steps"),
        (("plan", *PAIR, "--length", "1 m", "--steps", "1,2"), "6 to 8 speed steps"),
        (("plan", SAMPHIRE, "--length", "1 m"), "two locos or more"),
        (("values", *PAIR), "needs --timings FILE"),
        (("values", *PAIR, "--timings", "no.csv"), "there is no such file"),
        (("values", *PAIR, "--timings", TIMINGS, "--top", "60 km/h"), "Give the scale"),
        (("values", *PAIR, "--timings", SAMPHIRE), "no column is headed"),
        (("enter", "no.csv"), "there is no such file"),
    ],
)
def test_wrong_use_is_one_line(words: tuple[str, ...], told: str, capsys: Capture) -> None:
    """Exit code 2, and what to do."""
    code = run(["match", *words])
    lines = [one for one in capsys.readouterr().err.splitlines() if one.startswith("cvlib: ")]
    assert code == 2
    assert len(lines) == 1
    assert told in lines[0]


def test_timings_of_another_loco_are_refused(tmp_path: Path, capsys: Capture) -> None:
    """With the line, and the name that was meant."""
    path = tmp_path / "t.csv"
    path.write_text(Path(TIMINGS).read_text("utf-8").replace("14 Tern,7", "14 Turn,7"), "utf-8")
    code, lines = fails(capsys, "match", "values", *PAIR, "--timings", str(path))
    assert code == 2
    assert "t.csv:24: there is no loco" in lines[0]
    assert 'Did you mean "No. 14 Tern"?' in lines[0]


def test_a_loco_whose_drive_is_not_saved_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """Which CVs to read is told before anybody takes a time."""
    path = tmp_path / "tern.toml"
    text = Path(TERN).read_text("utf-8").replace("\n29 = 14", "").replace("\n66 = 128", "")
    path.write_text(text, "utf-8")
    code, lines = fails(capsys, "match", "plan", SAMPHIRE, str(path), "--length", "1 m")
    assert code == 2
    assert "No. 14 Tern: the drive at each speed step is not known. Read CVs 29, 66" in lines[0]


PLAN = """run,loco,step,direction,length,laps,time,remark
1,No. 1 Samphire,10,forward,180 cm,,,
2,No. 1 Samphire,10,reverse,180 cm,,,clean track
3,No. 1 Samphire,2,forward,180 cm,,,
"""


def test_times_are_taken_at_a_prompt(tmp_path: Path) -> None:
    """Short ones are asked for again, the last is taken back, and the file holds each at once."""
    path = tmp_path / "plan.csv"
    path.write_text(PLAN, "utf-8")
    typed = "nonsense\n22.5 s\n7.5 s\n7.6 s\n7.4 / 7.5 s\nundo\n3 laps 24.1 s\n"
    done = program("match", "enter", str(path), stdin=typed)
    assert done.returncode == 0
    assert "is not understood" in done.stderr
    assert "7.5 s tell the speed to 4.0 %. 3 more times, or 2 laps" in done.stderr
    assert "1 run is left" in done.stderr
    lines = path.read_text("utf-8").splitlines()
    assert lines[1] == "1,No. 1 Samphire,10,forward,180 cm,,22.5 s,"
    assert lines[2] == "2,No. 1 Samphire,10,reverse,180 cm,3,24.1 s,clean track"
    again = program("match", "enter", str(path), stdin="stands\n")
    assert "All runs are timed" in again.stderr
    assert path.read_text("utf-8").splitlines()[3].endswith(",,stands,")


WITHOUT = """
import sys
from importlib import util
found = util.find_spec
util.find_spec = lambda name, *more: None if name in ("numpy", "scipy") else found(name, *more)
from cvlib.cli.app import run
sys.exit(run(sys.argv[1:]))
"""
LOADED = """
import sys
from cvlib.cli.app import run
run(sys.argv[1:])
print(sorted({"numpy", "scipy"} & sys.modules.keys()), file=sys.stderr)
"""


def python(code: str, *words: str) -> subprocess.CompletedProcess[str]:
    """A Python of its own."""
    command = [sys.executable, "-c", code, *words]
    return subprocess.run(
        command, capture_output=True, text=True, cwd=ROOT, env=dict(os.environ), check=False
    )


def test_without_the_libraries_it_says_in_one_line_how_to_get_them() -> None:
    """And the plan, which needs no sums, is printed all the same."""
    done = python(WITHOUT, *VALUES)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert 'pip install "dcc-cvlib[statistics]"' in done.stderr
    assert python(WITHOUT, "match", "plan", *PAIR, "--length", "1 m").returncode == 0


@pytest.mark.parametrize("words", [("check", SAMPHIRE), ("compare", *PAIR), ("match", "--help")])
def test_no_other_command_loads_them(words: tuple[str, ...]) -> None:
    """They are slow to load."""
    assert python(LOADED, *words).stderr.splitlines()[-1] == "[]"


@pytest.mark.parametrize("answer", ["banana", "", "undo", "0.1 s", "\0" * 5000])
def test_answers_that_never_fit_come_to_an_end(answer: str, tmp_path: Path) -> None:
    """A pipe that goes on for ever is refused after some answers; the list stays readable."""
    path = tmp_path / "timings.csv"
    head = "run,loco,step,direction,length,laps,time,remark"
    path.write_text(f"{head}\n1,A,10,forward,180 cm,1,,\n", encoding="utf-8")
    done = program("match", "enter", str(path), stdin=f"{answer}\n" * 200)
    assert done.returncode == 2
    assert "20 answers in a row settled nothing." in done.stderr
    assert len(read_timings(path)[0].rows) == 1
