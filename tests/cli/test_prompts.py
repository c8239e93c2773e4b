"""Questions at a terminal: what is missing is asked for, and a stop loses nothing."""

import shutil
import sys
from pathlib import Path

import pytest

from cli.run_cvlib import STORE, run

if sys.platform == "win32":
    pytest.skip("there are no pseudo-terminals here", allow_module_level=True)

from cli.terminal import Terminal

PLOVER = "ferrow/plover"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A folder of definitions of one's own with one small profile, laid out as it should be."""
    shutil.copytree(STORE, tmp_path / "own")
    assert run(["tidy", str(tmp_path / "own")]) == 0
    return tmp_path / "own"


def text_of(own: Path) -> str:
    """The file of the profile."""
    return (own / f"{PLOVER}.toml").read_text(encoding="utf-8")


def test_a_bench_test_is_asked_for_step_by_step(own: Path) -> None:
    """Each wrong entry is told and asked for again; the result is shown before it is written."""
    at = Terminal("amend", "bench", "--definitions", str(own))
    at.answer("Profile", "ferrow/plovr")
    at.expect('cvlib: There is no profile "ferrow/plovr". Did you mean "ferrow/plover"?')
    at.answer("Profile", PLOVER)
    at.answer("Setting that was tried", "")
    at.expect("cvlib: this is needed.")
    at.answer("Setting that was tried", "braking.distanz")
    at.expect('Did you mean "braking.distance"?')
    at.answer("Setting that was tried", "braking.distance@144")
    at.answer("Another one", "speed.top=workz")
    at.expect('Did you mean "works"?')
    at.answer("Another one", "speed.top=works")
    at.answer("Another one", "")
    at.answer("What was seen", "no effect")
    at.answer("Firmware", "two")
    at.expect("is not a firmware version")
    at.answer("Firmware", "2.5")
    at.answer("The day", "2026-09-12")
    at.answer("What was tried", "")
    at.answer("How", "three runs")
    at.expect("+note = ")
    at.expect("Text for a pull request")
    at.answer("Write it [yes]", "perhaps")
    at.expect("neither yes nor no")
    at.answer("Write it [yes]", "")
    assert at.close() == 0
    assert "written to" in at.screen
    assert 'id = "bench-2026-09"' in text_of(own)
    assert text_of(own).count('source = "bench-2026-09"') == 2


def test_a_wrong_combination_is_mended_without_typing_all_again(own: Path) -> None:
    """What only shows in the end is told, and one entry is typed anew."""
    at = Terminal("amend", "bench", PLOVER, "braking.distance=works", "--definitions", str(own))
    at.answer("Firmware", "2.5")
    for question in ("The day", "What was tried", "How"):
        at.answer(question, "")
    at.expect("it is not clear which place")
    at.answer("Which entry", "seting")
    at.expect('Did you mean "setting"?')
    at.answer("Which entry", "setting")
    at.answer("Setting that was tried", "braking.distance@141=works")
    at.answer("Write it", "yes")
    assert at.close() == 0
    assert 'verdict = "works"' in text_of(own)


@pytest.mark.parametrize("how", ["interrupt", "end_input", "no"])
def test_a_stop_writes_nothing_and_tells_how_to_go_on(own: Path, how: str) -> None:
    """Ctrl-C, Ctrl-D or a no: exit code 130, the file as it was, and the words typed so far."""
    before = text_of(own)
    at = Terminal("amend", "release", "--definitions", str(own))
    at.answer("Profile", PLOVER)
    at.answer("The version", "3.2")
    at.answer("Day of release", "1.2.2026")
    at.answer("Another name", "the spring one")
    at.answer("A remark", "")
    if how == "no":
        at.answer("Write it", "no")
    else:
        at.expect("Write it")
        getattr(at, how)()
    assert at.close() == 130
    command = (
        f"cvlib amend release {PLOVER} 3.2 --date 1.2.2026 --label 'the spring one' "
        f"--definitions {own}"
    )
    assert f"nothing is written. To go on from here:\n  {command}\n" in at.screen
    assert "Traceback" not in at.screen
    assert text_of(own) == before


def test_the_keys_of_a_place_are_asked_for_until_there_are_no_more(own: Path) -> None:
    """A key that is not known, or without a value, is asked for again."""
    at = Terminal("amend", "place", PLOVER, "braking.distance", "--definitions", str(own))
    at.answer("Choose the place", "3.1")
    at.answer("What is wrong", "cv")
    at.expect("has no value")
    at.answer("What is wrong", "rang=1-180")
    at.expect('Did you mean "range"?')
    at.answer("What is wrong", "range=1-180")
    at.answer("What is wrong", "")
    at.answer("Write it", "")
    assert at.close() == 0
    assert "range = [1, 180]" in text_of(own)


@pytest.mark.parametrize("last", ["release", ""])
def test_the_form_itself_is_asked_for(own: Path, last: str) -> None:
    """A wrong one is told; none at all shows the help."""
    at = Terminal("amend", CVLIB_DEFINITIONS=str(own))
    at.answer("Form (bench, release", "releas")
    at.expect('Did you mean "release"?')
    at.answer("Form", last)
    if last:
        at.expect("Profile")
        at.interrupt()
    assert at.close() == (130 if last else 0)
    assert last or "Usage: cvlib amend" in at.screen


def test_nobody_is_asked_where_all_is_said(own: Path) -> None:
    """A whole command line is carried out at once, on a terminal too."""
    words = ("amend", PLOVER, "release", "3.2", "--definitions", str(own))
    at = Terminal(*words)
    assert at.close() == 0
    assert "Write it" not in at.screen
    assert 'version = "3.2"' in text_of(own)


def test_a_profile_is_made_from_answers(tmp_path: Path) -> None:
    """Wrong answers are asked for again; a stop at the end makes no file."""
    table = tmp_path / "table.csv"
    table.write_text("cv,title,max\n60,Wait,9\n", encoding="utf-8")
    own = tmp_path / "own"
    for last in ("no", "yes"):
        at = Terminal("new", "--definitions", str(own), cwd=tmp_path)
        at.answer("Profile", "Plover")
        at.expect("maker and decoder")
        at.answer("Profile", "ferrow/plover-2")
        at.answer("Table", "tabel.csv")
        at.expect('Did you mean "table.csv"?')
        at.answer("Table", "table.csv")
        at.answer("Maker", "Ferrow")
        at.answer("Name", "Plover 2")
        at.answer("Kind", "lorry")
        at.expect("motor, function")
        at.answer("Kind", "motor")
        at.answer("Standard", "")
        at.answer("Title", "Plover 2 handbook")
        at.answer("Date", "")
        at.answer("How firmware", "number")
        at.answer("Firmware", "1.0")
        at.expect("one whole number")
        at.answer("Firmware", "3")
        at.answer("What it answers", "")
        at.answer("Manufacturer", "13")
        at.answer("What a wrong value may harm", "")
        at.answer("The table lists", "ja")
        at.answer("Rows that look like", "")
        at.answer("Write it", last)
        code = at.close()
        assert "--complete" in at.screen.rpartition("Write it")[2] or last == "yes"
        assert (code, (own / "ferrow" / "plover-2.toml").exists()) == (
            (0, True) if last == "yes" else (130, False)
        )


def test_what_became_of_values_is_asked_once_and_kept(tmp_path: Path) -> None:
    """At a terminal, where it matters; then the loco file says it, and nobody is asked again."""
    loco = tmp_path / "avocet.toml"
    loco.write_text(
        'format = 1\n[loco]\nname = "Avocet"\n\n[[decoder]]  # motor\nprofile = "ferrow/lark-8"\n'
        'firmware = "4.2.60"\n\n[[decoder.saved]]\n[decoder.saved.cv]\n141 = 41\n',
        encoding="utf-8",
    )
    terminal = Terminal("check", str(loco))
    terminal.answer("never updated (never-updated)", "perhaps")
    terminal.expect("none of the answers")
    terminal.answer("[unknown]", "never updated")
    terminal.answer("Keep that in", "")
    assert terminal.close() == 1  # the address must be known, and is not saved
    assert "undated" not in terminal.screen
    kept = loco.read_text(encoding="utf-8")
    assert 'state = "never-updated"' in kept.partition("[[decoder.saved]]")[0]
    assert "# motor" in kept
    again = Terminal("carry", str(loco), "--to", "4.2.60")
    assert again.close() == 0
    assert "never-updated" not in again.screen
    assert loco.read_text(encoding="utf-8") == kept


@pytest.mark.parametrize(
    ("words", "state"),
    [
        (("keep", "{}", "7=4", "109=2", "110=60", "--how", "read"), "not-reset"),
        (("identify", "{}"), "reset"),
    ],
)
def test_keep_and_identify_ask_for_it_too(
    tmp_path: Path, words: tuple[str, ...], state: str
) -> None:
    """And the loco file has it then, with the reading or by itself."""
    loco = tmp_path / "avocet.toml"
    loco.write_text(
        'format = 2\n[loco]\nname = "Avocet"\n\n[[decoder]]\nprofile = "ferrow/lark-8"\n'
        'firmware = "4.2.60"\n\n[[decoder.reading]]\n[decoder.reading.cv]\n141 = 41\n142 = 2\n',
        encoding="utf-8",
    )
    terminal = Terminal(*(word.format(loco) for word in words))
    terminal.answer("[unknown]", state)
    if words[0] == "identify":
        terminal.answer("Keep that in", "")
    assert terminal.close() in (0, 3)
    assert f'state = "{state}"' in loco.read_text(encoding="utf-8").partition("[[decoder")[2]


def test_without_a_word_of_it_values_stay_undated(tmp_path: Path) -> None:
    """ "Unknown" is an answer too: carry does not go on, and the file stays as it is."""
    loco = tmp_path / "avocet.txt"
    loco.write_text("7=4\n109=2\n110=60\n141=41\n", encoding="utf-8")
    terminal = Terminal("carry", str(loco), "--profile", "ferrow/lark-8", "--to", "4.2.60")
    terminal.answer("[unknown]", "")
    assert terminal.close() == 3
    assert "Keep that" not in terminal.screen
