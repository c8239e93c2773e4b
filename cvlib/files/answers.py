"""Answers of a session: typed at a prompt, on a command line, or kept in a file.

A file of answers has one answer a line, in the order they came, and remarks after ``#``::

    track = programming
    8 = 13
    28 = no answer
    141 = skip
    test keeper.hold-time = 2
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.layouts import Tried
from cvlib.engine.bench.session import Entry, FactTold, Skipped
from cvlib.engine.bench.situation import Fact
from cvlib.engine.bench.weigh import Read
from cvlib.errors import Fault, InputError, Position, did_you_mean, problem
from cvlib.files.bounds import ANSWERS, check_count
from cvlib.files.read.faults import raise_faults
from cvlib.files.read.values import CV_FORM, parse_cv, parse_value
from cvlib.files.text import (
    decode_list,
    encode_as,
    file_name,
    is_folder,
    is_there,
    quoted,
    read_bytes,
)
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, Page, Slot
from cvlib.model.loco import State

SILENT_WORDS = ("no answer", "no-answer", "noanswer", "none", "no", "n", "silent", "-")
"""What stands for a read that was not answered."""
SKIP_WORDS = ("skip", "s")
"""What stands for a read or test that is left out."""
YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")
TRACKS = {"programming": True, "programming-track": True, "p": True, "main": False, "m": False}
HEADING = "# Answers for cvlib; each line is one, in the order they came."

_ENTRY = re.compile(rf"\s*({CV_FORM})\s*[=:]\s*(.*?)\s*", re.I | re.A | re.S)
_TEST = re.compile(r"\s*test\s+(\S+)\s*=\s*(.*?)\s*", re.I)
_NAMED = re.compile(r"\s*([a-z][\w\[\]-]*\.[\w.\[\]-]+)\s*=\s*(.*?)\s*", re.I)
_FACT = re.compile(r"\s*([a-z]+)\s*=\s*(.*?)\s*", re.I)
_SILENT_LINE = re.compile(
    rf"\s*({CV_FORM})\s*[=:;,\t ]\s*\"?(?:no.?answer|none|-)\"?\s*", re.I | re.A
)
_MOST_FAULTS = 20
_ANY_NUMBER = 1_000_000


def parse_words(
    items: Iterable[str], sides_of: Callable[[str], int] | None = None
) -> tuple[Entry, ...]:
    """The answers typed, as ``8=13``, ``28=none``, ``30=skip`` or, for a test, ``a.setting=2``.

    A CV may be given several times: it was read several times then. CVs 31 and 32 choose the page
    of the CVs 257-512 typed after them. ``sides_of`` is as for :func:`read_answers`. Raises
    InputError with every fault.
    """
    found: list[Entry] = []
    faults: list[Fault] = []
    for item in items:
        try:
            entry = _test_entry(_NAMED.fullmatch(item), sides_of) or _cv_entry(item)
        except InputError as error:
            faults.extend(error.faults)
            continue
        if entry is None:
            faults.append(_not_an_answer(item))
        elif isinstance(entry, Read):
            found.append(Read(_on_page(entry.slot, found), entry.answer))
        else:
            found.append(entry)
    raise_faults(faults, _MOST_FAULTS)
    return tuple(found)


def parse_answer(slot: Slot, text: str) -> Entry:
    """The answer to the question what a CV holds: a value, no answer, or skip.

    Another CV may be named with its value, ``8=13``, and is taken instead.
    """
    said = text.strip()
    if "=" in said:
        entry = _cv_entry(said)
        if entry is not None:
            return entry
    return _answered(slot, said)


def parse_fact(fact: Fact, text: str) -> FactTold:
    """The answer to a question about the bench."""
    said = text.strip().casefold()
    if fact is Fact.TRACK:
        if said not in TRACKS:
            raise problem(f"{quoted(said)} is no track.", advice='Say "programming" or "main".')
        return FactTold(fact, TRACKS[said])
    if fact is Fact.LEFTOVER and said not in YES + NO:
        return FactTold(fact, parse_state(text))
    if said not in YES + NO:
        raise problem(f"{quoted(said)} is not understood.", advice='Say "yes" or "no".')
    return FactTold(fact, said in YES)


def parse_state(text: str) -> State:
    """What became of the values at the last update; unknown is an answer too."""
    said = text.strip().casefold().replace(" ", "-")
    if said == "unknown":
        return State.UNKNOWN
    if said not in [state.value for state in State if state]:
        raise problem(
            "that is none of the answers.",
            advice='Say "reset", "not-reset", "never-updated" or "unknown".',
        )
    return State(said)


def parse_result(setting: str, sides: int, text: str) -> Entry:
    """The answer to a behaviour test: the number of what happened, nothing, or skip."""
    said = text.strip().casefold()
    if said in SKIP_WORDS:
        return Skipped(setting)
    if said in ("nothing", "0", *SILENT_WORDS):
        return Tried(setting, None)
    if said.isascii() and said.isdecimal() and 1 <= int(said) <= sides:
        return Tried(setting, int(said) - 1)
    raise problem(
        f"{quoted(said)} is not one of the answers.",
        advice=f'Give a number from 1 to {sides}, or "nothing" or "skip".',
    )


def read_answers(path: Path, sides_of: Callable[[str], int] | None = None) -> tuple[Entry, ...]:
    """The entries of a file of answers; none where there is no such file.

    ``sides_of`` gives the number of answers there are to the test of a setting; 0: no such test.
    Raises InputError with every fault and its line.
    """
    if not is_there(path):
        return ()
    name = file_name(path)
    entries: list[Entry] = []
    faults: list[Fault] = []
    lines = decode_list(read_bytes(path), name).splitlines()
    check_count(lines, ANSWERS, "lines of answers", Position(name))
    for number, line in enumerate(lines, 1):
        said = line.partition("#")[0].strip()
        if not said:
            continue
        try:
            entries.append(_entry(said, sides_of))
        except InputError as error:
            here = Position(name, number)
            faults.extend(Fault(one.problem, here, one.advice) for one in error.faults)
    raise_faults(faults, _MOST_FAULTS)
    return tuple(entries)


def keep_answers(
    path: Path, entries: Sequence[Entry], about: str, before: Iterable[Entry] = ()
) -> None:
    """Bring a file of answers up to date: what is new goes to its end, what was taken back goes.

    ``before`` are the entries of the session when the file was last brought up to date. Whatever
    else stands in the file stays: remarks, and lines that somebody added meanwhile.
    """
    from cvlib.files.write import any_text, create_file, rewrite_file

    whole = answers_text(entries, about).encode("utf-8")
    if not is_there(path):
        if not is_folder(path.parent):
            raise problem(
                "the file cannot be written: there is no such folder.",
                advice="Check the name.",
                position=Position(file_name(path)),
            )
        create_file(path, whole, any_text, entered=whole)
        return
    name = file_name(path)

    def change(was: bytes) -> bytes:
        text = decode_list(was, name)
        made = _updated(text.replace("\r\n", "\n"), entries, Counter(before) - Counter(entries))
        return encode_as(made, was, text)

    def holds(data: bytes) -> bool:
        there = [
            entry for line in decode_list(data, name).splitlines() if (entry := _entry_of(line))
        ]
        return not Counter(entries) - Counter(there)

    rewrite_file(path, change, holds, entered=whole)


def answers_text(entries: Iterable[Entry], about: str) -> str:
    """The text of a new file of answers."""
    return "\n".join([HEADING, f"# {about}", *map(entry_text, entries)]) + "\n"


def _updated(text: str, entries: Iterable[Entry], gone: Counter[Entry]) -> str:
    """A text with the entries that it lacks at its end, and without those that are gone."""
    lines: list[str] = []
    wanted = Counter(entries)
    for line in text.removesuffix("\n").split("\n") if text else ():
        entry = _entry_of(line)
        if entry is not None and wanted[entry] > 0:
            wanted[entry] -= 1
        elif entry is not None and gone[entry] > 0:
            gone[entry] -= 1
            continue
        lines.append(line)
    for entry in entries:
        if wanted[entry] > 0:
            wanted[entry] -= 1
            lines.append(entry_text(entry))
    return "".join(f"{line}\n" for line in lines)


def entry_text(entry: Entry) -> str:
    """An entry as a line of a file of answers.

    >>> entry_text(Read(Slot(28), NO_ANSWER))
    '28 = no answer'
    """
    match entry:
        case Read(slot, answer):
            return f"{slot.typed} = {'no answer' if answer == NO_ANSWER else answer}"
        case Tried(setting, side):
            return f"test {setting} = {'nothing' if side is None else side + 1}"
        case FactTold(fact, answer):
            if fact is Fact.TRACK:
                return f"{fact} = {'programming' if answer else 'main'}"
            if isinstance(answer, State):
                return f"{fact} = {answer or 'unknown'}"
            return f"{fact} = {'yes' if answer else 'no'}"
        case Skipped(what):
            return f"{what.typed} = skip" if isinstance(what, Slot) else f"test {what} = skip"


def as_words(entries: Iterable[Entry]) -> list[str]:
    """The entries as words of a command line; facts become options."""
    words: list[str] = []
    for entry in entries:
        match entry:
            case Read(slot, answer):
                words.append(f"{slot.typed}={'none' if answer == NO_ANSWER else answer}")
            case FactTold(_, State() as state):
                words += [f"--state={state}"] if state else []
            case FactTold(fact, answer):
                words.append(_OPTIONS[fact][not answer])
            case Tried(setting, side):
                words.append(f"{setting}={'nothing' if side is None else side + 1}")
            case Skipped(what):
                words.append(f"{what.typed if isinstance(what, Slot) else what}=skip")
    return words


_OPTIONS = {
    Fact.TRACK: ("--programming-track", "--main"),
    Fact.LOAD: ("--load", "--no-load"),
    Fact.BIDIRECTIONAL: ("--bidirectional", "--no-bidirectional"),
    Fact.ALONE: ("--alone", "--shared"),
    Fact.CHOSEN: ("--chosen", "--not-chosen"),
    Fact.RESET: ("--after-reset", "--as-it-stands"),
    Fact.LEFTOVER: ("--state=not-reset", "--state=reset"),
}


def split_silent(text: str) -> tuple[tuple[Slot, ...], str]:
    """The CVs of a list that gave no answer, and the list without their lines."""
    silent: list[Slot] = []
    kept: list[str] = []
    for line in text.splitlines(keepends=True):
        found = _SILENT_LINE.fullmatch(line.partition("#")[0].rstrip("\r\n"))
        if found:
            silent.append(parse_cv(found[1]))
        else:
            kept.append(line)
    return tuple(silent), "".join(kept)


def _entry_of(line: str) -> Entry | None:
    """The entry that a line of a file of answers stands for, whatever may be asked today."""
    said = line.partition("#")[0].strip()
    try:
        return _entry(said, lambda _: _ANY_NUMBER) if said else None
    except InputError:
        return None


def _entry(said: str, sides_of: Callable[[str], int] | None) -> Entry:
    entry = _test_entry(_TEST.fullmatch(said), sides_of) or _cv_entry(said)
    if entry is not None:
        return entry
    if named := _FACT.fullmatch(said):
        facts = [fact.value for fact in Fact]
        if named[1].casefold() in facts:
            return parse_fact(Fact(named[1].casefold()), named[2])
        raise problem(
            f"{quoted(named[1])} is neither a CV nor a fact.",
            advice=did_you_mean(named[1], facts) or f"Facts are {', '.join(facts)}.",
        )
    raise _line_fault(said)


def _test_entry(found: re.Match[str] | None, sides_of: Callable[[str], int] | None) -> Entry | None:
    """The result of a behaviour test that a text stands for, or nothing where it is none."""
    if found is None:
        return None
    sides = sides_of(found[1]) if sides_of else 0
    if not sides:
        raise problem(
            f"{quoted(found[1])} is not tested here.",
            advice="Only disputed settings of a firmware are, with probe.",
        )
    return parse_result(found[1], sides, found[2])


def _cv_entry(said: str) -> Entry | None:
    """The read or skip that a text such as ``8=13`` stands for, or nothing where it is none."""
    found = _ENTRY.fullmatch(said)
    return _answered(parse_cv(found[1]), found[2]) if found else None


def _answered(slot: Slot, said: str) -> Entry:
    folded = said.casefold()
    if folded in SKIP_WORDS:
        return Skipped(slot)
    if folded in SILENT_WORDS:
        return Read(slot, NO_ANSWER)
    return Read(slot, parse_value(said, slot))


def _on_page(slot: Slot, before: Iterable[Entry]) -> Slot:
    """A CV typed without its page, on the page that CVs 31 and 32 before it chose."""
    if slot.page is not None or not FIRST_PAGED <= slot.cv <= LAST_PAGED:
        return slot
    reads = (entry for entry in before if isinstance(entry, Read))
    held = {read.slot.cv: read.answer for read in reads if read.slot.cv in (31, 32)}
    if len(held) < 2 or NO_ANSWER in held.values():
        return slot
    return Slot(slot.cv, Page(held[31], held[32]))


def _not_an_answer(item: str) -> Fault:
    return Fault(
        f"{quoted(item)} is no answer.",
        advice="Write the CV and what it answered: 8=13, 261@0/255=42 or 28=none.",
    )


def _line_fault(said: str) -> InputError:
    return problem(
        f"{quoted(said)} is not understood.",
        advice='Write the CV and what it answered, such as "8 = 13" or "28 = no answer".',
    )
