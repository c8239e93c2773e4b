"""`cvlib amend`: each form writes what was meant, shows what follows, refuses what lint would."""

import shutil
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of, schema
from cli.run_cvlib import ROOT, program, run
from cvlib.cli.amend_forms import FORMS
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.files.amend.amending import FORMS as MAKERS
from cvlib.files.amend.amending import amend
from cvlib.files.amend.change import Typed, Wish
from cvlib.files.layout import PROFILE_ORDER
from cvlib.files.store import open_store
from cvlib.model.answer import Standing

Capture = pytest.CaptureFixture[str]

RECODED = """
[[setting]]
id = "glow.level"
title = "Glow"
  [[setting.place]]
  firmware = ">=1.0, <2.0"
  cv = 60
  kind = "number"
  range = [0, 15]
  sources = ["handbook-1:9"]
  [[setting.place]]
  firmware = ">=3.0, <4.0"
  cv = 60
  kind = "number"
  range = [0, 100]
  sources = ["handbook-2:9"]
"""
SMALL = ROOT / "tests" / "cases" / "amend"
PLOVER = "ferrow/plover"
LARK = "ferrow/lark-8"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A folder of definitions of one's own with one small profile, laid out as it should be."""
    shutil.copytree(SMALL, tmp_path / "own")
    assert run(["tidy", str(tmp_path / "own")]) == 0
    return tmp_path / "own"


def text_of(own: Path, id: str = PLOVER) -> str:
    """The file of a profile."""
    return (own / f"{id}.toml").read_text(encoding="utf-8")


def data_of(own: Path, id: str = PLOVER) -> dict[str, Any]:
    """What a profile's file holds."""
    return tomllib.loads(text_of(own, id))


def amended(capsys: Capture, own: Path, *words: str) -> Any:
    """The JSON output of a correction that is written."""
    capsys.readouterr()
    code, data = json_of(capsys, "amend", *words, "--definitions", str(own))
    assert code == 0
    assert data["written"] is True
    assert data["pull_request"]["text"].startswith(f"# {data['pull_request']['title']}")
    assert run(["tidy", str(own), "--check"]) == 0
    return data


def refused(capsys: Capture, own: Path, *words: str) -> list[str]:
    """The error lines of a correction that is not written."""
    before = {path: path.read_bytes() for path in own.rglob("*.toml")}
    capsys.readouterr()
    code, lines = fails(capsys, "amend", *words, "--definitions", str(own))
    assert code == 2
    assert {path: path.read_bytes() for path in own.rglob("*.toml")} == before
    return lines


def given(*words: str) -> dict[str, Typed]:
    """Options and their values as a wish holds them."""
    return {key.lstrip("-"): value for key, value in zip(words[::2], words[1::2], strict=True)}


def changes(data: Any) -> dict[str, dict[str, list[str]]]:
    """Each setting that is answered otherwise: for which firmware, and in which ways."""
    found: dict[str, dict[str, list[str]]] = {}
    for one in data["effect"]["changes"]:
        found.setdefault(one["setting"], {})[one["firmware"]] = one["kinds"]
    return found


def test_every_form_has_its_maker_and_its_keys_are_of_the_format() -> None:
    """The forms of the command line are those that are made; a place takes every key of a place."""
    assert [form.name for form in FORMS] == list(MAKERS)
    for form in FORMS:
        if form.name in ("place", "setting"):
            lacking = set(PROFILE_ORDER["place"]) - {key.name for key in form.keys}
            assert lacking - {"absent"} == {"sources"}


def test_a_bench_test_goes_before_the_handbooks_at_its_firmware(own: Path, capsys: Capture) -> None:
    """Two settings of one test, one of them on a named CV; comments of the file stay."""
    data = amended(
        *(capsys, own, "bench", PLOVER, "braking.distance@144=works", "sound.steam=no-effect"),
        *("--firmware", "2.5", "--date", "2026-09-12", "--note", "three runs"),
    )
    written = data_of(own)
    assert written["source"][-1] == {
        "id": "bench-2026-09",
        "kind": "bench",
        "date": written["source"][-1]["date"],
        "firmware": "==2.5",
        "note": "three runs",
    }
    assert written["source"][-1]["date"].isoformat() == "2026-09-12"
    places = {one["id"]: one["place"] for one in written["setting"]}
    said = {"source": "bench-2026-09", "verdict": "works"}
    assert places["braking.distance"][1]["sources"] == ["handbook-2:31", said]
    assert text_of(own).startswith("# A small decoder, invented")
    assert changes(data)["braking.distance"].keys() == {"==2.5"}
    assert [one["id"] for one in data["evidence"]] == ["bench-2026-09"]


def test_a_second_test_of_a_month_gets_an_id_of_its_own(own: Path, capsys: Capture) -> None:
    """By the day, then counted; --source adds to a test that is there."""
    words = ("bench", PLOVER, "speed.top=works", "--firmware", "2.5", "--date", "2026-09-12")
    ids = [amended(capsys, own, *words)["evidence"][0]["id"] for _ in range(3)]
    assert ids == ["bench-2026-09", "bench-2026-09-12", "bench-2026-09-12-2"]
    amended(
        *(capsys, own, "bench", PLOVER, "speed.crawl=works", "--firmware", "2.5"),
        *("--source", "bench-2026-09"),
    )
    assert len(data_of(own)["source"]) == 7


def test_of_several_places_on_one_cv_the_firmware_tells_which(own: Path, capsys: Capture) -> None:
    """A setting that was recoded on its CV: ``SETTING@CV:VERSION``; the refusal says how."""
    folder = own / "ferrow"
    text = text_of(own)
    end = RECODED if text.endswith("\n") else "\n" + RECODED
    (folder / "plover.toml").write_text(text + end, encoding="utf-8")
    assert run(["tidy", str(own)]) == 0
    lines = refused(capsys, own, "bench", PLOVER, "glow.level@60=works", "--firmware", "2.5")
    assert "glow.level@60:1.0 or glow.level@60:3.0" in " ".join(lines)
    lines = refused(capsys, own, "bench", PLOVER, "glow.level@60:2.2=works", "--firmware", "2.5")
    assert "no such place" in " ".join(lines)
    amended(capsys, own, "bench", PLOVER, "glow.level@60:3.1=works", "--firmware", "2.5")
    held = next(one for one in data_of(own)["setting"] if one["id"] == "glow.level")
    assert "works" not in str(held["place"][0])
    assert "works" in str(held["place"][1])


def test_a_test_of_a_new_firmware_adds_the_release(own: Path, capsys: Capture) -> None:
    """It stands in the order of the versions."""
    amended(capsys, own, "bench", PLOVER, "speed.top=works", "--firmware", "2.7")
    versions = [one["version"] for one in data_of(own)["firmware"]["release"]]
    assert versions == ["1.2", "2.5", "2.7", "3.1", "5.0"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("braking.distance=works", "--firmware", "2.5"), "braking.distance@141 or"),
        (("braking.distance@99=works", "--firmware", "2.5"), "no place of"),
        (("braking.distanz@141=works", "--firmware", "2.5"), '"braking.distance"'),
        (("speed.top=perhaps", "--firmware", "2.5"), "unreliable or no-effect"),
        (("speed.top=works", "--firmware", "x"), "numbers joined by dots"),
        (("speed.top=works", "--firmware", "2.5", "--date", "soon"), "2026-03-14"),
        (("speed.top=works", "--firmware", "2.5", "--source", "handbook-1"), "no bench test"),
        (("sound.chime=works", "--firmware", "2.5", "--source", "bench-1"), "already speaks"),
        (("speed.top", "--firmware", "2.5"), "--verdict"),
        (("speed.top=works",), "--firmware"),
    ],
)
def test_a_bench_test_that_is_not_clear_is_refused(
    own: Path, capsys: Capture, words: tuple[str, ...], told: str
) -> None:
    """One line says what would be right; nothing is written."""
    lines = refused(capsys, own, "bench", PLOVER, *words)
    assert len(lines) == 1
    assert told in lines[0]


def test_a_release_stands_in_the_order_of_the_versions(own: Path, capsys: Capture) -> None:
    """With date, label and what it really answers."""
    data = amended(
        *(capsys, own, "release", PLOVER, "3.10", "--date", "2026-09-14", "--label", "autumn"),
        *("--answers", "7=3, 109=1"),
    )
    releases = data_of(own)["firmware"]["release"]
    assert [one["version"] for one in releases] == ["1.2", "2.5", "3.1", "3.10", "5.0"]
    assert releases[3]["answers"] == [{"cv": 7, "value": 3}, {"cv": 109, "value": 1}]
    assert data["effect"]["changes"] == []
    assert refused(capsys, own, "release", PLOVER, "3.10.0")[0].endswith("Each is there once.")


DOCUMENT = ("--title", "Plover handbook, issue 4", "--firmware", "2.0 to 2.5")


def test_a_document_speaks_only_where_it_is_cited(own: Path, capsys: Capture) -> None:
    """Without an extent it makes nothing certain, and what is cited of it is."""
    data = amended(capsys, own, "document", PLOVER, "handbook-4", *DOCUMENT)
    assert data["effect"]["changes"] == []
    assert "extent" not in data_of(own)["source"][-1]
    assert any("--reissues" in note for note in data["notes"])
    top = ("speed.top", "--number", "1", "--source", "handbook-4:5")
    data = amended(capsys, own, "place", PLOVER, *top)
    assert changes(data)["speed.top"][">=2.0, <=2.5"] == ["improved"]
    assert changes(data).keys() == {"speed.top"}


def test_a_whole_document_denies_what_it_does_not_list(own: Path, capsys: Capture) -> None:
    """Somebody read it from first to last page; a sheet does so only of what it is about."""
    data = amended(
        *(capsys, own, "document", PLOVER, "sheet-4", *DOCUMENT, "--extent", "whole"),
        *("--about", "braking"),
    )
    assert data_of(own)["source"][-1]["extent"] == "whole"
    assert changes(data)["braking.distance"][">=2.0, <=2.5"] == ["removed"]
    assert {one.partition(".")[0] for one in changes(data)} == {"braking"}


@pytest.mark.parametrize("option", ["--reissues", "--same-as"])
def test_a_further_issue_costs_one_source(own: Path, capsys: Capture, option: str) -> None:
    """All that the earlier one says is documented by it too, but what it says is gone."""
    before = data_of(own)
    data = amended(
        *(capsys, own, "document", PLOVER, "handbook-4", *DOCUMENT, option, "handbook-1"),
        *("--without", "braking.whistle"),
    )
    after = data_of(own)
    assert after["source"][-1] | {"title": ""} == {
        "id": "handbook-4",
        "kind": "document",
        "title": "",
        "firmware": ">=2.0, <=2.5",
        "reissues": "handbook-1",
        "without": ["braking.whistle"],
    }
    assert after["setting"] == before["setting"]
    profile = open_store(own).profile(PLOVER)
    answers = Resolver(profile).at(profile.version("2.4"))
    older = Resolver(profile).at(profile.version("1.2"))
    assert older["braking.whistle"].standing is Standing.DOCUMENTED
    assert answers["braking.whistle"].is_absent
    listed = [id for id, one in older.items() if one.standing is Standing.DOCUMENTED]
    assert all(answers[id].standing is Standing.DOCUMENTED for id in listed)
    assert ">=2.0, <=2.5" in changes(data)["braking.distance"]


def test_a_further_issue_keeps_what_is_followed_for_some_firmware(capsys: Capture) -> None:
    """The Lark 8 follows blocks for some firmware only: no setting of theirs gets lost."""
    profile = open_store().profile(LARK)
    words = ("--title", "Lark 8 handbook, issue 3", "--firmware", "5.0 to 5.0.1")
    wish = Wish("document", LARK, ("handbook-3",), given(*words, "--reissues", "handbook-2"))
    after = amend(open_store(), wish, None, date(2026, 9, 12)).result.after
    now, then = Resolver(after), Resolver(profile)
    older, newer = then.at(profile.version("4.3.9")), now.at(profile.version("5.0.1"))
    for id, answer in older.items():
        assert newer[id].standing is answer.standing
        assert newer[id].place == answer.place


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--reissues", "1.2"), "There is handbook-1, handbook-2, handbook-3."),
        (("--reissues", "handbok-1"), '"handbook-1"'),
        (("--replaces", "bench-1"), "no document"),
        (("--extent", "all"), "whole or cited"),
        (("--reissues", "handbook-1", "--without", "braking.wistle"), '"braking.whistle"'),
        (("--kind", "bench"), "tests are for bench"),
    ],
)
def test_a_document_that_cannot_be_is_refused(
    own: Path, capsys: Capture, words: tuple[str, ...], told: str
) -> None:
    """One line says what would be right."""
    lines = refused(capsys, own, "document", PLOVER, "handbook-4", *DOCUMENT, *words)
    assert told in lines[0]


def test_an_erratum_goes_before_what_it_replaces(own: Path, capsys: Capture) -> None:
    """Where it is cited; the corrected place calls on it and needs no firmware."""
    words = ("--title", "Erratum", "--firmware", ">=3.0, <4.0", "--replaces", "handbook-2")
    amended(capsys, own, "document", PLOVER, "erratum", *words)
    place = ("braking.distance", "--at", "3.1", "--new", "--cv", "146", "--source", "erratum:1")
    data = amended(capsys, own, "place", PLOVER, *place)
    assert "firmware" not in data_of(own)["setting"][2]["place"][2]
    assert changes(data)["braking.distance"][">=3.0, <4.0"] == ["moved"]


def test_a_place_is_corrected_key_by_key(own: Path, capsys: Capture) -> None:
    """The place of one firmware; keys change and go, the others stay."""
    data = amended(
        *(capsys, own, "place", PLOVER, "braking.distance", "--at", "3.1", "--range", "1-180"),
        *("--default", "50", "--remove", "unit", "--source", "handbook-2:32"),
    )
    assert data_of(own)["setting"][2]["place"][1] == {
        "cv": 144,
        "kind": "number",
        "range": [1, 180],
        "default": 50,
        "sources": ["handbook-2:31", "handbook-2:32"],
    }
    assert changes(data)["braking.distance"][">=3.0, <4.0"][0] == "recoded"


def test_a_place_is_added_after_the_pattern_of_another(own: Path, capsys: Capture) -> None:
    """A bench test saw the setting on another CV: a place for that firmware alone."""
    amended(
        *(capsys, own, "bench", PLOVER, "braking.distance@144=no-effect", "--firmware", "2.5"),
        *("--date", "2026-09-12"),
    )
    amended(
        *(capsys, own, "place", PLOVER, "braking.distance", "--at", "3.1", "--new"),
        *("--firmware", "2.5", "--cv", "145", "--source", "bench-2026-09=works"),
    )
    place = data_of(own)["setting"][2]["place"][2]
    assert (place["firmware"], place["cv"], place["range"]) == ("==2.5", 145, [1, 200])
    assert place["sources"] == [{"source": "bench-2026-09", "verdict": "works"}]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--cv", "144"), "--number or --at"),
        (("--at", "2.5", "--cv", "1"), "several places"),
        (("--at", "3.1", "--cv", "1025"), "1024"),
        (("--at", "3.1", "--cv", "151"), "claimed-twice"),
        (("--at", "3.1", "--range", "200-1"), "lower end first"),
        (("--at", "3.1", "--firmware", "1.0 to 1.9"), "speaks for >=3.0, <4.0"),
        (("--at", "3.1", "--source", "handbook-3:8", "--firmware", "3.1"), "handbook-3"),
        (("--at", "3.1", "--new", "--cv", "146", "--source", "handbook-2:3"), "leave --new out"),
        (("--absent", "--source", "bench-1=no-effect"), "for the form bench"),
        (("--absent",), "needs the documents"),
        (("--absent", "--cv", "3", "--source", "handbook-3:2"), "--firmware and --note"),
        (("--at", "3.1", "--kind", "nummer"), '"number"'),
        (("--at", "3.1", "--default", "300"), "255"),
        (("--at", "3.1", "--remove", "bits"), "no key"),
        (("--at", "3.1", "--source", "handbok-2:3"), '"handbook-2"'),
        (("--at", "3.1", "--source", "bench-1"), "bench-1=works"),
        (("--at", "3.1", "--source", "handbook-2=works"), "no bench test"),
        (("--at", "3.1"), "nothing is given"),
        (("--number", "7", "--cv", "1"), "no place 7"),
    ],
)
def test_what_loading_or_lint_would_refuse_is_not_written(
    own: Path, capsys: Capture, words: tuple[str, ...], told: str
) -> None:
    """The file stays as it was, byte for byte, and the line says why."""
    lines = refused(capsys, own, "place", PLOVER, "braking.distance", *words)
    assert told in lines[0]


def test_a_finding_that_was_there_before_is_no_reason_to_refuse(own: Path, capsys: Capture) -> None:
    """The small profile has claims that no source covers; only a new finding is refused."""
    assert run(["lint", "--definitions", str(own)]) == 1
    amended(capsys, own, "place", PLOVER, "speed.top", "--default", "100")
    assert (
        "illegal-default"
        in refused(*(capsys, own, "place", PLOVER, "speed.top", "--default", "101"))[0]
    )


def test_all_faults_come_at_once(own: Path, capsys: Capture) -> None:
    """Each wrong option has its line."""
    words = ("place", PLOVER, "speed.top", "--cv", "x", "--range", "y", "--scale", "z")
    assert len(refused(capsys, own, *words)) == 3


def test_a_question_is_asked_and_answered(own: Path, capsys: Capture) -> None:
    """The answer is kept with the source that gives it, and the question goes."""
    amended(
        *(capsys, own, "question", PLOVER, "crawl-unit", "--text", "In which unit?"),
        *("--settle", "Set 28.", "--about", "speed.crawl, lights", "--date", "2026-09-12"),
    )
    asked = data_of(own)["question"][1]
    assert (asked["about"], asked["text"]) == (["speed.crawl", "lights"], "In which unit?")
    assert refused(
        *(capsys, own, "question", PLOVER, "x", "--text", "t", "--settle", "s", "--about", "spead"),
    )
    words = ("answer", PLOVER, "distance-between", "--source", "bench-1", "--text", "CV 144.")
    amended(capsys, own, *words)
    data = data_of(own)
    assert [one["id"] for one in data["question"]] == ["crawl-unit"]
    assert data["source"][3]["note"] == "Answers distance-between: CV 144."
    assert (
        '"crawl-unit"'
        in refused(
            *(capsys, own, "answer", PLOVER, "crawl-unti", "--source", "bench-1", "--text", "t")
        )[0]
    )


def test_a_setting_is_added_behind_its_group(own: Path, capsys: Capture) -> None:
    """With its first place; an id that is there is refused."""
    words = (
        *("setting", PLOVER, "speed.kick", "--title", "Kick", "--kind", "choice", "--cv", "170"),
        *("--choices", "0=off, 1=weak, 2-7=strong", "--default", "weak"),
        *("--firmware", ">=3.0, <4.0", "--source", "handbook-2:41"),
    )
    data = amended(capsys, own, *words)
    ids = [one["id"] for one in data_of(own)["setting"]]
    assert ids[ids.index("speed.crawl") + 1] == "speed.kick"
    assert changes(data)["speed.kick"][">=3.0, <4.0"] == ["added"]
    assert "already" in refused(capsys, own, *words)[0]
    assert any("speed.kick" in note and "harm" in note for note in data["notes"])


def test_a_setting_is_added_with_what_it_may_harm(own: Path, capsys: Capture) -> None:
    """As it was said; nothing is noted then. Another word is refused."""
    words = ("setting", PLOVER, "smoke.glow", "--title", "Glut", "--kind", "number", "--cv", "170")
    assert '"hot"' in refused(capsys, own, *words, "--risk", "hot")[0]
    data = amended(capsys, own, *words, "--risk", "heat, coil")
    (made,) = (one for one in data_of(own)["setting"] if one["id"] == "smoke.glow")
    assert made["risk"] == ["heat", "coil"]
    assert not any("harm" in note for note in data["notes"])


def test_an_advisory_is_added(own: Path, capsys: Capture) -> None:
    """With what to do, and who says so."""
    amended(
        *(capsys, own, "advisory", PLOVER, "late", "--firmware", "2.5", "--text", "Stops late."),
        *("--do", "Try it.", "--about", "braking", "--source", "handbook-2:9"),
    )
    assert data_of(own)["advisory"][1]["sources"] == ["handbook-2:9"]


def test_a_setting_of_a_block_is_taken_over_when_it_is_tested(own: Path, capsys: Capture) -> None:
    """The shipped profile is copied into the folder; the setting answers the same elsewhere."""
    data = amended(
        *(capsys, own, "bench", LARK, "speed.minimum=works", "--firmware", "5.0.1"),
        *("--date", "2026-09-12"),
    )
    assert (own / f"{LARK}.toml").is_file()
    assert changes(data).keys() == {"speed.minimum"}
    assert changes(data)["speed.minimum"].keys() == {"==5.0.1"}
    assert any("ferrow/blocks/driving" in note for note in data["notes"])


def test_a_dry_run_shows_everything_and_writes_nothing(own: Path, capsys: Capture) -> None:
    """Diff, effect and the text for a pull request; no file changes, and none is made."""
    before = text_of(own)
    capsys.readouterr()
    words = ["amend", PLOVER, "bench", "speed.top=works", "--firmware", "2.5"]
    text = own / "change.md"
    words += ["--definitions", str(own), "--date", "2026-09-12", "--pr-text", str(text)]
    assert run([*words, "--dry-run"]) == 0
    told = capsys.readouterr().out
    assert "not written" in told
    assert '{ source = "bench-2026-09", verdict = "works" }]' in told
    assert "## Evidence" in told
    assert text_of(own) == before
    assert not text.exists()


def test_the_texts_of_several_corrections_gather_in_one_file(own: Path, capsys: Capture) -> None:
    """The second stands behind the first; the output tells where."""
    text = own / "change.md"
    for version in ("3.2", "3.3"):
        words = ["release", PLOVER, version, "--definitions", str(own), "--pr-text", str(text)]
        capsys.readouterr()
        assert run(["amend", *words]) == 0
        told = capsys.readouterr().out
        assert "## Evidence" not in told
        assert "change.md" in "".join(told.split())
    held = text.read_text(encoding="utf-8")
    assert held.count("\n---\n") == 1
    assert held.count("## Evidence") == 2


def test_line_ends_of_windows_stay(own: Path, capsys: Capture) -> None:
    """A file with carriage returns and a byte-order mark has them afterwards as well."""
    path = own / f"{PLOVER}.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    amended(capsys, own, "release", PLOVER, "3.2")
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf#")
    assert data.count(b"\n") == data.count(b"\r\n")


def test_an_untidy_file_is_laid_out_anew_and_the_diff_leaves_that_out(
    own: Path, capsys: Capture
) -> None:
    """The diff shows the correction alone, and a note says what else happened."""
    path = own / f"{PLOVER}.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(" = ", "="), encoding="utf-8")
    data = amended(capsys, own, "release", PLOVER, "3.2")
    added = [line for line in data["diff"].splitlines() if line.startswith("+")]
    assert sorted(added[1:]) == ["+", "+[[firmware.release]]", '+version = "3.2"']
    assert any("laid out anew" in note for note in data["notes"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((PLOVER, "benhc"), '"bench"'),
        (("benhc",), '"bench"'),
        (("bench", "ferrow/plovr", "speed.top=works", "--firmware", "2.5"), '"ferrow/plover"'),
        (("bench", PLOVER, "speed.top=works", "--firmwear", "2.5"), '"--firmware"'),
        (("bench",), "PROFILE, SETTING=SEEN, --verdict, --firmware"),
        (("release", PLOVER), "VERSION"),
        (("release", PLOVER, "1.0", "1.1"), "one version"),
    ],
)
def test_wrong_use_is_one_line(own: Path, words: tuple[str, ...], told: str) -> None:
    """Exit code 2, with what would have been right; nobody is asked without a terminal."""
    done = program("amend", *words, "--definitions", str(own))
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert told in done.stderr


def test_a_broken_profile_is_told_with_file_and_line(own: Path, capsys: Capture) -> None:
    """Nothing is amended on top of a fault."""
    path = own / f"{PLOVER}.toml"
    path.write_text(text_of(own).replace("cv = 120", "cv = 0"), encoding="utf-8")
    lines = refused(capsys, own, "release", PLOVER, "3.2")
    assert f"{path}:" in lines[0]


def test_an_installed_profile_is_not_changed(
    own: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a folder of one's own there is nothing to write to, and one line says so."""
    monkeypatch.setattr("cvlib.files.amend.amending.is_installed", lambda: True)
    monkeypatch.delenv("CVLIB_DEFINITIONS", raising=False)
    code, lines = fails(capsys, "amend", "release", LARK, "9.9")
    assert code == 2
    assert "--definitions DIR" in lines[0]


def test_the_effect_has_the_form_that_review_gives() -> None:
    """What both schemas describe they describe alike."""
    mine, others = schema("amend")["definitions"], schema("review")["definitions"]
    assert {name: others.get(name) for name in mine} == mine


def test_a_folder_of_ones_own_is_made(tmp_path: Path, capsys: Capture) -> None:
    """Once the correction is written, and not before."""
    folder = tmp_path / "my-definitions"
    words = ("amend", "bench", "ferrow/lark-8", "braking.mode=works", "--definitions", str(folder))
    code, _ = fails(capsys, *words, "--firmware", "not a version")
    assert (code, folder.exists()) == (2, False)
    assert run([*words, "--firmware", "4.2.60"]) == 0
    assert (folder / "ferrow" / "lark-8.toml").is_file()


def test_what_is_told_of_a_place_is_what_is_written(own: Path, capsys: Capture) -> None:
    """Sources that go and come in one step, and a key that is common to all places."""
    ember = ("ferrow/ember", "fan.power", "--at", "58")
    data = amended(capsys, own, "place", *ember, "--remove", "sources", "--source", "handbook-3:17")
    assert data["did"][0].endswith('→ ["handbook-3:17"].')
    fade = ("ferrow/ember", "lamp[1].fade", "--at", "58", "--unit", "ms")
    data = amended(capsys, own, "place", *fade)
    assert 'unit "s" → "ms"' in data["did"][-1]


def test_a_test_of_one_of_many_says_for_whom_it_counts(own: Path, capsys: Capture) -> None:
    """What recurs is written once, so that the test counts for all."""
    data = amended(capsys, own, "bench", "ferrow/ember", "lamp[2].fade=works", "--firmware", "58")
    assert any("lamp[1].fade to lamp[" in note for note in data["notes"])


def test_a_range_the_wrong_way_round_is_refused_at_once(own: Path, capsys: Capture) -> None:
    """In one line, without what follows from it."""
    words = ("amend", "document", "ferrow/ember", "hb", "--title", "x", "--firmware", "60 to 58")
    code, lines = fails(capsys, *words, "--definitions", str(own))
    assert (code, len(lines)) == (2, 1)
    assert "the older version first" in lines[0]


def test_a_corrected_place_of_a_further_issue_calls_on_it(own: Path, capsys: Capture) -> None:
    """It goes before what the issue repeats, at its firmware alone, and no range is written."""
    card = ("ferrow/wren-2", "card-3", "--title", "Third card", "--firmware", "1.5 to 1.6")
    amended(capsys, own, "document", *card, "--reissues", "card-2")
    limit = ("ferrow/wren-2", "speed.reverse-limit", "--new", "--at", "1.5")
    data = amended(
        capsys, own, "place", *limit, "--range", "10-100", "--firmware", "1.5 to 1.6",
        "--source", "card-3:3",
    )  # fmt: skip
    assert changes(data)["speed.reverse-limit"][">=1.5, <=1.6"] == ["recoded"]
    held = next(one for one in data_of(own, "ferrow/wren-2")["setting"] if one["id"] == limit[1])
    assert "firmware" not in held["place"][-1]
    gone = ("ferrow/wren-2", "speed.reverse-limit", "--absent", "--source", "card-3:4")
    assert "leave --new out" in refused(capsys, own, "place", *gone)[0]


def test_a_place_makes_room_where_it_calls_on_the_same_document(own: Path, capsys: Capture) -> None:
    """A handbook that has it elsewhere from some firmware on: the other place is narrowed."""
    words = ("--at", "3.1", "--new", "--firmware", ">=3.1, <4.0", "--cv", "146")
    data = amended(
        capsys, own, "place", PLOVER, "braking.distance", *words, "--source", "handbook-2:33"
    )
    places = data_of(own)["setting"][2]["place"]
    assert [one["firmware"] for one in places[1:]] == [
        ">=3.0, <3.1",
        ">=3.1, <4.0",
    ]
    assert changes(data)["braking.distance"][">=3.1, <4.0"] == ["moved"]
    assert "from now on" in data["did"][0]


def test_a_document_is_taken_off_a_place_that_it_has_elsewhere(own: Path, capsys: Capture) -> None:
    """The other document keeps the place."""
    top = ("speed.top", "--at", "3.1", "--new", "--cv", "161", "--source", "handbook-2:6")
    data = amended(capsys, own, "place", PLOVER, *top)
    held = next(one for one in data_of(own)["setting"] if one["id"] == "speed.top")
    assert [one["sources"] for one in held["place"]] == [["handbook-1:5"], ["handbook-2:6"]]
    assert all("firmware" not in one for one in held["place"])
    assert changes(data)["speed.top"][">=3.0, <4.0"] == ["moved"]


def test_a_document_may_say_that_a_setting_is_gone(own: Path, capsys: Capture) -> None:
    """An absent place, without firmware where the document is meant as a whole."""
    words = ("braking.whistle", "--absent", "--source", "handbook-2:24", "--note", "struck out")
    data = amended(capsys, own, "place", PLOVER, *words)
    held = next(one for one in data_of(own)["setting"] if one["id"] == "braking.whistle")
    assert held["place"][-1] == {
        "absent": True,
        "sources": ["handbook-2:24"],
        "note": "struck out",
    }
    assert changes(data)["braking.whistle"][">=3.0, <4.0"] == ["removed"]


def test_what_is_unreliable_acts_and_is_told(own: Path, capsys: Capture) -> None:
    """The third outcome of a test, in the setting, in --verdict and in --source."""
    words = ("--firmware", "2.5", "--date", "2026-09-12")
    seen = ("speed.top=unreliable", "speed.crawl")
    data = amended(capsys, own, "bench", PLOVER, *seen, *words, "--verdict", "unreliable")
    assert "acts, but not as the handbook says, in 2.5" in data["did"][1]
    now = next(one for one in data["effect"]["changes"] if one["setting"] == "speed.top")["after"]
    assert (now["standing"], now["unreliable"]) == ("bench", True)
    place = ("braking.distance", "--at", "3.1", "--new", "--cv", "145")
    amended(capsys, own, "place", PLOVER, *place, "--source", "bench-2026-09=unreliable")
    held = data_of(own)["setting"][2]["place"][2]
    assert held["firmware"] == "==2.5"
    assert held["sources"] == [{"source": "bench-2026-09", "verdict": "unreliable"}]


def test_a_new_place_names_who_lists_it(own: Path, capsys: Capture) -> None:
    """Where documents are named for the whole decoder, they would speak for it otherwise."""
    lark = ("place", LARK, "braking.stopping-distance", "--at", "4.3.9", "--new", "--cv", "205")
    (line, *_) = refused(capsys, own, *lark)
    assert "handbook-1 and handbook-2" in line
    assert "--source" in line


def test_a_test_of_what_is_only_assumed_makes_no_document_speak(own: Path, capsys: Capture) -> None:
    """Written into a profile whose documents are named for all, it would count as listed."""
    text = text_of(own).replace(
        'kind = "motor"',
        'kind = "motor"\nfollows = ["standard/nmra-s-9.2.2@2012-07"]\nsources = ["handbook-1"]',
        1,
    )
    (own / f"{PLOVER}.toml").write_text(text, encoding="utf-8")
    bench = ("bench", PLOVER, "momentum.acceleration=works", "--firmware", "2.5")
    (line, *_) = refused(capsys, own, *bench)
    assert "only assumed" in line


@pytest.mark.parametrize("name", ["folder", "no/folder/text.md", "binary.md"])
def test_a_text_that_has_no_place_stops_all(own: Path, capsys: Capture, name: str) -> None:
    """The profile is not written either: all or nothing."""
    (own / "folder").mkdir()
    (own / "binary.md").write_bytes(b"\x00")
    before = text_of(own)
    words = ["release", PLOVER, "9.9", "--definitions", str(own), "--pr-text", str(own / name)]
    code, _ = fails(capsys, "amend", *words)
    assert code == 2
    assert text_of(own) == before


def test_the_way_back_is_told_and_leads_back(own: Path, capsys: Capture) -> None:
    """After an amendment as well as after tidying; a new file is to be deleted."""
    before = text_of(own)
    amended(capsys, own, "release", PLOVER, "9.9")
    path = own / f"{PLOVER}.toml"
    assert run(["amend", "release", PLOVER, "9.10", "--definitions", str(own)]) == 0
    assert f"cvlib: to go back: cvlib undo {path}" in capsys.readouterr().err
    assert run(["undo", str(path)]) == 0
    assert run(["undo", str(path)]) == 0
    assert text_of(own) == before
    path.write_text(before + "\n\n\n", encoding="utf-8")
    capsys.readouterr()
    assert run(["tidy", str(path)]) == 0
    assert f"cvlib: to go back: cvlib undo {path}" in capsys.readouterr().err
    fresh = own.parent / "fresh"
    words = ["release", "ferrow/lark-8", "4.3.10", "--definitions", str(fresh)]
    assert run(["amend", *words]) == 0
    assert "delete" in capsys.readouterr().err


def test_a_profile_changed_meanwhile_is_not_written_over(own: Path) -> None:
    """The corrected text lies beside it, so that nothing typed is lost."""
    path = own / f"{PLOVER}.toml"
    wish = Wish("release", PLOVER, ("9.9",), {})
    amending = amend(open_store(own), wish, own, date(2026, 3, 14))
    path.write_text(text_of(own) + "# meanwhile\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"changed by something else .*plover\.toml\.not-written"):
        amending.write()
    assert text_of(own).endswith("# meanwhile\n")
    assert b'"9.9"' in (path.parent / "plover.toml.not-written").read_bytes()
