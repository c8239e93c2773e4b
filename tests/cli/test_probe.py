"""`cvlib probe`: the tree, the answers, what was learnt, and the loco file."""

import re
from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import run
from cvlib.files.read.interface import read_file
from cvlib.model.cv import Slot
from cvlib.model.loco import State

Capture = pytest.CaptureFixture[str]
WREN = ("probe", "--profile", "ferrow/wren-2", "--firmware", "1.3")
LOCO = """\
format = 1
[loco]
name = "Little Stint"
[[decoder]]
profile = "ferrow/wren-2"
firmware = "1.3"
[[decoder.saved]]
[decoder.saved.cv]
1 = 2
"""


@pytest.fixture
def loco(tmp_path: Path) -> Path:
    """A loco file whose firmware lies between the two cards of its decoder."""
    path = tmp_path / "stint.toml"
    path.write_text(LOCO, encoding="utf-8")
    return path


def test_the_plan_is_a_tree_for_either_state(capsys: Capture) -> None:
    """As it stands and after a reset, with what is disputed and a test for what no read tells."""
    code, data = json_of(capsys, *WREN, "--state", "never-updated")
    assert code == 3
    plan = data["probe"]
    assert [one["after_reset"] for one in plan["plans"]] == [False, True]
    assert {name for one in plan["bundles"] for name in one["settings"]} == {
        "lights.rest-time",
        "speed.reverse-limit",
        "stopping.delay",
    }
    for one in plan["plans"]:
        chances = [branch["chance"] for branch in one["tree"]["root"]["branches"]]
        assert chances == sorted(chances, reverse=True)
        assert 0.9 < sum(chances) <= 1.001
    assert [test["setting"] for test in plan["tests"]] == ["stopping.delay"]


def test_the_words_say_what_each_answer_means(capsys: Capture) -> None:
    """The tree names the firmware that each answer speaks for."""
    assert run(list(WREN)) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert re.search(r"Read CV 11[345]\.", text)
    assert "as in firmware 1.0 to 1.2" in text
    assert "A factory reset loses every value" in text
    assert "Write the noted values back into CV 113" in text


def test_answers_narrow_it_down_and_end_in_an_observation(capsys: Capture) -> None:
    """Three reads settle all three settings; the text for the profile stands there."""
    code, data = json_of(capsys, *WREN, "113=none", "115=none", "114=100")
    assert code == 0
    probe = data["probe"]
    assert probe["settled"] is True
    assert probe["plans"] == []
    learnt = probe["learnt"]
    assert learnt["observations"] == []
    assert {one["setting"] for one in learnt["read"]} >= {"speed.reverse-limit", "stopping.delay"}
    assert {one["setting"] for one in learnt["tests"]} >= {"speed.reverse-limit", "stopping.delay"}
    assert learnt["toml"].startswith("[[question]]")
    assert learnt["command"] == ""
    assert learnt["question_command"].startswith("cvlib amend question ferrow/wren-2 ")
    made = ("stopping.delay=1", "speed.reverse-limit=1")
    code, data = json_of(capsys, *WREN, "113=none", "115=none", "114=100", *made)
    assert code == 0
    learnt = data["probe"]["learnt"]
    seen = {one["setting"]: one["verdict"] for one in learnt["observations"]}
    assert seen == {"speed.reverse-limit": "works", "stopping.delay": "no-effect"}
    assert learnt["toml"].startswith("[[source]]")
    assert learnt["command"].startswith("cvlib amend bench ferrow/wren-2 ")


def test_a_test_result_is_an_answer_too(capsys: Capture) -> None:
    """Where reads leave it open, the number of what happened settles it."""
    code, data = json_of(capsys, *WREN, "8=13", "115=none", "113=skip", "stopping.delay=1")
    assert data["probe"]["results"] == [{"setting": "stopping.delay", "side": 0}]
    assert code == 0


def test_without_a_motor_the_plan_is_tests(capsys: Capture) -> None:
    """No tree, no read: only what the decoder does can tell."""
    _, data = json_of(capsys, *WREN, "--programming-track", "--no-load")
    probe = data["probe"]
    assert probe["plans"] == []
    assert probe["next_read"] is None
    assert len({test["bundle"] for test in probe["tests"]}) == 2
    assert [hint["code"] for hint in probe["hints"]] == ["connect-motor", "only-tests"]


def test_covered_firmware_is_settled(capsys: Capture) -> None:
    """Nothing is disputed, so nothing is to be done: exit code 0."""
    code, data = json_of(capsys, "probe", "--profile", "ferrow/wren-2", "--firmware", "1.2")
    assert code == 0
    assert data["probe"]["bundles"] == []


def test_without_firmware_the_candidates_are_told_apart_first(capsys: Capture) -> None:
    """The reads that separate them, as a tree whose labels number the candidates."""
    code, data = json_of(capsys, "probe", "8=13", "7=3")
    assert code == 3
    assert data["probe"] is None
    tree = data["candidates"]["tree"]
    count = len(data["candidates"]["found"]["candidates"])
    for branch in tree["root"]["branches"]:
        assert all(one["label"] < count for one in branch["likely"])


def test_the_search_goes_on_to_the_probe(capsys: Capture) -> None:
    """Once one release fits, what is disputed there is asked for."""
    code, data = json_of(capsys, "probe", "8=13", "7=13", "64=21")
    assert code == 3
    assert data["candidates"] is None
    assert (data["probe"]["profile"], data["probe"]["firmware"]) == ("ferrow/wren-2", "1.3")


def test_the_loco_file_gets_firmware_and_readings(capsys: Capture, loco: Path) -> None:
    """In one step, dated; what was saved before stays."""
    path = str(loco)
    code, data = json_of(capsys, "probe", path, "113=none", "115=none", "114=100", "--write")
    assert code == 0
    assert data["probe"]["file_written"] == path
    (decoder,) = read_file(loco).decoders
    assert decoder.firmware == "1.3"
    assert decoder.values[Slot(1)].value == 2
    saved = decoder.values[Slot(114)]
    assert (saved.value, saved.how, saved.installed) == (100, "read", "1.3")
    assert saved.date
    assert "no answer: CV 113, CV 115" in loco.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "state", "firmware"),
    [
        (("--state", "never-updated"), State.NEVER_UPDATED, "1.3"),
        (("--state", "not-reset"), State.NOT_RESET, ""),
        (("--after-reset",), State.RESET, "1.3"),
        ((), State.UNKNOWN, ""),
    ],
)
def test_what_was_said_of_the_update_is_written_too(
    loco: Path, words: tuple[str, ...], state: State, firmware: str
) -> None:
    """It says what the values that were read are meant for, where none can be left over."""
    run(["probe", str(loco), "113=none", "115=none", "114=100", "--write", *words])
    (decoder,) = read_file(loco).decoders
    assert decoder.state is state
    assert decoder.values[Slot(114)].firmware == firmware


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ((*WREN, "--write"), "--write needs a loco file"),
        ((*WREN, "113=999"), "CV values run from 0 to 255"),
        ((*WREN, "speed.minimum=1"), "is not tested here"),
        (("probe", "--profile", "ferrow/wren-2", "--firmware", "x"), "is not a firmware version"),
        (("probe", "--profile", "ferrow/wrne-2", "--firmware", "1.3"), "Did you mean"),
    ],
)
def test_wrong_use_is_one_line_and_2(capsys: Capture, words: tuple[str, ...], part: str) -> None:
    """The line says what is wrong and what would be right."""
    code, lines = fails(capsys, *words)
    assert code == 2
    assert part in " ".join(lines)


def test_what_is_not_settled_is_not_written(capsys: Capture, tmp_path: Path) -> None:
    """Without a firmware the loco file stays as it was."""
    path = tmp_path / "stint.toml"
    path.write_text(LOCO.replace('firmware = "1.3"\n', ""), encoding="utf-8")
    before = path.read_bytes()
    assert run(["probe", str(path), "8=13", "--write"]) == 2
    told = capsys.readouterr()
    assert "the firmware is not settled" in told.err
    assert "CV 8 = 13" in told.out
    assert path.read_bytes() == before


@pytest.mark.parametrize("answer", ["8=99", "7=14"])
def test_a_contradicting_answer_settles_nothing(capsys: Capture, loco: Path, answer: str) -> None:
    """Another maker or firmware than the one stated: it is told, and nothing is offered or kept."""
    words = (str(loco), "113=none", "115=none", "114=100", answer)
    code, data = json_of(capsys, "probe", *words)
    assert code == 3
    probe = data["probe"]
    assert not probe["settled"]
    assert probe["learnt"] is None
    assert [one["answer"] for one in probe["contradicted"]] == [int(answer.partition("=")[2])]
    assert "other-decoder" in [hint["code"] for hint in probe["hints"]]
    before = loco.read_bytes()
    assert run(["probe", *words, "--write"]) == 2
    assert "so nothing was written" in capsys.readouterr().err
    assert loco.read_bytes() == before
    right = "8=13" if answer.startswith("8") else "7=13"
    assert run(["probe", *words, right]) == 0


def test_readings_that_were_written_are_used_again(capsys: Capture, loco: Path) -> None:
    """And writing the same once more changes nothing."""
    path = str(loco)
    assert run(["probe", path, "113=none", "115=none", "114=100", "--write"]) == 0
    once = loco.read_bytes()
    capsys.readouterr()
    _, data = json_of(capsys, "probe", path)
    assert {"cv": 114, "page": "", "answer": 100} in data["probe"]["reads"]
    assert run(["probe", path, "113=none", "115=none", "--write"]) == 0
    assert run(["probe", path, "113=none", "115=none", "--write"]) == 0
    assert loco.read_bytes().count(b"114 = 100") == once.count(b"114 = 100") == 1


def test_what_a_loco_file_holds_of_maker_and_version_is_used(
    capsys: Capture, tmp_path: Path
) -> None:
    """Where the firmware is not noted, the search begins with them."""
    path = tmp_path / "stint.toml"
    text = LOCO.replace('firmware = "1.3"\n', "").replace("1 = 2", "1 = 2\n7 = 13\n8 = 13")
    path.write_text(text, encoding="utf-8")
    code, data = json_of(capsys, "probe", str(path))
    read = (data["probe"] or data["candidates"]["found"])["reads"]
    assert code == 3
    assert {one["cv"] for one in read} == {7, 8}


def test_a_role_needs_a_loco_file(capsys: Capture) -> None:
    """It is not passed over in silence."""
    code, lines = fails(capsys, *WREN, "--role", "motor")
    assert code == 2
    assert "--role needs a loco file" in lines[0]


def test_firmware_beyond_the_handbooks_gets_reads_and_tests(capsys: Capture) -> None:
    """What is taken over from the newest handbook is open until it was read or tried: code 3."""
    words = ("probe", "--profile", "ferrow/wren-2", "--firmware", "1.5")
    code, data = json_of(capsys, *words)
    assert code == 3
    probe = data["probe"]
    assert probe["outside"]
    for bundle in probe["bundles"]:
        assert [side["unknown"] for side in bundle["sides"]] == [False, True]
        assert bundle["sides"][0]["chance"] > 0.6
    assert [bool(plan["tree"]["root"]) for plan in probe["plans"]] == [True, True]
    assert all(test["unknown_on"] == [1] for test in probe["tests"])
    run([*words])
    shown = " ".join(capsys.readouterr().out.split())
    assert "no handbook covers this firmware" in shown
    assert "only a test shows" in shown
    assert "With --ask, or with the answers given, the next read is worked out anew" in shown


def test_a_read_beyond_the_handbooks_says_that_a_cv_answers_and_no_more(capsys: Capture) -> None:
    """The factory value after a reset speaks for the newest handbook; nothing is cited for it."""
    words = ("probe", "--profile", "ferrow/wren-2", "--firmware", "1.5", "--after-reset")
    run([*words, "49=70", "50=30", "57=none", "58=none"])
    shown = " ".join(capsys.readouterr().out.split())
    assert "answers: as in firmware 1.4 to 1.4a" in shown
    assert "answers: otherwise" in shown
    assert "though that does not show what they do" in shown
    assert "Nothing that a profile could take over yet" in shown


def test_a_tree_that_is_cut_says_so(capsys: Capture) -> None:
    """Heron 39 has seven bundles: answers that come seldom are not planned to the end."""
    run(["probe", "--profile", "ilex-works/heron", "--firmware", "39"])
    shown = " ".join(capsys.readouterr().out.split())
    assert "Answers that come seldom are not planned to the end. With --ask" in shown


LARK = ("probe", "--profile", "ferrow/lark-8", "--firmware", "3.0.8", "--group", "braking")
SURVIVED = ("138=1", "139=4", "140=5", "141=41", "142=2", "143=12", "144=50", "145=3", "146=1")
"""Braking as it was set for 2.4.118."""


def test_values_that_survived_an_update_settle_nothing(capsys: Capture) -> None:
    """Unless it is said that the decoder was never updated, or reset since: they may be leftovers.

    Common practice, no source: values outlive an update.
    """
    for said in ((), ("--state", "not-reset")):
        code, data = json_of(capsys, *LARK, *SURVIVED, *said)
        assert (code, data["probe"]["settled"]) == (3, False)
        assert "leftovers" in {hint["code"] for hint in data["probe"]["hints"]}
    for state in ("never-updated", "reset"):
        code, data = json_of(capsys, *LARK, *SURVIVED, "--state", state)
        assert (code, data["probe"]["settled"]) == (0, True)


def test_one_setting_or_group_alone_can_be_asked_about(capsys: Capture) -> None:
    """What did not move together with it is left out; a name that is none is an error."""
    _, whole = json_of(capsys, *LARK[:5])
    _, some = json_of(capsys, *LARK[:5], "--group", "keeper")
    assert len(whole["probe"]["bundles"]) > 1
    (bundle,) = some["probe"]["bundles"]
    assert all(name.startswith("keeper.") for name in bundle["settings"])
    assert run([*LARK[:5], "--group", "brakin"]) == 2
    assert 'No setting "brakin"' in capsys.readouterr().err


def test_a_group_whose_tests_point_both_ways_is_judged_setting_by_setting(capsys: Capture) -> None:
    """2.9.201 has crawl speed at its newer place and the stopping distance not at its newer one, by
    the profile's own bench tests: neither speaks for the rest of the braking.
    """
    _, data = json_of(capsys, "probe", "--profile", "ferrow/lark-8", "--firmware", "2.9.201")
    bundles = [one["settings"] for one in data["probe"]["bundles"]]
    braking = [held for held in bundles if held[0].startswith("braking.")]
    assert len(braking) > 1
    assert all(len(settings) == 1 for settings in braking)
