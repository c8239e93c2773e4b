"""Sessions at a real terminal: a full one, a wrong entry, undo, an interrupt that loses nothing."""

import shlex
import sys
from pathlib import Path

import pytest

from cli.run_cvlib import run

if sys.platform == "win32":
    pytest.skip("there are no pseudo-terminals", allow_module_level=True)

from cli.terminal import Terminal

FACTS = (("stand", ""), ("connected", ""), ("only decoder", ""), ("factory values", ""))
WREN = ("probe", "--profile", "ferrow/wren-2", "--firmware", "1.3", "--ask", "--state=reset")


def begun(terminal: Terminal) -> Terminal:
    """A session whose facts are answered as usual."""
    for question, answer in FACTS:
        terminal.answer(question, answer)
    return terminal


def test_a_full_session_finds_the_decoder() -> None:
    """Facts, then one read after the other, until one decoder fits: exit code 0."""
    answers = {"7": "2", "8": "13", "109": "9", "110": "201", "261 on page 0/255": "42"}
    terminal = begun(Terminal("identify", "--ask"))
    while answers:
        terminal.expect("Read CV ")
        terminal.expect("> ")
        asked = terminal.screen.rpartition("Read CV ")[2].partition(". What")[0]
        typed = answers.pop(asked, "skip")
        terminal.answer("", typed)
        if asked == "261 on page 0/255":
            break
    assert terminal.close() == 0
    assert "One fits: Ferrow Lark 8 (ferrow/lark-8), firmware 2.9.201" in terminal.screen
    assert terminal.screen.count("\n5. Read CV") == 1


def test_a_wrong_entry_is_told_and_asked_for_again() -> None:
    """No answer is lost and none is made up; the question stands as before."""
    terminal = begun(Terminal(*WREN))
    terminal.answer("Read CV", "999")
    terminal.expect("CV values run from 0 to 255")
    terminal.answer("> ", "hello")
    terminal.expect("is not a value")
    terminal.answer("> ", "none")
    terminal.expect("disputed settings settled")
    terminal.answer("> ", "quit")
    assert terminal.close() == 3
    assert terminal.screen.count("6. Read CV 8") == 1


def test_what_an_answer_asks_for_is_said_at_once() -> None:
    """A decoder without its motor: what to connect, and a test instead of a read."""
    terminal = Terminal(*WREN)
    terminal.answer("stand", "")
    terminal.answer("connected", "no")
    terminal.expect("draws too little to acknowledge")
    terminal.answer("only decoder", "")
    terminal.answer("What happened", "quit")
    assert terminal.close() == 3
    assert "Read CV" not in terminal.screen.partition("What happened")[0]


def test_a_second_decoder_has_to_go_first() -> None:
    """While it answers too, nothing is read and nothing is tried."""
    terminal = Terminal("identify", "--ask")
    terminal.answer("stand", "")
    terminal.answer("connected", "")
    terminal.answer("only decoder", "no")
    terminal.expect("Unplug one of them")
    terminal.answer("unplugged now", "no")
    assert terminal.close() == 3
    assert "Read CV" not in terminal.screen


def test_answers_after_the_search_are_in_the_result() -> None:
    """Once the firmware is found, what is read then counts to the end."""
    facts = ("--programming-track", "--load", "--alone", "--as-it-stands", "--state=reset")
    terminal = Terminal("probe", "8=13", "7=13", "64=21", "--ask", *facts)
    for cv, answer in (("114", "100"), ("115", "none"), ("113", "none")):
        terminal.answer("Read CV", f"{cv}={answer}")
    terminal.expect("3 of 3 disputed settings settled")
    assert terminal.close() == 0
    result = " ".join(terminal.screen.rpartition("Probe of")[2].split())
    for said in ("CV 115 = no answer", "CV 113 = no answer", "CV 114 = 100"):
        assert said in result


def test_the_command_that_goes_on_has_every_option(tmp_path: Path) -> None:
    """Definitions, role, writing and what was said of the bench."""
    loco = tmp_path / "my loco.toml"
    loco.write_text(
        'format = 1\n[loco]\nname = "Stint"\n[[decoder]]\nrole = "motor"\n'
        'profile = "ferrow/wren-2"\nfirmware = "1.3"\n',
        encoding="utf-8",
    )
    own = tmp_path / "own"
    own.mkdir()
    options = ["--role", "motor", "--write", "--definitions", str(own)]
    facts = ["--programming-track", "--load", "--alone", "--as-it-stands", "--state=reset"]
    terminal = Terminal("probe", str(loco), "--ask", *options, *facts, COLUMNS="1000")
    terminal.answer("Read CV", "none")
    terminal.expect("2. ")
    terminal.interrupt()
    assert terminal.close() == 130
    words = shlex.split(terminal.screen.strip().splitlines()[-1])
    assert words[:3] == ["cvlib", "probe", str(loco)]
    assert set(options + facts + ["--ask"]) <= set(words)


def test_undo_takes_one_answer_back() -> None:
    """The question before comes again, and the answer is gone from the result."""
    terminal = begun(Terminal(*WREN))
    terminal.answer("5. Read CV", "77")
    terminal.answer("6. Read CV", "undo")
    terminal.expect("Taken back: ")
    terminal.expect("5. Read CV")
    terminal.answer("> ", "undo")
    terminal.expect("Taken back: reset = no")
    terminal.expect("4. Was the decoder reset")
    terminal.answer("> ", "yes")
    terminal.answer("5. Read CV", "quit")
    assert terminal.close() == 3
    assert "= 77" not in terminal.screen.rpartition("Probe of")[2]


def test_the_help_of_a_prompt_lists_what_can_be_typed() -> None:
    """Then the question is asked again."""
    terminal = Terminal("identify", "--ask")
    terminal.answer("> ", "?")
    terminal.expect("undo")
    terminal.expect("stand")
    terminal.answer("> ", "quit")
    assert terminal.close() == 3


def test_an_interrupt_loses_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """Ctrl-C gives exit code 130 and the command that goes on; it knows every answer."""
    terminal = begun(Terminal("identify", "--ask"))
    terminal.answer("Read CV 7", "13")
    terminal.answer("Read CV", "skip")
    terminal.expect("7. Read CV")
    terminal.expect("> ")
    terminal.interrupt()
    assert terminal.close() == 130
    assert "nothing is lost" in terminal.screen
    line = terminal.screen.strip().splitlines()[-1].strip()
    words = line.split()
    assert words[:2] == ["cvlib", "identify"]
    assert "7=13" in words
    assert any(word.endswith("=skip") for word in words)
    assert "Traceback" not in terminal.screen
    assert run([*words[1:-1], "--no-ask"]) == 3
    assert "CV 7 = 13" in capsys.readouterr().out


def test_a_file_of_answers_is_kept_as_one_goes(tmp_path: Path) -> None:
    """Every answer is there at once, and a second session goes on where the first stopped."""
    path = tmp_path / "bench.txt"
    terminal = begun(Terminal(*WREN, "--answers", str(path)))
    terminal.answer("5. Read CV 115", "none")
    terminal.expect("settled")
    assert "115 = no answer" in path.read_text(encoding="utf-8")
    terminal.expect("> ")
    terminal.interrupt()
    assert terminal.close() == 130
    again = Terminal(*WREN, "--answers", str(path))
    again.expect("6. Read CV")
    again.answer("> ", "undo")
    again.expect("Taken back: 115 = no answer")
    again.answer("> ", "quit")
    assert again.close() == 3
    assert "115" not in path.read_text(encoding="utf-8")


def test_the_end_of_the_input_is_an_interrupt() -> None:
    """Ctrl-D loses nothing either."""
    terminal = begun(Terminal(*WREN))
    terminal.expect("5. Read CV")
    terminal.expect("> ")
    terminal.end_input()
    assert terminal.close() == 130
    assert "To go on from here" in terminal.screen


def test_a_behaviour_test_is_one_question() -> None:
    """What to write, what to watch, how to put back; the number of what happened is the answer."""
    terminal = begun(Terminal(*WREN))
    terminal.answer("Read CV 115", "none")
    terminal.answer("Read CV 8", "13")
    terminal.answer("Read CV 113", "skip")
    terminal.expect("Watch: Wait before an automatic stop")
    terminal.expect("back into CV 113")
    terminal.answer("What happened?", "7")
    terminal.expect("is not one of the answers")
    terminal.answer("> ", "1")
    terminal.expect("3 of 3 disputed settings settled")
    assert terminal.close() == 0
    assert "tried: stopping.delay" in " ".join(terminal.screen.split())


def test_a_file_of_answers_is_added_to_and_never_rewritten(tmp_path: Path) -> None:
    """Remarks stay, and so does what is added to it while the session runs."""
    path = tmp_path / "bench.txt"
    path.write_text("# mine\n8 = 13  # read twice\n", encoding="utf-8")
    terminal = begun(Terminal(*WREN, "--answers", str(path)))
    terminal.answer("Read CV", "none")
    terminal.expect("settled")
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# mine\n8 = 13  # read twice\n")
    path.write_text(text + "# added meanwhile\n9 = 1\n", encoding="utf-8")
    terminal.answer("> ", "undo")
    terminal.expect("Taken back")
    terminal.answer("> ", "quit")
    assert terminal.close() == 3
    after = path.read_text(encoding="utf-8")
    assert after.startswith("# mine\n8 = 13  # read twice\n")
    assert after.endswith("# added meanwhile\n9 = 1\n")
    assert len(after.splitlines()) == len(text.splitlines()) - 1 + 2
