"""``cvlib amend``: a profile corrected without editing its file by hand."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cvlib.cli.amend_forms import ABOUT, EXAMPLES, FORMS, PR_TEXT
from cvlib.cli.exits import ExitCode, tell_way_back
from cvlib.cli.form_group import form_app
from cvlib.cli.forms import SHARED, Said, command_of
from cvlib.cli.prompts import Asker, StoppedError, check_said, tell_stop
from cvlib.cli.show import show
from cvlib.errors import InputError, problem

if TYPE_CHECKING:
    from cvlib.api.trials import BenchWords
    from cvlib.engine.change.amended import Amended
    from cvlib.files.amend.amending import Amending
    from cvlib.files.amend.change import Wish
    from cvlib.files.store import Store


def work(said: Said, options: Mapping[str, Any]) -> int:
    """The exit code of one correction."""
    from cvlib import api
    from cvlib.files.amend.checks import check_entry
    from cvlib.files.own import own_folder
    from cvlib.files.text import is_there

    trial = said.given.pop("trial", None)
    words = _fill_from_trial(said, str(trial)) if trial else None
    check_said(said)
    folder = own_folder(options["definitions"])
    # A folder that is not there yet is made when the correction is written.
    store = api.open_store(folder if folder is None or is_there(folder) else None)
    if words is not None:
        from cvlib.api.trials import check_new_evidence

        check_new_evidence(store, words._replace(title=str(said.given["title"])))
    if said.profile:
        store.profile(said.profile)
    asker = Asker(said, lambda key, text: check_entry(store, _wish(said), key, text))
    try:
        asker.fill()
        amending = asker.until_right(lambda: _tried(store, said, options))
        is_shown = asker.agreed(options, lambda: _show(amending.result, options))
    except (StoppedError, KeyboardInterrupt):
        tell_stop(said, options)
        return ExitCode.INTERRUPTED
    if options["dry_run"]:
        _show(amending.result, options)
        return ExitCode.GOOD
    result = _written(amending, options["pr_text"])
    if is_shown:
        print(f"cvlib: written to {result.file}.", file=sys.stderr)
    else:
        _show(result, options)
    tell_way_back(result.file, is_new=amending.was is None)
    return ExitCode.GOOD


def _fill_from_trial(said: Said, trial: str) -> BenchWords:
    """Let a trial say what was seen; what the person says besides goes before it."""
    from cvlib.api.trials import bench_words, find_trial

    words = bench_words(find_trial(trial))
    if said.subjects or (said.profile and said.profile != words.profile):
        wrong = "the setting" if said.subjects else f"the profile, {words.profile}"
        raise problem(f"{trial} says {wrong} itself.", advice="Leave that out.")
    said.profile = words.profile
    said.subjects[:] = [words.subject]
    held = {"firmware": words.firmware, "date": words.date, "title": words.title}
    for key, text in {**held, "note": words.note}.items():
        said.given.setdefault(key, text)
    return words


def _written(amending: Amending, text_file: Path | None) -> Amended:
    """Write the profile, and the text for a pull request; what of them is done is told."""
    from cvlib.files.own import check_text

    if text_file is not None:
        check_text(text_file)
    result = amending.write()
    if text_file is not None:
        try:
            _keep_text(text_file, result)
        except InputError:
            print(f"cvlib: {result.file} is written; the text is not.", file=sys.stderr)
            tell_way_back(result.file, is_new=amending.was is None)
            raise
    return result


def _wish(said: Said) -> Wish:
    from cvlib.files.amend.change import Wish

    return Wish(said.form.name, said.profile, tuple(said.subjects), said.given)


def _tried(store: Store, said: Said, options: Mapping[str, Any]) -> Amending:
    from datetime import date

    from cvlib.files.amend.amending import amend
    from cvlib.files.own import own_folder

    return amend(store, _wish(said), own_folder(options["definitions"]), date.today())


def _keep_text(path: Path, result: Amended) -> None:
    from cvlib.files.own import add_text
    from cvlib.render.to_markdown import to_markdown
    from cvlib.render.views.amend import pull_request

    add_text(path, to_markdown(pull_request(result)))


def _show(result: Amended, options: Mapping[str, Any]) -> None:
    from cvlib.render.views.amend import data, view

    kept = "" if options["dry_run"] or options["pr_text"] is None else str(options["pr_text"])
    show(options["form"], lambda: view(result, kept), lambda: data(result))


app = form_app(ABOUT, EXAMPLES)
for _form in FORMS:
    app.command(_form.name, short_help=_form.line, epilog=_form.examples)(
        command_of(_form, work, {"pr_text": (PR_TEXT, None), **SHARED})
    )
