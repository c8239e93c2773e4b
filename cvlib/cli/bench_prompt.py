"""A session at a terminal: one question at a time, each answer can be taken back."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.cli.exits import tell
from cvlib.cli.prompts import HELP, QUIT, UNDO, StoppedError, typed_line
from cvlib.cli.show import wants_colour, width
from cvlib.errors import InputError

if TYPE_CHECKING:
    from cvlib.engine.bench.session import Entry, Question, Session
    from cvlib.engine.bench.situation import Hint
    from cvlib.render.view import Block


class Keeping:
    """Where the answers of a session are kept, and how to go on when it is stopped."""

    def __init__(self, command: Sequence[str], path: Path | None) -> None:
        self.command = command
        """The words of the command with its options, but without answers."""
        self.path = path
        self._kept: tuple[Entry, ...] = ()

    def begin(self, session: Session) -> None:
        """Note which answers a session begins with: the file may hold them already."""
        self._kept = tuple(session.entries)

    def keep(self, session: Session) -> None:
        """Put the answers so far into the file, where there is one."""
        if self.path is not None:
            from cvlib.files.answers import keep_answers
            from cvlib.files.text import typed

            keep_answers(self.path, session.entries, typed(*self.command), self._kept)
            self._kept = tuple(session.entries)

    def tell_stop(self, session: Session) -> None:
        """Say that nothing is lost, and how to go on."""
        if session.entries:
            self.keep(session)
        print(file=sys.stderr)
        print("cvlib: stopped; nothing is lost. To go on from here:", file=sys.stderr)
        print(f"  {self._words(session)}", file=sys.stderr)

    def _words(self, session: Session) -> str:
        from cvlib.files.answers import as_words
        from cvlib.files.text import typed

        more = ["--answers", str(self.path)] if self.path else as_words(session.entries)
        return typed(*self.command, *more, "--ask")


def ask_all(session: Session, keeping: Keeping, progress: Callable[[], str]) -> None:
    """Ask until no further answer would tell anything, or the person has enough.

    Raises KeyboardInterrupt when the person stops, after saying how to go on; every answer is kept.
    """
    keeping.begin(session)
    try:
        _converse(session, keeping, progress)
    except KeyboardInterrupt:
        keeping.tell_stop(session)
        raise


def _converse(session: Session, keeping: Keeping, progress: Callable[[], str]) -> None:
    from cvlib.render.view import Paragraph, Piece
    from cvlib.render.views.questions import question_blocks

    print('One question at a time; "?" shows what can be typed.', file=sys.stderr)
    shown: Question | None = None
    hinted = set(session.hints())
    while (question := session.question()) is not None:
        if question != shown:
            _print(question_blocks(question, len(session.entries) + 1))
            shown = question
        try:
            text = typed_line("> ")
        except StoppedError:
            raise KeyboardInterrupt from None
        if text.casefold() in QUIT:
            return
        if text.casefold() in HELP:
            _print(_help())
            shown = None
            continue
        if text.casefold() in UNDO:
            _take_back(session, keeping)
            shown = None
            continue
        try:
            entry = _entry(question, text)
        except InputError as error:
            tell(error.faults)
            continue
        session.add(entry)
        keeping.keep(session)
        if said := progress():
            _print([Paragraph((Piece(said),), indent=2)])
        _tell_new(session, hinted)


def _tell_new(session: Session, hinted: set[Hint]) -> None:
    """Say at once what the last answer asks to be done first, or to beware of."""
    from cvlib.render.views.identify import hint_blocks

    new = [hint for hint in session.hints() if hint not in hinted]
    hinted.update(new)
    _print(list(hint_blocks(new)))


def _take_back(session: Session, keeping: Keeping) -> None:
    from cvlib.files.answers import entry_text

    entry = session.undo()
    if entry is None:
        print("  There is no answer to take back.", file=sys.stderr)
        return
    keeping.keep(session)
    print(f"  Taken back: {entry_text(entry)}", file=sys.stderr)


def _entry(question: Question, text: str) -> Entry:
    from cvlib.engine.bench.next_read import Suggestion
    from cvlib.engine.bench.situation import Fact
    from cvlib.files.answers import parse_answer, parse_fact, parse_result
    from cvlib.render.views.bench_words import FACTS

    match question:
        case Fact():
            return parse_fact(question, text or FACTS[question][1])
        case Suggestion():
            return parse_answer(question.slot, text)
        case _:
            return parse_result(question.setting, question.answers, text)


def _help() -> list[Block]:
    from cvlib.render.views.questions import help_blocks

    return help_blocks()


def _print(blocks: list[Block]) -> None:
    from cvlib.render.to_terminal import to_terminal

    print(to_terminal(blocks, width(), colour=wants_colour()), end="", file=sys.stderr)
