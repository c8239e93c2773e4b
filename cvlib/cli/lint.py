"""``cvlib lint``: definitions looked through for faults."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    DefinitionsOption,
    FailOn,
    FailOnOption,
    Format,
    ReportFormat,
    ReportFormatOption,
    examples,
)
from cvlib.cli.progress import watched
from cvlib.cli.show import show

if TYPE_CHECKING:
    from cvlib.engine.lint.finding import Linted
    from cvlib.files.lint.changed import Changed
    from cvlib.files.store import Store

EXAMPLES = examples(
    "cvlib lint",
    "cvlib lint my-definitions/ferrow/lark-8.toml",
    "cvlib lint --definitions my-definitions --format json",
    "cvlib lint --changed-since main --format github",
    "cvlib lint --format sarif > lint.sarif",
)


def run(
    paths: Annotated[list[Path] | None, typer.Argument(metavar="PATH", show_default=False)] = None,
    *,
    changed_since: Annotated[
        str | None,
        typer.Option(
            "--changed-since",
            metavar="REV",
            help="Only files that differ from a git revision, and profiles that follow them; "
            "what was found at that revision too is counted, not told.",
            show_default=False,
        ),
    ] = None,
    fail_on: FailOnOption = FailOn.WARNING,
    form: ReportFormatOption = ReportFormat.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """Look for faults in every definition, or just in the files and folders named.

    Each finding is one line, "file:line:column: severity: code message". "cvlib explain CODE"
    says more.
    """
    from cvlib.files.lint.changed import changed_since as changes_of
    from cvlib.files.lint.linting import lint
    from cvlib.files.store import open_store
    from cvlib.findings.catalogue import Severity

    store = open_store(definitions)
    changed = changes_of(store, changed_since) if changed_since is not None else None
    named, chosen = changed.narrowed(store, paths or []) if changed else (paths or [], None)
    linted = lint(store, named, watch=watched, chosen=chosen)
    if changed is not None:
        linted = changed.without_known(store, linted)
    _put(form, linted, store, changed)
    is_found = fail_on != FailOn.NEVER and linted.has(Severity(fail_on.value))
    return ExitCode.FOUND if is_found else ExitCode.GOOD


def _put(form: ReportFormat, linted: Linted, store: Store, changed: Changed | None) -> None:
    """Print what was found in the form asked for."""
    from cvlib.render.views.lint import data, page, summary, view

    if form in (ReportFormat.TEXT, ReportFormat.JSON, ReportFormat.MARKDOWN):
        is_page = form is ReportFormat.MARKDOWN
        show(
            Format(form.value),
            lambda: page(linted, linted.remarks) if is_page else view(linted),
            lambda: data(linted),
        )
        return
    from cvlib.cli import report
    from cvlib.files.from_top import from_top
    from cvlib.files.lint.changed import top_of
    from cvlib.render.view import text_of

    top = changed.top if changed else top_of(store)
    remarks = from_top(linted.remarks, top)
    if form is ReportFormat.SARIF:
        report.put_sarif(remarks, report.lint_rules(), "lint")
    else:
        lines = changed.lines if changed else None
        total = text_of(summary(linted))
        report.put_github(remarks, lines, total, lambda: page(linted, remarks, report.MOST_ROWS))
