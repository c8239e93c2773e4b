"""Answers typed, on a command line and in files: read as meant, kept as a whole."""

from pathlib import Path

import pytest

from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.layouts import Tried
from cvlib.engine.bench.session import Entry, FactTold, Skipped
from cvlib.engine.bench.situation import Fact
from cvlib.engine.bench.weigh import Read
from cvlib.errors import InputError
from cvlib.files.answers import (
    as_words,
    entry_text,
    keep_answers,
    parse_answer,
    parse_fact,
    parse_result,
    parse_words,
    read_answers,
    split_silent,
)
from cvlib.model.cv import Page, Slot

EVERY: list[Entry] = [
    FactTold(Fact.TRACK, True),
    FactTold(Fact.LOAD, False),
    FactTold(Fact.RESET, True),
    Read(Slot(8), 13),
    Read(Slot(261, Page(0, 255)), 42),
    Read(Slot(28), NO_ANSWER),
    Skipped(Slot(30)),
    Tried("keeper.hold-time", 1),
    Tried("lamp[3].level", None),
    Skipped("stopping.delay"),
]


def two(setting: str) -> int:
    """Every test has two answers."""
    return 2


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("8=13", Read(Slot(8), 13)),
        ("CV8 = 0x0D", Read(Slot(8), 13)),
        ("8: 0b1101", Read(Slot(8), 13)),
        ("261@0/255=42", Read(Slot(261, Page(0, 255)), 42)),
        ("28=none", Read(Slot(28), NO_ANSWER)),
        ("28=no answer", Read(Slot(28), NO_ANSWER)),
        ("28=-", Read(Slot(28), NO_ANSWER)),
        ("28=skip", Skipped(Slot(28))),
        ("stopping.delay=2", Tried("stopping.delay", 1)),
        ("lamp[3].level=nothing", Tried("lamp[3].level", None)),
    ],
)
def test_an_answer_is_read_as_it_is_typed(text: str, read: Entry) -> None:
    """Values in any notation, no answer, skipped reads, and behaviour tests."""
    assert parse_words([text], two) == (read,)


def test_a_cv_may_be_read_twice() -> None:
    """Both answers stay, in their order."""
    found = parse_words(["8=13", "8=12"])
    assert [read.answer for read in found if isinstance(read, Read)] == [13, 12]


def test_the_page_may_be_chosen_before() -> None:
    """CVs 31 and 32 choose the page of what comes after them (RCN-225, 2025-07-27)."""
    found = parse_words(["31=0", "32=255", "261=42", "8=13"])
    assert found[2] == Read(Slot(261, Page(0, 255)), 42)
    assert found[3] == Read(Slot(8), 13)


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["8=300"], "CV values run from 0 to 255"),
        (["2000=1"], "CV 2000 does not exist"),
        (["hello"], "Write the CV and what it answered"),
        (["8="], "CV 8 has no value"),
        (["stopping.delay=1"], "is not tested here"),
    ],
)
def test_a_wrong_answer_is_told_with_what_would_be_right(words: list[str], part: str) -> None:
    """One line for each, all at once."""
    with pytest.raises(InputError) as caught:
        parse_words([*words, "8=13"])
    assert part in str(caught.value)
    with pytest.raises(InputError) as both:
        parse_words([*words, "9=999"])
    assert len(both.value.faults) == 2


def test_another_cv_may_be_named_in_an_answer() -> None:
    """The question was CV 7; the answer tells CV 8."""
    assert parse_answer(Slot(7), "8=13") == Read(Slot(8), 13)
    assert parse_answer(Slot(7), "13") == Read(Slot(7), 13)
    assert parse_answer(Slot(7), " None ") == Read(Slot(7), NO_ANSWER)


def test_facts_and_results_are_understood_or_refused() -> None:
    """Yes and no, the two tracks, and the numbers that there are."""
    assert parse_fact(Fact.LOAD, "Y") == FactTold(Fact.LOAD, True)
    assert parse_fact(Fact.TRACK, "main") == FactTold(Fact.TRACK, False)
    assert parse_result("a.b", 3, "3") == Tried("a.b", 2)
    for wrong in (lambda: parse_fact(Fact.LOAD, "maybe"), lambda: parse_result("a.b", 2, "3")):
        with pytest.raises(InputError):
            wrong()


def test_what_is_kept_is_read_back(tmp_path: Path) -> None:
    """Every sort of entry, in its order; a file that is there is replaced as a whole."""
    path = tmp_path / "bench.txt"
    assert read_answers(path) == ()
    keep_answers(path, EVERY[:3], "cvlib probe")
    keep_answers(path, EVERY, "cvlib probe")
    assert list(read_answers(path, two)) == EVERY
    assert [file.name for file in tmp_path.iterdir()] == ["bench.txt"]


def test_as_words_they_are_the_same_answers() -> None:
    """What is shown to go on with is understood again; facts become options."""
    words = as_words(EVERY)
    assert words[:3] == ["--programming-track", "--no-load", "--after-reset"]
    assert list(parse_words(words[3:], two)) == EVERY[3:]


def test_a_fault_in_a_file_has_its_line(tmp_path: Path) -> None:
    """Remarks and empty lines are passed over; each wrong line is told."""
    path = tmp_path / "bench.txt"
    path.write_text("# remark\n\n8 = 13  # maker\n8 = 1300\nlaod = yes\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_answers(path)
    told = [str(fault) for fault in caught.value.faults]
    assert [line.split(":")[1] for line in told] == ["4", "5"]
    assert 'Did you mean "load"?' in told[1]


def test_silent_lines_of_a_list_are_taken_out() -> None:
    """A list may say that a CV gave no answer; the rest is left for the reader of lists."""
    silent, rest = split_silent("CV,Value\n1,3\n28,no answer\n31 = none\n2,5\n")
    assert silent == (Slot(28), Slot(31))
    assert rest == "CV,Value\n1,3\n2,5\n"


def test_an_entry_is_written_on_one_line() -> None:
    """So that a file of answers can be read and edited by a person."""
    assert [entry_text(entry) for entry in EVERY[:6]] == [
        "track = programming",
        "load = no",
        "reset = yes",
        "8 = 13",
        "261@0/255 = 42",
        "28 = no answer",
    ]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Nothing is written, and the line names the file."""
    with pytest.raises(InputError, match="cannot be written"):
        keep_answers(tmp_path / "no" / "bench.txt", EVERY, "cvlib probe")


MINE = """# My bench, 14 March.

8 = 13  # the maker
test keeper.hold-time = 2
28 = no answer
"""


def test_a_file_of_a_person_keeps_every_remark(tmp_path: Path) -> None:
    """New answers go to its end; headings, remarks and empty lines stay where they are."""
    path = tmp_path / "bench.txt"
    path.write_bytes(MINE.replace("\n", "\r\n").encode())
    before = list(read_answers(path, two))
    keep_answers(path, [*before, Read(Slot(7), 2)], "cvlib probe", before)
    assert path.read_bytes() == (MINE + "7 = 2\n").replace("\n", "\r\n").encode()


def test_an_answer_taken_back_goes_and_nothing_else(tmp_path: Path) -> None:
    """Also one that was in the file before; of two that are alike one goes."""
    path = tmp_path / "bench.txt"
    path.write_text(MINE + "8 = 13\n", encoding="utf-8")
    before = list(read_answers(path, two))
    keep_answers(path, before[:-1], "cvlib probe", before)
    assert path.read_text(encoding="utf-8") == MINE
    keep_answers(path, before[:-2], "cvlib probe", before[:-1])
    assert path.read_text(encoding="utf-8") == MINE.replace("28 = no answer\n", "")


def test_lines_that_somebody_adds_meanwhile_stay(tmp_path: Path) -> None:
    """Answers and remarks alike, also such as cannot be read; nothing is said to be kept and is
    not.
    """
    path = tmp_path / "bench.txt"
    path.write_text(MINE, encoding="utf-8")
    before = list(read_answers(path, two))
    added = "# seen later\n9 = 1\nwhat is this\n"
    path.write_text(MINE + added, encoding="utf-8")
    keep_answers(path, [*before, Read(Slot(7), 2)], "cvlib probe", before)
    assert path.read_text(encoding="utf-8") == MINE + added + "7 = 2\n"


def test_a_file_that_may_not_be_written_leaves_the_answers_beside_it(tmp_path: Path) -> None:
    """The line names the file that holds them, which can be used as it is."""
    path = tmp_path / "bench.txt"
    path.write_text("8 = 13\n", encoding="utf-8")
    path.chmod(0o444)
    with pytest.raises(InputError, match=r"entered is in .*bench\.txt\.not-written") as caught:
        keep_answers(path, EVERY, "cvlib probe")
    assert "read-only" in str(caught.value)
    assert list(read_answers(tmp_path / "bench.txt.not-written", two)) == EVERY
    path.chmod(0o644)
