"""``cvlib amend``: a profile corrected without editing its file by hand."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cvlib.cli.amend_forms import FORMS
from cvlib.cli.exits import ExitCode, tell
from cvlib.cli.form_group import FormGroup
from cvlib.cli.forms import SHARED, Said, command_of
from cvlib.cli.options import examples
from cvlib.cli.prompts import Asker, Stopped, can_ask, confirm, missing, told_stop
from cvlib.cli.show import show
from cvlib.errors import Fault, InputError, problem

if TYPE_CHECKING:
    from cvlib.files.amend.amending import Amending
    from cvlib.files.amend.change import Wish
    from cvlib.files.store import Store

EXAMPLES = examples(
    "cvlib amend bench ferrow/lark-8 braking.mode=works --firmware 4.2.60",
    "cvlib amend release ferrow/lark-8 5.1.0 --date 2026-09-14 --dry-run",
    "cvlib amend place ferrow/lark-8 braking.mode --at 4.3.9 --cv 143 --pr-text change.md",
    "",
    'What is missing is asked for at a terminal. "cvlib amend FORM --help" shows a form.',
    "Exit code 2 where the correction is refused; nothing is written then.",
)

ABOUT = """Correct a profile: a bench test, a release, a document, a place, a question, a setting.

The correction is written into the TOML file with its comments kept. Shown are the diff, the
settings that are answered otherwise and for which firmware, and the text for a pull request.
"""

PR_TEXT = Annotated[
    Path | None,
    typer.Option(
        "--pr-text",
        metavar="FILE",
        help="Put the text for a pull request into this file, behind what it holds.",
    ),
]


def work(said: Said, options: Mapping[str, Any]) -> int:
    """The exit code of one correction."""
    from cvlib import api

    store = api.open_store(options["definitions"])
    if not can_ask():
        lacking = missing(said)
        if lacking:
            raise problem(
                f"amend {said.form.name} needs {', '.join(lacking)}.",
                advice=f'"cvlib amend {said.form.name} --help" shows what they mean.',
            )
        return _done(_tried(store, said, options), options)
    return _at_terminal(store, said, options)


def _at_terminal(store: Store, said: Said, options: Mapping[str, Any]) -> int:
    """The same, with questions for what is missing or wrong."""
    from cvlib.files.amend.checks import check_entry

    asker = Asker(said, lambda key, text: check_entry(store, _wish(said), key, text))
    try:
        asker.fill()
        while True:
            try:
                amending = _tried(store, said, options)
                break
            except InputError as error:
                if not asker.has_asked:
                    raise
                tell(error.faults)
                if not asker.again():
                    raise Stopped from None
        if not asker.has_asked or options["dry_run"]:
            return _done(amending, options)
        _show(amending, options, is_written=False)
        if not confirm("Write it"):
            raise Stopped
        return _done(amending, options, is_shown=True)
    except (Stopped, KeyboardInterrupt):
        told_stop(said)
        return ExitCode.INTERRUPTED


def _wish(said: Said) -> Wish:
    from cvlib.files.amend.change import Wish

    return Wish(said.form.name, said.profile, tuple(said.subjects), said.given)
