"""``cvlib review``: what changed in the definitions between two git revisions."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cvlib.cli.exits import ExitCode, tell
from cvlib.cli.options import Format, examples
from cvlib.cli.show import put, show

if TYPE_CHECKING:
    from cvlib.engine.change.reviewed import Reviewed


class FailOnStep(StrEnum):
    """The smallest step of the store's version that gives exit code 1."""

    PATCH = "patch"
    MINOR = "minor"
    MAJOR = "major"
    NEVER = "never"


class ReviewFormat(StrEnum):
    """The form of a review."""

    TEXT = "text"
    """For reading in a terminal."""
    JSON = "json"
    """For programs; docs/schema/ describes it."""
    MARKDOWN = "markdown"
    """For a comment on a pull request."""
    HTML = "html"
    """A page for printing or for people without git."""
    SARIF = "sarif"
    """For programs that collect findings, by SARIF 2.1.0."""
    GITHUB = "github"
    """For a workflow of GitHub: annotations at the lines of a change."""


EXAMPLES = examples(
    "cvlib review HEAD",
    "cvlib review main my-branch --merge-base --format markdown",
    "cvlib review definitions-1.4.2 --loco my-locos/",
    "cvlib review main --format html > review.html",
    "cvlib review HEAD~1 HEAD --repository ../club.git --definitions definitions",
    "",
    "Without HEAD the working files are compared, saved or not.",
    "Nothing is checked out, fetched or written.",
)


def run(
    base: Annotated[str, typer.Argument(metavar="BASE", show_default=False)],
    head: Annotated[str, typer.Argument(metavar="HEAD", show_default=False)] = "",
    *,
    loco: Annotated[
        list[str] | None,
        typer.Option("--loco", metavar="FILE|FOLDER", help="Locos to check; may be repeated."),
    ] = None,
    merge_base: Annotated[
        bool,
        typer.Option("--merge-base", help="Compare with the commit where HEAD left BASE."),
    ] = False,
    repository: Annotated[
        Path | None,
        typer.Option("--repository", metavar="DIR", help="The git repository, bare or not."),
    ] = None,
    definitions: Annotated[
        Path | None,
        typer.Option(
            "--definitions",
            metavar="DIR",
            help='The folder of the definitions; "definitions" where not given.',
        ),
    ] = None,
    fail_on: Annotated[
        FailOnStep,
        typer.Option("--fail-on", help="The smallest step of the version with exit code 1."),
    ] = FailOnStep.NEVER,
    form: Annotated[
        ReviewFormat, typer.Option("--format", help="The form of the output.")
    ] = ReviewFormat.TEXT,
) -> int:
    """What changed in the definitions between two git revisions, by setting and firmware.

    BASE..HEAD does as well, and BASE...HEAD is that with --merge-base.

    Answers that changed come first, then what they rest on, then words. With --loco each loco is
    checked with both states. The step for the store's version comes from the answers.
    """
    from cvlib import api
    from cvlib.engine.known.digest import Step
    from cvlib.files.revisions import Revisions

    if not head and ".." in base:
        base, _, head = base.partition("..")
        merge_base = merge_base or head.startswith(".")
        base, head = base or "HEAD", head.removeprefix(".") or "HEAD"
    asked = Revisions(base, head, repository, definitions, merge_base)
    result = api.review(asked, [Path(name) for name in loco or ()])

    _put(form, result)
    tell([*result.faults, *(fault for one in result.broken_after for fault in one.faults)])
    if result.faults or result.broken_after:
        return ExitCode.WRONG
    is_large = fail_on is not FailOnStep.NEVER and result.step.size >= Step(fail_on).size
    return ExitCode.FOUND if is_large else ExitCode.GOOD


def _put(form: ReviewFormat, result: Reviewed) -> None:
    """Print a review in the form asked for."""
    from cvlib.render.views.review import view
    from cvlib.render.views.review_comment import comment
    from cvlib.render.views.review_data import data

    match form:
        case ReviewFormat.TEXT | ReviewFormat.JSON | ReviewFormat.MARKDOWN:
            blocks = comment if form is ReviewFormat.MARKDOWN else view
            show(Format(form.value), lambda: blocks(result), lambda: data(result))
        case ReviewFormat.HTML:
            from cvlib.render.to_html import to_html

            put(to_html(comment(result)))
        case ReviewFormat.SARIF:
            from cvlib.cli import report
            from cvlib.files.explaining import review_page
            from cvlib.render.views.review_remarks import remarks, review_rules

            docs = report.docs_link()
            rules = review_rules(review_page, f"{docs}/review-codes.md" if docs else "")
            report.put_sarif(remarks(result), rules, "review")
        case ReviewFormat.GITHUB:
            from cvlib.cli import report
            from cvlib.render.views.review_remarks import remarks, total

            report.put_github(remarks(result), None, total(result), lambda: comment(result))
