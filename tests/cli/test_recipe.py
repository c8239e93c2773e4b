"""`cvlib recipe`, and `--recipe` in the commands that read lists."""

import json
import tomllib
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import run

Capture = pytest.CaptureFixture[str]

LIST = """<list>
  <unit job="motor">
    <cv n="8" is="13"/>
    <cv n="7" is="4"/>
    <cv n="27" is="3"/>
    <cv n="28" is="-"/>
  </unit>
</list>
"""
RECIPE = """format = 1
kind = "xml"
rows = "//cv"
number = "@n"
value = "@is"
skip = ["-"]
role = "../@job"
profile = "'ferrow/lark-8'"
firmware = "'4.0.5'"
"""
PLAIN = "8 = 13\n7 = 4\n27 = 3\n"


@pytest.fixture(autouse=True)
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A list, its recipe and the same values as a plain list, in the folder where commands run."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.xml").write_text(LIST, encoding="utf-8")
    (tmp_path / "recipe.toml").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "plain.txt").write_text(PLAIN, encoding="utf-8")
    return tmp_path


def test_try_shows_every_row(capsys: Capture) -> None:
    """What is read, what is left out and why; exit code 0."""
    assert run(["recipe", "try", "list.xml", "recipe.toml"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "list.xml: 4 rows, 3 read, 1 left out"
    assert [line.split(maxsplit=3) for line in lines[3:]] == [
        ["3", "8", "13", "CV 8 = 13"],
        ["4", "7", "4", "CV 7 = 4"],
        ["5", "27", "3", "CV 27 = 3"],
        ["6", "28", "-", 'left out: "-" is a value to skip'],
    ]


def test_try_as_data(capsys: Capture) -> None:
    """The data follows its schema and holds each row."""
    code, data = json_of(capsys, "recipe", "try", "list.xml", "recipe.toml")
    assert code == 0
    assert [(row["line"], row["cv"], row["value"]) for row in data["rows"]] == [
        (3, 8, 13),
        (4, 7, 4),
        (5, 27, 3),
        (6, None, None),
    ]
    assert data["decoders"] == [{"role": "motor", "name": "", "address": "", "values": 3}]


def test_a_wrong_row_is_shown_in_its_place(files: Path, capsys: Capture) -> None:
    """The others are shown as well; exit code 2."""
    (files / "list.xml").write_text(LIST.replace('"3"', '"300"'), encoding="utf-8")
    code, data = json_of(capsys, "recipe", "try", "list.xml", "recipe.toml")
    assert code == 2
    assert [row["fault"] for row in data["rows"]] == [None, None, "CV 27 cannot hold 300.", None]
    assert len(data["faults"]) == 1


def test_several_decoders_are_told(files: Path, capsys: Capture) -> None:
    """Each row says whose it is; exit code 3, until --role chooses one."""
    second = '<unit job="sound"><cv n="8" is="13"/></unit></list>'
    (files / "list.xml").write_text(LIST.replace("</list>", second), encoding="utf-8")
    assert run(["recipe", "try", "list.xml", "recipe.toml"]) == 3
    assert '2 decoders: "motor", "sound".' in capsys.readouterr().out
    code, lines = fails(capsys, "check", "list.xml", "--recipe", "recipe.toml")
    assert (code, len(lines)) == (3, 1)
    words = ["check", "list.xml", "--recipe", "recipe.toml", "--role", "motor"]
    code, data = json_of(capsys, *words)
    assert code in (0, 1)
    assert len(data["locos"]) == 1


def test_a_role_that_no_decoder_has_is_told(capsys: Capture) -> None:
    """Of a list with one decoder as of a loco file: exit code 2."""
    code, lines = fails(capsys, "check", "list.xml", "--recipe", "recipe.toml", "--role", "sound")
    assert (code, lines) == (
        2,
        ['cvlib: list.xml: no decoder has the role "sound". Its roles are "motor".'],
    )


def test_a_proposal_is_a_recipe(files: Path, capsys: Capture) -> None:
    """Its text is kept as it is and used."""
    assert run(["recipe", "suggest", "list.xml"]) == 0
    text = capsys.readouterr().out
    assert "how sure: likely" in text.splitlines()[0]
    assert tomllib.loads(text)["skip"] == ["-"]
    (files / "made.toml").write_text(text, encoding="utf-8")
    assert run(["recipe", "try", "list.xml", "made.toml"]) == 0


def test_a_proposal_as_data(capsys: Capture) -> None:
    """The data follows its schema, with the rows that the proposal reads."""
    code, data = json_of(capsys, "recipe", "suggest", "list.xml")
    assert (code, data["certainty"], len(data["rows"])) == (0, "likely", 4)
    assert tomllib.loads(data["recipe"])["kind"] == "xml"


def test_a_guess_is_undecided(files: Path, capsys: Capture) -> None:
    """Where only the figures speak, exit code 3."""
    (files / "odd.json").write_text("[[29, 6], [8, 13]]", encoding="utf-8")
    assert run(["recipe", "suggest", "odd.json"]) == 3
    assert "guess" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ["suggest", "nowhere.xml"],
        ["suggest", "recipe.toml"],
        ["try", "list.xml", "nowhere.toml"],
        ["try", "list.xml", "list.xml"],
        ["try", "recipe.toml", "recipe.toml"],
        ["trie", "list.xml"],
    ],
)
def test_what_cannot_be_used_is_told(words: list[str], capsys: Capture) -> None:
    """Clear lines, exit code 2, and nothing is written."""
    before = sorted(Path().iterdir())
    code, lines = fails(capsys, "recipe", *words)
    assert code == 2
    assert all(len(line) < 300 for line in lines)
    assert sorted(Path().iterdir()) == before


def test_marks_that_steer_are_not_shown(files: Path, capsys: Capture) -> None:
    """Neither in rows nor in a proposal does a text of the file turn the writing round."""
    text = LIST.replace('job="motor"', 'role="\u202emotor\u2066" name="a&#x85;b"')
    (files / "list.xml").write_text(text.replace('"-"', '"\u202e-"'), encoding="utf-8")
    (files / "recipe.toml").write_text(RECIPE.replace("@job", "@role"), encoding="utf-8")
    for words in (["suggest", "list.xml"], ["try", "list.xml", "recipe.toml"]):
        run(["recipe", *words])
        told = capsys.readouterr()
        assert all(char.isprintable() or char == "\n" for char in told.out + told.err)


def outcome(capsys: Capture, *words: str) -> object:
    """The data that a command gives, without the names of files."""
    run([*words, "--format", "json"])
    out = capsys.readouterr().out
    for name in ("list.xml", "plain.txt"):
        out = out.replace(name, "FILE").replace(Path(name).stem, "NAME")
    return json.loads(out)


@pytest.mark.parametrize(
    "words",
    [
        ["check", "--profile", "ferrow/lark-8", "--firmware", "4.0.5"],
        ["identify"],
        ["carry", "--profile", "ferrow/lark-8", "--saved-for", "4.0.5", "--to", "4.3.9"],
    ],
    ids=lambda words: words[0],
)
def test_commands_read_by_recipe_what_they_read_plain(
    files: Path, words: list[str], capsys: Capture
) -> None:
    """The answer is that for the plain list of the same values."""
    kept = [
        line
        for line in RECIPE.splitlines()
        if line.split()[0] not in ("role", "profile", "firmware")
    ]
    (files / "recipe.toml").write_text("\n".join(kept), encoding="utf-8")
    by_recipe = outcome(capsys, words[0], "list.xml", "--recipe", "recipe.toml", *words[1:])
    plain = outcome(capsys, words[0], "plain.txt", *words[1:])
    lines = str.maketrans("", "", "0123456789") if words[0] == "check" else {}
    assert json.dumps(by_recipe).translate(lines) == json.dumps(plain).translate(lines)
    assert len(json.dumps(plain)) > 500


def test_compare_reads_a_list_beside_a_loco_file(files: Path, capsys: Capture) -> None:
    """The recipe says profile and firmware; the loco file is read as ever."""
    (files / "loco.toml").write_text(
        'format = 1\nloco.name = "Heron"\n[[decoder]]\nprofile = "ferrow/lark-8"\n'
        'firmware = "4.0.5"\n[[decoder.saved]]\ncv.27 = 2\n',
        encoding="utf-8",
    )
    assert run(["compare", "list.xml", "loco.toml", "--recipe", "recipe.toml", "--all"]) == 0
    assert "Heron" in capsys.readouterr().out


def test_a_folder_is_read_with_lists_of_every_ending(files: Path, capsys: Capture) -> None:
    """With a recipe, XML and JSON files of a folder are looked at besides."""
    folder = files / "folder"
    folder.mkdir()
    (files / "list.xml").rename(folder / "list.xml")
    code, data = json_of(capsys, "check", "folder", "--recipe", "recipe.toml")
    assert (code in (0, 1), len(data["locos"])) == (True, 1)


def test_a_recipe_is_not_needed_for_help(capsys: Capture) -> None:
    """The help of both forms has examples."""
    for form in ("suggest", "try"):
        assert run(["recipe", form, "--help"]) == 0
        assert f"cvlib recipe {form} values.xml" in capsys.readouterr().out
