"""`cvlib carry`, from the words typed to the exit code, and the loco file after it."""

from __future__ import annotations

import csv
import io
import stat
import tomllib
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from cli.json_output import fails as lines_of
from cli.json_output import json_of, schema
from cli.run_cvlib import program, run

Capture = pytest.CaptureFixture[str]

LOCO = """#:schema ../docs/schema/loco.schema.json
format = 1

[loco]
name = "No. 4 Marsh Harrier"
address = 4

# fitted in 2018
[[decoder]]
profile = "ferrow/lark-8"
role = "motor"
firmware = "2.4.118" # as delivered

# read before the update
[[decoder.saved]]
date = 2018-11-02
how = "read"

[decoder.saved.cv]
1 = 4
2 = 5
5 = 200
6 = 90
7 = 2
9 = 1      # 10 kHz
27 = 3
29 = 6
54 = 1
64 = 15
138 = 1
139 = 5
140 = 20
141 = 40
142 = 3
143 = 9
144 = 77
145 = 130
146 = 1
147 = 4
148 = 123
200 = 3
"""

# Worked out by hand from the two handbooks of the profile, CV by CV.
BY_HAND = {
    "motor.type": ("converted", 54, 2),
    "lights.blink-period": ("converted", 64, 30),
    "braking.mode": ("converted", 142, 2),
    "braking.minimum-speed": ("converted", 143, 23),
    "braking.stopping-distance": ("converted", 144, 80),
    "braking.crawl-distance": ("converted", 145, 18),
    "braking.delay": ("converted", 146, 40),
    "braking.crawl-speed": ("converted", 147, 14),
    "braking.reverse-distance": ("converted", 148, 154),
    "braking.restart": ("moved", 150, 1),
    "braking.function": ("moved", 151, 4),
    "address.short": ("same", 1, 4),
    "braking.wheel-diameter": ("dropped", None, None),
    "motor.pwm-period": ("dropped", None, None),
    "braking.hold-time": ("refused", None, None),
    "identity.version": ("read-only", None, None),
    "braking.second-distance": ("new", 156, 60),
}


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco file of the first handbook's time."""
    path = tmp_path / "no-4.toml"
    path.write_text(LOCO, encoding="utf-8")
    return path


def fails(capsys: Capture, *words: str) -> tuple[int, str]:
    """Exit code and the one error line of a command that has no result."""
    code, (line,) = lines_of(capsys, *words)
    return code, line


def carried(loco: Path, capsys: Capture, *words: str, to: str = "4.3.9") -> tuple[int, Any]:
    """Exit code and JSON of a carry; the output follows its schema."""
    return json_of(capsys, "carry", str(loco), "--to", to, *words)


@pytest.mark.parametrize("name", BY_HAND)
def test_a_loco_worked_out_by_hand(name: str, loco: Path, capsys: Capture) -> None:
    """Every setting of the loco gets the outcome, the CV and the value of the hand calculation."""
    code, data = carried(loco, capsys)
    assert code == 1
    kind, cv, raw = BY_HAND[name]
    (outcome,) = (one for one in data["outcomes"] if one["setting"] == name)
    assert outcome["outcome"] == kind
    new = outcome["new"]
    assert (new and new["cvs"][0], new and new["raw"]) == (cv, raw)


def test_the_sheet_writes_only_what_differs(loco: Path, capsys: Capture) -> None:
    """CV 1 holds its value already; with --all it is on the sheet too."""
    _, data = carried(loco, capsys)
    writes = [step for step in data["sheet"]["steps"] if step["kind"] == "write"]
    new = {"offered"}
    factory = [{part["from"] for part in step["bits"]} == new for step in writes]
    cvs = [step["cv"] for step in writes if step["cv"] != 15]
    values = [step["cv"] for step, last in zip(writes, factory, strict=True) if not last]
    assert values[1:-1] == sorted(values[1:-1])
    held = [step["cv"] for step, last in zip(writes, factory, strict=True) if last]
    assert held == sorted(held)
    assert cvs[-len(held) :] == held, "the factory values of new settings come last"
    assert 1 not in cvs
    assert data["sheet"]["unchanged"] == 6
    _, whole = carried(loco, capsys, "--all")
    steps = [(step["kind"], step["cv"]) for step in whole["sheet"]["steps"]]
    first = steps[: steps.index(("write", 1))]
    proof, lock = [("read", cv) for cv in (7, 8, 109, 110)], [("read", 15), ("read", 16)]
    reads = [("read", cv) for cv in (19, 31, 32)]
    head = [*proof, *lock, ("write", 15)]
    assert first[: len(head)] == head
    assert first[-3:] == reads, "what will be disturbed is read first"
    between = first[len(head) : -3]
    assert between[-1] == ("do", None), "and what was never saved, to be kept before going on"
    assert {kind for kind, _ in between[:-1]} == {"read"}


def test_rows_for_a_table_program(loco: Path, capsys: Capture) -> None:
    """The form csv holds the lines in their order, each with what was there."""
    assert run(["carry", str(loco), "--to", "4.3.9", "--format", "csv"]) == 1
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert rows[0] == ["step", "address", "cv", "page", "was", "write", "in words"]
    written = [row[1:] for row in rows]
    assert ["", "144", "", "77", "80", "Stopping distance 80 cm"] in written
    assert ["", "54", "", "1", "2", "Kind of motor coreless"] in written


class Page(HTMLParser):
    """What a page holds: its tags, and whether they are nested rightly."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_a_page_to_print(loco: Path, capsys: Capture) -> None:
    """The page is whole, fetches nothing, has cautions on top and room to write at each line."""
    text = LOCO.replace("No. 4 Marsh Harrier", "No. 4 <Marsh> & Harrier")
    loco.write_text(text, encoding="utf-8")
    run(["carry", str(loco), "--to", "4.3.9", "--format", "html"])
    html = capsys.readouterr().out
    page = Page()
    page.feed(html)
    assert page.open == []
    drawn = Counter(attrs.get("class") for _, attrs in page.tags)
    _, data = carried(loco, capsys)
    steps = data["sheet"]["steps"]
    writes = [step for step in steps if step["kind"] == "write"]
    back = [step for step in steps if step["read_back"] or step["kind"] in ("read", "verify")]
    was = [step for step in writes if step["before"] is None]
    assert drawn["box"] == len(steps) - len(writes)
    assert drawn["blank"] == len(writes) + len(back) + len(was)
    assert drawn["heavier"] == len(steps) // 5
    assert not {"script", "link", "img", "iframe"} & {tag for tag, _ in page.tags}
    assert "http" not in html
    assert "No. 4 &lt;Marsh&gt; &amp; Harrier" in html
    assert html.index("Caution") < html.index("<table")
    assert "@page" in html
    assert "thead { display: table-header-group; }" in html


@pytest.mark.parametrize("width", ["40", "80", "200"])
def test_text_fits_the_terminal(width: str, loco: Path) -> None:
    """At any width no line of running text is wider than the terminal."""
    done = program("carry", str(loco), "--to", "4.3.9", COLUMNS=width)
    assert done.returncode == 1
    assert done.stderr == ""
    said = [line for line in done.stdout.splitlines() if "Caution" in line]
    assert said
    assert max(map(len, said)) <= int(width)


def test_markdown(loco: Path, capsys: Capture) -> None:
    """The Markdown form has the outcomes and the sheet as tables."""
    run(["carry", str(loco), "--to", "4.3.9", "--format", "markdown", "--why"])
    text = capsys.readouterr().out
    assert "## Write sheet" in text
    assert "| step | CV |" in text
    assert "common practice, no source" in text


def test_disputed_settings_and_choices(loco: Path, capsys: Capture) -> None:
    """Between the handbooks nothing of the braking is written; a choice settles a whole group."""
    _, data = carried(loco, capsys, to="3.0.8")
    disputed = {one["setting"] for one in data["outcomes"] if one["outcome"] == "disputed"}
    assert "braking.stopping-distance" in disputed
    written = {step["cv"] for step in data["sheet"]["steps"] if step["kind"] == "write"}
    assert not written & set(range(138, 152))
    _, data = carried(loco, capsys, "--choose", "braking=newer", to="3.0.8")
    steps = {step["cv"]: step["value"] for step in data["sheet"]["steps"]}
    assert steps[144] == 80


def test_what_a_bench_test_has_left_is_still_the_older_or_the_newer(
    loco: Path, capsys: Capture
) -> None:
    """At 2.9.201 a test found no stopping distance at CV 144, so the older place is the one left;
    no two settings are written to one CV.
    """
    _, data = carried(loco, capsys, "--choose", "braking=older", to="2.9.201")
    disputed = {one["setting"] for one in data["outcomes"] if one["outcome"] == "disputed"}
    assert "braking.stopping-distance" not in disputed
    steps = [step["cv"] for step in data["sheet"]["steps"] if step["kind"] == "write"]
    written = [cv for cv in steps if cv in range(138, 152)]
    assert len(written) == len(set(written))
    _, data = carried(loco, capsys, "--choose", "braking=newer", to="2.9.201")
    disputed = {one["setting"] for one in data["outcomes"] if one["outcome"] == "disputed"}
    assert "braking.stopping-distance" in disputed


def test_the_file_after_writing(loco: Path, capsys: Capture) -> None:
    """New firmware and values, the former state word by word in the history, remarks kept."""
    loco.chmod(0o640)
    code, data = carried(loco, capsys, "--write")
    assert code == 1
    assert data["file_written"] is True
    text = loco.read_text(encoding="utf-8")
    held = tomllib.loads(text)["decoder"][0]
    assert held["firmware"] == "4.3.9"
    *kept, new = held["reading"]
    assert new["how"] == "carried"
    assert new["firmware"] == "4.3.9"
    assert new["note"] == "carried from 2.4.118"
    assert new["cv"]["144"] == 80
    assert new["cv"]["1"] == 4
    (former,) = held["history"]
    assert former["saved-for"] == "2.4.118"
    assert former["cv"] == {**tomllib.loads(LOCO)["decoder"][0]["saved"][0]["cv"]}
    assert [table["cv"] for table in kept] == [{"200": 3}]
    for remark in ("# fitted in 2018", "# as delivered", "# read before the update", "# 10 kHz"):
        assert remark in text
    assert "braking.stopping-distance, was CV 141 = 40 at 2.4.118" in text
    assert stat.S_IMODE(loco.stat().st_mode) == 0o640
    assert sorted(path.name for path in loco.parent.iterdir()) == [".cvlib", "no-4.toml"]


def test_writing_twice_changes_nothing(loco: Path, capsys: Capture) -> None:
    """The second run finds the file as it should be, to the byte."""
    carried(loco, capsys, "--write")
    once = loco.read_bytes()
    code, data = carried(loco, capsys, "--write")
    assert loco.read_bytes() == once
    assert data["file_written"] is False
    assert data["counts"]["converted"] == 0
    assert not [step for step in data["sheet"]["steps"] if step["kind"] == "write"]
    assert code == 0


def test_a_check_after_writing_finds_nothing_of_the_old_firmware(
    loco: Path, capsys: Capture
) -> None:
    """What was carried is right for the new firmware; only what nobody knew is still told."""
    carried(loco, capsys, "--write")
    _, data = json_of(capsys, "check", str(loco))
    (decoder,) = data["locos"][0]["decoders"]
    codes = {finding["code"] for finding in decoder["findings"]}
    assert not codes & {"older-only", "newer-only", "reused", "recoded", "out-of-range"}


def test_there_and_back_through_the_file(loco: Path, capsys: Capture) -> None:
    """Carried forth and back, the exact values are the saved ones again."""
    exact = LOCO.replace("139 = 5\n", "139 = 4\n").replace("142 = 3\n", "142 = 2\n")
    loco.write_text(exact, encoding="utf-8")
    before = tomllib.loads(exact)["decoder"][0]["saved"][0]["cv"]
    carried(loco, capsys, "--write")
    carried(loco, capsys, "--write", to="2.4.118")
    after = tomllib.loads(loco.read_text(encoding="utf-8"))["decoder"][0]
    found = {cv: v for table in after["reading"] for cv, v in table["cv"].items()}
    lost = {"7", "9", "145", "148", "200"}
    assert {cv: found.get(cv) for cv in before if cv not in lost} == {
        cv: value for cv, value in before.items() if cv not in lost
    }
    assert len(after["history"]) == 3


def test_windows_line_ends_and_a_mark_stay(loco: Path, capsys: Capture) -> None:
    """A file from another system keeps its line ends and its byte-order mark."""
    loco.write_bytes(b"\xef\xbb\xbf" + LOCO.replace("\n", "\r\n").encode("utf-8"))
    carried(loco, capsys, "--write")
    data = loco.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\n") == data.count(b"\r\n")


def test_two_decoders_of_one_loco(loco: Path, capsys: Capture) -> None:
    """One decoder is carried at a time; the other keeps its place and its values."""
    second = """
# the sound
[[decoder]]
role = "sound"

[[decoder.saved]]
[decoder.saved.cv]
1 = 4
"""
    loco.write_text(LOCO + second, encoding="utf-8")
    code, said = fails(capsys, "carry", str(loco), "--to", "4.3.9")
    assert code == 2
    assert 'Choose one with --role; the roles are "motor", "sound".' in said
    _, data = carried(loco, capsys, "--role", "motor", "--write")
    assert data["sheet"]["shared_address"] is True
    text = loco.read_text(encoding="utf-8")
    assert "\n# the sound\n[[decoder]]" in text
    assert tomllib.loads(text)["decoder"][1]["reading"] == [{"cv": {"1": 4}}]


def test_a_list_cannot_be_written_back(tmp_path: Path, capsys: Capture) -> None:
    """A list has no room for firmware and history; it is refused and stays as it was."""
    path = tmp_path / "list.csv"
    path.write_text("CV,Value\n141,40\n", encoding="utf-8")
    words = ("carry", str(path), "--profile", "ferrow/lark-8", "--saved-for", "2.4.118")
    assert run([*words, "--to", "4.3.9"]) == 0
    capsys.readouterr()
    code, said = fails(capsys, *words, "--to", "4.3.9", "--write")
    assert code == 2
    assert "a list cannot keep firmware and history" in said
    assert path.read_text(encoding="utf-8") == "CV,Value\n141,40\n"


def test_a_file_that_cannot_be_written_stays(loco: Path, capsys: Capture, monkeypatch: Any) -> None:
    """Where the disk refuses, there is one line, and the file is as it was."""

    def refuse(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", refuse)
    code, said = fails(capsys, "carry", str(loco), "--to", "4.3.9", "--write")
    assert code == 2
    assert "No space left on device" in said
    assert loco.read_text(encoding="utf-8") == LOCO
    assert sorted(path.name for path in loco.parent.iterdir()) == [".cvlib", "no-4.toml"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 3, "it is not said which firmware the values are to be carried to"),
        (("--to", "4.x"), 2, "is not a firmware version"),
        (("--to", "4.3.9", "--to-profile", "ferrow/lark"), 2, 'Did you mean "ferrow/lark-8"?'),
        (("--to", "4.3.9", "--choose", "braking"), 2, "after --choose is not understood"),
        (("--to", "4.3.9", "--choose", "braking=newer"), 2, "braking is not disputed"),
        (("--to", "4.3.9", "--role", "sound"), 2, 'no decoder has the role "sound"'),
        (("--to", "4.3.9", "--main", "--reset"), 2, "works in programming mode only"),
        (("--to", "4.3.9", "--option", "a.b=1"), 2, 'No setting "a.b"'),
        (("--to", "4.3.9", "--formt", "csv"), 2, "--format"),
    ],
)
def test_wrong_use(
    words: tuple[str, ...], code: int, said: str, loco: Path, capsys: Capture
) -> None:
    """One line that says what is wrong and what would have been right."""
    found, line = fails(capsys, "carry", str(loco), *words)
    assert found == code
    assert said in line


def test_without_firmware_nothing_is_guessed(loco: Path, capsys: Capture) -> None:
    """What the values were saved for is not known: exit code 3, with the releases there are."""
    loco.write_text(LOCO.replace('firmware = "2.4.118" # as delivered\n', ""), encoding="utf-8")
    code, said = fails(capsys, "carry", str(loco), "--to", "4.3.9")
    assert code == 3
    assert "--saved-for" in said
    assert "2.4.118" in said


@pytest.mark.parametrize(
    ("level", "code"), [("note", 1), ("warning", 1), ("error", 0), ("never", 0)]
)
def test_the_exit_code_follows_fail_on(level: str, code: int, loco: Path, capsys: Capture) -> None:
    """Dropped and refused values are worth a warning."""
    assert run(["carry", str(loco), "--to", "4.3.9", "--fail-on", level]) == code


def test_to_another_decoder_type(loco: Path, capsys: Capture) -> None:
    """Settings of the same name go over to another maker's decoder, written whatever it holds."""
    _, data = carried(loco, capsys, "--to-profile", "ferrow/lark-8-mk2", "--write", to="1.2.7")
    assert data["to"]["profile"] == "ferrow/lark-8-mk2"
    assert any(step["cv"] == 1 for step in data["sheet"]["steps"])
    held = tomllib.loads(loco.read_text(encoding="utf-8"))["decoder"][0]
    assert held["profile"] == "ferrow/lark-8-mk2"
    assert held["history"][0]["note"] == "profile ferrow/lark-8"


def test_the_schema_is_strict(loco: Path, capsys: Capture) -> None:
    """What the schema does not name is refused."""
    _, data = carried(loco, capsys)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "more": 1}, schema("carry"))


def test_a_value_saved_where_it_had_no_effect_is_told(loco: Path, capsys: Capture) -> None:
    """A test found that CV 144 does nothing at 2.9.201; what was saved there goes over, told."""
    head, _, _ = LOCO.replace("2.4.118", "2.9.201").partition("[decoder.saved.cv]")
    loco.write_text(f"{head}[decoder.saved.cv]\n144 = 60\n", encoding="utf-8")
    assert run(["carry", str(loco), "--to", "4.3.9"]) == 0
    assert "CV 144 had no effect at 2.9.201" in capsys.readouterr().out.replace("\n  ", " ")


def test_values_that_may_be_older_are_not_carried_before_somebody_says(
    tmp_path: Path, capsys: Capture
) -> None:
    """Exit code 3, with the command for either answer; each of them then carries."""
    path = tmp_path / "last-year.txt"
    path.write_text("7=4\n109=2\n110=60\n141=41\n142=2\n144=50\n", encoding="utf-8")
    words = ["carry", str(path), "--profile", "ferrow/lark-8", "--to", "4.2.60"]
    assert run(words) == 3
    told = capsys.readouterr().err
    for firmware in ("2.4.118", "4.2.60"):
        assert f"cvlib {' '.join(words)} --saved-for {firmware}" in told
        assert run([*words, "--saved-for", firmware]) in (0, 1)
    capsys.readouterr()
    assert run([*words, "--state", "never-updated"]) in (0, 1)
