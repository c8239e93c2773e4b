"""`cvlib lint`: the definitions, and files named beside them."""

import re
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, STORE, program, run

Capture = pytest.CaptureFixture[str]

PLOVER = (STORE / "ferrow" / "plover.toml").read_text(encoding="utf-8")
LINE = re.compile(r"[^:\n]+\.\w+:\d+:\d+: (?:error|warning|note): [a-z-]+ \S.*")

BLOCKS = """format = 2
[[block]]
id = "lamps"
title = "Lamps"
[[block.setting]]
id = "lamp[n].brightness"
title = "Brightness {n}"
repeat = { count = 2, step = 1 }
[[block.setting.place]]
cv = 200
index = "1"
kind = "number"
range = [1, 9]
default = 3
[[block.setting.place]]
cv = 200
index = "2"
kind = "number"
range = [1, 9]
default = 10
"""
GULL = """format = 2
[decoder]
id = "gulls/gull"
maker = "Ferrow"
name = "Gull"
kind = "motor"
follows = ["gulls/blocks/lamps"]
sources = ["h"]
[identity]
manufacturer = 13
[firmware]
scheme = "number"
parts = []
[[source]]
id = "h"
kind = "document"
title = "Handbook"
date = 2020-01-01
firmware = ">=1, <=9"
[[setting]]
id = "speed.top"
title = "Top speed"
[[setting.place]]
cv = 5
kind = "number"
[[setting]]
id = "speed.crawl"
title = "Crawl speed"
[[setting.place]]
firmware = "<=4"
cv = 2
kind = "number"
[[setting.place]]
firmware = ">=5, <=12"
cv = 5
kind = "number"
"""


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store of its own with one profile and one blocks file, both with faults of meaning."""
    folder = tmp_path / "store"
    (folder / "gulls").mkdir(parents=True)
    (folder / "gulls" / "gull.toml").write_text(GULL, encoding="utf-8")
    (folder / "gulls" / "blocks.toml").write_text(BLOCKS, encoding="utf-8")
    return folder


def line_of(text: str, wanted: str, nth: int = 1) -> int:
    """The number of the line with the n-th occurrence of some text."""
    lines = [at for at, line in enumerate(text.splitlines(), 1) if wanted in line]
    return lines[nth - 1]


def test_the_shipped_definitions_have_no_fault(capsys: Capture) -> None:
    """Every profile, every blocks file, and every loco of the demo fleet."""
    code, data = json_of(capsys, "lint", str(ROOT / "definitions"))
    grave = [one for one in data["messages"] if one["severity"] != "note"]
    assert (code, grave) == (0, [])
    assert not data["messages"]
    assert data["profiles"] >= 15
    assert data["blocks"] == 2
    assert data["files"] >= 12
    assert run(["lint"]) == 0


def test_each_fault_of_meaning_has_its_code_and_its_spot(store: Path, capsys: Capture) -> None:
    """In the profile's own file, or in the blocks file that the setting comes from."""
    code, data = json_of(capsys, "lint", "--definitions", str(store))
    told = {
        (one["code"], Path(one["file"]).name, one["line"])
        for one in data["messages"]
        if str(store) in one["file"] and one["severity"] != "note"
    }
    assert code == 1
    assert told == {
        ("shared-identity", "gull.toml", line_of(GULL, "[identity]")),
        ("claimed-twice", "gull.toml", line_of(GULL, "[[setting.place]]", 1)),
        ("uncovered-claim", "gull.toml", line_of(GULL, ">=5, <=12")),
        ("illegal-default", "blocks.toml", line_of(BLOCKS, "default = 10")),
    }


def test_lines_are_sorted_whole_and_alike(store: Path) -> None:
    """One line a fault, file:line:column: severity: code message, and one line that counts."""
    done = program("lint", "--definitions", str(store), COLUMNS="40")
    assert done.returncode == 1
    told, _, counted = done.stdout.partition("\n\n")
    faults = told.splitlines()
    assert all(LINE.fullmatch(line) for line in faults)
    spots = [(line.split(":")[0], *map(int, line.split(":")[1:3])) for line in faults]
    assert spots == sorted(spots)
    severities = re.match(r"(\d+) errors?(?:, (\d+) warnings?)? and (\d+) ", counted)
    assert severities is not None
    assert sum(int(number) for number in severities.groups(default="0")) == len(faults)


def test_faults_of_form_are_told_all_at_once(store: Path, capsys: Capture) -> None:
    """A file that cannot be read does not hide the faults of the others."""
    wrong = GULL.replace("cv = 5", "cv = 5000").replace('kind = "motor"', 'kind = "moter"')
    (store / "gulls" / "gull.toml").write_text(wrong, encoding="utf-8")
    (store / "gulls" / "tern.toml").write_text("[decoder\n", encoding="utf-8")
    broken = BLOCKS.replace('id = "lamps"', 'id = "lamps"\ncolour = 1')
    (store / "gulls" / "blocks.toml").write_text(broken, encoding="utf-8")
    code, data = json_of(capsys, "lint", "--definitions", str(store))
    told = [
        (Path(one["file"]).name, one["line"], one["code"])
        for one in data["messages"]
        if one["file"].startswith(str(store))
    ]
    assert code == 1
    assert ("gull.toml", line_of(wrong, "moter"), "invalid") in told
    assert ("gull.toml", line_of(wrong, "cv = 5000"), "invalid") in told
    assert ("tern.toml", 1, "invalid") in told
    assert ("blocks.toml", line_of(broken, "colour"), "invalid") in told
    assert len(told) == len(set(told))


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("gull.toml", GULL, "claimed-twice"),
        ("other.toml", GULL.replace('id = "speed.top"', 'id = "Speed"'), "invalid"),
        ("blocks.toml", BLOCKS.replace("title", "titel"), "invalid"),
        ("loco.toml", "format = 1\n[loco]\nname = 3\n", "invalid"),
        ("values.csv", "CV,value\n29,300\n", "invalid"),
        ("binary.toml", "\x00\x01", "invalid"),
        ("fine.csv", "CV,value\n29,30\n", ""),
        ("plover.toml", PLOVER, "unlisted-version"),
    ],
)
def test_a_file_beside_the_store(
    name: str, text: str, code: str, store: Path, tmp_path: Path, capsys: Capture
) -> None:
    """A profile, a blocks file, a loco or a list: each is looked at as what it is."""
    (store / "gulls" / "gull.toml").unlink()
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    given, data = json_of(capsys, "lint", "--definitions", str(store), str(path))
    codes = {one["code"] for one in data["messages"] if one["file"] == str(path)}
    assert (given, data["files"]) == (1 if data["messages"] else 0, 1)
    assert code in codes or (not code and not codes)


def test_a_file_of_the_store_can_be_looked_at_alone(store: Path, capsys: Capture) -> None:
    """Just what is wrong with it is told."""
    (store / "gulls" / "tern.toml").write_text("[decoder\n", encoding="utf-8")
    path = store / "gulls" / "tern.toml"
    code, named = json_of(capsys, "lint", "--definitions", str(store), str(path))
    assert (code, {one["file"] for one in named["messages"]}) == (1, {str(path)})
    assert (named["profiles"], named["files"]) == (1, 0)


def test_a_blocks_file_alone_is_looked_at_with_those_who_follow_it(
    store: Path, capsys: Capture
) -> None:
    """What its settings mean shows in the profiles that take them over."""
    path = store / "gulls" / "blocks.toml"
    code, named = json_of(capsys, "lint", "--definitions", str(store), str(path))
    assert (code, {one["file"] for one in named["messages"]}) == (1, {str(path)})
    assert "illegal-default" in {one["code"] for one in named["messages"]}


def test_a_path_that_does_not_exist_is_wrong_use(tmp_path: Path, capsys: Capture) -> None:
    """Exit code 2 and one line."""
    code, lines = fails(capsys, "lint", str(tmp_path / "nothing.toml"))
    assert (code, len(lines)) == (2, 1)
    assert "there is no such file or folder" in lines[0]


def test_markdown_is_a_table(store: Path, capsys: Capture) -> None:
    """What it comes to, then a row for each finding: severity, code, place and words."""
    run(["lint", "--definitions", str(store), "--format", "markdown"])
    text = capsys.readouterr().out
    assert text.startswith("## Lint of the definitions\n\n")
    assert "| severity | code | where | what, and what to do |\n| --- | --- | --- | --- |\n" in text
    (row, *_) = [line for line in text.splitlines() if "`claimed-twice`" in line]
    assert row.startswith(f"| **error** | `claimed-twice` | `{store / 'gulls' / 'gull.toml'}:")


def test_a_faulty_follower_makes_no_block_unused(store: Path, capsys: Capture) -> None:
    """It may be the one that takes the block over."""
    path = store / "gulls" / "gull.toml"
    path.write_text(GULL.replace('follows = ["gulls/blocks/lamps"]\n', ""), encoding="utf-8")
    _, alone = json_of(capsys, "lint", "--definitions", str(store))
    path.write_text(GULL.replace('kind = "motor"', 'kind = "moter"'), encoding="utf-8")
    _, faulty = json_of(capsys, "lint", "--definitions", str(store))
    assert "unused-block" in {one["code"] for one in alone["messages"]}
    assert "unused-block" not in {one["code"] for one in faulty["messages"]}
