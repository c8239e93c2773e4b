"""``cvlib new``: a profile from a few answers, or from a table of CVs."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cvlib.cli.exits import ExitCode, tell_way_back
from cvlib.cli.forms import SHARED, Said, command_of
from cvlib.cli.new_form import EXAMPLES, NEW
from cvlib.cli.prompts import Asker, StoppedError, check_said, tell_stop
from cvlib.cli.show import show

if TYPE_CHECKING:
    from cvlib.engine.change.made import MadeProfile
    from cvlib.files.new_profile import NewWish


def work(said: Said, options: Mapping[str, Any]) -> int:
    """The exit code of making one profile."""
    from cvlib import api
    from cvlib.files.new_profile import check_new, make_profile, write_profile
    from cvlib.files.own import own_folder
    from cvlib.files.text import is_folder

    check_said(said)
    folder = own_folder(options["definitions"])
    store = api.open_store(folder if folder is not None and is_folder(folder) else None)
    asker = Asker(said, lambda key, text: check_new(key, text, _wish(said), store))
    try:
        asker.fill()
        made = asker.until_right(lambda: make_profile(store, _wish(said), folder))
        is_shown = asker.agreed(options, lambda: _show(made, options))
    except (StoppedError, KeyboardInterrupt):
        tell_stop(said, options)
        return ExitCode.INTERRUPTED
    if not options["dry_run"]:
        made = write_profile(made, folder)
    if is_shown:
        print(f"cvlib: written to {made.file}.", file=sys.stderr)
    else:
        _show(made, options)
    if made.is_written:
        tell_way_back(made.file, is_new=True)
    return ExitCode.GOOD


def _wish(said: Said) -> NewWish:
    from cvlib.files.new_profile import NewWish

    given = {name: held for name, held in said.given.items() if isinstance(held, str)}
    many = {name: held for name, held in said.given.items() if isinstance(held, tuple)}
    return NewWish(
        said.profile,
        given,
        many.get("release", ()),
        said.given.get("complete") is True,
        Path(said.subjects[0]) if said.subjects else None,
        many.get("id", ()),
        many.get("reading", ()),
        many.get("accept", ()),
        said.given.get("repeats") is True,
    )


def _show(made: MadeProfile, options: Mapping[str, Any]) -> None:
    from cvlib.render.views.new import data, view

    show(options["form"], lambda: view(made), lambda: data(made))


run = command_of(NEW, work, SHARED)

__all__ = ["EXAMPLES", "run"]
