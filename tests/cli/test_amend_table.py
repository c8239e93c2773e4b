"""`cvlib amend table`: a further handbook held against a profile, and written as one change."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, run
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.answer import Standing

Capture = pytest.CaptureFixture[str]

TABLES = ROOT / "tests" / "cases" / "table"
ID = "ilex-works/sorrel-8"
NEW = (
    *("--maker", "Ilex Works", "--name", "Sorrel 8", "--kind", "motor", "--follows", "rcn"),
    *("--title", "Sorrel 8 handbook, issue 1", "--firmware", "1.0 to 1.4"),
    *("--reading", "1.4: 7=14", "--manufacturer", "13", "--repeats", "--complete"),
)
SECOND = ("--source", "handbook-2", "--title", "Issue 2", "--firmware", "2.0 to 2.6")
THIRD = ("--source", "handbook-3", "--title", "Issue 3", "--firmware", "3.0 to 3.1")


def made(capsys: Capture, own: Path, table: Path | str, *words: str) -> None:
    """The profile of a first table."""
    code, _ = json_of(capsys, "new", ID, str(table), *(words or NEW), "--definitions", str(own))
    assert code == 0


def amended(capsys: Capture, own: Path, table: Path | str, *words: str) -> dict[str, Any]:
    """What a further table comes to: by setting what it has otherwise."""
    given = ("amend", "table", ID, str(table), *words, "--definitions", str(own))
    code, data = json_of(capsys, *given)
    assert code == 0
    return data


def told(data: dict[str, Any]) -> dict[str, str]:
    """By setting what a table has otherwise."""
    return {one["setting"]: one["what"] for one in data["table"]}


def file_of(own: Path) -> dict[str, Any]:
    """The profile as it is written."""
    return tomllib.loads((own / f"{ID}.toml").read_text(encoding="utf-8"))


def test_three_issues_in_three_commands(tmp_path: Path, capsys: Capture) -> None:
    """Moves, an exchange of CVs, a block, a recoding, what is new and what is gone, all cited."""
    made(capsys, tmp_path, TABLES / "issue-1.csv")
    second = amended(capsys, tmp_path, TABLES / "issue-2.csv", *SECOND, "--complete")
    assert told(second) == {
        "momentum.acceleration": "new default",
        "other.regelungsperiode": "recoded",
        "other.bremsweg": "moved, recoded",
        "other.bremsart": "moved",
        "ausgang[n].helligkeit": "moved",
        "ausgang[n].art": "moved",
        "ausgang[n].dauer": "moved",
        "other.rangiergang": "new",
        "other.betriebsstunden": "gone",
    }
    third = amended(capsys, tmp_path, TABLES / "issue-3.csv", *THIRD, "--complete")
    assert told(third) == {"lampe.hinten-helligkeit": "gone"}
    profile = open_store(tmp_path).profile(ID)
    resolver = Resolver(profile)
    at = {version: resolver.at(profile.version(version)) for version in ("1.2", "2.3", "3.0")}
    assert [_cv(at[version]["other.bremsweg"]) for version in at] == [60, 61, 61]
    assert [_cv(at[version]["other.bremsart"]) for version in at] == [61, 60, 60]
    assert [_cv(at[version]["ausgang[8].art"]) for version in at] == [191, 211, 211]
    assert not at["2.3"]["other.betriebsstunden"].may_exist
    assert not at["3.0"]["lampe.hinten-helligkeit"].may_exist
    assert at["3.0"]["lampe.vorn-helligkeit"].standing is Standing.DOCUMENTED
    assert run(["tidy", "--definitions", str(tmp_path), "--check"]) == 0


def _cv(answer: Any) -> int:
    return int(answer.place.fields[0].slot.cv)


def test_what_is_written_is_compact(tmp_path: Path, capsys: Capture) -> None:
    """No place has a firmware of its own; a table without pages costs one source."""
    made(capsys, tmp_path, TABLES / "issue-1.csv")
    amended(capsys, tmp_path, TABLES / "issue-2.csv", *SECOND, "--complete")
    before = file_of(tmp_path)
    amended(capsys, tmp_path, TABLES / "issue-3.csv", *THIRD, "--complete")
    data = file_of(tmp_path)
    places = [place for one in data["setting"] for place in one["place"]]
    assert not any("firmware" in place for place in places)
    assert data["setting"] == before["setting"]
    assert data["source"][2]["reissues"] == "handbook-2"
    assert data["source"][2]["without"] == ["lampe.hinten-helligkeit"]
    cited = {one["id"]: [p.get("sources") for p in one["place"]] for one in data["setting"]}
    assert cited["other.bremsweg"] == [["handbook-1:16"], ["handbook-2:17"]]
    assert cited["other.motorart"] == [["handbook-1:13", "handbook-2:14"]]


def test_without_complete_nothing_is_said_of_what_is_not_listed(
    tmp_path: Path, capsys: Capture
) -> None:
    """It is told as not listed, and the profile knows no more of it than before."""
    made(capsys, tmp_path, TABLES / "issue-1.csv")
    data = amended(capsys, tmp_path, TABLES / "issue-2.csv", *SECOND)
    assert told(data)["other.betriebsstunden"] == "not listed"
    profile = open_store(tmp_path).profile(ID)
    answer = Resolver(profile).at(profile.version("2.3"))["other.betriebsstunden"]
    assert answer.standing is Standing.BEYOND


SMALL = "cv,title,min,max,default\n60,Glow,0,9,1\n61,Fade,0,9,2\n62,Hum,0,9,3\n"


def small(capsys: Capture, own: Path, text: str, *words: str) -> dict[str, Any]:
    """A further small table against the profile of the first one."""
    if not (own / f"{ID}.toml").exists():
        (own / "one.csv").write_text(SMALL, encoding="utf-8")
        made(capsys, own, own / "one.csv", *NEW)
    (own / "next.csv").write_text(text, encoding="utf-8")
    return amended(capsys, own, own / "next.csv", *words, "--complete")


def test_a_row_that_may_be_one_that_is_gone_is_told(tmp_path: Path, capsys: Capture) -> None:
    """With the words that make it that one."""
    text = "cv,title,min,max,default\n60,Glow,0,9,1\n61,Fade,0,9,2\n80,Hum level,0,9,3\n"
    data = small(capsys, tmp_path, text, *SECOND, "--dry-run")
    assert told(data) == {"hum.level": "new", "other.hum": "gone"}
    assert any("--id 80=other.hum" in note for note in data["notes"])
    data = small(capsys, tmp_path, text, *SECOND, "--id", "80=other.hum")
    assert told(data) == {"other.hum": "moved"}


def test_a_setting_that_comes_back_gets_no_second_place(tmp_path: Path, capsys: Capture) -> None:
    """The place where it was before is cited again."""
    away = SMALL.replace("62,Hum", "70,Hum")
    assert told(small(capsys, tmp_path, away, *SECOND)) == {"other.hum": "moved"}
    assert told(small(capsys, tmp_path, SMALL, *THIRD)) == {"other.hum": "moved"}
    (hum,) = [one for one in file_of(tmp_path)["setting"] if one["id"] == "other.hum"]
    assert [place["cv"] for place in hum["place"]] == [62, 70]
    profile = open_store(tmp_path).profile(ID)
    assert _cv(Resolver(profile).at(profile.version("3.0"))["other.hum"]) == 62


def test_what_a_table_does_not_say_stays_as_it_was(tmp_path: Path, capsys: Capture) -> None:
    """A table without ranges and defaults changes none."""
    data = small(capsys, tmp_path, "cv,title\n60,Glow\n61,Fade\n62,Hum\n", *SECOND)
    assert told(data) == {}
    assert data["evidence"][0]["id"] == "handbook-2"


def test_a_block_that_grows_keeps_its_indexes(tmp_path: Path, capsys: Capture) -> None:
    """Older firmware has as many as it had; the further ones are new."""
    lines = [f"{60 + n},Lamp {n} glow,0,9,1" for n in range(1, 7)]
    head = "cv,title,min,max,default"
    (tmp_path / "one.csv").write_text("\n".join([head, *lines[:4]]), encoding="utf-8")
    made(capsys, tmp_path, tmp_path / "one.csv", *NEW)
    data = small(capsys, tmp_path, "\n".join([head, *lines]), *SECOND)
    assert told(data) == {"lamp[n].glow": "new"}
    profile = open_store(tmp_path).profile(ID)
    resolver = Resolver(profile)
    assert not resolver.at(profile.version("1.2"))["lamp[6].glow"].may_exist
    assert _cv(resolver.at(profile.version("2.0"))["lamp[6].glow"]) == 66
    assert _cv(resolver.at(profile.version("2.0"))["lamp[1].glow"]) == 61


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("--title", "T", "--firmware", "2.0"), "table needs --source"),
        ((*SECOND[:4], "--firmware", "2.6 to 2.0"), "no firmware in"),
        ((*SECOND, "--id", "99=other.hum"), 'no row is "99"'),
        ((*SECOND, "--reissues", "handbook-9"), 'no document "handbook-9"'),
        (("--source", "handbook-1", *SECOND[2:]), 'source "handbook-1"'),
    ],
)
def test_wrong_words_are_refused_in_one_line(
    words: tuple[str, ...], text: str, tmp_path: Path, capsys: Capture
) -> None:
    """Exit code 2, and the file stays as it was."""
    (tmp_path / "one.csv").write_text(SMALL, encoding="utf-8")
    made(capsys, tmp_path, tmp_path / "one.csv", *NEW)
    before = (tmp_path / f"{ID}.toml").read_bytes()
    given = ("amend", "table", ID, str(tmp_path / "one.csv"), *words)
    code, lines = fails(capsys, *given, "--definitions", str(tmp_path))
    assert code == 2
    assert text in lines[0]
    assert (tmp_path / f"{ID}.toml").read_bytes() == before


TYPED = (
    "cv,default,min,max,meaning\n"
    '27,16,16,48,"decoder type; 16 switch, 33 relays, 48 occupancy"\n'
    "33,1,0,1,[CV27=16 switch] send feedback\n"
    "33,1,0,1,[CV27=33 relays] relay level\n"
    "34,1,0,1,[CV27=16 switch] act on all\n"
)
TYPED_NEW = (
    *("--maker", "Ilex Works", "--name", "Sorrel 8", "--kind", "accessory", "--follows", "none"),
    *("--title", "Issue 1", "--firmware", "1.0 to 1.4", "--manufacturer", "13", "--complete"),
)


@pytest.mark.parametrize(
    ("text", "words", "expected"),
    [
        (TYPED, (), {}),
        (TYPED.replace("34,1", "34,0"), (), {"switch.act-on-all": "new default"}),
        (
            TYPED.replace("send feedback", "Meldung"),
            (),
            {"switch.meldung": "new", "switch.send-feedback": "gone"},
        ),
        (
            TYPED.replace("send feedback", "Meldung"),
            ("--id", "33 [CV27=16]=switch.send-feedback"),
            {},
        ),
        (
            TYPED.replace("33 relays] relay", "48 occupancy] relay"),
            (),
            {"occupancy.relay-level": "new", "relays.relay-level": "gone"},
        ),
    ],
)
def test_rows_with_a_mark_of_their_condition(
    text: str, words: tuple[str, ...], expected: dict[str, str], tmp_path: Path, capsys: Capture
) -> None:
    """They are known again by name and condition, and the id that is told for one does help."""
    (tmp_path / "one.csv").write_text(TYPED, encoding="utf-8")
    made(capsys, tmp_path, tmp_path / "one.csv", *TYPED_NEW)
    data = small(capsys, tmp_path, text, *SECOND, *words)
    assert told(data) == expected
    if "switch.meldung" in expected:
        hint = '--id "33 [CV27=16]=switch.send-feedback"'
        assert any(hint in note for note in data["notes"])


@pytest.mark.parametrize(
    ("row", "hint"),
    [
        ("62,Brummen,0,9,3", "--id 62=other.hum"),
        ("62,Brummen,0,7,5", "--id 62=other.hum"),
        ("80,Hum level,0,9,3", "--id 80=other.hum"),
        ("80,Brummen,0,9,3", ""),
    ],
)
def test_a_new_row_in_the_place_of_what_is_gone(
    row: str, hint: str, tmp_path: Path, capsys: Capture
) -> None:
    """It is told whatever its name is; elsewhere only with a name that is alike."""
    data = small(capsys, tmp_path, SMALL.replace("62,Hum,0,9,3", row), *SECOND)
    assert told(data)["other.hum"] == "gone"
    hints = [note for note in data["notes"] if "is taken as new" in note]
    assert [hint in note for note in hints] == ([True] if hint else [])
    assert not any("--risk" in note for note in data["notes"])


@pytest.mark.parametrize(
    ("words", "number"),
    [
        (("bench", "other.glow=works", "--firmware", "1.2"), 0),
        (("bench", "other.glow=works", "--firmware", "2.3"), 1),
        (("bench", "other.glow=works", "--firmware", "4.0"), 1),
        (("bench", "other.glow@60:1.0=works", "--firmware", "1.7"), 0),
        (("bench", "other.glow@60:2.0=works", "--firmware", "1.7"), 1),
        (("place", "other.glow", "--at", "1.2", "--note", "seen"), 0),
        (("place", "other.glow", "--at", "2.3", "--note", "seen"), 1),
        (("place", "other.glow", "--at", "4.0", "--note", "seen"), 1),
    ],
)
def test_places_that_differ_in_their_default_alone_are_told_apart(
    words: tuple[str, ...], number: int, tmp_path: Path, capsys: Capture
) -> None:
    """By what the documents of each speak for at the firmware."""
    small(capsys, tmp_path, SMALL.replace("60,Glow,0,9,1", "60,Glow,0,9,2"), *SECOND)
    form, subject, *rest = words
    given = ("amend", form, ID, subject, *rest, "--definitions", str(tmp_path))
    code, _ = json_of(capsys, *given)
    assert code == 0
    (glow,) = [one for one in file_of(tmp_path)["setting"] if one["id"] == "other.glow"]
    changed = ["note" in one or "bench-" in str(one.get("sources")) for one in glow["place"]]
    assert changed == [at == number for at in range(2)]


def test_of_two_places_that_differ_in_their_default_the_one_named_is_deleted(
    tmp_path: Path, capsys: Capture
) -> None:
    """And in between, where either may hold, only its number names one."""
    small(capsys, tmp_path, SMALL.replace("60,Glow,0,9,1", "60,Glow,0,9,2"), *SECOND)
    own = ("--definitions", str(tmp_path))
    code, lines = fails(capsys, *("amend", "place", ID, "other.glow", "--at", "1.7"), *own)
    assert code == 2
    code, lines = fails(
        capsys, *("amend", "delete", ID, "setting", "other.glow"), "--at", "1.7", *own
    )
    assert code == 2
    assert lines[-1].endswith("Choose one with --number.")
    code, _ = json_of(
        capsys, *("amend", "delete", ID, "setting", "other.glow"), "--at", "2.3", *own
    )
    assert code == 0
    (glow,) = [one for one in file_of(tmp_path)["setting"] if one["id"] == "other.glow"]
    assert [one["default"] for one in glow["place"]] == [1]


@pytest.mark.parametrize(
    ("row", "was", "now"),
    [
        ("60,Glow,0,9,1,s,0.2", ", scale 0.1", ", scale 0.2"),
        ("60,Glow,0,9,1,ms,0.1", ', unit "s"', ', unit "ms"'),
        ("60,Glow,0,8,1,s,0.1", "CV 60: 0-9, default 1", "CV 60: 0-8, default 1"),
    ],
)
def test_what_is_recoded_is_told_by_what_differs(
    row: str, was: str, now: str, tmp_path: Path, capsys: Capture
) -> None:
    """Also where CV, range and default are the same before and after."""
    text = "cv,title,min,max,default,unit,scale\n60,Glow,0,9,1,s,0.1\n"
    (tmp_path / "one.csv").write_text(text, encoding="utf-8")
    made(capsys, tmp_path, tmp_path / "one.csv", *NEW)
    data = small(capsys, tmp_path, text.replace("60,Glow,0,9,1,s,0.1", row), *SECOND)
    (line,) = [one for one in data["table"] if one["setting"] == "other.glow"]
    assert line["what"] == "recoded"
    assert line["was"].endswith(was)
    assert line["now"].endswith(now)


def test_both_ends_of_a_range_are_releases(tmp_path: Path, capsys: Capture) -> None:
    """Of a further issue as of the first."""
    small(capsys, tmp_path, SMALL, *SECOND)
    held = [one["version"] for one in file_of(tmp_path)["firmware"]["release"]]
    assert held == ["1.0", "1.4", "2.0", "2.6"]


def test_a_default_of_one_of_a_repeat_goes_into_the_list(tmp_path: Path, capsys: Capture) -> None:
    """The others keep theirs; what else is corrected counts for all, which is told."""
    rows = [f"{60 + n},Lamp {n} glow,0,9,{max(1, n - 2)}" for n in range(1, 5)]
    (tmp_path / "one.csv").write_text(
        "\n".join(["cv,title,min,max,default", *rows]), encoding="utf-8"
    )
    made(capsys, tmp_path, tmp_path / "one.csv", *NEW)
    own = ("--definitions", str(tmp_path))
    given = ("amend", "place", ID, "lamp[2].glow")
    code, data = json_of(capsys, *given, "--default", "5", *own)
    assert code == 0
    (glow,) = [one for one in file_of(tmp_path)["setting"] if one["id"] == "lamp[n].glow"]
    assert glow["place"][0]["defaults"] == [1, 5, 1, 2]
    assert "[1, 1, 1, 2] → [1, 5, 1, 2]" in data["did"][0]
    assert len({one["setting"] for one in data["effect"]["changes"]}) == 1
    code, data = json_of(capsys, *given, "--range", "0-8", *own)
    assert any("written once for all 4" in note for note in data["notes"])
