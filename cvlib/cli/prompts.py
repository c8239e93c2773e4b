"""Questions at a terminal: what is missing is asked for, and nothing that was said is lost."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, TypeAlias, TypeVar

from cvlib.cli.exits import tell
from cvlib.cli.forms import Key, Need, Said
from cvlib.cli.options import Format
from cvlib.errors import Fault, InputError, did_you_mean, problem

Check: TypeAlias = Callable[[str, str], None]
"""Refuses a wrong entry for a key."""


T = TypeVar("T")


_MOST_TYPED = 20_000
"""Characters of an answer that are read at once."""
MOST_TRIES = 20
"""Answers in a row that settle nothing, where they come from a file or a program."""
UNDO, QUIT, HELP = ("undo", "u"), ("quit", "q", "end"), ("?", "help", "h")
"""What can be typed instead of an answer, where answers can be taken back."""


class StoppedError(Exception):
    """The person stopped answering."""


def can_ask() -> bool:
    """Whether somebody sits at a terminal and sees the questions."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def typed_line(shown: str) -> str:
    """What is typed behind a prompt; raises StoppedError where no more will come."""
    print(shown, end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline(_MOST_TYPED)
    if not line:
        print(file=sys.stderr)
        raise StoppedError
    return line.strip()


def ask_each(
    question: Callable[[], str],
    take: Callable[[str], None],
    undo: Callable[[], None],
    advice: str,
    left: Callable[[], object] | None = None,
) -> None:
    """Ask until there is no further question, or the person has enough.

    Wrong answers are told and asked for again; ``advice`` says what can be typed. Raises
    InputError where nobody sits at a terminal and many answers in a row settle nothing: the
    question, or what is ``left``, stays the same.
    """
    print(advice, file=sys.stderr)
    tries = 0
    last: object = None
    while shown := question():
        now = left() if left is not None else shown
        tries, last = (tries + 1 if now == last else 1), now
        if tries > MOST_TRIES and not can_ask():
            raise problem(
                f"{MOST_TRIES} answers in a row settled nothing.",
                advice="Answer at a terminal, or fill in the list.",
            )
        try:
            text = typed_line(f"{shown}: ")
        except StoppedError:
            return
        word = text.casefold()
        if word in QUIT:
            return
        if word in UNDO:
            undo()
        elif not text or word in HELP:
            print(advice, file=sys.stderr)
        else:
            try:
                take(text)
            except InputError as error:
                tell(error.faults)


def ask(question: str, usual: str = "", check: Callable[[str], object] | None = None) -> str:
    """The answer to a question, or the usual one; wrong answers are told and asked for again."""
    shown = f"{question} [{usual}]: " if usual else f"{question}: "
    while True:
        text = typed_line(shown) or usual
        try:
            if text and check is not None:
                check(text)
        except InputError as error:
            tell(error.faults)
            continue
        return text


def confirm(question: str) -> bool:
    """Whether the person says yes; an empty answer is a yes."""
    from cvlib.files.typed_keys import parse_on_off

    return parse_on_off(ask(question, "yes", parse_on_off))


class Asker:
    """Fills what was said with what is asked for."""

    def __init__(self, said: Said, check: Check) -> None:
        self.said = said
        self.check = check
        self.has_asked = False

    def fill(self) -> None:
        """Ask for what is missing, and on the way for what may be said besides.

        Nobody is asked where all that is needed was said, or where nobody can answer.
        """
        said, form = self.said, self.said.form
        self.has_asked = form.confirms and can_ask()
        if not can_ask() or not (_missing(said) or (form.more and not self._has_more())):
            return
        if not said.profile:
            said.profile = self._needed("profile", "Profile, such as ferrow/lark-8")
        if not said.subjects and form.subject.need is Need.OFFERED:
            said.subjects += filter(None, [self._offered("subject", form.subject.help)])
        if not said.subjects and form.subject.need is Need.ALWAYS:
            said.subjects.append(self._needed("subject", form.subject.help))
            while form.subject.many and (more := self._offered("subject", "Another one")):
                said.subjects.append(more)
        for key in form.keys:
            if key.name not in said.given and self._is_worth(key):
                self._fill_key(key)
        if form.more and not self._has_more():
            self._further()

    def until_right(self, work: Callable[[], T]) -> T:
        """What some work makes of the entries; where it refuses, better ones are asked for."""
        while True:
            try:
                return work()
            except InputError as error:
                if not self.has_asked:
                    raise
                tell(error.faults)
            if not self.again():
                raise StoppedError

    def agreed(self, options: Mapping[str, Any], preview: Callable[[], None]) -> bool:
        """Whether the person saw the result and said yes; without questions nobody is asked.

        Raises StoppedError for a no.
        """
        if not self.has_asked or options["dry_run"]:
            return False
        is_shown = options["form"] is Format.TEXT
        if is_shown:
            preview()
        if not confirm("Write it"):
            raise StoppedError
        return is_shown

    def again(self) -> bool:
        """Ask which entry was wrong and for a better one; whether there was one."""
        form = self.said.form
        names = ["profile", *([form.subject.name] if self.said.subjects else []), *self.said.given]
        known = ", ".join(names)
        name = ask(f"Which entry shall be another ({known}; Enter to stop)", "", self._is_key)
        if name == form.subject.name:
            self.said.subjects[:] = [self._needed("subject", form.subject.help)]
        elif name == "profile":
            self.said.profile = self._needed("profile", "Profile")
        elif name and (key := form.key(name)) is not None:
            text = ask(f"{name} (Enter to leave it out)", "", lambda one: self.check(name, one))
            self.said.given.pop(name, None)
            self._give(key, text)
        return bool(name)

    def _is_key(self, name: str) -> None:
        form = self.said.form
        known = ["profile", form.subject.name, *(key.name for key in form.keys)]
        if name not in known:
            usual = "The keys are those of docs/profile-format.md."
            raise problem(f'there is no entry "{name}".', advice=did_you_mean(name, known) or usual)

    def _is_worth(self, key: Key) -> bool:
        subjects = self.said.subjects
        if key.in_subject and all("=" in one for one in subjects):
            return False
        if key.of_subject and not subjects:
            return False
        return key.need is not Need.SILENT

    def _fill_key(self, key: Key) -> None:
        usual = date.today().isoformat() if key.usual == "today" else key.usual
        asked = self._needed if key.need is Need.ALWAYS else self._offered
        self._give(key, asked(key.name, key.help, usual))

    def _give(self, key: Key, text: str) -> None:
        from cvlib.files.typed_keys import parse_on_off

        if not text:
            return
        if not key.switch:
            self.said.given[key.name] = (text,) if key.many else text
        elif parse_on_off(text):
            self.said.given[key.name] = True

    def _has_more(self) -> bool:
        """Whether anything was said that is not asked for one by one."""
        asked = {key.name for key in self.said.form.keys if key.need is not Need.SILENT}
        return any(name not in asked for name in self.said.given)

    def _further(self) -> None:
        """Ask for further keys, one line each."""
        form = self.said.form
        while text := self._entry(form.more):
            name, _, value = (part.strip() for part in text.partition("="))
            key = form.key(name)
            if key is not None:
                self._give(key, value)

    def _entry(self, question: str) -> str:
        def check(text: str) -> None:
            name, equals, value = (part.strip() for part in text.partition("="))
            if not equals or not value:
                raise problem(f'"{text}" has no value.', advice="Write KEY=VALUE, such as cv=144.")
            self._is_key(name)
            self.check(name, value)

        self.has_asked = True
        return ask(f"{question} (Enter for no more)", "", check)

    def _needed(self, key: str, question: str, usual: str = "") -> str:
        self.has_asked = True
        while True:
            text = ask(question, usual, lambda one: self.check(key, one))
            if text:
                return text
            tell([Fault("this is needed.", advice="Ctrl-C stops; nothing is written then.")])

    def _offered(self, key: str, question: str, usual: str = "") -> str:
        self.has_asked = True
        empty = "" if usual else " (Enter for none)"
        return ask(f"{question}{empty}", usual, lambda one: self.check(key, one))


def tell_stop(said: Said, options: Mapping[str, Any]) -> None:
    """Say that nothing was written, and how to go on with what was said."""
    print(file=sys.stderr)
    print("cvlib: stopped, nothing is written. To go on from here:", file=sys.stderr)
    print(f"  {said.command(options)}", file=sys.stderr)


def check_said(said: Said) -> None:
    """Raise with everything that has to be said and was not, where nobody can be asked."""
    if can_ask():
        return
    lacking = _missing(said)
    if lacking:
        command = " ".join(filter(None, [said.form.of, said.form.name]))
        raise problem(
            f"{command} needs {', '.join(lacking)}.",
            advice=f'"cvlib {command} --help" tells what they mean.',
        )


def _missing(said: Said) -> list[str]:
    """The same as it would be typed."""
    form = said.form
    found = [] if said.profile else ["PROFILE"]
    if not said.subjects and form.subject.need is Need.ALWAYS:
        found.append(form.subject.metavar)
    for key in form.keys:
        if key.need is not Need.ALWAYS or key.name in said.given or key.usual:
            continue
        if not (key.in_subject and said.subjects and all("=" in one for one in said.subjects)):
            found.append(f"--{key.name}")
    return found
