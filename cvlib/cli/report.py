"""Findings for programs that show them beside the lines of files: SARIF, and GitHub."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.cli.exits import tell
from cvlib.cli.show import put
from cvlib.errors import InputError

if TYPE_CHECKING:
    from cvlib.findings.remark import Remark
    from cvlib.render.to_sarif import RuleTold
    from cvlib.render.view import Block

MOST_ROWS = 2000
"""Rows of a table in the summary of a job, which may have a mebibyte."""


def put_sarif(remarks: Iterable[Remark], rules: Sequence[RuleTold], task: str) -> None:
    """Print remarks, named from the top of a repository, as SARIF."""
    from cvlib import __version__
    from cvlib.render.to_sarif import Program, to_sarif

    put(to_sarif(remarks, rules, Program(__version__, task, project_link())))


def put_github(
    remarks: Sequence[Remark],
    changed: Mapping[str, Sequence[range]] | None,
    total: str,
    summary: Callable[[], list[Block]],
) -> None:
    """Print remarks as annotations; the summary of the job, where there is one, has them all.

    ``total`` is one line that tells what they come to.
    """
    from cvlib.render.to_github import to_github

    kept = os.environ.get("GITHUB_STEP_SUMMARY")
    if kept:
        from cvlib.files.write import append_to
        from cvlib.render.to_markdown import to_markdown

        try:
            append_to(Path(kept), to_markdown(summary()).encode())
        except InputError as error:
            tell(error.faults)
            kept = ""
    put(f"{to_github(remarks, changed, has_summary=bool(kept))}{total}\n")


def lint_rules() -> list[RuleTold]:
    """Every rule of lint with its page."""
    from cvlib.engine.lint.rules import RULES
    from cvlib.files.explaining import lint_page
    from cvlib.render.to_sarif import RuleTold

    docs = docs_link()
    return [
        RuleTold(
            rule.code,
            rule.severity,
            rule.sentence,
            lint_page(rule.code),
            f"{docs}/lint/{rule.code}.md" if docs else "",
        )
        for rule in RULES
    ]


def docs_link() -> str:
    """Where the pages can be read: as they are at this commit, or on this machine.

    Empty in a workflow of other definitions, whose machine is gone when somebody reads.
    """
    from cvlib.files.data import docs_folder

    project, commit = project_link(), os.environ.get("GITHUB_SHA")
    if not project or not commit:
        return "" if commit else docs_folder().resolve().as_uri()
    docs = docs_folder().resolve().relative_to(_workspace())
    return f"{project}/blob/{commit}/{docs.as_posix()}"


def project_link() -> str:
    """Where cvlib itself is kept; empty where nobody knows.

    Known in a workflow of GitHub that runs in a clone of cvlib, not in one of other definitions.
    """
    from cvlib.files.data import docs_folder, is_installed

    server, name = (os.environ.get(f"GITHUB_{key}", "") for key in ("SERVER_URL", "REPOSITORY"))
    workspace = _workspace()
    is_own = not is_installed() and docs_folder().resolve().is_relative_to(workspace)
    if not (server and name and is_own and (workspace / ".git").exists()):
        return ""
    return f"{server}/{name}"


def _workspace() -> Path:
    """The folder that a workflow runs in."""
    return Path(os.environ.get("GITHUB_WORKSPACE") or Path.cwd()).resolve()
