"""`cvlib check`, from the words typed to the exit code."""

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cli.run_cvlib import ROOT, STORE, plover, program, run
from cvlib.findings.catalogue import CATALOGUE

SCHEMA = json.loads((ROOT / "docs/schema/output-check.schema.json").read_text(encoding="utf-8"))

LOCO = """format = 1
[loco]
name = "{name}"
[[decoder]]
profile = "ferrow/plover"
role = "motor"
firmware = "3.1"
[[decoder.saved]]
firmware = "{saved_for}"
[decoder.saved.cv]
{values}
"""
SECOND = """[[decoder]]
profile = "ferrow/plover"
role = "sound"
firmware = "1.2"
[[decoder.saved]]
[decoder.saved.cv]
153 = 50
"""


def loco_file(
    folder: Path,
    name: str = "No. 4 Marsh Harrier",
    values: str = "141 = 40",
    saved_for: str = "1.2",
    more: str = "",
) -> Path:
    """A loco file in a folder."""
    path = folder / f"{name.replace(' ', '-').lower()}.toml"
    text = LOCO.format(name=name, values=values, saved_for=saved_for) + more
    path.write_text(text, encoding="utf-8")
    return path


def checked(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    """Exit code and JSON output of a check; the output follows its schema."""
    code = run([*words, "--format", "json"])
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, SCHEMA)
    return code, data


def only(data: Any) -> Any:
    """The only decoder of the output."""
    (loco,) = data["locos"]
    (decoder,) = loco["decoders"]
    return decoder


CODES = [
    ("older-only", "error", ["--firmware", "3.1", "--saved-for", "1.2", "150=1"]),
    ("older-only", "error", ["--firmware", "3.1", "150=1"]),
    ("newer-only", "error", ["--firmware", "1.2", "151=1"]),
    ("newer-only", "error", ["--firmware", "1.2", "--saved-for", "3.1", "151=1"]),
    ("reused", "error", ["--firmware", "3.1", "--saved-for", "1.2", "141=40"]),
    ("recoded", "error", ["--firmware", "3.1", "--saved-for", "1.2", "155=7"]),
    ("out-of-range", "error", ["--firmware", "3.1", "153=200"]),
    ("undefined-choice", "error", ["--firmware", "3.1", "152=7"]),
    ("reserved-bits", "warning", ["--firmware", "3.1", "157=9"]),
    ("rule", "error", ["--firmware", "3.1", "153=5", "154=9"]),
    ("trap", "warning", ["--firmware", "3.1", "152=0", "157=1"]),
    ("advisory", "warning", ["--firmware", "3.1", "159=1"]),
    ("disputed", "warning", ["--firmware", "2.5", "141=1"]),
    ("beyond", "warning", ["--firmware", "9", "153=1"]),
    ("before", "warning", ["--firmware", "0.5", "153=1"]),
    ("faulty", "warning", ["--firmware", "2.5", "159=1"]),
    ("unknown", "warning", ["--firmware", "3.1", "200=1"]),
    ("undecided", "warning", ["--firmware", "3.1", "156=1"]),
    ("undated", "warning", ["--firmware", "3.1", "141=40"]),
    ("read-only", "note", ["--firmware", "3.1", "120=1"]),
    ("read-only", "error", ["--firmware", "3.1", "7=2"]),
    ("read-only", "error", ["--firmware", "3.1", "8=12"]),
    ("read-only", "note", ["--firmware", "3.1", "109=1"]),
    ("unset", "note", ["--firmware", "3.1", "--saved-for", "1.2", "153=1"]),
    ("asleep", "note", ["--firmware", "3.1", "158=1"]),
    ("asleep", "note", ["--firmware", "3.1", "152=0", "156=1"]),
    ("changed", "note", ["--firmware", "3.1", "153=1", "--changed"]),
]


@pytest.mark.parametrize(("code", "severity", "words"), CODES)
def test_each_code_is_found_with_its_severity_and_exit_code(
    code: str, severity: str, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The finding is in the data with message and severity; the code follows --fail-on warning."""
    exit_code, data = checked(capsys, *plover(*words))
    found = [f for f in only(data)["findings"] if f["code"] == code]
    assert {f["severity"] for f in found} == {severity}
    assert all(f["message"] and f["subject"] for f in found)
    assert exit_code == (0 if severity == "note" else 1)


def test_the_cases_have_every_code() -> None:
    """No code of the catalogue is missing from the cases above."""
    assert {code for code, _, _ in CODES} == {entry.code for entry in CATALOGUE}


@pytest.mark.parametrize(("code", "severity", "words"), CODES)
@pytest.mark.parametrize("form", ["text", "markdown"])
def test_each_code_is_shown_in_text_and_markdown(
    code: str, severity: str, words: list[str], form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Severity and code stand as words in the output, apart from any colour."""
    run([*plover(*words), "--format", form, "--all"])
    shown = capsys.readouterr().out.replace("*", "").replace("`", "")
    assert f"{severity}  {code}  " in shown


@pytest.mark.parametrize(
    ("worst", "fail_on", "code"),
    [
        ("153=200", "error", 1),
        ("153=200", "note", 1),
        ("153=200", "never", 0),
        ("200=1", "error", 0),
        ("200=1", "warning", 1),
        ("7=3", "warning", 0),
        ("7=3", "note", 1),
    ],
)
def test_fail_on_sets_the_mildest_finding_that_counts(worst: str, fail_on: str, code: int) -> None:
    """1 for findings at or above it, 0 below it, always 0 with "never"."""
    assert run(plover("--firmware", "3.1", worst, "--fail-on", fail_on)) == code


ANY_CV = st.integers(1, 1024) | st.sampled_from([7, 8, 109, 120, *range(141, 160)])


@given(
    values=st.dictionaries(ANY_CV, st.integers(0, 255), min_size=1, max_size=12),
    firmware=st.sampled_from(["0.5", "1.2", "2.5", "2.6", "3.1", "4.5", "5.0", "9"]),
    saved_for=st.sampled_from(["", "1.2", "2.5", "3.1", "5.0"]),
)
def test_every_saved_bit_is_accounted_for_once(
    values: dict[int, int], firmware: str, saved_for: str
) -> None:
    """Whatever is saved, the accounts hold each bit of each CV exactly once, with its value."""
    from cvlib.api import Asked, Stated, check_asked, open_store
    from cvlib.files.text import typed
    from cvlib.render.views.check import view
    from cvlib.render.views.check_data import check_data

    asked = Asked(typed=tuple(f"{cv}={value}" for cv, value in values.items()))
    said = Stated("ferrow/plover", firmware, saved_for)
    result = check_asked(open_store(STORE), asked, said, changed=True)
    data = json.loads(json.dumps(check_data(result, why=True) | {"format": 1}))
    jsonschema.validate(data, SCHEMA)
    bits = [
        (account["cv"], bit, account["value"])
        for account in only(data)["accounts"]
        for bit in account["bits"]
    ]
    assert sorted(bits) == sorted((cv, bit, v) for cv, v in values.items() for bit in range(8))
    assert view(result, typed, everything=True, why=True)


def test_a_cv_under_its_second_number_is_accounted_for(capsys: pytest.CaptureFixture[str]) -> None:
    """Accessory CVs 1 and 513 are one CV; both saved numbers are in the accounts.

    Source: NMRA S-9.2.2 (2012-07), accessory decoders: CVs 513-1024 repeat CVs 1-512.
    """
    profile = ["--profile", "standard/nmra-s-9.2.2-accessory", "--firmware", "2012-07"]
    _, data = checked(capsys, "check", *profile, "1=4", "513=4", "514=3")
    assert {account["cv"] for account in only(data)["accounts"]} == {1, 513, 514}
    assert run(["check", *profile, "1=4", "513=5"]) == 2
    assert "are one CV with two values" in capsys.readouterr().err


def test_an_unknown_firmware_that_matters_is_undecided(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit code 3, a check for each stretch that fits, and the CVs that would tell."""
    code, data = checked(capsys, *plover("150=1"))
    decoder = only(data)
    assert code == 3
    assert (decoder["decided"], decoder["firmware"], decoder["reads"]) == (False, None, [7, 109])
    at = {stretch["firmware"]: stretch["findings"] for stretch in decoder["stretches"]}
    assert [f["code"] for f in at[">=3.0, <4.0"] if f["severity"] == "error"] == ["older-only"]
    assert [f["code"] for f in at[">=1.0, <2.0"] if f["severity"] == "error"] == []
    assert run(plover("150=1")) == 3
    shown = capsys.readouterr().out
    assert "Read CV 7 and CV 109" in shown
    assert "--firmware 5.0" in shown


def test_a_month_whose_days_differ_is_undecided(capsys: pytest.CaptureFixture[str]) -> None:
    """A handbook of the Signalbox 4 ends within August 2017, none within June 2016."""
    signalbox = ["--profile", "ferrow/signalbox-4", "3=5"]
    assert run(["check", *signalbox, "--firmware", "2017-08"]) == 3
    assert "--firmware 2017-08-14" in capsys.readouterr().out
    assert run(["check", *signalbox, "--firmware", "2016-06", "--fail-on", "never"]) == 0
    assert "Firmware 2016-06" in capsys.readouterr().out
    for words in (
        ["settings", "ferrow/signalbox-4"],
        ["explain", "3=5", "--profile", "ferrow/signalbox-4"],
    ):
        assert run([*words, "--firmware", "2017-08"]) == 3
        told = capsys.readouterr().err
        assert "2017-08 is a whole month" in told
        assert "Give the day, such as 2017-08-01." in told


def test_the_saved_version_decides(capsys: pytest.CaptureFixture[str]) -> None:
    """CVs 7 and 109 name the firmware where nobody states it; a statement goes before them."""
    _, data = checked(capsys, *plover("7=3", "109=1", "153=4"))
    assert (only(data)["firmware"], only(data)["ground"]) == ("3.1", "answered")
    code, data = checked(capsys, *plover("7=3", "109=1", "--firmware", "1.2"))
    assert (only(data)["firmware"], only(data)["ground"], code) == ("1.2", "stated", 1)


def test_a_loco_file_and_its_head(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The head says whose values these are, the firmware, and what they were saved for."""
    monkeypatch.chdir(tmp_path)
    path = loco_file(tmp_path).name
    assert run(["check", path, "--definitions", str(STORE)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[:4] == [
        "No. 4 Marsh Harrier",
        path,
        "Ferrow Plover (ferrow/plover), motor decoder",
        "Firmware 3.1 as stated; 1 value saved for 1.2.",
    ]
    assert any(line.endswith("All 8 saved bits are accounted for.") for line in lines)
    run(["check", path, "--definitions", str(STORE), "--all"])
    whole = "Every one of the 8 saved bits in 1 CV is accounted for: 0 fine and 8 reused."
    assert whole in capsys.readouterr().out.splitlines()


def test_typed_values_go_before_those_of_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A typed value replaces the saved one of the same CV and adds others."""
    path = loco_file(tmp_path, values="153 = 5\n154 = 4")
    _, data = checked(capsys, "check", str(path), "154=3", "CV152=1", "--definitions", str(STORE))
    held = {account["cv"]: account["value"] for account in only(data)["accounts"]}
    assert held == {152: 1, 153: 5, 154: 3}


def test_a_file_named_like_a_value_is_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """27=3 is a value, unless there is a file of that name."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "27=3").write_text("153=7\n", encoding="utf-8")
    _, data = checked(capsys, *plover("--firmware", "3.1", "27=3"))
    assert {account["cv"] for account in only(data)["accounts"]} == {153}


def test_a_list_on_the_standard_input() -> None:
    """ "-" reads a list of values as people keep them."""
    done = program(*plover("--firmware", "3.1", "-"), stdin="CV;Wert\n150;1\n")
    assert done.returncode == 1, done.stderr
    assert "error  older-only  CV 150 = 1" in done.stdout
    assert done.stdout.count("standard input") == 1


def test_a_folder_gets_a_table_and_details_of_those_with_findings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line a decoder, then only the locos with warnings or errors; --all has the others."""
    loco_file(tmp_path)
    loco_file(tmp_path, "No. 5 Avocet", "153 = 50")
    folder = ["check", str(tmp_path), "--definitions", str(STORE)]
    assert run(folder) == 1
    shown = capsys.readouterr().out
    assert shown.count("No. 5 Avocet") == 1
    assert shown.count("No. 4 Marsh Harrier") == 2
    run([*folder, "--all"])
    assert capsys.readouterr().out.count("No. 5 Avocet") == 2


def test_a_file_that_cannot_be_used_does_not_hide_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and one line for it; the rest is checked and shown."""
    loco_file(tmp_path)
    (tmp_path / "broken.toml").write_text("[loco", encoding="utf-8")
    code = run(["check", str(tmp_path), "--definitions", str(STORE), "--format", "json"])
    out, err = capsys.readouterr()
    data = json.loads(out)
    jsonschema.validate(data, SCHEMA)
    assert code == 2
    assert [loco["name"] for loco in data["locos"]] == ["No. 4 Marsh Harrier"]
    assert [Path(fault["file"]).name for fault in data["faults"]] == ["broken.toml"]
    assert err.count("\n") == 1
    assert "broken.toml" in err


def test_what_a_file_says_wrongly_is_told_with_its_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a folder of many locos the line tells which of them names a firmware there cannot be."""
    loco_file(tmp_path)
    loco_file(tmp_path, "No. 5 Avocet", saved_for="the old one")
    assert run(["check", str(tmp_path), "--definitions", str(STORE)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert 'no.-5-avocet.toml: "the old one" is not a firmware version' in line


def test_a_role_chooses_a_decoder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--role leaves only decoders of that role; then profile and firmware may be stated."""
    path = str(loco_file(tmp_path, more=SECOND))
    store = ["--definitions", str(STORE)]
    _, data = checked(capsys, "check", path, "--role", "sound", *store)
    assert only(data)["role"] == "sound"
    assert run(["check", path, "--firmware", "3.1", *store]) == 2
    assert '"motor", "sound"' in capsys.readouterr().err
    _, data = checked(capsys, "check", path, "--role", "sound", "--firmware", "3.1", *store)
    assert only(data)["firmware"] == "3.1"
    assert run(["check", path, "--role", "lamps", *store]) == 2
    assert 'no decoder has the role "lamps"' in capsys.readouterr().err


def test_many_findings_of_a_kind_are_folded(capsys: pytest.CaptureFixture[str]) -> None:
    """Notes are counted in one line, many warnings of a kind are one; --all shows each."""
    notes = ["--firmware", "3.1", "--saved-for", "1.2", "153=50"]
    run(plover(*notes))
    assert "2 notes: 2 unset." in capsys.readouterr().out
    run(plover(*notes, "--all"))
    assert capsys.readouterr().out.count("note  unset  ") == 2
    warnings = ["--firmware", "3.1", *(f"{cv}=1" for cv in range(200, 207))]
    run(plover(*warnings))
    assert "warning  unknown  7 CVs" in capsys.readouterr().out
    run(plover(*warnings, "--all"))
    assert capsys.readouterr().out.count("warning  unknown  ") == 7


def test_errors_about_moved_settings_are_told_by_what_must_be_done(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Many are one entry with the command that writes them; a few are told one by one."""
    run(["check", str(ROOT / "definitions/fleet/saltmarsh/05-avocet.toml")])
    shown = capsys.readouterr().out
    assert shown.count("error  ") == 1
    assert "CV 64 = 24: Time of one blink, 1.2 s" in shown
    assert "--to 4.2.60" in " ".join(shown.split())
    run(plover("--firmware", "3.1", "--saved-for", "1.2", "141=40"))
    shown = " ".join(capsys.readouterr().out.split())
    assert 'Let "cvlib carry" write CV 144 = 80 for Stopping distance (80 cm).' in shown


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        (["--firmware", "3.1", "153=200"], ["documented", "issue 2, page 5"]),
        (
            ["--firmware", "2.5", "141=1"],
            ["disputed", "2.0 to before 3.0", "CV 141", "CV 144", "page 23"],
        ),
        (["--firmware", "2.5", "159=1"], ["faulty", "bench on 2026-03-14 saw no effect (silent)"]),
        (
            ["--firmware", "9", "153=1"],
            ["beyond", "newest firmware that a document speaks for", "issue 2, page 5"],
        ),
        (
            ["--firmware", "0.5", "153=1"],
            ["before", "oldest firmware that a document speaks for", "issue 1, page 5"],
        ),
        (["--firmware", "3.1", "150=1"], ["not listed there", "only older firmware has it"]),
    ],
)
def test_why_names_rule_firmware_source_and_page(
    words: list[str], parts: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The trace of the answer stands below the finding, and in the data."""
    _, data = checked(capsys, *plover(*words, "--why"))
    told = [why["words"] for finding in only(data)["findings"][:1] for why in finding["why"]]
    assert [part for part in parts if part not in " ".join(told)] == []
    run(plover(*words, "--why"))
    shown = " ".join(capsys.readouterr().out.split())
    assert [text for text in told if text not in shown] == []


def test_open_questions_stand_beside_what_is_in_doubt(capsys: pytest.CaptureFixture[str]) -> None:
    """A question of the profile about a disputed setting is shown with what would settle it."""
    run(plover("--firmware", "2.5", "144=1"))
    shown = " ".join(capsys.readouterr().out.split())
    assert "→ Read CV 144 after a factory reset" in shown
    run(plover("--firmware", "2.5", "144=1", "--all"))
    shown = " ".join(capsys.readouterr().out.split())
    assert "open question Which of the two CVs has 2.5? → Read CV 144" in shown
    run(plover("--firmware", "2.5", "153=1"))
    assert "open question" not in capsys.readouterr().out


LAST_YEAR = ["7=4", "109=2", "110=60", "138=1", "141=41", "142=2", "144=50"]
"""Braking of a Lark 8 as set for 2.4.118, and the version CVs read after the update to 4.2.60."""


def undated(data: Any) -> list[str]:
    """The severities of what is said of values that nobody dated."""
    return [f["severity"] for f in only(data)["findings"] if f["code"] == "undated"]


def test_values_of_last_year_are_not_called_fine(capsys: pytest.CaptureFixture[str]) -> None:
    """A version read anew does not say what the values were saved for: a warning, exit code 1."""
    code, data = checked(capsys, "check", "--profile", "ferrow/lark-8", *LAST_YEAR)
    assert (code, undated(data)) == (1, ["warning"])
    assert "2.4.118" in only(data)["offer"]["releases"]
    run(["check", "--profile", "ferrow/lark-8", *LAST_YEAR])
    shown = " ".join(capsys.readouterr().out.split())
    assert "CV 141 Stopping distance (82 cm)" in shown
    assert "Time of extra drive at the start (0.41 s)" in shown
    assert "--saved-for 2.4.118" in shown
    assert "--saved-for 4.2.60" in shown


@pytest.mark.parametrize(
    "said",
    [["--saved-for", "4.2.60"], ["--state", "reset"], ["--state", "never-updated"]],
)
def test_a_word_settles_what_values_were_saved_for(
    said: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Then they are fine."""
    _, data = checked(capsys, "check", "--profile", "ferrow/lark-8", *LAST_YEAR, *said)
    assert undated(data) == []


@pytest.mark.parametrize(("state", "found"), [("never-updated", []), ("not-reset", ["warning"])])
def test_a_loco_file_says_it_once_for_all(
    state: str, found: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``state`` of the decoder; a wrong word gets one clear line."""
    path = tmp_path / "loco.toml"
    text = (
        'format = 1\n[loco]\nname = "No. 5 Avocet"\n[[decoder]]\nprofile = "ferrow/lark-8"\n'
        'firmware = "4.2.60"\nstate = "{}"\n[[decoder.saved]]\n[decoder.saved.cv]\n141 = 41\n'
    )
    path.write_text(text.format(state), encoding="utf-8")
    _, data = checked(capsys, "check", str(path))
    assert undated(data) == found
    path.write_text(text.format("rset"), encoding="utf-8")
    assert run(["check", str(path)]) == 2
    assert 'Did you mean "reset"?' in capsys.readouterr().err


def test_values_of_a_disputed_firmware_are_told_of_that_firmware(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The doubt is of the firmware they were saved for; what they are now is known."""
    path = tmp_path / "list.csv"
    path.write_text("9;5\n28;2\n54;30\n55;40\n64;20\n113;1\n114;20\n139;4\n", encoding="utf-8")
    said = ["--profile", "ferrow/lark-8", "--saved-for", "2.9.201", "--firmware", "4.2.60"]
    assert run(["check", str(path), *said]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "Nobody knows what these were in firmware 2.9.201. In firmware 4.2.60 they are" in told
    assert "Nobody knows what these are in firmware 4.2.60" not in told
    assert "Choose them anew:" in told
    assert "--to 4.2.60 --profile ferrow/lark-8 --saved-for 2.9.201 --choose NAME=CHOICE" in told
