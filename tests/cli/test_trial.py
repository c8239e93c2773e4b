"""Trials from the command line: planned, entered at a prompt or as a list, told, taken over."""

import importlib.util
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cli.run_cvlib import ROOT, run
from cvlib.cli import trial as command
from cvlib.files.read.interface import read_file
from cvlib.model.trial import TrialQuestion

FLEET = ROOT / "definitions" / "fleet"
SETTING = "braking.stopping-distance"


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco whose firmware a handbook describes."""
    path = tmp_path / "loco.toml"
    shutil.copyfile(FLEET / "saltmarsh" / "01-samphire.toml", path)
    return path


def entered(path: Path, lines: str, *words: str) -> int:
    """Enter a list of runs."""
    runs = path.with_name("runs.csv")
    runs.write_text(lines, encoding="utf-8")
    return run(["trial", "enter", str(path), str(runs), *words])


def test_a_plan_shows_a_sheet_and_writes_nothing_unless_told_to(
    loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twelve runs of the saved value, the mark, a tape, free track, a warm-up, cautions."""
    before = loco.read_bytes()
    assert run(["trial", "plan", str(loco), SETTING]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in ("within 8 cm", "tape", "free track", "ten minutes", "Caution:", "12 runs"):
        assert words in shown
    assert loco.read_bytes() == before


def test_a_stranger_plans_enters_twelve_runs_and_reads_the_report(
    loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first line answers; the file keeps remarks, and goes back with undo."""
    before = loco.read_bytes()
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    lines = "81\n80\n82.5\nmissed\n790 mm\n80 slipped\n81\n80,5 cm\n82\n79\n31.5in\n81\n"
    assert entered(loco, lines) == 0
    capsys.readouterr()
    assert run(["trial", "report", str(loco)]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown[1].startswith("11 of 12 stopped within 8 cm of the mark. The next stop will lie")
    (trial,) = read_file(loco).trials
    assert [one.stop for one in trial.runs][2:8] == [82.5, None, 79.0, 80.0, 81.0, 80.5]
    assert trial.runs[5].note == "slipped"
    assert trial.runs[10].stop == pytest.approx(80.01)
    assert trial.values[SETTING] == "80 cm"
    assert loco.read_text(encoding="utf-8").startswith(before.decode().rstrip("\n"))
    assert run(["tidy", "--check", str(loco)]) == 0
    assert run(["undo", str(loco), "--to", "1"]) == 0
    assert loco.read_bytes() == before


def prompt(monkeypatch: pytest.MonkeyPatch, typed: str) -> None:
    """Type at the prompt of ``enter``."""
    monkeypatch.setattr(command, "can_ask", lambda: True)
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))


def test_runs_are_entered_one_by_one_with_undo(
    loco: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong word is told and asked for again; a run before the session can be taken back too."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    prompt(monkeypatch, "80\n81 cm dry\nnonsense\n820\nundo\n82\nmissed\nquit\n")
    code = run(["trial", "enter", str(loco)])
    told = capsys.readouterr().err
    assert code == 0
    assert '"nonsense" is no measured stop' in told
    (trial,) = read_file(loco).trials
    assert [one.stop for one in trial.runs] == [80.0, 81.0, 82.0, None]
    assert trial.runs[1].note == "dry"
    prompt(monkeypatch, "undo\n83\n")
    assert run(["trial", "enter", str(loco)]) == 0
    (trial,) = read_file(loco).trials
    assert [one.stop for one in trial.runs] == [80.0, 81.0, 82.0, 83.0]


def test_an_interrupt_keeps_what_was_typed(loco: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C ends with 130, and the runs so far are in the file, whole."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0

    class Interrupted(io.StringIO):
        def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
            line = super().readline()
            if not line:
                raise KeyboardInterrupt
            return line

    monkeypatch.setattr(command, "can_ask", lambda: True)
    monkeypatch.setattr(sys, "stdin", Interrupted("80\n81\n"))
    assert run(["trial", "enter", str(loco)]) == 130
    (trial,) = read_file(loco).trials
    assert [one.stop for one in trial.runs] == [80.0, 81.0]


WRONG_LISTS = {
    "condition,stop\nsideways,80\n": 'runs.csv:2: there is no condition "sideways"',
    "stop\n80\neighty\n": 'runs.csv:3: "eighty" is no measured stop',
    "stop;date\n80;5 May\n": '"5 May" is no day',
    "stop,remark\n80,5,dry\n": "runs.csv:2: the line has 3 entries",
    "": "no run is in this list",
    "stop\n999999999\n": "too much",
}


@pytest.mark.parametrize("lines", WRONG_LISTS)
def test_a_wrong_list_is_refused_with_its_line(
    loco: Path, lines: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line for each fault, and nothing is written."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    before = loco.read_bytes()
    assert entered(loco, lines) == 2
    assert WRONG_LISTS[lines] in capsys.readouterr().err
    assert loco.read_bytes() == before


WRONG_PLANS = {
    ("braking.stoping-distance",): "Did you mean",
    (SETTING, "--value", "30", "--value", "60"): "too near to each other",
    (SETTING, "--value", "999", "--value", "30"): "from 0 to 255",
    (SETTING, "--margin", "5mm"): "finer than the tape",
    (SETTING, "--speed", "slow"): "two or more",
    (SETTING, "--speed", "a", "--speed", "a"): "named twice",
    (SETTING, "--wish", "far"): "no measured stop",
    (SETTING, "--scatter", "30 cm", "--speed", "a", "--speed", "b"): "a tape cannot answer",
    (SETTING, *(f"--speed={at}" for at in "abcd"), "--runs", "12"): "too few for 4 conditions",
    (SETTING, "--question", "better"): "two or more values",
}


@pytest.mark.parametrize("words", WRONG_PLANS)
def test_a_plan_that_cannot_tell_is_refused(
    loco: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """With the reason, exit code 2, and nothing written."""
    before = loco.read_bytes()
    assert run(["trial", "plan", str(loco), *words, "--write"]) == 2
    assert WRONG_PLANS[words] in capsys.readouterr().err
    assert loco.read_bytes() == before


def test_what_nobody_noted_to_be_safe_is_not_tried(
    loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An address is never tried."""
    assert run(["trial", "plan", str(loco), "address.short", "--value", "3", "--value", "90"]) == 2
    assert "not tried" in capsys.readouterr().err


def test_a_trial_of_two_values_goes_into_the_definitions(
    loco: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Verdict, firmware, date and words come from the trial; settings counts the locos."""
    words = ["--value", "30", "--value", "120", "--runs", "24", "--write", "--format", "csv"]
    own = tmp_path / "own"
    for wobble in ((0, 1, 2), (0, 90, 40)):
        capsys.readouterr()
        if wobble[1] > 1:  # another loco
            text = loco.read_text(encoding="utf-8").partition("[[trial]]")[0]
            loco = tmp_path / "other.toml"
            loco.write_text(text.replace("No. 1 Samphire", "No. 2 Samphire"), encoding="utf-8")
        assert run(["trial", "plan", str(loco), SETTING, *words]) == 0
        rows = [row.split(",") for row in capsys.readouterr().out.splitlines()]
        for at, row in enumerate(rows[1:]):
            place = {"value 30": 60, "value 120": 240}[row[1]]
            row[2] = str(place + wobble[at % 3])
        assert entered(loco, "\n".join(map(",".join, rows))) == 0
        command_line = ["amend", "bench", "--trial", str(loco), "--definitions", str(own)]
        assert run(command_line) == 0
        assert run(command_line) == 2
        assert "is a trial of this loco already" in capsys.readouterr().err
        assert run(["trial", "report", str(loco), str(loco)]) == 2
        assert "are the same trial" in capsys.readouterr().err
    capsys.readouterr()
    assert run(["trial", "report", str(loco), str(tmp_path / "loco.toml")]) == 0
    assert "works: on 1 of 2 locos." in capsys.readouterr().out
    text = (own / "ferrow" / "lark-8.toml").read_text(encoding="utf-8")
    assert 'verdict = "works"' in text
    assert "24 of 24 stopped within 6 cm of the mark" in text
    words = ["settings", "ferrow/lark-8", "--firmware", "2.4.118", "stopping", "distance"]
    assert run([*words, "--definitions", str(own)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "unreliable" in shown
    assert "works on 1 of 2" in shown
    assert run(["check", str(loco), "--definitions", str(own)]) in (0, 1)
    checked = " ".join(capsys.readouterr().out.split())
    assert "It works on 1 of 2 locos." in checked
    assert f"Trial of {SETTING}: 8 of 24 stops near enough" in checked


def test_a_trial_without_a_verdict_is_no_bench_test(capsys: pytest.CaptureFixture[str]) -> None:
    """Amend says why."""
    path = FLEET / "trials" / "20-knot.toml"
    assert run(["amend", "bench", "--trial", str(path), "--dry-run"]) == 2
    assert "gives no verdict: a verdict on the setting takes two values" in capsys.readouterr().err


DEMO = {
    "18-whimbrel": (
        "12 of 36 stopped within 8 cm",
        "No value of this setting mends the scatter",
    ),
    "19-ringed-plover": (
        "18 of 54 stopped within 8 cm",
        "Entry speed matters: fast stops 34.0 cm farther than slow",
    ),
    "20-knot": ("10 of 18 stopped within 8 cm", "The new firmware stops elsewhere"),
}


@pytest.mark.parametrize("name", DEMO)
@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_the_demo_fleet_tells_its_stories(
    name: str, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A scatter that nothing mends, a firmware that ignores the entry speed, an update."""
    path = FLEET / "trials" / f"{name}.toml"
    assert run(["trial", "report", str(path), "--all", "--format", form]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in DEMO[name]:
        assert words in shown
    assert ("<svg" in shown) is (form == "html")


def test_output_follows_its_schema(loco: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Plan, report and several reports as JSON."""
    from jsonschema import Draft7Validator

    path = ROOT / "docs" / "schema" / "output-trial.schema.json"
    schema = Draft7Validator(json.loads(path.read_text(encoding="utf-8")))
    knot, whimbrel = (str(FLEET / "trials" / f"{one}.toml") for one in ("20-knot", "18-whimbrel"))
    for words in (
        ["plan", str(loco), SETTING],
        ["report", knot],
        ["report", knot, whimbrel],
    ):
        assert run(["trial", *words, "--format", "json"]) == 0
        schema.validate(json.loads(capsys.readouterr().out))


def test_several_locos_are_listed_and_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """Under five locos nothing is reckoned, and it is said who tests more."""
    paths = [str(one) for one in sorted((FLEET / "trials").glob("*.toml"))]
    assert run(["trial", "report", *paths]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "No. 20 Knot, trial 1: 10 of 18 stopped" in shown
    assert "Under 5 locos they are only counted." in shown
    assert "test more" in shown


def test_without_the_libraries_one_line_says_how_to_get_them(
    loco: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Plan and report say it before any work; enter does without."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    capsys.readouterr()
    found = importlib.util.find_spec

    def lacking(name: str, package: str | None = None) -> object:
        return None if name == "scipy" else found(name, package)

    monkeypatch.setattr("cvlib.engine.trial.library.find_spec", lacking)
    for words in (["plan", str(loco), SETTING], ["report", str(loco)]):
        assert run(["trial", *words]) == 2
        told = capsys.readouterr().err.splitlines()
        assert len(told) == 1
        assert "scipy is not installed" in told[0]
        assert 'python -m pip install "dcc-cvlib[statistics]"' in told[0]
    assert entered(loco, "80\n") == 0


@pytest.mark.parametrize(
    "words",
    [
        ["check", str(FLEET / "trials" / "20-knot.toml")],
        ["settings", "ferrow/lark-8", "--firmware", "4.1.31"],
        ["trial", "--help"],
    ],
    ids=["check", "settings", "help"],
)
def test_no_other_command_loads_the_libraries(words: list[str]) -> None:
    """Not even check, which shows trials."""
    code = (
        "import sys; from cvlib.cli.app import run; run(sys.argv[1:]); "
        "print([one for one in ('numpy', 'scipy') if one in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=False
    )
    assert done.stderr.splitlines()[-1] == "[]"


FAULTS = {
    'question = "stops"': ('question = "why"', 'question cannot be "why"'),
    "margin = 8.0": ("margin = 0", "margin must be a figure above 0"),
    'unit = "cm"': ('unit = "inch"', 'unit cannot be "inch"'),
    "order = [1,": ("order = [7,", "order must be a whole number from 1 to 1"),
    "looks = [12]": ("looks = [12, 6]", "looks must be a whole number"),
    "stop = 80.0": ("stop = -1", "stop must be a figure"),
    'condition = "as it is set", stop': ('condition = "x", stop', "none of the conditions"),
    "seed = 1": ('sed = "1"', 'unknown key "sed"'),
}


@pytest.mark.parametrize("was", FAULTS)
def test_a_wrong_trial_in_a_loco_file_is_one_clear_line(
    loco: Path, was: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """File, line, what is wrong and what to do."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    assert entered(loco, "80\n") == 0
    capsys.readouterr()
    text = loco.read_text(encoding="utf-8")
    head, mark, tail = text.partition("[[trial]]")
    assert was in tail
    becomes, told = FAULTS[was]
    loco.write_text(head + mark + tail.replace(was, becomes, 1), encoding="utf-8")
    assert run(["trial", "report", str(loco)]) == 2
    shown = capsys.readouterr().err.splitlines()
    assert told in shown[0]
    assert "loco.toml:" in shown[0]


def test_an_update_is_planned_over_days(loco: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three days on each firmware, two runs a day, with a loco beside it."""
    words = ["--before-update", "--control", "--to", "4.3.9", "--write", "--format", "json"]
    assert run(["trial", "plan", str(loco), SETTING, *words]) == 0
    (trial,) = read_file(loco).trials
    assert trial.question is TrialQuestion.UPDATE
    assert [trial.order.count(name) for name in ("old", "new", "control")] == [6, 6, 12]
    assert set(trial.order[:12]) == {"old", "control"}


def test_an_update_says_where_the_setting_is_with_either_firmware(
    loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From 4.0 on the distance is in CV 144; the values are carried before the first new run."""
    words = [SETTING, "--before-update", "--to", "4.3.9", "--control"]
    assert run(["trial", "plan", str(loco), *words]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "With 2.4.118 the setting is at CV 141, with 4.3.9 at CV 144" in shown
    assert f"cvlib carry {loco} --to 4.3.9" in shown
    assert "as the condition says before the run" not in shown


WRONG_GOALS = {
    "9.9": "9.9 is not listed for ferrow/lark-8",
    "2.1.57": "2.1.57 is older than that of the loco",
    "2.4.118": "2.4.118 is the firmware that the loco has",
}


@pytest.mark.parametrize("goal", WRONG_GOALS)
def test_an_update_to_no_newer_firmware_is_refused(
    goal: str, loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, and nothing is written."""
    before = loco.read_bytes()
    words = [SETTING, "--before-update", "--to", goal, "--write"]
    assert run(["trial", "plan", str(loco), *words]) == 2
    told = capsys.readouterr().err
    assert WRONG_GOALS[goal] in told
    assert told.count("\n") == 1
    assert loco.read_bytes() == before


ODD_TEXTS = ("a\tb", "a\nb", "a\x1bb", "a\u202eb", "a" * 30_000)


@pytest.mark.parametrize("text", ODD_TEXTS)
def test_a_text_that_a_loco_file_cannot_hold_is_refused(
    text: str, loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the note, the name of a speed, and the new firmware."""
    before = loco.read_bytes()
    for words in (
        ["--note", text],
        ["--speed", "slow", "--speed", text],
        ["--before-update", "--to", text],
    ):
        assert run(["trial", "plan", str(loco), SETTING, *words, "--write"]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    assert loco.read_bytes() == before


def test_a_heading_gives_the_unit(loco: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """32 in are 81.28 cm, by the international inch of 2.54 cm."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    assert entered(loco, "run,stop (in)\n1,32\n2,80 cm\n") == 0
    (trial,) = read_file(loco).trials
    assert [one.stop for one in trial.runs] == [81.28, 80.0]
    assert entered(loco, "run,stop (s)\n3,32\n") == 2
    assert "no unit that turns into cm" in capsys.readouterr().err


@pytest.mark.parametrize(
    "stop", ["31 1/2 in", "2 ft 8 in", "81.5 parsec", "8 dm", "0.82 yd", "81 s", "80 cm 5 mm"]
)
def test_a_stop_that_is_not_understood_is_refused(
    stop: str, loco: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No unit is taken for a remark."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    before = loco.read_bytes()
    assert entered(loco, f"{stop}\n") == 2
    assert "runs.csv:1:" in capsys.readouterr().err
    assert loco.read_bytes() == before


def test_the_prompt_tells_what_it_understood(
    loco: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The stop in the unit of the trial, and the remark."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    prompt(monkeypatch, "32in wheels slipped\n80 - 2nd try\nquit\n")
    assert run(["trial", "enter", str(loco)]) == 0
    told = capsys.readouterr().err
    assert '81.28 cm; remark "wheels slipped"' in told
    assert '80 cm; remark "2nd try"' in told


def test_a_list_entered_twice_is_noticed(loco: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows whose number is in the file already, and a number that stands there twice."""
    assert run(["trial", "plan", str(loco), SETTING, "--write"]) == 0
    assert entered(loco, "run,stop\n1,80\n2,81\n") == 0
    before = loco.read_bytes()
    assert entered(loco, "run,stop\n1,80\n2,81\n3,82\n") == 2
    assert "run 1 is entered already" in capsys.readouterr().err
    assert entered(loco, "run,stop\n3,80\n3,81\n") == 2
    assert "run 3 stands there twice" in capsys.readouterr().err
    assert loco.read_bytes() == before
    assert entered(loco, "run,stop\n3,82\n") == 0
