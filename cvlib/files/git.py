"""A git repository read without changing it: no checkout, no lock, no network.

Whatever a person types is resolved to a commit's own name first; only that name, and paths that
git itself gave, go into later commands.
"""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from cvlib.errors import InputError, Position, problem
from cvlib.files.text import file_name, one_line, quoted

TAGS = "definitions-[0-9]*.[0-9]*.[0-9]*"
"""Tags that give the store a version, such as ``definitions-1.4.2``."""

_MOST_SHOWN = 200
_TURNED_OFF = ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX", "GIT_NAMESPACE")
"""Variables that a hook sets and that would lead git to another repository than the one asked."""
_FIXED = {
    "LC_ALL": "C",
    "LANGUAGE": "C",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_PAGER": "",
}
"""English messages, no questions, no locks, and nothing fetched from anywhere."""
_PLAIN_FILES = (b"100644", b"100755")
_PLAIN_DIFF = (
    "--no-color",
    "--no-ext-diff",
    "--no-textconv",
    "--no-renames",
    "--no-relative",
    "--ignore-submodules",
    "--src-prefix=a/",
    "--dst-prefix=b/",
)
"""A diff in one form, whatever a person has set."""
_TOP = ":/"
"""The whole repository, whichever folder git is asked from."""
_HUNK = re.compile(rb"@@ -\d+(?:,(\d+))? \+(\d+)(?:,(\d+))? @@")
EVERY_LINE = range(1, 1 << 31)
"""All lines of a file, however many it has."""


@dataclass(frozen=True, slots=True)
class Commit:
    """One commit, and what the person called it."""

    name: str
    """Its own name, in full."""
    called: str

    @property
    def short(self) -> str:
        """The first characters of its name."""
        return self.name[:10]


class Repository:
    """One repository, with working files or bare."""

    def __init__(
        self, start: Path, elsewhere: str = "Name one with --repository, or clone it first."
    ) -> None:
        """Find the repository that a folder lies in; raises InputError where there is none.

        ``elsewhere`` is what to do then.
        """
        self.start = start
        self._elsewhere = elsewhere
        if not start.is_dir():
            raise problem(
                "there is no such folder.",
                advice="Name a folder inside a git repository.",
                position=Position(file_name(start)),
            )
        inside = self._asked("rev-parse", "--is-inside-work-tree")
        self.top = Path(self._asked("rev-parse", "--show-toplevel")) if inside == "true" else None
        """The folder of the working files; nothing where there are none, as in a bare clone."""

    def prefix(self) -> PurePosixPath:
        """The path of the start folder from the top of the repository."""
        if self.top is None:
            return PurePosixPath()
        return PurePosixPath(self._asked("rev-parse", "--show-prefix"))

    def commit(self, revision: str) -> Commit:
        """The commit that a revision means: a branch, a tag, ``HEAD~2`` or a commit's name.

        Raises InputError where there is none, and says so where the clone may just be shallow.
        """
        name = "" if self._is_odd(revision) else self._found(revision)
        if name:
            return Commit(name, one_line(revision, 80))
        advice = "Give a branch, a tag or a commit, such as HEAD~1."
        if self._asked("rev-parse", "--is-shallow-repository") == "true":
            advice = 'This clone is shallow; "git fetch --unshallow" brings the rest.'
        raise self._refused(f"there is no revision {quoted(revision)}.", advice)

    def fork(self, one: Commit, other: Commit) -> Commit:
        """The commit at which the histories of two commits part; raises where they never met."""
        done = self._run("merge-base", one.name, other.name)
        name = done.stdout.decode("ascii", "replace").split("\n")[0]
        if done.returncode or not name:
            raise self._refused(
                f"{one.called} and {other.called} have no commit in common.",
                "Leave --merge-base out, or fetch more of the history.",
            )
        return Commit(name, f"where {other.called} left {one.called}")

    def tag_before(self, commit: Commit) -> str:
        """The newest tag of a store version that a commit comes from; empty where there is none."""
        done = self._run("describe", "--tags", "--abbrev=0", f"--match={TAGS}", commit.name)
        return "" if done.returncode else done.stdout.decode("utf-8", "replace").strip()

    def files(self, commit: Commit, folder: PurePosixPath) -> Mapping[str, bytes]:
        """The plain files below a folder at a commit, by their path from that folder.

        Links and submodules are left out. Empty where there is no such folder.
        """
        wanted = self._listed(commit, folder)
        content = self._contents(commit, wanted.values())
        return {path: content[blob] for path, blob in wanted.items()}

    def changed_since(self, commit: Commit) -> Mapping[str, tuple[range, ...]]:
        """The files of the working folder that are not what they were at a commit.

        By their path from the top, each with the lines that are new or were changed. Committed,
        staged and unsaved changes count alike; so do files that git does not know yet, unless it is
        told to ignore them. A file that is gone has no lines.
        """
        named = self._diff(commit, "--name-only", "-z")
        found: dict[str, tuple[range, ...]] = {os.fsdecode(n): () for n in named.split(b"\0") if n}
        found |= _changed_lines(self._diff(commit, "--unified=0"))
        others = ("ls-files", "--others", "--exclude-standard", "--full-name", "-z", "--", _TOP)
        new = self._run(*others).stdout.split(b"\0")
        return found | {os.fsdecode(name): (EVERY_LINE,) for name in new if name}

    def _diff(self, commit: Commit, *form: str) -> bytes:
        """What differs between a commit and the working files."""
        done = self._run("diff", *_PLAIN_DIFF, *form, commit.name, "--", _TOP)
        if done.returncode:
            raise self._refused(f"git cannot compare with {commit.called}: {_last(done.stderr)}.")
        return done.stdout

    def _listed(self, commit: Commit, folder: PurePosixPath) -> dict[str, bytes]:
        """The name of the content of each file."""
        path = "" if folder == PurePosixPath() else folder.as_posix()
        tree = self._run("rev-parse", "--verify", "--quiet", f"{commit.name}:{path}")
        if tree.returncode:
            return {}
        name = tree.stdout.decode("ascii", "replace").strip()
        done = self._run("ls-tree", "-r", "-z", "--full-tree", name)
        if done.returncode:
            raise self._refused(f"{commit.called} has no folder {quoted(path)}.")
        found: dict[str, bytes] = {}
        for entry in filter(None, done.stdout.split(b"\0")):
            head, _, file = entry.partition(b"\t")
            mode, kind, blob = head.split(b" ")
            if kind == b"blob" and mode in _PLAIN_FILES:
                found[os.fsdecode(file)] = blob
        return found

    def _contents(self, commit: Commit, blobs: Iterable[bytes]) -> dict[bytes, bytes]:
        wanted = list(dict.fromkeys(blobs))
        if not wanted:
            return {}
        done = self._run("cat-file", "--batch", given=b"".join(blob + b"\n" for blob in wanted))
        found: dict[bytes, bytes] = {}
        rest = done.stdout
        while rest:
            head, _, rest = rest.partition(b"\n")
            parts = head.split(b" ")
            if len(parts) == 3:
                size = int(parts[2])
                found[parts[0]], rest = rest[:size], rest[size + 1 :]
        if found.keys() != set(wanted):
            raise self._refused(
                f"not all files of {commit.called} are in this clone.",
                'Bring the rest with "git fetch", or make a full clone.',
            )
        return found

    def _found(self, revision: str) -> str:
        done = self._run("rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}")
        name = done.stdout.decode("ascii", "replace").strip()
        return "" if done.returncode or not name.isalnum() else name

    @staticmethod
    def _is_odd(revision: str) -> bool:
        """Whether a text could be taken for an option, or cannot be an argument at all."""
        return not revision.strip() or revision.startswith("-") or not revision.isprintable()

    def _asked(self, *arguments: str) -> str:
        """The answer to a question that any repository can answer; raises where there is none."""
        done = self._run(*arguments)
        if done.returncode:
            raise self._no_repository(done.stderr.decode("utf-8", "replace"))
        return os.fsdecode(done.stdout).removesuffix("\n")

    def _no_repository(self, said: str) -> InputError:
        if "dubious ownership" in said or "unsafe repository" in said:
            return self._refused(
                "git does not trust this repository, for it belongs to somebody else.",
                f'If you trust it: git config --global --add safe.directory "{self.start}"',
            )
        if "not a git repository" in said:
            return self._refused("this is not in a git repository.", self._elsewhere)
        return self._refused(f"git cannot read this repository: {one_line(_last(said.encode()))}.")

    def _refused(self, what: str, advice: str = "") -> InputError:
        return problem(what, advice=advice, position=Position(file_name(self.start)))

    def _run(self, *arguments: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
        held = {key: value for key, value in os.environ.items() if key not in _TURNED_OFF}
        try:
            return subprocess.run(
                ["git", "-C", str(self.start), *arguments],
                input=given,
                capture_output=True,
                env=held | _FIXED,
                check=False,
            )
        except FileNotFoundError:
            raise problem(
                "git is not installed, or not on the search path.",
                advice="Install it from your system's packages.",
            ) from None
        except (OSError, ValueError) as error:
            raise problem(f"git cannot be started: {one_line(str(error))}.") from None


def _changed_lines(diff: bytes) -> dict[str, tuple[range, ...]]:
    """The changed lines of each file of a diff without lines around them.

    What stands in a file is skipped by its number of lines: it may look like a heading itself.
    """
    found: dict[str, tuple[range, ...]] = {}
    name, skipped = "", 0
    for line in diff.split(b"\n"):
        if skipped:
            skipped -= not line.startswith(b"\\")
        elif line.startswith(b"+++ "):
            name = _named_in_diff(line[4:])
        elif at := _HUNK.match(line):
            gone, first, come = (int(number or 1) for number in at.groups())
            skipped = gone + come
            if come:
                found[name] = (*found.get(name, ()), range(first, first + come))
    return found


def _named_in_diff(word: bytes) -> str:
    """The path in the heading of a diff: it may stand in quotes, or end in a tab."""
    word = word.removesuffix(b"\t")
    if word.startswith(b'"'):
        word = word[1:-1].decode("unicode_escape").encode("latin-1")
    return os.fsdecode(word.removeprefix(b"b/"))


def _last(said: bytes) -> str:
    """The last line that git said, without its mark."""
    lines = said.decode("utf-8", "replace").strip().splitlines()
    return one_line(lines[-1].removeprefix("fatal: "), _MOST_SHOWN).rstrip(".") if lines else ""
